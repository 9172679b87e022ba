"""Importing a table of practice balls: rows become sessions and balls, all or nothing.

Rows of one day and place are a session. Its id follows from what its rows say, so the same table twice adds nothing,
and a ball that was edited or deleted after an import stays as it is.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Final
from uuid import UUID, uuid5

from sqlalchemy import Connection, Engine

from server.files.import_records import Record, Told, guessed_sort
from server.files.practice_table import PracticeRow, PracticeTable
from server.files.shots_import import Plan, changes_of, prepared
from server.files.table_faults import RowFault, TableError
from server.game.ranges import MOST_BALLS_A_SESSION
from server.records.changes import digest, iso
from server.store.engine import reading
from server.store.frames import clubs_in_use
from server.store.players import club_ids
from server.store.prepared import Prepared, store_all

PUTTER: Final = "putter"


@dataclass(frozen=True)
class ImportedSession:
    """A session as a table tells it; `row` is its first."""

    row: int
    date: date
    place: str
    balls: int
    clubs: int


@dataclass
class ImportedPractice:
    """What an import did, or would do."""

    rows: int = 0
    changes: int = 0
    kept: int = 0
    sessions: list[ImportedSession] = field(default_factory=list)
    made: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def import_practice(
    engine: Engine, table: PracticeTable, player_id: str, *, file: str | None = None, dry_run: bool = False
) -> ImportedPractice:
    """Store every ball of one player or none. `file`: the name of the table, kept with its sessions. Raises TableError
    with all faults, BusyError while others write."""
    done = ImportedPractice()

    def ready(_clashed: bool) -> list[Prepared]:
        nonlocal done
        done = ImportedPractice(rows=len(table.rows))
        done.notes = [f"column {name} is not known and was ignored" for name in table.ignored]
        with reading(engine) as connection:
            records = _Maker(connection, player_id, file, done).records_of(table)
            now = iso(datetime.now(UTC))
            brought, faults, done.kept = changes_of(connection, player_id, Told(records), lambda _: (), now)
            done.changes = len(brought)
            return prepared(connection, [Plan(player_id, brought, faults, {})])

    if dry_run:
        ready(False)
    else:
        store_all(engine, ready)
    return done


class _Maker:
    """Makes the records of a table."""

    def __init__(self, connection: Connection, player_id: str, file: str | None, done: ImportedPractice) -> None:
        self.player_id, self.file, self.done = player_id, file, done
        self.clubs = club_ids(connection, player_id)
        self.folded = {label.casefold(): club_id for label, club_id in self.clubs.items()}
        used = clubs_in_use(connection, player_id)
        self.putters = [self.clubs[label] for label, sort in used.items() if sort == PUTTER and label in self.clubs]
        self.records: dict[str, Record] = {}

    def records_of(self, table: PracticeTable) -> dict[str, Record]:
        """Id -> kind and body of every record that the rows make."""
        sessions: dict[tuple[date, str], list[PracticeRow]] = defaultdict(list)
        for row in table.rows:
            sessions[row.day, row.place].append(row)
        faults = [
            RowFault(rows[0].row, "date", f"{len(rows)} balls of {day}, {place}: a session has {MOST_BALLS_A_SESSION}")
            for (day, place), rows in sessions.items()
            if len(rows) > MOST_BALLS_A_SESSION
        ]
        faults += [
            RowFault(row.row, "club", "is missing, and the player does not have one putter alone", "", "a club's label")
            for row in table.rows
            if row.club is None and len(self.putters) != 1
        ]
        if faults:
            raise TableError(f"{len(faults)} rows cannot be read", faults)
        for (day, place), rows in sessions.items():
            self._session(day, place, rows)
        return self.records

    def _session(self, day: date, place: str, rows: list[PracticeRow]) -> None:
        clubs = [self._club(row) for row in rows]
        bodies = [[club, row.body] for club, row in zip(clubs, rows, strict=True)]
        session_id = self._id(f"session|{day}|{place}|{digest(bodies)}")
        body: dict[str, object] = {"date": day.isoformat(), "place": place}
        if self.file:
            body["from_file"] = self.file
        self.records[session_id] = ("session", body)
        for order, (club_id, row) in enumerate(zip(clubs, rows, strict=True), start=1):
            ball = {"session_id": session_id, "order": order, "club_id": club_id, **row.body}
            self.records[self._id(f"practice_ball|{session_id}|{order}")] = ("practice_ball", ball)
        self.done.sessions.append(ImportedSession(rows[0].row, day, place, len(rows), len(set(clubs))))

    def _club(self, row: PracticeRow) -> str:
        if row.club is None:
            return self.putters[0]
        found = self.clubs.get(row.club) or self.folded.get(row.club.casefold())
        if found is None:
            sort = guessed_sort(row.club, "length_ft" in row.body)
            found = self._id(f"club|{row.club}")
            self.folded[row.club.casefold()] = found
            self.records[found] = ("club", {"label": row.club, "sort": sort})
            self.done.made.append(f"club {row.club!r} is new, taken for {'an' if sort == 'iron' else 'a'} {sort}")
        return found

    def _id(self, name: str) -> str:
        return str(uuid5(UUID(self.player_id), name))
