"""Practice over HTTP: the switch, what is left as it was, the difference, targets, the lock, and two owners."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from server.store.log import push
from tests.api.asking import problem
from tests.api.people import House, house
from tests.records.made import Season, body_of

CLUBS = {"5 iron": 175.0, "6 iron": 165.0, "7 iron": 155.0, "8 iron": 145.0, "9 iron": 135.0, "wedge": 120.0}
SHORTER = 0.94
"""Range balls go so much of what balls of the course go."""

SWITCHED = ("patterns", "distances", "putting", "part-swings", "trial")


def practised(season: Season, rng: np.random.Generator) -> None:
    """Eight sessions of full swings with every club, and of putts; rounds with tapped finishes of all but the wedge."""
    clubs = {label: season.club(label, name=f"practised {label}") for label in CLUBS}
    putter = season.club("long putter", "putter")
    for number in range(8):
        day = f"2026-06-{number + 1:02d}"
        session = season.put("session", f"range {number}", {"date": day, "place": "range"})
        order = 0
        for label, yards in CLUBS.items():
            for duel in range(3):
                order += 1
                total = SHORTER * yards * (1 + rng.normal(0, 0.03))
                ball = {"session_id": session, "order": order, "club_id": clubs[label], "target_yd": yards}
                ball |= {"total_yd": round(total, 1), "right_yd": round(rng.normal(2, 6), 1)}
                if label in ("5 iron", "6 iron"):
                    ball["duel_id"] = f"00000000-0000-4000-8000-0000000{number:02d}{duel:03d}"
                season.put("practice_ball", f"{session} {order}", ball)
        for feet in (4, 8, 8, 15):
            order += 1
            holed = bool(rng.random() < {4: 0.9, 8: 0.55, 15: 0.25}[feet])
            ball = {"session_id": session, "order": order, "club_id": putter, "length_ft": feet, "holed": holed}
            season.put("practice_ball", f"{session} {order}", ball)
        round_id = season.round(day, dict.fromkeys(range(1, 6), (5, 520.0)), played_on=day)
        for hole, label in enumerate([*CLUBS][:5], 1):
            for ball_number in (1, 2):
                finish = {"target_yd": CLUBS[label], "long_yd": round(CLUBS[label] * rng.normal(0, 0.03), 1)}
                finish |= {"right_yd": round(rng.normal(0, 6), 1), "swing": "full", "ball": ball_number}
                season.shot(round_id, hole, 1, "tee", 520, clubs[label], **finish)


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """Robin has rounds and practice, Sam one session of one ball."""
    made = house(f"sqlite:///{tmp_path_factory.mktemp('practice') / 'log.sqlite'}")
    before = len(made.robin.changes)
    practised(made.robin, np.random.default_rng(4))
    done = push(made.engine, made.robin.player_id, "phone", made.robin.changes[before:])
    assert done.quarantined == []
    yield made
    made.engine.dispose()


def ask(both: House, path: str, who: str = "Robin", **query: Any) -> Any:
    player = {"Robin": both.robin, "Sam": both.sam}[who].player_id
    answer = both.client(who).get(f"/api/players/{player}/{path}", query_string=query)
    assert answer.status_code == 200, answer.text
    return answer.get_json()


def named(rows: list[dict[str, Any]], club: str) -> Any:
    return next(row for row in rows if row["club"] == club)


@pytest.mark.parametrize("path", SWITCHED)
def test_the_course_is_the_default_and_practice_is_not_in_it(both: House, path: str) -> None:
    given = {"a": "5 iron", "b": "6 iron"} if path == "trial" else {}
    default = ask(both, path, **given)
    assert default == ask(both, path, source="course", **given)
    assert (default["source"], default["practice_balls"], default["practice_sessions"]) == ("course", 0, 0)
    for source in ("practice", "both"):
        other = ask(both, path, source=source, **given)
        assert (other["source"], other["practice_sessions"]) == (source, 9)
    answer = both.client("Robin").get(
        f"/api/players/{both.robin.player_id}/{path}", query_string={"source": "moon"} | given
    )
    assert [one["range"] for one in problem(answer, 422)["errors"]] == ["course, practice, both"]


def test_strokes_gained_and_rounds_never_hold_practice(both: House) -> None:
    found = ask(both, "strokes-gained", by="club")
    assert "wedge" not in {row["club"] for row in found["rows"]}
    answer = both.client("Robin").get(
        f"/api/players/{both.robin.player_id}/strokes-gained", query_string={"source": "both"}
    )
    assert answer.status_code == 422
    assert len(ask(both, "rounds")["rounds"]) == 10


def test_figures_of_the_course_stand_and_practice_fills_in_the_wedge(both: House) -> None:
    course, practice, filled = (ask(both, "distances", source=source) for source in ("course", "practice", "both"))
    for label in [*CLUBS][:5]:
        assert named(filled["clubs"], label)["median"] == named(course["clubs"], label)["median"]
    assert "wedge" not in {row["club"] for row in course["clubs"]}
    alone, wedge = named(practice["clubs"], "wedge")["median"], named(filled["clubs"], "wedge")
    assert alone["value"] == pytest.approx(SHORTER * 120, abs=3)
    assert wedge["median"]["low"] < 120 < wedge["median"]["high"]
    assert wedge["median"]["value"] == pytest.approx(120, abs=4)
    assert wedge["median"]["high"] - wedge["median"]["low"] > alone["high"] - alone["low"]
    assert (wedge["shots"], wedge["practice_balls"], wedge["middle_half"]) == (0, 24, None)
    assert next(one for one in filled["steps"] if one["shorter"] == "wedge")["flag"] == "not clear yet"


def test_patterns_of_both(both: House) -> None:
    course, practice, filled = (
        ask(both, "patterns", source=source)["patterns"] for source in ("course", "practice", "both")
    )
    iron = named(filled, "7 iron")
    assert {name: iron[name] for name in ("right", "long", "ellipse", "shares")} == {
        name: named(course, "7 iron")[name] for name in ("right", "long", "ellipse", "shares")
    }
    wedge = named(filled, "wedge")
    assert (wedge["shots"], wedge["ellipse"]) == (0, None)
    assert wedge["right"]["centre"]["low"] is not None
    assert "24 practice balls fill in" in wedge["warnings"][-1]
    assert named(practice, "wedge")["shots"] == 24
    one = ask(both, "patterns", source="both", club="wedge")["patterns"]
    assert [row["club"] for row in one] == ["wedge"]
    assert one[0]["right"]["centre"] == wedge["right"]["centre"]


def test_putting_of_practice_and_of_both(both: House) -> None:
    practice = ask(both, "putting", source="practice")
    assert (practice["putts"], practice["rounds"]) == (32, 8)
    assert practice["gained"]["rows"] == []
    assert practice["curve"]
    assert practice["words"][0].startswith("32 practice putts in 8 sessions. From 8 ft ")
    course, filled = ask(both, "putting"), ask(both, "putting", source="both")
    assert filled["putts"] == course["putts"]
    assert filled["gained"] == course["gained"]


def test_the_difference_holds_what_was_made(both: House) -> None:
    found = ask(both, "practice-against-course")
    iron = named(found["clubs"], "6 iron")
    assert iron["length_yd"]["low"] <= -0.06 * 165 <= iron["length_yd"]["high"] < 0
    assert iron["direction_deg"]["low"] <= np.degrees(2 / 160) <= iron["direction_deg"]["high"]
    assert "shorter" in iron["words"]
    assert named(found["clubs"], "wedge")["length_yd"]["low"] is None
    assert (found["putting"]["putts"], found["putting"]["rates"]) == (4, [])
    one = ask(both, "practice-against-course", club="6 iron")
    assert [row["club"] for row in one["clubs"]] == ["6 iron"]
    path = f"/api/players/{both.robin.player_id}/practice-against-course"
    assert problem(both.client("Robin").get(path, query_string={"club": "spoon"}), 422)


def test_duels_stand_beside_the_verdict_of_the_course(both: House) -> None:
    sides = {"a": "5 iron", "b": "6 iron"}
    course, found = ask(both, "trial", **sides), ask(both, "trial", source="both", **sides)
    assert course["practice"] is None
    assert found["verdict"] == course["verdict"]
    assert (found["practice"]["pairs"], found["practice"]["sessions"]) == (24, 8)
    assert found["practice"]["length_yd"]["low"] <= SHORTER * 10 <= found["practice"]["length_yd"]["high"]


def test_targets_are_the_same_for_a_seed(both: House) -> None:
    found = ask(both, "practice-targets", seed=7, count=12)
    assert found == ask(both, "practice-targets", seed=7, count=12)
    assert len(found["targets"]) == 12
    assert found["targets"] != ask(both, "practice-targets", seed=8, count=12)["targets"]
    assert {one["target_yd"] % 5 for one in found["targets"]} == {0}
    path = f"/api/players/{both.robin.player_id}/practice-targets"
    for query in ({}, {"seed": -1}, {"seed": "x"}, {"seed": 1, "count": 0}, {"seed": 1, "count": 201}):
        problem(both.client("Robin").get(path, query_string=query), 422)


def test_two_owners_and_one_ball(both: House) -> None:
    found = ask(both, "practice-against-course", "Sam")
    assert [(row["club"], row["balls"]) for row in found["clubs"]] == []
    assert ask(both, "practice", "Sam")["sessions"][0]["balls"] == 1
    theirs = ask(both, "practice")["sessions"][0]["session_id"]
    answer = both.client("Sam").get(f"/api/players/{both.sam.player_id}/practice/{theirs}")
    assert answer.status_code == 404
    assert both.client("Sam").get(f"/api/players/{both.robin.player_id}/practice").status_code == 404


def test_days_choose_sessions(both: House) -> None:
    found = ask(both, "patterns", source="practice", **{"from": "2026-06-03", "to": "2026-06-04"})
    assert (found["practice_sessions"], found["practice_balls"]) == (2, 44)
    assert (
        ask(both, "patterns", source="practice", to="2020-01-01")["empty"]
        == "There is no practice ball in the days asked for."
    )


def test_a_table_is_shown_and_stored_over_http(tmp_path: Path) -> None:
    alone = house(f"sqlite:///{tmp_path / 'log.sqlite'}")
    sam = alone.client("Sam")
    path = f"/api/players/{alone.sam.player_id}/import-practice"
    sent = {"table": "club,carry,offline\n8 iron,140,3L\n", "date": "2026-07-01", "file": "range.csv"}
    shown = sam.post(path, json=sent).get_json()
    assert (shown["stored"], shown["rows"], shown["changes"]) == (False, 1, 2)
    assert shown["sessions"] == [{"row": 2, "date": "2026-07-01", "place": "range", "balls": 1, "clubs": 1}]
    assert sam.post(path, json=sent | {"dry_run": False}).get_json()["stored"]
    again = sam.post(path, json=sent | {"dry_run": False}).get_json()
    assert again["changes"] == 0
    bad = sam.post(path, json=sent | {"table": "club,carry\n8 iron,401\n"})
    (fault,) = problem(bad, 422)["errors"]
    assert (fault["field"], fault["value"], fault["range"]) == ("row 2, carry", "401", "above 0 to 400 yd")
    path = path.replace(alone.sam.player_id, alone.robin.player_id)
    assert alone.client("Ash").post(path, json=sent).status_code == 403
    alone.engine.dispose()


def test_lock(both: House) -> None:
    season = Season("Finch Blotter")
    practised(season, np.random.default_rng(1))
    season.put("round", "open", body_of("round", kind="competition"))
    assert push(both.engine, season.player_id, "phone", season.changes).quarantined == []
    from server.questions.competition_lock import LockedError
    from server.questions.question import Asked, Question
    from server.store.engine import reading
    from server.store.players import player_by_id

    with reading(both.engine) as connection:
        player = player_by_id(connection, season.player_id)
        assert player is not None
        for source in ("course", "practice", "both"):
            with pytest.raises(LockedError):
                Asked(connection, player, Question(source=source)).snapshot()


def test_an_owner_may_take_it_all_along(both: House, tmp_path: Path) -> None:
    found = ask(both, "everything")
    kinds = [one["kind"] for one in found["changes"]]
    assert kinds.count("session") == 9
    assert kinds.count("practice_ball") == 8 * 22 + 1
