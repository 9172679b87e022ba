"""Importing shots tables of any size: CSV, XLSX and Parquet, several files as one import, every row or none.

The files are read in blocks and checked cell by cell; what is sound lies in a file beside (`server.store.staging`),
sorted by player, whatever order the rows came in. Then each player's rounds are checked, planned and made ready, in a
read transaction of their own. Nobody waits for any of this. Last, all of it is stored in one transaction. Memory is
that of the player with the most rows, some hundred bytes a player, and the first faults of each kind.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Final
from uuid import UUID

import sqlalchemy as sa

from server.files.shots_blocks import Block, packed, unpacked
from server.files.shots_import import Met, Taking, plan_player, prepared
from server.files.shots_rounds import Imported, Rounds, check_rounds, in_the_future
from server.files.shots_rows import ShotsSheet
from server.files.spreadsheets import PLAIN, Reading
from server.files.table_faults import FaultCounts, FileRow, TableError, unfit, unread
from server.store.collecting import uncollected
from server.store.engine import reading
from server.store.prepared import Prepared, moved_on, store_all
from server.store.staging import Staging, staging_folder

ENDINGS: Final = (".csv", ".parquet", ".xlsx")
"""What is taken of a folder."""
MOST_FILES: Final = 10_000

Progress = Callable[[str, int, int | None], None]
"""Called with what is being done, by how many it has moved on, and how many there are where that is known."""


def _nobody(_what: str, _steps: int, _of: int | None) -> None:
    """Nobody watches."""


def tables_in(places: Sequence[Path]) -> list[Path]:
    """The files, and in place of each folder the tables in it and below it, by name. Raises TableError."""
    found: list[Path] = []
    for place in places:
        named = f"{place.name}: " if len(places) > 1 else ""
        if place.is_file():
            found.append(place)
            continue
        if not place.is_dir():
            raise TableError(f"{named}is neither a file nor a folder")
        try:
            inside = _below(place)
        except OSError as error:
            raise TableError(f"{named}the folder cannot be read: {error.strerror or error}") from error
        if not inside:
            raise TableError(f"{named}the folder has no table ({', '.join(ENDINGS)})")
        found += inside
    if len(found) > MOST_FILES:
        raise TableError(f"more than {MOST_FILES} files; import them in parts")
    seen: dict[Path, Path] = {}
    for one in found:
        if seen.setdefault(one.resolve(), one) is not one:
            raise TableError(f"{one.name} is there twice: name each file once")
    return found


def _below(folder: Path) -> list[Path]:
    """The tables in a folder and below it; nothing whose name, or whose folder's, begins with a point, and no lock file
    of a workbook that is open in a spreadsheet program (~$NAME.xlsx)."""
    found = (one for one in folder.rglob("*") if one.suffix.lower() in ENDINGS and one.is_file())
    seen = (one for one in found if not any(part.startswith((".", "~$")) for part in one.relative_to(folder).parts))
    return sorted(islice(seen, MOST_FILES + 1))


@dataclass
class _Player:
    """A player of the tables. `after`: the state of the log that the rows were made ready for."""

    name: str
    player_id: str = ""
    after: tuple[int, str] | None = None
    counts: tuple[int, int] = (0, 0)


@dataclass
class _Import:
    """One import while it goes on."""

    engine: sa.Engine
    files: Sequence[Path]
    staging: Staging
    taking: Taking
    progress: Progress
    dry_run: bool
    result: Imported = field(default_factory=Imported)
    players: dict[str, int] = field(default_factory=dict)
    of: list[_Player] = field(default_factory=list)
    lacking: list[frozenset[str]] = field(default_factory=list)
    faults: FaultCounts = field(default_factory=FaultCounts)
    names: list[str] = field(default_factory=list)

    def read(self, player: str | None, how: Reading) -> None:
        """Read all files and keep their rows. Raises TableError with every bad cell of all of them."""
        self.names = _names_of(self.files)
        taken: dict[str, list[str]] = {}
        for place, file in enumerate(self.files):
            with _named(self.names[place] if len(self.files) > 1 else ""):
                sheet = ShotsSheet(file, player, how, self._row_of(place))
                before = self.result.rows
                for block in sheet.blocks():
                    self._keep(place, block)
                    self.progress("checking rows", len(block.columns["row"]), None)
                self.result.remarks.add_all(sheet.remarks())
                if self.result.rows == before and not self.faults.total:
                    raise TableError("the file has a header and no shots")
            self.lacking.append(sheet.lacking)
            self.result.ignored += [name for name in sheet.ignored if name not in self.result.ignored]
            taken.setdefault(sheet.taken, []).append(self.names[place])
        self.result.taken = _taken(taken, len(self.files))
        if self.faults.total:
            raise TableError(unread(self.faults.total), self.faults)
        self._refuse_shared()

    def _row_of(self, place: int) -> Callable[[int], int] | None:
        if len(self.files) == 1:
            return None
        name = self.names[place]
        return lambda row: FileRow(row, place, name)

    def _keep(self, place: int, block: Block) -> None:
        for of_row in block.faults:
            self.faults.extend(of_row)
        self.result.rows += len(block.columns["row"])
        if self.faults.total:
            return
        for name, rows in packed(block):
            number = self.players.setdefault(name, len(self.of))
            if number == len(self.of):
                self.of.append(_Player(name))
            self.staging.keep_piece(number, place, rows)
        for column in ("round_id", "shot_id"):
            if any(block.columns[column]):
                self._keep_named(block, column)

    def _keep_named(self, block: Block, column: str) -> None:
        by_player: dict[int, set[bytes]] = {}
        for name, words in zip(block.columns["player"], block.columns[column], strict=True):
            if words and (record := _id_in(words)):
                by_player.setdefault(self.players[name], set()).add(record)
        for number, records in by_player.items():
            self.staging.keep_named(number, records)

    def _refuse_shared(self) -> None:
        shared = self.staging.of_two_players()
        if shared:
            record, later = shared[0]
            words = f"record_id: {UUID(bytes=record)} is of two players, one of them {self.of[later].name!r}"
            raise TableError(
                f"the rows do not fit together: {words}: a record of this player belongs to another player"
            )

    def make_ready(self) -> None:
        """Check every player's rounds and make them ready. Raises TableError with all that does not fit together."""
        self.staging.sort()
        met = Met()
        for number in range(len(self.of)):
            with uncollected():
                rounds = self._rounds(number)
                self.result.remarks.extend(in_the_future(rounds))
                self.faults.extend(check_rounds(rounds, self.result))
                if not self.faults.total:
                    self._make_ready(number, rounds, met, self.result)
                del rounds
            self.progress("checking players", 1, len(self.of))
        if self.faults.total:
            raise TableError(unfit(self.faults.total), self.faults)
        met.refuse(self.taking)

    def _rounds(self, number: int) -> Rounds:
        columns = unpacked(rows for _, rows in self.staging.pieces(number))
        if len(self.files) > 1:
            columns["row"] = [FileRow.again(row, self.names) for row in columns["row"]]
        return Rounds(columns)

    def _make_ready(self, number: int, rounds: Rounds, met: Met, result: Imported) -> None:
        before = (result.changes, result.kept)
        one = self.of[number]
        with reading(self.engine) as connection:
            plan = plan_player(connection, one.name, rounds, self._lacking_of, self.taking, result, met)
            (ready,) = prepared(connection, [plan])
        one.player_id, one.after = ready.player_id, ready.after
        one.counts = (result.changes - before[0], result.kept - before[1])
        if not self.dry_run:
            self.staging.keep_ready(number, ready)

    def _lacking_of(self, row: int) -> frozenset[str]:
        return self.lacking[row.place if isinstance(row, FileRow) else 0]

    def store(self) -> None:
        """Store all of it in one transaction. Players whose log has moved on meanwhile are made ready again before; so
        is everybody where an id was taken by somebody else's change. Raises BusyError."""
        store_all(self.engine, self._ready, self.result.changes)
        self.result.changes = sum(one.counts[0] for one in self.of)
        self.result.kept = sum(one.counts[1] for one in self.of)

    def _ready(self, clashed: bool) -> Iterator[Prepared]:
        self._catch_up(range(len(self.of)) if clashed else self._moved())
        return self._to_store()

    def _to_store(self) -> Iterator[Prepared]:
        for ready in self.staging.ready():
            yield ready
            self.progress("storing players", 1, len(self.of))

    def _moved(self) -> list[int]:
        after = {one.player_id: one.after for one in self.of if one.after}
        with reading(self.engine) as connection:
            moved = moved_on(connection, after)
        return [number for number, one in enumerate(self.of) if one.player_id in moved]

    def _catch_up(self, numbers: Sequence[int]) -> None:
        for number in numbers:
            rounds, aside = self._rounds(number), Imported()
            if wrong := check_rounds(rounds, aside):
                raise TableError(unfit(len(wrong)), wrong)
            met = Met()
            self._make_ready(number, rounds, met, aside)
            met.refuse(self.taking)


