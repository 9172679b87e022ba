"""Changes that bring new shots, a column after the other: an import makes very many."""

from __future__ import annotations

import hashlib
from bisect import bisect_left
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final, Generic, Protocol, TypeVar

from server.records.changes import changes_named
from server.records.fold import PUT
from server.records.many_shots import Column, Ready, at

KIND: Final = "shot"
SCHEMA_VERSION: Final = 1
"""That of the changes which are made here."""

Value = TypeVar("Value")


class Named(Protocol):
    """Anything that has the ids of a change and of its record."""

    @property
    def change_id(self) -> str: ...

    @property
    def record_id(self) -> str: ...


Single = TypeVar("Single", bound=Named)


@dataclass(frozen=True)
class NewShots:
    """Changes of one device and one moment, each the first that any log hears of a shot. `bodies`: as the log keeps
    them; `typed`: the fields, by their names."""

    change_ids: Sequence[str]
    record_ids: Sequence[str]
    bodies: Sequence[str]
    digests: Sequence[str]
    typed: Mapping[str, Column]
    device_id: str
    client_time: str
    moment: datetime

    def __len__(self) -> int:
        return len(self.change_ids)

    def chosen(self, places: Sequence[int]) -> NewShots:
        """Those at some places."""
        return replace(
            self,
            change_ids=at(places, self.change_ids),
            record_ids=at(places, self.record_ids),
            bodies=at(places, self.bodies),
            digests=at(places, self.digests),
            typed={name: at(places, column) for name, column in self.typed.items()},
        )


def new_shots(record_ids: Sequence[str], ready: Ready, device_id: str, client_time: str, moment: datetime) -> NewShots:
    """What `server.records.changes.put_of` makes of shots of which nothing is held, sooner."""
    change_ids = changes_named(record_ids, ready.words)
    told = f"{KIND}\n{PUT}\n{device_id}\n{client_time}\n{SCHEMA_VERSION}"
    given = zip(change_ids, record_ids, ready.words, strict=True)
    sha256 = hashlib.sha256
    digests = [sha256(f"{change}\n{record}\n{told}\n{words}".encode()).hexdigest() for change, record, words in given]
    return NewShots(change_ids, record_ids, ready.words, digests, ready.typed, device_id, client_time, moment)


@dataclass(frozen=True)
class Brought(Generic[Single]):
    """What is brought to a log, in its order: single changes, and new shots. `before`: of the shots so many come before
    each single one."""

    single: Sequence[Single]
    before: Sequence[int]
    shots: NewShots

    def __len__(self) -> int:
        return len(self.single) + len(self.shots)

    def record_ids(self) -> list[str]:
        """The records that are spoken of."""
        return self.together((one.record_id for one in self.single), self.shots.record_ids)

    def without(self, known: Collection[str]) -> Brought[Single]:
        """What is left when the changes of these ids are left out."""
        if not known:
            return self
        ids = self.shots.change_ids
        places = [place for place, change_id in enumerate(ids) if change_id not in known]
        shots = self.shots if len(places) == len(ids) else self.shots.chosen(places)
        left = [(one, at) for one, at in zip(self.single, self.before, strict=True) if one.change_id not in known]
        return Brought([one for one, _ in left], [bisect_left(places, at) for _, at in left], shots)

    def together(self, of_single: Iterable[Value], of_shots: Sequence[Value]) -> list[Value]:
        """One value each, in order."""
        found: list[Value] = []
        done = 0
        for value, before in zip(of_single, self.before, strict=True):
            found += of_shots[done:before]
            found.append(value)
            done = before
        found += of_shots[done:]
        return found
