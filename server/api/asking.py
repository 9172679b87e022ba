"""Questions over HTTP: the queries that choose shots, and the one way from a query to a snapshot or an answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from typing import Any, NotRequired, TypedDict
from uuid import UUID

from flask import Response, abort, current_app, request
from marshmallow import fields, validate

from server.analysis.evidence.intervals import DEFAULT_LEVEL, LEVELS
from server.analysis.strokes_gained.summaries import BALLS
from server.api.answers import Query
from server.api.authorization import caller
from server.api.baselines import named_baseline, own_baselines_folder
from server.api.cache import cached_frames, keep_answer, kept_answer, shared_name
from server.api.database import engine
from server.api.players import known_player
from server.game.lies import LIES
from server.game.order_of_play import KINDS
from server.game.practice import COURSE, SOURCES
from server.questions.question import Access, Asked, DaysError, NotReadableError, Question, Snapshot, Span
from server.questions.sides import SideError
from server.questions.valued_shots import own_baseline
from server.records.fields import Text
from server.records.validation import Fault, InvalidError, shown
from server.store.engine import reading

BESIDE = "beside_"
"""The prefix of the names of the second span's days."""


class DaysQuery(Query):
    """Which shots."""

    from_day = fields.Date(data_key="from", metadata={"range": "a day, YYYY-MM-DD"})
    to_day = fields.Date(data_key="to", metadata={"range": "a day, YYYY-MM-DD"})
    kind = fields.String(
        validate=validate.OneOf(KINDS, error="is not one of its values"), metadata={"range": ", ".join(KINDS)}
    )
    course = Text(120, 1, metadata={"description": "the name of a course of the player"})


class DaysAsked(TypedDict, total=False):
    """What `DaysQuery` reads."""

    from_day: date
    to_day: date
    kind: str
    course: str


class SourceQuery(Query):
    """Whether practice counts."""

    source = fields.String(
        load_default=COURSE,
        validate=validate.OneOf(SOURCES, error="is not one of its values"),
        metadata={
            "range": ", ".join(SOURCES),
            "description": "balls of rounds, of practice sessions of these days, or of both",
        },
    )


class SourceAsked(TypedDict):
    """What `SourceQuery` reads."""

    source: str


class ChosenQuery(DaysQuery):
    """Which shots, against which baseline."""

    baseline = Text(80, 1)
    level = fields.Float(
        load_default=DEFAULT_LEVEL,
        validate=validate.Range(*LEVELS, error="is outside its range"),
        metadata={"range": f"{LEVELS[0]:g} to {LEVELS[1]:g}"},
    )


class ChosenAsked(DaysAsked):
    """What `ChosenQuery` reads."""

    baseline: NotRequired[str]
    level: float


class ClubQuery(ChosenQuery):
    """The same of one club."""

    club = Text(80, 1)


class ClubAsked(ChosenAsked):
    """What `ClubQuery` reads."""

    club: NotRequired[str]


class SwingsQuery(ClubQuery, SourceQuery):
    """The same, and whether practice counts."""


class SwingsAsked(ClubAsked, SourceAsked):
    """What `SwingsQuery` reads."""


class PuttingQuery(SwingsQuery):
    """The same of one putter, and which to compare it with."""

    against = Text(80, 1)


class PuttingAsked(SwingsAsked):
    """What `PuttingQuery` reads."""

    against: NotRequired[str]


class PartQuery(ChosenQuery):
    """Of these rounds the shots from one lie, or with one setup (or club), and which balls."""

    lie = fields.String(
        validate=validate.OneOf(LIES, error="is not one of its values"), metadata={"range": ", ".join(LIES)}
    )
    setup = Text(160, 1, metadata={"description": "a setup such as driver@2026-06-22, or a club"})
    balls = fields.String(
        validate=validate.OneOf(BALLS, error="is not one of its values"), metadata={"range": ", ".join(BALLS)}
    )


class PartAsked(ChosenAsked):
    """What `PartQuery` reads."""

    lie: NotRequired[str]
    setup: NotRequired[str]
    balls: NotRequired[str]


def access() -> Access:
    """The caller's: the players they may read, the baselines they may see, this application's frames."""
    folder = own_baselines_folder()
    return Access(caller().may_read, named_baseline, cached_frames(), lambda player: own_baseline(player, folder))


def question_of(
    query: Mapping[str, Any], *before: str, rounds: bool = False, tees: bool = False, beside: bool = False
) -> Question:
    """The question that a query puts; `before`: the prefix of the names of each span's days; `rounds`: whether the
    answer lists the rounds, `tees`: whether it reads the tees of the courses; `beside`: whether it needs the second
    reference. InvalidError for days the wrong way round."""
    names = before or ("",)
    kinds = (query["kind"],) if "kind" in query else ()
    spans = tuple(
        Span(query.get(f"{name}from_day"), query.get(f"{name}to_day"), kinds, query.get("course")) for name in names
    )
    try:
        source = query.get("source", COURSE)
        return Question(spans, query.get("baseline"), query.get("level", DEFAULT_LEVEL), rounds, tees, beside, source)
    except DaysError as error:
        name = names[error.span]
        fault = Fault(f"{name}from", str(error.first), "", f"is after {name}to: {error.last}")
        raise InvalidError([fault]) from error


@contextmanager
def asked(player_id: UUID, question: Question) -> Iterator[Asked]:
    """The question, put in one read transaction. 404 for the player or a baseline, 422 for a course or a side that the
    player does not have, 423 while a competition round is open."""
    try:
        with reading(engine()) as connection:
            yield Asked(connection, known_player(connection, player_id), question, access())
    except NotReadableError:
        abort(404, description=f"There is no player {player_id} here.")


def snapshot_of(player_id: UUID, question: Question) -> Snapshot:
    """Everything that an answer reads, from one transaction. Errors as `asked`."""
    with asked(player_id, question) as put:
        return put.snapshot()


def answered(
    player_id: UUID,
    query: Mapping[str, Any],
    make: Callable[[Snapshot], Any],
    *before: str,
    rounds: bool = False,
    tees: bool = False,
    beside: bool = False,
) -> Response:
    """The answer that this query had before, while log and baseline are the same; else what `make` makes of the
    snapshot. `before`, `rounds`, `tees`, `beside`: as in `question_of`. Errors as `asked`, and what `make` raises; a
    SideError becomes a 422."""
    with asked(player_id, question_of(query, *before, rounds=rounds, tees=tees, beside=beside)) as put:
        words = tuple(sorted((name, str(value)) for name, value in query.items()))
        # the baselines themselves are in the key: a file that changed is another one, however it is called
        key = (request.endpoint, put.player.player_id, put.mark, put.baseline, put.reference_beside, words)
        name = shared_name(request.endpoint, put.mark, (put.baseline, put.reference_beside), words)
        text = kept_answer(put.player.player_id, key, name)
        snapshot = put.snapshot() if text is None else None
    if snapshot is not None:
        try:
            made = make(snapshot)
        except SideError as error:
            raise InvalidError([Fault(error.field, shown(query[error.field]), "", str(error))]) from error
        text = current_app.json.dumps(made, separators=(",", ":"), allow_nan=False)
        keep_answer(put.player.player_id, key, name, text)
    return Response(f"{text}\n", content_type="application/json")