def import_files(
    engine: sa.Engine,
    files: Sequence[Path],
    *,
    player: str | None = None,
    how: Reading = PLAIN,
    taking: Taking | None = None,
    dry_run: bool = False,
    progress: Progress = _nobody,
    most_bytes: int | None = None,
) -> Imported:
    """Store every row of all files or none. Raises TableError with all faults, counted; FullError where there is no
    room for what is kept meanwhile (`most_bytes`). `player`: the rows belong to the player of this name."""
    with Staging(staging_folder(engine), most_bytes) as staging:
        done = _Import(engine, files, staging, taking or Taking(), progress, dry_run)
        done.read(player, how)
        done.make_ready()
        if not dry_run:
            done.store()
        return done.result


def _names_of(files: Sequence[Path]) -> list[str]:
    """The names of the files as they are reported: with their folders where two of them have one name."""
    short = [file.name for file in files]
    return short if len(set(short)) == len(short) else [str(file) for file in files]


def _taken(taken: dict[str, list[str]], files: int) -> str:
    if files == 1:
        return next(iter(taken))
    parts = [f"{words} ({names[0] if len(names) == 1 else f'{len(names)} files'})" for words, names in taken.items()]
    return "; ".join(parts)


@contextmanager
def _named(name: str) -> Iterator[None]:
    """Names the file in what is wrong with all of it."""
    try:
        yield
    except TableError as error:
        if name and not error.faults:
            raise TableError(f"{name}: {error}", option=error.option) from error
        raise
    except OSError as error:
        words = f"the file cannot be read: {error.strerror or error}"
        raise TableError(f"{name}: {words}" if name else words) from error


def _id_in(words: str) -> bytes | None:
    try:
        return UUID(words).bytes
    except ValueError:
        return None
