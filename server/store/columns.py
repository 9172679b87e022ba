"""A query's answer handed over column by column, as an Arrow table: for readers of many rows.

Row by row Python makes an object of every cell. Here the database writes the cells as CSV by its own code, and Arrow
reads them into columns of the types that the tables declare. It is the same connection, and so the same transaction
and the same state of the database as every other query of it.

SQLite: one aggregate gathers a column; all of them go over the rows together, so that their order is the same.
It writes real numbers as text only roughly, integers exactly: a real number goes as two integers, the number cut to
units of 2**-52 and what is left of it (`_cut_to_units`, `_rest`), and comes back the same bit for bit. PostgreSQL:
COPY, which writes the shortest text that is read back to the same number (extra_float_digits, from version 12).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import sqlalchemy as sa
from pyarrow import csv

from server.store.tables import ID

_UNIT: Final = 2.0**52
_MOST: Final = 2047.0
"""Real numbers up to this one: `_UNIT` times 2048 is no integer of SQLite any more."""
_LEAST: Final = 2.0**-50
"""And 0 or from this one on: the last bit of a smaller one is below the square of the unit."""
_NEAR: Final = 1023.0
_SMALL: Final = 2.0**-8
_SMALL_UNIT: Final = 2.0**60
"""A number from `_SMALL` to `_NEAR` goes as one integer, any other as two."""
_BEYOND: Final = "beyond"
_FILLED: Final = "filled columns"
"""What is kept beside a connection: columns that were found to hold something. The others are counted first, which
costs a fraction of gathering; most fields of a shot stay empty."""
_ID_LETTERS: Final = 36
_LINE_END: Final = 10
_WORDS: Final = pa.dictionary(pa.int32(), pa.string())


Choices = Mapping[str, Sequence[str]]
"""Columns whose words are all known beforehand, and the words."""


class NotExactError(ValueError):
    """A value that this way does not hand over exactly: read the rows instead."""


def read_columns(connection: sa.Connection, query: sa.Select[Any], choices: Choices | None = None) -> pa.Table:
    """The answer of `query`, a selection of columns of tables, rows in no order.

    Types: int64, float64, bool, date32, string for ids, else dictionaries of strings; of `choices` the dictionary is
    the words given. Raises NotExactError for what no record that was checked holds: a real number over 2047 or
    nearly 0, another choice, an id of another length.
    """
    if connection.dialect.name == "sqlite":
        return _of_sqlite(connection, query, choices or {})
    return _of_postgresql(connection, query)


def places_among(ids: pa.ChunkedArray, known: pd.Index) -> npt.NDArray[np.int64]:
    """The place of each id among the known ones, -1 where it is not among them. Shape (rows,)."""
    coded = ids.combine_chunks().dictionary_encode()
    places = known.get_indexer(pd.Index(coded.dictionary.to_pylist(), dtype="object"))
    return np.asarray(places.astype(np.int64)[coded.indices.to_numpy()])


def _arrow_type(kind: Any) -> pa.DataType:
    for declared, found in (
        (sa.Boolean, pa.bool_()),
        (sa.Integer, pa.int64()),
        (sa.Float, pa.float64()),
        (sa.Date, pa.date32()),
    ):
        if isinstance(kind, declared):
            return found
    return pa.string() if kind is ID else _WORDS


def _of_sqlite(
    connection: sa.Connection, query: sa.Select[Any], choices: Choices, *, small: bool = True, near: bool = True
) -> pa.Table:
    """`small`: integers are expected to fit a byte; `near`: real numbers to be below `_NEAR` and not nearly 0."""
    selected = list(query.selected_columns)
    filled: set[str] = connection.info.setdefault(_FILLED, set())
    empty = [column for column in selected if column.nullable and _name(column) not in filled]
    columns = [column for column in selected if not column.nullable or _name(column) in filled]
    packed = [column for column in columns if _is_packed(column, choices, small)]
    apart = [column for column in columns if not _is_packed(column, choices, small)]
    bytes_ = [_byte(column, choices) for column in packed]
    bytes_ += [f"CASE WHEN {_name(column)} IS NULL THEN 1 ELSE 2 END" for column in apart if column.nullable]
    cells = [f"group_concat(char({', '.join([*bytes_, str(_LINE_END)])}), '')"]
    for column in apart:
        cells += [f"group_concat({cell}, {_gap(column)})" for cell in _cells(column, near)]
    # counted together first: one count over all costs less than one for each
    cells.append(f"count(coalesce({', '.join([*map(_name, empty), 'NULL', 'NULL'])}))")
    first, *texts, count = connection.execute(_asking(query, cells)).one()
    if count:
        each = [f"count({_name(column)})" for column in empty]
        counted = connection.execute(_asking(query, each)).one()
        filled.update(_name(column) for column, count in zip(empty, counted, strict=True) if count)
        return _of_sqlite(connection, query, choices, small=small, near=near)
    grid = _grid(first or "", len(bytes_) + 1)
    if grid is None:
        return _of_sqlite(connection, query, choices, small=False, near=near)
    if near and _any_beyond(apart, texts):
        return _of_sqlite(connection, query, choices, small=small, near=False)
    found = {column.name: _unpacked(grid[:, place], column, choices) for place, column in enumerate(packed)}
    flags = iter(range(len(packed), len(bytes_)))
    rest = iter(texts)
    for column in apart:
        known = grid[:, next(flags)] == 2 if column.nullable else np.ones(len(grid), dtype=np.bool_)
        found[column.name] = _column([next(rest) or "" for _ in _cells(column, near)], column, known)
    for column in empty:
        found[column.name] = pa.nulls(len(grid), _WORDS if column.name in choices else _arrow_type(column.type))
    return pa.table({column.name: found[column.name] for column in selected})


def _asking(query: sa.Select[Any], cells: list[str]) -> sa.Select[Any]:
    """The query for other cells, which are SQL already: made of expressions, each query of a block took as long as
    thousands of its rows."""
    columns: list[Any] = [sa.literal_column(cell) for cell in cells]
    return query.with_only_columns(*columns, maintain_column_froms=True)


def _name(column: Any) -> str:
    return f"{column.table.name}.{column.name}"


def _any_beyond(apart: list[Any], texts: list[str | None]) -> bool:
    """Whether a real number did not go as one integer."""
    of_reals = (text for text, column in zip(texts, apart, strict=True) if isinstance(column.type, sa.Float))
    return any(text is not None and _BEYOND in text for text in of_reals)


def _is_packed(column: Any, choices: Choices, small: bool) -> bool:
    small_integer = isinstance(column.type, sa.Integer) and small
    return small_integer or isinstance(column.type, sa.Boolean) or column.name in choices


def _byte(column: Any, choices: Choices) -> str:
    """The cell as a character code: 1 missing, then 2 on; the last one for what is none of the choices."""
    name = _name(column)
    if column.name in choices:
        codes = " ".join(f"WHEN '{word}' THEN {code}" for code, word in enumerate(choices[column.name], 2))
        found = f"CASE {name} {codes} ELSE 127 END"
        return f"CASE WHEN {name} IS NULL THEN 1 ELSE {found} END" if column.nullable else found
    return f"ifnull({name} + 2, 1)" if column.nullable else f"{name} + 2"


def _grid(text: str, width: int) -> npt.NDArray[np.uint8] | None:
    """The bytes of every row, shape (rows, width), line ends last; None when a code took more than a byte."""
    content = np.frombuffer(text.encode(), dtype=np.uint8)
    if content.size % width:
        return None
    grid = content.reshape(-1, width)
    return grid if bool(np.all(grid[:, -1] == _LINE_END) and np.all(grid < 128) and np.all(grid > 0)) else None


def _unpacked(codes: npt.NDArray[np.uint8], column: Any, choices: Choices) -> pa.Array:
    gaps = codes == 1
    mask = gaps if column.nullable else None
    if column.name in choices:
        words = choices[column.name]
        if int(codes.max(initial=0)) > len(words) + 1:
            raise NotExactError(f"{column.name}: a value is none of {', '.join(words)}")
        places = pa.array(codes.astype(np.int32) - 2, mask=gaps)
        return pa.DictionaryArray.from_arrays(places, pa.array(words, pa.string()))
    if isinstance(column.type, sa.Boolean):
        return pa.array(codes == 3, mask=mask)
    return pa.array(codes.astype(np.int64) - 2, mask=mask)


def _gap(column: Any) -> str:
    """The separator of two cells: ids are of one length."""
    return "''" if column.type is ID else "'\n'"


def _cells(column: Any, near: bool) -> list[str]:
    """What is gathered of a column, as CSV; missing cells are not gathered."""
    name = _name(column)
    if isinstance(column.type, sa.Float):
        return [_near(name)] if near else [_cut_to_units(name), _rest(name)]
    if isinstance(column.type, sa.Integer | sa.Date) or column.type is ID:
        return [name]
    return [f"""'"' || replace({name}, '"', '""') || '"'"""]


def _near(name: str) -> str:
    """A real number as one integer: from 1 on twice its units of 2**-52, below 1 twice its units of 2**-60 and 1.
    All products are exact, as powers of two are."""
    large, small = f"{_units(name, _UNIT)} * 2", f"{_units(name, _SMALL_UNIT)} * 2 + 1"
    return (
        f"CASE WHEN {name} BETWEEN 1.0 AND {_NEAR} THEN {large} "
        f"WHEN {name} IS NULL THEN NULL "
        f"WHEN {name} BETWEEN {_SMALL} AND 1.0 THEN {small} "
        f"WHEN {name} = 0 OR {name} BETWEEN -{_NEAR} AND -1.0 THEN {large} "
        f"WHEN {name} BETWEEN -1.0 AND -{_SMALL} THEN {small} "
        f"ELSE '{_BEYOND}' END"
    )


def _cut_to_units(name: str) -> str:
    """A real number in units of 2**-52, cut to an integer."""
    return (
        f"CASE WHEN {name} IS NULL THEN NULL "
        f"WHEN {name} = 0 OR abs({name}) BETWEEN {_LEAST} AND {_MOST} THEN {_units(name, _UNIT)} "
        f"ELSE '{_BEYOND}' END"
    )


def _rest(name: str) -> str:
    """What is left of it, in units of 2**-104, of those between -1 and 1: of others nothing is."""
    left = f"CAST(({name} * {_UNIT:.1f} - {_units(name, _UNIT)}) * {_UNIT:.1f} AS INTEGER)"
    return f"CASE WHEN {name} > -1 AND {name} < 1 THEN {left} END"


def _units(name: str, unit: float) -> str:
    return f"CAST({name} * {unit:.1f} AS INTEGER)"


def _column(texts: list[str], column: Any, known: npt.NDArray[np.bool_]) -> pa.Array:
    """The column that SQLite gathered in `texts`, shape (rows,), its cells where they are `known`."""
    kind = _arrow_type(column.type)
    count = int(known.sum())
    if not count:
        return pa.nulls(known.size, kind)
    first = texts[0].encode()
    if column.type is ID:
        found = _ids(first, count)
    elif pa.types.is_floating(kind):
        found = _real(first, texts[1].encode()) if texts[1:] else _real_of_one(first)
    else:
        found = _parsed(first, {column.name: kind}).column(0).combine_chunks()
    if len(found) != count:
        raise NotExactError(f"{column.name}: {len(found)} cells for {count} rows")
    if count == known.size:
        return found
    places = np.cumsum(known) - 1
    return found.take(pa.array(places, mask=~known))


def _ids(content: bytes, count: int) -> pa.Array:
    """Ids from their letters one behind the other."""
    if len(content) != count * _ID_LETTERS:
        raise NotExactError(f"an id has not {_ID_LETTERS} letters")
    ends = pa.py_buffer(np.arange(0, len(content) + 1, _ID_LETTERS, dtype=np.int32))
    return pa.StringArray.from_buffers(count, ends, pa.py_buffer(content))


def _real_of_one(content: bytes) -> pa.Array:
    """Real numbers as `_near` made them."""
    cells = _integers(content)
    units = (cells >> 1).astype(np.float64)
    return pa.array(np.where(cells & 1 == 0, units / _UNIT, units / _SMALL_UNIT))


def _real(cut: bytes, rest: bytes) -> pa.Array:
    """Real numbers from the two cells of each; the second one is there only for those between -1 and 1."""
    units = _integers(cut)
    found = units.astype(np.float64) / _UNIT
    if rest:
        inside = np.abs(units) < _UNIT
        left = _integers(rest)
        if left.size != int(inside.sum()):
            raise NotExactError(f"{left.size} parts for {int(inside.sum())} numbers below 1")
        found[inside] += left.astype(np.float64) / _UNIT / _UNIT
    return pa.array(found)


def _integers(content: bytes) -> npt.NDArray[np.int64]:
    return np.asarray(_parsed(content, {"cell": pa.int64()}).column(0).to_numpy())


def _of_postgresql(connection: sa.Connection, query: sa.Select[Any]) -> pa.Table:
    # COPY goes to the driver as it is: lists of parameters are written out
    compiled = query.compile(dialect=connection.dialect, compile_kwargs={"render_postcompile": True})
    types = {column.name: _arrow_type(column.type) for column in query.subquery().c}
    driver: Any = connection.connection.driver_connection
    with driver.cursor() as cursor, cursor.copy(f"COPY ({compiled}) TO STDOUT (FORMAT csv)", compiled.params) as copy:
        content = b"".join(bytes(piece) for piece in copy)
    if not content:
        return pa.table({name: pa.array([], kind) for name, kind in types.items()})
    return _parsed(content, types)


def _parsed(content: bytes, types: dict[str, pa.DataType]) -> pa.Table:
    """The columns of a CSV without a header; what is empty and not in quotes is missing."""
    reading = csv.ReadOptions(column_names=list(types), use_threads=False, block_size=max(1 << 16, len(content) + 1))
    cells = csv.ConvertOptions(
        column_types=types,
        null_values=[""],
        true_values=["1", "t"],
        false_values=["0", "f"],
        strings_can_be_null=True,
        quoted_strings_can_be_null=False,
    )
    layout = csv.ParseOptions(newlines_in_values=True, ignore_empty_lines=False)
    try:
        return csv.read_csv(pa.py_buffer(content), reading, layout, cells)
    except pa.ArrowInvalid as error:
        raise NotExactError(str(error)) from error
