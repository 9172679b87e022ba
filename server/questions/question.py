"""One question, one snapshot: what is asked of a player's shots, and all that an answer reads, from one transaction.

A way in (a route, a command) puts a `Question`; `Asked` finds the baseline and the mark of the log, which say whether
an answer that was given before still holds; `Asked.snapshot` asks the competition lock and reads the rest.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

import pandas as pd
from sqlalchemy import Connection

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.expected_strokes.baseline import DEFAULT_BASELINE, Baseline
from server.analysis.strokes_gained.setups import with_setup
from server.game.practice import COURSE
from server.questions.cache import Cache
from server.questions.competition_lock import lock_of, refuse_locked
from server.questions.kept_frames import kept_valued_shots
from server.questions.sides import Side, find_side, find_sides, known_sides
from server.questions.valued_shots import baseline_by_id, own_baseline, scheme_of, valued_shots
from server.records.validation import Fault, InvalidError, shown
from server.store.frames import Selection, clubs_on_trial, setups_frame
from server.store.players import Player, ball_labels, club_ids, courses, rounds
from server.store.practice_frames import practice_frame
from server.store.rows import ListedRound, TeesRow
from server.store.season_rows import log_marks


class DaysError(ValueError):
    """A span whose first day is after its last; `span` is its place among the spans of the question."""

    def __init__(self, span: int, first: date, last: date) -> None:
        super().__init__(f"{first} is after {last}")
        self.span, self.first, self.last = span, first, last


class NotReadableError(LookupError):
    """The caller may not read this player."""


@dataclass(frozen=True)
class Span:
    """Which rounds: from a first to a last day, of some kinds, on one course."""

    first: date | None = None
    last: date | None = None
    kinds: tuple[str, ...] = ()
    course: str | None = None


@dataclass(frozen=True)
class Question:
    """What is asked of a player's shots. `baseline`: an id, the player's own when None; `level`: of the intervals;
    `rounds`: whether the answer lists the rounds themselves; `tees`: whether it reads the tees of the courses;
    `beside`: whether the shots are valued by the second reference too; `source`: whether practice balls of these days
    count, see `server.game.practice`.

    Raises DaysError for a span that ends before it begins.
    """

    spans: tuple[Span, ...] = (Span(),)
    baseline: str | None = None
    level: float = DEFAULT_LEVEL
    rounds: bool = False
    tees: bool = False
    beside: bool = False
    source: str = COURSE

    def __post_init__(self) -> None:
        for place, span in enumerate(self.spans):
            if span.first and span.last and span.first > span.last:
                raise DaysError(place, span.first, span.last)


def everybody(_player_id: str) -> bool:
    """On the command line whoever may open the database reads every player."""
    return True


@dataclass(frozen=True)
class Access:
    """What a way in brings along: whom the caller may read, how a baseline is found, the frames worked out before, how
    a player's own baseline is found."""

    may_read: Callable[[str], bool] = everybody
    baseline: Callable[[str], Baseline] = baseline_by_id
    frames: Cache | None = None
    own: Callable[[Player], Baseline | None] = own_baseline


OPEN: Access = Access()
"""The command line's."""


@dataclass(frozen=True, eq=False)
class Chosen:
    """The shots of one span: the player, their valued shots (`valued_shots`; never change the frame, others use it),
    the baseline, the clubs that the player has, the days asked for, the level of the intervals, the clubs on trial with
    their sort, what the answer is made of, and where that is not the course alone the practice balls of these days
    (`practice_frame` with the setup in force), of whichever kind of round and course the question is."""

    player: Player
    valued: pd.DataFrame
    baseline: Baseline
    clubs: tuple[str, ...]
    from_day: date | None = None
    to_day: date | None = None
    level: float = DEFAULT_LEVEL
    on_trial: Mapping[str, str] = field(default_factory=dict)
    source: str = COURSE
    balls: pd.DataFrame | None = None

    def pairs_on_trial(self, a: Side, b: Side) -> int:
        """How many pairs are compared when these two are: all of the clubs on trial of their sort where both are on
        trial, else this one."""
        sorts = {self.on_trial.get(side.club) for side in (a, b)}
        if a.setup or b.setup or None in sorts or len(sorts) > 1:
            return 1
        clubs = list(self.on_trial.values()).count(sorts.pop() or "")
        return clubs * (clubs - 1) // 2

    def known_club(self, club: str | None) -> str | None:
        """The club itself. LookupError, naming those that there are, for one that the player does not have."""
        if club is None or club in self.clubs:
            return club
        raise LookupError(f"{club!r} is not one of the player's clubs: {', '.join(self.clubs) or 'no club yet'}")

    def part(self, side: Side | None, lie: str | None) -> pd.Series | None:
        """Which of the shots are of that side and from that lie, bool by their index; None for all."""
        if side is None and lie is None:
            return None
        index = self.valued.index
        part = pd.Series(True, index=index) if side is None else pd.Series(side.of(self.valued), index=index)
        return part if lie is None else part & self.valued["lie"].eq(lie)


