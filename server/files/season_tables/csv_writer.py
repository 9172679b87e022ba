"""Season tables as CSV: RFC 4180, UTF-8, lines that end in CRLF, numbers in full precision, days as ISO 8601.

Cells are made column by column in Arrow, several times as fast as a row-wise writer. Quotes stand only where the
standard asks for them. Words that a spreadsheet would run are guarded (`server.files.spreadsheet_cells`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

import pyarrow as pa
import pyarrow.compute as pc

from server.files.season_tables.dictionary import BOOLEAN, NUMBER, STRING, Column, TableWords
from server.files.spreadsheet_cells import guarded, is_at_risk

YES: Final = "yes"
NO: Final = "no"
LINE_END: Final = "\r\n"
_NEEDS_QUOTES: Final = '[",\r\n]'
_WHOLE: Final = "^-?[0-9]+$"


def csv_pieces(table: TableWords, chunks: Iterable[pa.Table]) -> Iterator[bytes]:
    """The file in pieces: the header, then the rows of each chunk."""
    yield (",".join(table.names) + LINE_END).encode()
    for chunk in chunks:
        yield _rows(table, chunk)


def _rows(table: TableWords, chunk: pa.Table) -> bytes:
    columns = (chunk.column(column.name).combine_chunks() for column in table.columns)
    cells = [_cells(array, column) for array, column in zip(columns, table.columns, strict=True)]
    lines = pc.binary_join_element_wise(*cells, ",")
    return (LINE_END.join(lines.to_pylist()) + LINE_END).encode()


def _cells(array: pa.Array, column: Column) -> pa.Array:
    """Every cell as the file has it; nothing where the value is missing."""
    if column.type == STRING:
        return _text_cells(array, column)
    if column.type == BOOLEAN:
        cells = pc.if_else(array, YES, "" if column.blank_for_no else NO)
    else:
        cells = array.cast(pa.string())
        if column.type == NUMBER:
            # 400 as 400.0, so that a reader takes the column for numbers of one type
            cells = pc.if_else(
                pc.match_substring_regex(cells, _WHOLE), pc.binary_join_element_wise(cells, ".0", ""), cells
            )
    return pc.fill_null(cells, "")


def _text_cells(array: pa.Array, column: Column) -> pa.Array:
    """Words occur many times: each different one is looked at once."""
    if not column.is_free_text:
        return pc.fill_null(array, "")
    coded = array.dictionary_encode()
    words = [guarded(word) if is_at_risk(word) else word for word in coded.dictionary.to_pylist()]
    plain = pa.array(words, pa.string())
    doubled = pc.binary_join_element_wise('"', pc.replace_substring(plain, '"', '""'), '"', "")
    quoted = pc.if_else(pc.match_substring_regex(plain, _NEEDS_QUOTES), doubled, plain)
    return pc.fill_null(quoted.take(coded.indices), "")
