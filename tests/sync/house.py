"""The real server under test: the Flask application on a real SQLite file, with faults on the way to it."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import sqlalchemy as sa

import server.api.app  # noqa: F401  (loaded before any clock is frozen: compiled modules look at datetime's size)
from server import create_app
from server.store.backup import backup, restore
from server.store.engine import open_database, reading
from server.store.pulling import pull
from server.store.rebuild import Report, check_database
from server.store.tables import CHANGE, CLUB, ROUND, SHOT

BEFORE = "before"
AFTER = "after"


class House:
    """A server in a folder of its own. `push` and `pull` are the wire of a device; `drop` loses the request before it
    arrives or the answer after the commit."""

    def __init__(self, folder: Path, template: Path) -> None:
        self.folder = folder
        self.database = folder / "log.sqlite"
        shutil.copy(template, self.database)
        self.backups: list[Path] = []
        self.restart()

    def restart(self) -> None:
        """Stop the server and start it again on the same file."""
        if hasattr(self, "app"):
            self.close()
        self.app = create_app({"DATABASE": f"sqlite:///{self.database}", "TESTING": True})
        self.client = self.app.test_client()

    def close(self) -> None:
        """Let the file go."""
        self.engine.dispose()

    @property
    def engine(self) -> sa.Engine:
        """The application's database."""
        engine: sa.Engine = self.app.extensions["pencilbag_engine"]
        return engine

    def push(self, player_id: str, sent: dict[str, Any], drop: str = "") -> dict[str, Any]:
        """POST changes."""
        if drop == BEFORE:
            raise ConnectionError
        answer = self.client.post(f"/api/players/{player_id}/changes", json=sent)
        assert answer.status_code == 200, answer.json
        if drop == AFTER:
            raise ConnectionError
        found: dict[str, Any] = answer.json
        return found

    def pull(self, player_id: str, cursor: str | None, limit: int, drop: str = "") -> Any:
        """GET one page; None for a player that the server does not know (yet, or after a restore)."""
        if drop == BEFORE:
            raise ConnectionError
        query = {"limit": limit} | ({"after": cursor} if cursor else {})
        answer = self.client.get(f"/api/players/{player_id}/changes", query_string=query)
        if answer.status_code == 404:
            found = None
        else:
            assert answer.status_code == 200, answer.json
            found = answer.json
        if drop == AFTER:
            raise ConnectionError
        if found is None and cursor:
            # The server has forgotten the player altogether: the same as a reset.
            return {"reset": True, "changes": [], "cursor": None, "more": False, "now": self._now()}
        return found

    def _now(self) -> str:
        now: str = self.client.post(
            "/api/players/00000000-0000-4000-8000-000000000000/changes", json={"device_id": "clock", "changes": []}
        ).json["now"]
        return now

    def back_up(self) -> None:
        """Take a backup while the server runs."""
        path = self.folder / f"backup-{len(self.backups)}.sqlite"
        backup(self.engine, path)
        self.backups.append(path)

    def restore(self, number: int) -> None:
        """Stop, restore an earlier backup, start again."""
        self.close()
        engine = open_database(f"sqlite:///{self.database}")
        restore(engine, self.backups[number])
        engine.dispose()
        self.restart()

    def log(self, player_id: str) -> list[dict[str, Any]]:
        """The whole log of a player as the store has it."""
        page = pull(self.engine, player_id, None, 1_000_000)
        return page.changes if page else []

    def known_ids(self) -> set[str]:
        """Ids of all changes in the log."""
        with reading(self.engine) as connection:
            return {row[0] for row in connection.execute(sa.select(CHANGE.c.change_id))}

    def derived(self, player_id: str) -> dict[str, tuple[str, bool]]:
        """Record -> (the words by which a club, a round or a shot is told, deleted), from the derived tables."""
        with reading(self.engine) as connection:
            return {
                row.record_id: (row.words, bool(row.deleted))
                for table, words, deleted in (
                    (CLUB, CLUB.c.label, CLUB.c.deleted),
                    (ROUND, ROUND.c.note, ROUND.c.deleted),
                    (SHOT, SHOT.c.note, sa.false()),
                )
                for row in connection.execute(
                    sa.select(table.c.record_id, words.label("words"), deleted.label("deleted")).where(
                        table.c.player_id == player_id
                    )
                )
            }

    def check(self) -> Report:
        """Derive all records from the log and compare."""
        return check_database(self.engine)