@dataclass(frozen=True, eq=False)
class Snapshot:
    """A player's log at one moment. `lock`: why strokes gained are left out, None where nothing is locked; `clubs`:
    label -> id; `sides`: every club with the names of its setups; `balls`: the labels of balls, the latest used first;
    `rounds`: all of the player, latest first, where the question lists them; `spans`: the shots of each span of the
    question; `tees`: the player's courses with their tees, by name, where the question reads them; `beside`: the first
    span by the second reference, where the question asks for it and there is one."""

    player: Player
    baseline: Baseline
    lock: str | None
    clubs: dict[str, str]
    sides: dict[str, list[str]]
    balls: list[str]
    rounds: list[ListedRound]
    spans: tuple[Chosen, ...]
    tees: dict[str, list[TeesRow]]
    beside: Chosen | None = None

    @property
    def valued(self) -> pd.DataFrame | None:
        """The valued shots of the first span, None while locked."""
        return self.spans[0].valued if self.spans else None

    @property
    def chosen(self) -> Chosen:
        """The shots of the first span."""
        return self.spans[0]

    def side(self, name: str, words: str | None) -> Side | None:
        """The club or setup that a field `name` names. Raises SideError."""
        return None if words is None else find_side(name, words, self.sides)

    def two_sides(self, a: str, b: str) -> tuple[Side, Side]:
        """The sides of a trial. Raises SideError."""
        return find_sides(a, b, self.sides, self.balls)


class Asked:
    """A question put about a player, in a transaction that the caller holds open."""

    def __init__(self, connection: Connection, player: Player, question: Question, access: Access = OPEN) -> None:
        if not access.may_read(player.player_id):
            raise NotReadableError(f"there is no player {player.player_id} here")
        self.connection, self.player, self.question, self.access = connection, player, question, access

    @cached_property
    def mark(self) -> str:
        """What the player's log is at this moment: another change makes another mark. Read before the records, so that
        no answer is older than its mark."""
        marks = log_marks(self.connection, [self.player.player_id])
        return "; ".join(f"{known} {chain}" for known, chain in marks)

    @cached_property
    def baseline(self) -> Baseline:
        """The baseline asked for, else the player's. Raises what `Access.baseline` raises."""
        return self.access.baseline(self.question.baseline or self.player.baseline)

    @cached_property
    def reference_beside(self) -> Baseline | None:
        """The second reference: the player's own baseline, or beside that one the player's usual one; None where the
        player has no own baseline or the question does not ask."""
        own = self.access.own(self.player) if self.question.beside else None
        if own is None or _named(own) != _named(self.baseline):
            return own
        usual = self.access.baseline(self.player.baseline)
        return self.access.baseline(DEFAULT_BASELINE) if _named(usual) == _named(own) else usual

    def snapshot(self, *, locked_too: bool = False) -> Snapshot:
        """Everything an answer reads. LockedError while a competition round of the player is open, unless `locked_too`:
        then the snapshot says so and holds no shots. InvalidError for a course that the player does not have."""
        connection, player = self.connection, self.player
        if not locked_too:
            refuse_locked(connection, [player])
        lock = lock_of(connection, player.player_id) if locked_too else None
        clubs = club_ids(connection, player.player_id)
        sides = known_sides(clubs, setups_frame(connection, player.player_id))
        known_clubs = tuple(sides), clubs_on_trial(connection, player.player_id)
        spans = () if lock else tuple(self._chosen(span, self.baseline, *known_clubs) for span in self.question.spans)
        other = self.reference_beside
        beside = None if lock or other is None else self._chosen(self.question.spans[0], other, *known_clubs)
        listed = rounds(connection, player.player_id) if self.question.rounds else []
        known = courses(connection, player.player_id) if self.question.tees else {}
        tees = {name: given for name, (_, given) in known.items()}
        balls = ball_labels(connection, player.player_id)
        return Snapshot(player, self.baseline, lock, clubs, sides, balls, listed, spans, tees, beside)

    def _chosen(self, span: Span, baseline: Baseline, clubs: tuple[str, ...], on_trial: Mapping[str, str]) -> Chosen:
        valued = self.valued(self._selection(span), baseline)
        days = span.first, span.last
        source = self.question.source
        balls = None if source == COURSE else self._practised(span)
        return Chosen(self.player, valued, baseline, clubs, *days, self.question.level, on_trial, source, balls)

    def _practised(self, span: Span) -> pd.DataFrame:
        player_id = self.player.player_id
        balls = practice_frame(self.connection, player_id, span.first, span.last)
        return with_setup(balls, setups_frame(self.connection, player_id))

    def _selection(self, span: Span) -> Selection:
        player_id, course = self.player.player_id, span.course
        if course is not None and course not in (known := courses(self.connection, player_id)):
            there = ", ".join(sorted(known)) or "no course yet"
            raise InvalidError([Fault("course", shown(course), "", f"is not one of the player's courses: {there}")])
        return Selection(player_id, span.first, span.last, span.kinds, course=course)

    def valued(self, selection: Selection, baseline: Baseline) -> pd.DataFrame:
        """The shots valued by that baseline, worked out once for all that ask while log and baseline stay; when the log
        goes on, of the rounds that it touches."""
        scheme = scheme_of(self.player)
        if self.access.frames is None:
            return valued_shots(self.connection, selection, baseline, scheme)
        return kept_valued_shots(self.connection, selection, baseline, scheme, self.access.frames)


def _named(baseline: Baseline) -> tuple[str, str]:
    return baseline.id, baseline.version
