"""Valued shots that are folded after a push are those worked out anew, whatever the push changed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from random import Random
from typing import Any
from unittest import mock

import pandas as pd
import pytest
import sqlalchemy as sa

from server.analysis.expected_strokes import load_baseline
from server.questions import kept_frames
from server.questions.cache import Cache
from server.questions.question import Access, Asked, Question, Span
from server.reports.summary import summary_document
from server.store import log
from server.store.engine import reading, writing
from server.store.erasure import erase_player
from server.store.players import player_by_id
from server.store.tables import SHOT
from tests.records.made import Season, body_of, change, default_clubs, par_four
from tests.tiers import count

SPANS = (
    Span(),
    Span(date(2026, 5, 3), date(2026, 5, 20)),
    Span(kinds=("competition",)),
    Span(course="Blottingham Heath"),
)
COURSES = ("Blottingham Heath", "Inkwell Links")
HOLES = dict.fromkeys(range(1, 4), (4, 400.0))


class Edited:
    """A season in a database, edited at random; every shot, round and club by its body as it was last put."""

    def __init__(self, engine: sa.Engine, seed: int) -> None:
        self.engine, self.draw = engine, Random(seed)
        self.season = Season("Robin")
        self.clubs = default_clubs(self.season)
        self.course = self.season.put("course", "heath", body_of("course"))
        self.rounds = [self._round(number) for number in range(8)]
        for round_id in self.rounds:
            for hole in HOLES:
                par_four(self.season, round_id, self.clubs, hole)
        self.heads = {one["record_id"]: one for one in self.season.changes}
        log.push(engine, self.season.player_id, "phone", self.season.changes)

    def _round(self, number: int) -> str:
        said = {"course_id": self.course} if number % 2 else {}
        day = f"2026-05-{1 + 3 * (number % 8):02}"
        return self.season.round(f"round {number}", HOLES, played_on=day, closed=True, **said)

    def of_kind(self, kind: str) -> list[dict[str, Any]]:
        return [one for one in self.heads.values() if one["kind"] == kind and one["body"] is not None]

    def put(self, kind: str, body: dict[str, Any] | None, record_id: str | None = None) -> None:
        before = [self.heads[record_id]["change_id"]] if record_id in self.heads else []
        made = change(kind, body, record_id, parents=before)
        pushed = log.push(self.engine, self.season.player_id, "phone", [made])
        assert not pushed.quarantined, pushed.quarantined
        self.heads[made["record_id"]] = made

    def again(self, of_kind: str, /, **said: Any) -> None:
        one = self.draw.choice(self.of_kind(of_kind))
        self.put(of_kind, one["body"] | said, one["record_id"])

    def edit(self) -> str:
        """One edit; its name."""
        draw = self.draw
        day = f"2026-05-{draw.randint(1, 28):02}"
        club = draw.choice(self.of_kind("club"))["record_id"]
        edits: dict[str, Callable[[], None]] = {
            "a shot longer": lambda: self.again("shot", distance_yd=draw.uniform(1, 49)),
            "a shot with another club": lambda: self.again("shot", club_id=club),
            "a shot in another round": lambda: self.again("shot", round_id=draw.choice(self.rounds)),
            "a shot with words": lambda: self.again("shot", note=f"note {draw.random()}", shape="fade"),
            "an extra ball": lambda: self.again("shot", ball=2),
            "a shot gone": lambda: self.put("shot", None, draw.choice(self.of_kind("shot"))["record_id"]),
            "a round gone": lambda: self.put("round", None, draw.choice(self.of_kind("round"))["record_id"]),
            "a round of another day": lambda: self.again("round", played_on=day),
            "a competition": lambda: self.again("round", kind="competition"),
            "a round with a ball": lambda: self.again("round", ball_label=f"ball {draw.randint(1, 2)}", tees="back"),
            "a round on a course": lambda: self.again("round", course_id=self.course),
            "a par three": lambda: self.again("round", holes=[{"number": 1, "par": 3, "length_yd": 180}]),
            "a club with another label": lambda: self.again("club", label=draw.choice(["driver", "wedge", "cleek"])),
            "a setup": lambda: self.put("setup", body_of("setup", club_id=club, since=day)),
            "a course with another name": lambda: self.again("course", name=draw.choice(COURSES)),
            "a player with another name": lambda: self.again("player", name=f"Robin {draw.randint(1, 9)}"),
            "another scheme": lambda: self.again("player", category_scheme=draw.choice(["four_part", "three_part"])),
            "a practice session": lambda: self.put("session", body_of("session")),
        }  # fmt: skip
        name = draw.choice(sorted(edits))
        edits[name]()
        return name


def valued(edited: Edited, span: Span, baseline: str, frames: Cache | None) -> pd.DataFrame | None:
    with reading(edited.engine) as connection:
        player = player_by_id(connection, edited.season.player_id)
        assert player is not None
        baselines = {name: BASELINES[name] for name in BASELINES}
        put = Asked(
            connection, player, Question((span,), baseline), Access(baseline=baselines.__getitem__, frames=frames)
        )
        known = put.connection.execute(sa.text("SELECT count(*) FROM course WHERE name = 'Blottingham Heath'")).scalar()
        return put.snapshot().valued if known or span.course is None else None


BASELINES = {"tour": load_baseline("tour")}
BASELINES["again"] = load_baseline("tour")


@pytest.mark.parametrize("seed", range(count(1, 2)))
def test_folded_is_worked_out_anew(engine: sa.Engine, seed: int) -> None:
    """Random edits, one to four between two questions: every column, type, category and row is the same."""
    edited, frames = Edited(engine, seed), Cache(16, heaviest=10**6, weigh=len)
    names: list[str] = []
    with mock.patch.object(kept_frames, "folded", wraps=kept_frames.folded) as folding:
        for step in range(count(7, 14)):
            for span in SPANS:
                for baseline in ("tour", "again")[: 1 + step % 2]:
                    whole = valued(edited, span, baseline, None)
                    found = valued(edited, span, baseline, frames)
                    if whole is None or found is None:
                        continue
                    pd.testing.assert_frame_equal(found, whole, obj=f"{span} after {names[-4:]}")
            names += [edited.edit() for _ in range(1 + step % 4)]
    assert folding.call_count >= count(2, 4), "most frames are folded, not read again"


def test_a_summary_of_folded_shots_says_the_same(engine: sa.Engine) -> None:
    edited, frames = Edited(engine, 7), Cache(16, heaviest=10**6, weigh=len)
    for _ in range(count(3, 6)):
        edited.edit()
        documents = []
        for kept in (frames, None):
            with reading(engine) as connection:
                player = player_by_id(connection, edited.season.player_id)
                assert player is not None
                found = Asked(connection, player, Question(), Access(frames=kept)).snapshot()
            documents.append([summary_document(found.chosen, by) for by in ("club", "category", "hole", "setup")])
        assert documents[0] == documents[1]


def test_one_push_reads_one_round(engine: sa.Engine) -> None:
    edited, frames = Edited(engine, 1), Cache(16, heaviest=10**6, weigh=len)
    before = valued(edited, Span(), "tour", frames)
    edited.again("shot", distance_yd=33.0)
    with mock.patch.object(kept_frames, "valued_shots", wraps=kept_frames.valued_shots) as read:
        after = valued(edited, Span(), "tour", frames)
    assert before is not None
    assert after is not None
    (call,) = read.call_args_list
    assert len(call.args[1].round_ids) == 1
    assert before["distance_yd"].ne(after["distance_yd"]).sum() == 1


def test_a_log_with_another_past_is_read_from_the_start(engine: sa.Engine) -> None:
    """After a backup was restored the frame's end is none of the log's: nothing of the frame is used."""
    edited, frames = Edited(engine, 2), Cache(16, heaviest=10**6, weigh=len)
    valued(edited, Span(), "tour", frames)
    with writing(engine) as connection:
        for table in ("player", "change"):
            connection.execute(sa.text(f"UPDATE {table} SET chain = 'another past'"))
        connection.execute(sa.update(SHOT).where(SHOT.c.lie == "fairway").values(distance_yd=20.0))
    found = valued(edited, Span(), "tour", frames)
    assert found is not None
    assert set(found["distance_yd"][found["lie"].eq("fairway")]) == {20.0}


def test_a_folded_frame_grows_as_old_as_its_first(engine: sa.Engine) -> None:
    """Records mended without a change are seen after as long as if nothing had been folded."""
    now = [0.0]
    edited, frames = Edited(engine, 3), Cache(16, heaviest=10**6, weigh=len, clock=lambda: now[0])
    valued(edited, Span(), "tour", frames)
    with writing(engine) as connection:
        connection.execute(sa.update(SHOT).where(SHOT.c.lie == "fairway").values(distance_yd=20.0))
    told = []
    for moment in (100.0, 149.0, 151.0):
        now[0] = moment
        edited.put("session", body_of("session"))
        found = valued(edited, Span(), "tour", frames)
        assert found is not None
        told.append(set(found["distance_yd"][found["lie"].eq("fairway")]))
    assert told == [{150.0}, {150.0}, {20.0}]


def test_of_an_erased_player_no_frame_is_asked(engine: sa.Engine) -> None:
    edited, frames = Edited(engine, 4), Cache(16, heaviest=10**6, weigh=len)
    valued(edited, Span(), "tour", frames)
    erase_player(engine, edited.season.player_id)
    with reading(engine) as connection:
        assert player_by_id(connection, edited.season.player_id) is None
