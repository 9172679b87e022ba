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
    empty = [column for column in selected if column.nullable and str(column) not in filled]
    columns = [column for column in selected if column not in empty]
    packed = [column for column in columns if _is_packed(column, choices, small)]
    apart = [column for column in columns if not _is_packed(column, choices, small)]
    bytes_ = [_byte(column, choices) for column in packed]
    bytes_ += [sa.case((column.is_(None), 1), else_=2) for column in apart if column.nullable]
    cells = [sa.func.group_concat(sa.func.char(*bytes_, sa.literal_column("10")), "")]
    for column in apart:
        cells += [sa.func.group_concat(cell, _gap(column)) for cell in _cells(column, near)]
    # counted together first: one count over all costs less than one for each
    some = sa.func.coalesce(*empty, sa.null()) if empty else sa.null()
    asked = query.with_only_columns(*cells, sa.func.count(some), maintain_column_froms=True)
    first, *texts, count = connection.execute(asked).one()
    if count:
        each = [sa.func.count(column) for column in empty]
        counted = connection.execute(query.with_only_columns(*each, maintain_column_froms=True)).one()
        filled.update(str(column) for column, count in zip(empty, counted, strict=True) if count)
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


def _any_beyond(apart: list[Any], texts: list[str | None]) -> bool:
    """Whether a real number did not go as one integer."""
    of_reals = (text for text, column in zip(texts, apart, strict=True) if isinstance(column.type, sa.Float))
    return any(text is not None and _BEYOND in text for text in of_reals)


def _is_packed(column: Any, choices: Choices, small: bool) -> bool:
    small_integer = isinstance(column.type, sa.Integer) and small
    return small_integer or isinstance(column.type, sa.Boolean) or column.name in choices


def _byte(column: Any, choices: Choices) -> Any:
    """The cell as a character code: 1 missing, then 2 on; the last one for what is none of the choices."""
    if column.name in choices:
        codes: list[tuple[str, Any]] = [
            (word, sa.literal_column(str(code))) for code, word in enumerate(choices[column.name], 2)
        ]
        found = sa.case(
            {sa.literal_column(f"'{word}'"): code for word, code in codes},
            value=column,
            else_=sa.literal_column("127"),
        )
        return sa.case((column.is_(None), sa.literal_column("1")), else_=found) if column.nullable else found
    code = sa.type_coerce(column, sa.Integer) + sa.literal_column("2")
    return sa.func.ifnull(code, sa.literal_column("1")) if column.nullable else code


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


def _gap(column: Any) -> Any:
    """The separator of two cells: ids are of one length."""
    return sa.literal_column("''" if column.type is ID else "'\n'")


def _cells(column: Any, near: bool) -> list[Any]:
    """What is gathered of a column, as CSV; missing cells are not gathered."""
    if isinstance(column.type, sa.Float):
        return [_near(column)] if near else [_cut_to_units(column), _rest(column)]
    if isinstance(column.type, sa.Integer | sa.Date) or column.type is ID:
        return [column]
    mark: Any = sa.literal_column("'\"'")
    return [mark.op("||")(sa.func.replace(column, mark, sa.literal_column("'\"\"'"))).op("||")(mark)]


def _near(column: Any) -> Any:
    """A real number as one integer: from 1 on twice its units of 2**-52, below 1 twice its units of 2**-60 and 1.
    All products are exact, as powers of two are."""
    one, most, least = _bound(1.0), _bound(_NEAR), _bound(_SMALL)
    large, small = _units(_UNIT) + " * 2", _units(_SMALL_UNIT) + " * 2 + 1"
    return sa.case(
        (column.between(one, most), _sql(column, large)),
        (column.is_(None), sa.null()),
        (column.between(least, one), _sql(column, small)),
        (sa.or_(column == sa.literal_column("0"), column.between(-most, -one)), _sql(column, large)),
        (column.between(-one, -least), _sql(column, small)),
        else_=sa.literal_column(f"'{_BEYOND}'"),
    )


def _cut_to_units(column: Any) -> Any:
    """A real number in units of 2**-52, cut to an integer."""
    most, least = _bound(_MOST), _bound(_LEAST)
    return sa.case(
        (column.is_(None), sa.null()),
        (
            sa.or_(column == sa.literal_column("0"), sa.func.abs(column).between(least, most)),
            _sql(column, _units(_UNIT)),
        ),
        else_=sa.literal_column(f"'{_BEYOND}'"),
    )


def _rest(column: Any) -> Any:
    """What is left of it, in units of 2**-104, of those between -1 and 1: of others nothing is."""
    words = f"CAST(({{0}} * {_UNIT:.1f} - {_units(_UNIT)}) * {_UNIT:.1f} AS INTEGER)"
    inside = sa.and_(column > sa.literal_column("-1"), column < sa.literal_column("1"))
    return sa.case((inside, _sql(column, words)))


def _bound(number: float) -> sa.ColumnElement[float]:
    return sa.literal_column(repr(number), sa.Double)


def _units(unit: float) -> str:
    return f"CAST({{0}} * {unit:.1f} AS INTEGER)"


def _sql(column: Any, words: str) -> Any:
    """SQL of one column, written out."""
    return sa.literal_column(words.format(f"{column.table.name}.{column.name}"))


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
