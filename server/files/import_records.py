"""Making records out of the rows of a shots table."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import repeat
from typing import Any, Final, NamedTuple
from uuid import UUID

from server.files.shots_blocks import FIRST_ROUND
from server.files.shots_rounds import Rounds
from server.game.lies import GREEN
from server.game.shots_in_columns import InColumns
from server.records.json_types import RecordBody
from server.records.many_shots import NAMES, Column, ShotColumns
from server.records.named_ids import bytes_of, named_id, named_ids
from server.records.shot_fields import SHOT_FIELDS
from server.store.rows import HoleRow, TeesRow

Record = tuple[str, RecordBody]
NO_SHOTS: Final = ShotColumns([], {name: [] for name in NAMES})


class Told(NamedTuple):
    """What a table says. `records`: id -> (kind, body); `shots`: shots besides; `before`: how many of the shots come
    before each record, none where it is not named."""

    records: Mapping[str, Record]
    shots: ShotColumns = NO_SHOTS
    before: Mapping[str, int] = {}

    def single(self, apart: Collection[int]) -> Iterator[tuple[int, str, str, RecordBody]]:
        """The records, and the shots at these places, in order: how many of the other shots come before each, its id,
        kind and body."""
        waiting, done = sorted(apart), 0
        for record_id, (kind, body) in self.records.items():
            before = self.before.get(record_id, 0)
            while done < len(waiting) and waiting[done] < before:
                yield waiting[done] - done, self.shots.record_ids[waiting[done]], "shot", self.shots.body(waiting[done])
                done += 1
            yield before - done, record_id, kind, body
        for passed, place in enumerate(waiting[done:], start=done):
            yield place - passed, self.shots.record_ids[place], "shot", self.shots.body(place)

    def one_by_one(self) -> Told:
        """The same without shots besides; of several records of one id the last."""
        every = range(len(self.shots))
        return Told({record_id: (kind, body) for _, record_id, kind, body in self.single(every)})


_SORT_WORDS: Final = (
    ("driver", re.compile(r"driver|^1 ?w$|^d$")),
    ("putter", re.compile(r"putter|^p(t|utt)$")),
    ("hybrid", re.compile(r"hybrid|rescue|^\d ?h$")),
    ("wood", re.compile(r"wood|^\d ?w$")),
    ("wedge", re.compile(r"wedge|^[pgsal]w$|°|deg|^[45]\d$|^6[0-4]$")),
    ("iron", re.compile(r"iron|^\d ?i$")),
)
_OPTIONAL: Final = tuple(field.name for field in SHOT_FIELDS if field.nullable and field.cells)
_MARKS: Final = ("picked_up", "provisional")
_LEFT_OUT: Final = "position"
"""A table leaves positions out unless the player shares them: a blank one says nothing."""
_TIED: Final = frozenset({"penalty_reason", "end_lie", "end_distance_yd", *_MARKS})
"""Fields that must agree with others of the shot."""


def guessed_sort(label: str, used_on_green: bool) -> str:
    """The sort of a club from its label ("3 wood", "7i"); used from the green alone it is a putter, else an iron."""
    for sort, pattern in _SORT_WORDS:
        if pattern.search(label.lower()):
            return sort
    return "putter" if used_on_green else "iron"


@dataclass(frozen=True)
class Newcomers:
    """Hand and unit of the players that a table brings in; None: not given."""

    plays: str | None = None
    units: str | None = None

    @property
    def assumed(self) -> str:
        """What is assumed of them, and what settles it; in words that follow "is new"."""
        hand = "" if self.plays else "right-handed (--left)"
        units = "" if self.units else "yards (--units)"
        words = " and ".join(filter(None, (hand, units)))
        return f"; {words} {'are' if units else 'is'} assumed" if words else ""


class RecordMaker:
    """Collects the records of one player out of the rounds of a table, for `told`; `new_names` says what was met
    first, as (row, column, words)."""

    def __init__(
        self,
        player_id: str,
        clubs: dict[str, str],
        courses: Mapping[str, tuple[str, list[TeesRow]]],
        rounds: Rounds,
        foreign: Collection[str],
    ) -> None:
        """`foreign`: ids that the table names but that belong to another player: they are not taken over."""
        self.player_id = player_id
        self._space = bytes_of(player_id)
        self._table, self._foreign = rounds.columns, foreign
        self._records: dict[str, Record] = {}
        self._before: dict[str, int] = {}
        self._shot_ids: list[str] = []
        self._round_ids: list[str] = []
        self.whole: dict[str, int] = {}
        """Of each round how many rows it is; none where several rounds of the table are one."""
        self.new_names: list[tuple[int, str, str]] = []
        self._clubs = dict(clubs)
        self._courses = dict(courses)
        self._rounds: Counter[str] = Counter()

    @cached_property
    def rows(self) -> Mapping[str, int]:
        """The row of each shot."""
        return dict(zip(self._shot_ids, self._table["row"], strict=True))

    def told(self) -> Told:
        """All records, when every round was made."""
        values: dict[str, Column] = {name: self._table[name] for name in NAMES if name in self._table}
        values["round_id"] = self._round_ids
        values["club_id"] = list(map(self._clubs.__getitem__, self._table["club"]))
        values["at"] = [None] * len(self._shot_ids)
        values["holed"] = list(map(bool, self._table["holed"]))
        for name in _MARKS:
            values[name] = [value or None for value in self._table[name]]
        return Told(self._records, ShotColumns(self._shot_ids, values), self._before)

    def _tell(self, record_id: str, kind: str, body: RecordBody) -> None:
        self._records[record_id] = (kind, body)
        self._before.setdefault(record_id, len(self._shot_ids))

    def make_player(self, name: str, row: int, newcomers: Newcomers) -> None:
        """A player met for the first time."""
        body = {
            "name": name,
            "plays": newcomers.plays or "right",
            "units": newcomers.units or "yards",
            "baseline": "tour",
            "category_scheme": "four_part",
        }
        self._tell(self.player_id, "player", body)
        self.new_names.append((row, "player", f"player {name!r} is new{newcomers.assumed}"))

    def make_round(self, key: tuple[Any, ...], rows: InColumns) -> None:
        """One round with its shots; its course and clubs when they are new."""
        played_on, kind, course, tees, named, of_day = key
        of_holes = zip(rows.column("par"), rows.column("length_yd"), strict=True)
        holes = dict(zip(rows.column("hole"), of_holes, strict=True))
        bag = sorted({self._club(label, rows) for label in dict.fromkeys(rows.column("club"))})
        listed: list[HoleRow] = [
            {"number": number, "par": holes[number][0], "length_yd": holes[number][1]} for number in sorted(holes)
        ]
        which = "" if of_day == FIRST_ROUND else f"|round {of_day}"
        made_up = self._round_id(f"round|{played_on}|{kind}|{course}|{tees}{which}")
        round_id = self._named(named) or made_up
        body = {
            "played_on": played_on.isoformat(),
            "kind": kind,
            "course_id": self._course(course, tees, listed, rows.column("row")[0]),
            "tees": tees,
            "holes": listed,
            "bag": bag,
            "closed": True,
        }
        # a table that leaves one of these blank leaves what was recorded before
        for name in ("ball_label", "lengths_taken"):
            if word := next(filter(None, rows.column(name)), None):
                body[name] = word
        again = round_id in self._records
        self._tell(round_id, "round", body)
        self.whole[round_id] = 0 if again else len(rows)
        self._shots(round_id, rows)

    def _id(self, name: str) -> str:
        return named_id(self._space, name)

    def _round_id(self, name: str) -> str:
        """The first round of that name has the plain name, the ones after it (distinguished by the table) a number."""
        self._rounds[name] += 1
        count = self._rounds[name]
        return self._id(name if count == 1 else f"{name}|{count}")

    def _club(self, label: str, rows: InColumns) -> str:
        if label not in self._clubs:
            labels = rows.column("club")
            lies = {lie for lie, other in zip(rows.column("lie"), labels, strict=True) if other == label}
            sort = guessed_sort(label, lies == {GREEN})
            self._clubs[label] = self._id(f"club|{label}")
            self._tell(self._clubs[label], "club", {"label": label, "sort": sort})
            words = f"club {label!r} is new, taken for {'an' if sort == 'iron' else 'a'} {sort}"
            self.new_names.append((rows.column("row")[labels.index(label)], "club", words))
        return self._clubs[label]

    def _course(self, name: str | None, tees: str | None, holes: list[HoleRow], row: int) -> str | None:
        if name is None:
            return None
        known = self._courses.get(name)
        course_id = known[0] if known else self._id(f"course|{name}")
        sets: list[TeesRow] = [one.copy() for one in known[1]] if known else []
        if known is None:
            self.new_names.append((row, "course", f"course {name!r} is new"))
        found = next((one for one in sets if one["name"] == (tees or "")), None)
        if found is None:
            sets.append({"name": tees or "", "holes": holes})
        else:
            numbers = {hole["number"] for hole in found["holes"]}
            missing = [hole for hole in holes if hole["number"] not in numbers]
            if not missing and known:
                return course_id
            found["holes"] = sorted([*found["holes"], *missing], key=lambda hole: hole["number"])
        self._courses[name] = (course_id, sets)
        self._tell(course_id, "course", {"name": name, "tees": sets})
        return course_id

    def _shots(self, round_id: str, rows: InColumns) -> None:
        places = zip(*map(rows.column, ("hole", "ball", "order")), strict=True)
        names = [f"shot|{round_id}|{hole}|{ball}|{order}" for hole, ball, order in places]
        if any(named := rows.column("shot_id")):
            ids = [self._named(words) or self._id(name) for words, name in zip(named, names, strict=True)]
        else:
            ids = named_ids(repeat(self._space), names)
        self._shot_ids += ids
        self._round_ids += [round_id] * len(ids)

    def _named(self, words: str | None) -> str | None:
        """The id that an exported table gives a round or a shot, where it can be used here."""
        if not words:
            return None
        try:
            record_id = str(UUID(words))
        except ValueError:
            return None
        return None if record_id in self._foreign else record_id


def merge(kind: str, held: RecordBody, body: RecordBody, lacking: Collection[str] = ()) -> RecordBody:
    """What a record becomes when a table speaks of it again: the table's fields over those held.

    What the table does not know stays: unknown fields, the position of a shot whose cells are blank, holes and clubs
    that it does not name, what else is known of a hole, and of a shot the fields in `lacking`, for which the table has
    no column (an older version wrote it), but for those that go with others: a penalty and an end are as the table
    says.
    """
    merged = {**held, **body}
    if kind == "shot":
        for name in (*_OPTIONAL, *_MARKS):
            if name not in body and name != _LEFT_OUT and (name in _TIED or name not in lacking):
                merged.pop(name, None)
    elif kind == "round":
        holes = {hole["number"]: hole for hole in held["holes"]}
        holes |= {hole["number"]: {**holes.get(hole["number"], {}), **hole} for hole in body["holes"]}
        merged["holes"] = [holes[number] for number in sorted(holes)]
        merged["bag"] = [*held["bag"], *(club for club in body["bag"] if club not in held["bag"])]
        merged["closed"] = held.get("closed", False)
    return merged
