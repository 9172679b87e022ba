"""Separated text (CSV) as rows of cells: character set by the bytes, separator by the header."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import BinaryIO, Final

from server.files.table_faults import TableError

LONGEST_CELL: Final = 131_072
MOST_COLUMNS: Final = 200
SEPARATORS: Final = {"comma": ",", "semicolon": ";", "tab": "\t"}
_WORDS: Final = {",": "commas", ";": "semicolons", "\t": "tabs"}
_MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8 with a byte order mark"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
)
"""Byte order marks (Unicode Standard, section 23.8) and the character sets that they announce."""
_PIECE: Final = 1 << 20
_QUOTED_NUMBER: Final = re.compile(r'"[\s+-]*+(?:[\d.]++(?:,|\Z)|,\d|,?\Z)')
"""Where a number in quotes with a comma may begin; one that the end of a piece cuts off may."""


class Text:
    """An opened CSV. `header`: its cells; `make`: how it is read, in words; `may_hold_commas`: whether a number may be
    written with a comma."""

    def __init__(
        self, opened: Callable[[], BinaryIO], known_of: Callable[[Sequence[str]], int], separator: str | None
    ) -> None:
        self._opened = opened
        self._charset, charset_words, commas, numbers = _charset(opened)
        self._separator, self.header = self._choose(known_of, separator)
        self.make = f"CSV, {charset_words}, {_WORDS[self._separator]} between cells"
        self.may_hold_commas = commas and (numbers or self._separator != ",")

    def rows(self) -> Iterator[list[str]]:
        """The cells of every row below the header, trimmed."""
        for cells in self.untrimmed():
            yield list(map(str.strip, cells))

    def untrimmed(self) -> Iterator[list[str]]:
        """The same as they are."""
        with self._reader(self._separator) as reader, _in_words():
            next(reader, None)
            yield from reader

    @contextmanager
    def _reader(self, separator: str) -> Iterator[Iterator[list[str]]]:
        csv.field_size_limit(LONGEST_CELL)  # other libraries raise this limit for the process
        with io.TextIOWrapper(self._opened(), self._charset, newline="") as words:
            yield csv.reader(words, strict=True, delimiter=separator)

    def _choose(self, known_of: Callable[[Sequence[str]], int], separator: str | None) -> tuple[str, list[str]]:
        if separator:
            return separator, self._header(separator)
        headers: dict[str, list[str]] = {}
        wrong: TableError | None = None
        for mark in SEPARATORS.values():
            try:
                headers[mark] = self._header(mark)
            except TableError as error:
                wrong = wrong or error
        if wrong and not headers:
            raise wrong
        score = {mark: (known_of(cells), len(cells)) for mark, cells in headers.items()}
        best = max(score, key=lambda mark: score[mark])
        equal = [_WORDS[mark] for mark in score if score[mark][0] == score[best][0] and len(headers[mark]) > 1]
        if score[best][0] and len(equal) > 1:
            words = f"row 1 can be read with {' or '.join(equal)} between the cells"
            raise TableError(words, option="separator")
        if wrong and not score[best][0]:
            raise wrong
        return best, headers[best]

    def _header(self, separator: str) -> list[str]:
        with self._reader(separator) as reader, _in_words():
            return [cell.strip() for cell in next(reader, [])]


@contextmanager
def _in_words() -> Iterator[None]:
    try:
        yield
    except csv.Error as error:
        if "field limit" in str(error):
            raise TableError(f"a cell has more than {LONGEST_CELL} characters, or a quote is not closed") from error
        raise TableError(f"the file is not a CSV: {error}") from error


def _charset(opened: Callable[[], BinaryIO]) -> tuple[str, str, bool, bool]:
    """Codec, its name in words, whether a comma and whether a number in quotes with one may occur. Reads the file once,
    to its end."""
    with opened() as stream:
        begin = stream.read(4)
    for mark, codec, words in _MARKS:
        if begin.startswith(mark):
            wrong = _looked_through(opened, codec.removesuffix("-sig"))
            if isinstance(wrong, int):
                raise TableError(f"the file is not {words.partition(' ')[0]}: byte {wrong} cannot be read")
            return codec, words, *wrong
    found = _looked_through(opened, "utf-8")
    if not isinstance(found, int):
        return "utf-8", "UTF-8", *found
    other = _looked_through(opened, "cp1252")
    if isinstance(other, int):
        raise TableError(f"the file is neither UTF-8 (byte {found} cannot be read) nor Windows-1252 (byte {other})")
    return "cp1252", "Windows-1252 (not sound UTF-8)", *other


def _looked_through(opened: Callable[[], BinaryIO], codec: str) -> int | tuple[bool, bool]:
    """The first byte that the codec cannot read; else whether commas occur, and whether numbers in quotes with a comma
    may. TableError for a file that holds nothing, or NUL."""
    decoder = codecs.getincrementaldecoder(codec)()
    commas = numbers = written = False
    done = 0
    with opened() as stream:
        while True:
            piece = stream.read(_PIECE)
            waiting = len(decoder.getstate()[0])
            try:
                words = decoder.decode(piece, final=not piece)
            except UnicodeDecodeError as error:
                return done - waiting + error.start
            done += len(piece)
            if "\0" in words:
                hint = "" if codec == "utf-16" else "; UTF-16 needs a byte order mark"
                raise TableError(f"the file contains NUL characters: it is not a CSV{hint}")
            commas = commas or "," in words
            numbers = numbers or _QUOTED_NUMBER.search(words) is not None
            written = written or bool(words.strip("\ufeff").strip())
            if not piece:
                break
    if not written:
        raise TableError("the file is empty: a header and at least one row are needed")
    return commas, numbers
