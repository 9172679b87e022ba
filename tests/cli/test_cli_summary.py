"""summary: the documented keys, the sums, the selections, and the table for people."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from server.analysis.strokes_gained.summaries import GROUPINGS
from tests.files.tables import row, table
from tests.tiers import some

Run = Callable[..., Result]
EXACT = 1e-9

KEYS = {
    "lengths",
    "trend",
    "beside",
    "player",
    "player_id",
    "baseline",
    "by",
    "level",
    "from",
    "to",
    "empty",
    "rows",
    "total",
    "incomplete",
}
ROW_KEYS = ["shots", "rounds", "strokes_gained", "per_shot", "extended"]
INTERVAL_KEYS = [
    "per_shot_low",
    "per_shot_high",
    "per_round",
    "per_round_low",
    "per_round_high",
    "of_rounds",
    "too_few",
]
TOTAL_KEYS = {*ROW_KEYS, *INTERVAL_KEYS, "short_rounds", "holes", "unvalued", "of_record", "extra_balls"}


def season() -> list[dict[str, Any]]:
    """May: a par 4 in four, and an extra ball. June: a par 3 in one, out of bounds and a pick-up."""
    may = [
        row(),
        row(shot=2, lie="fairway", distance=150, club="8 iron"),
        row(shot=3, lie="green", distance=18, club="putter"),
        row(shot=4, lie="green", distance=2, club="putter", holed="yes"),
        row(ball=2, end_lie="fairway", end_distance=150),
    ]
    june = [
        row(played_on="2026-06-07", kind="casual", par=3, length_yd=170, distance=170, club="8 iron", holed="yes"),
        row(played_on="2026-06-07", kind="casual", hole=2, penalty_strokes=1, penalty_reason="out_of_bounds"),
        row(played_on="2026-06-07", kind="casual", hole=2, shot=2, holed="no"),
    ]
    return may + june


@pytest.fixture
def played(run: Run, file: Callable[..., Path]) -> Run:
    """The commands, with the season imported."""
    assert run("import", file(table(season()))).exit_code == 0
    return run


def document(run: Run, *options: str) -> dict[str, Any]:
    result = run("summary", "--json", *options)
    assert (result.exit_code, result.stderr) == (0, "")
    found = json.loads(result.stdout)
    assert isinstance(found, dict)
    return found


@pytest.mark.parametrize("by", GROUPINGS)
@pytest.mark.parametrize("balls", some([(), ("--balls", "all"), ("--balls", "of_record")], 0, 1))
def test_keys_and_sums_of_every_grouping(played: Run, by: str, balls: tuple[str, ...]) -> None:
    found = document(played, "--by", by, *balls)
    assert set(found) == KEYS
    assert found["baseline"] == {"id": "tour", "version": "2012.1+2011.1"}
    assert (found["player"], found["by"]) == ("Wren Quillfeather", by)
    assert (found["from"], found["to"]) == ("2026-05-01", "2026-06-07")
    total = found["total"]
    assert set(total) == TOTAL_KEYS
    assert set(total["of_record"]) == set(total["extra_balls"]) == {*ROW_KEYS} - {"rounds"}
    assert (total["rounds"], total["short_rounds"], total["holes"]) == (0, 2, 0)
    shrunk = ["shrunk", "shrunk_low", "shrunk_high"] if by in ("club", "category") else []
    beside = {"round": ["round_id"], "hole": ["course"]}.get(by, [])
    for one in found["rows"]:
        assert list(one) == [by, *beside, *ROW_KEYS, *INTERVAL_KEYS, *shrunk]
        assert one["per_shot"] == pytest.approx(one["strokes_gained"] / one["shots"], abs=EXACT)
    gained = [one["strokes_gained"] for one in found["rows"]]
    if by == "month":
        assert [one["month"] for one in found["rows"]] == ["2026-05", "2026-06"]
    else:
        assert gained == sorted(gained, reverse=True)
    assert (found["trend"] is not None) == (by == "month")
    for name in ("shots", "strokes_gained", "extended"):
        assert sum(one[name] for one in found["rows"]) == pytest.approx(total[name], abs=EXACT)
        assert total["of_record"][name] + total["extra_balls"][name] == pytest.approx(total[name], abs=EXACT)
    # by hand: 3.99 - 4, then 3.02 - 1, then out of bounds; the picked-up shot has no value
    assert total["of_record"]["strokes_gained"] == pytest.approx(3.99 - 4 + 3.02 - 1 - 2, abs=EXACT)
    takes_all = balls == ("--balls", "all") or (not balls and by in ("club", "setup"))
    assert (total["shots"], total["unvalued"]) == (7 if takes_all else 6, 1)
    assert [(gap["hole"], gap["reason"]) for gap in found["incomplete"]] == [
        (2, "shot 2: picked up or not finished, and no end recorded")
    ]


def test_groups_by_hand(played: Run) -> None:
    drive = 3.99 - 2.945 - 1

    def groups(by: str) -> dict[Any, float]:
        return {one[by]: one["strokes_gained"] for one in document(played, "--by", by)["rows"]}

    assert groups("category") == pytest.approx(
        {"off_the_tee": drive - 2, "approach": 2.945 - 1.834 - 1 + 3.02 - 1, "putting": 1.834 - 2}, abs=EXACT
    )
    assert groups("month") == pytest.approx({"2026-05": 3.99 - 4, "2026-06": 3.02 - 1 - 2}, abs=EXACT)
    assert groups("hole") == pytest.approx({1: 3.99 - 4 + 3.02 - 1, 2: -2}, abs=EXACT)
    assert groups("round") == pytest.approx(
        {"2026-05-01 practice": 3.99 - 4, "2026-06-07 casual": 3.02 - 1 - 2}, abs=EXACT
    )
    assert groups("distance") == pytest.approx(
        {
            "over 150 to 175 yd": 3.02 - 1,
            "over 125 to 150 yd": 2.945 - 1.834 - 1,
            "over 300 to 400 yd": drive - 2,
            "over 15 to 20 ft": 1.834 - 1.01 - 1,
            "over 0 to 3 ft": 0.01,
        },
        abs=EXACT,
    )
    assert groups("club")["driver"] == pytest.approx(2 * drive - 2, abs=EXACT)
    assert set(groups("setup")) == {"driver, as it was", "8 iron, as it was", "putter, as it was"}


def test_selections(played: Run) -> None:
    assert document(played, "--from", "2026-05-02")["total"]["shots"] == 2
    assert document(played, "--to", "2026-05-01")["total"]["shots"] == 5
    assert document(played, "--kind", "casual", "--kind", "competition")["total"]["shots"] == 2
    empty = document(played, "--from", "2030-01-01")
    assert (empty["rows"], empty["from"], empty["to"], empty["total"]["per_shot"]) == ([], "2030-01-01", None, None)
    assert document(played, "--baseline", "tour_2011_green")["total"]["shots"] == 2


def test_the_table_for_people(played: Run) -> None:
    result = played("summary", "--by", "category")
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert lines[0] == (
        "Wren Quillfeather: strokes gained by category, 2026-05-01 to 2026-06-07, against tour 2012.1+2011.1"
    )
    wanted = [
        "category shots rounds gained per shot 90 % interval extended",
        "approach 2 2 +2.13 +1.066 not enough data 0",
        "putting 2 1 -0.17 -0.083 not enough data 0",
        "off the tee 2 2 -1.96 -0.978 not enough data 0",
        # by hand, two rounds of -0.01 (4 shots) and +0.02 (2 shots), t(1) = 6.314: a shot 0.0017 +- 6.314 * 0.0066;
        # of one hole and of two, which are no round
        "total 6 0 +0.01 +0.002 -0.040 to +0.043 0",
    ]
    assert [" ".join(line.split()) for line in (lines[2], *lines[4:8])] == wanted
    assert set(lines[3]) == {"-", " "}
    assert len({len(line) for line in lines[2:8]}) == 1
    assert lines[9:] == [
        "2 rounds with fewer than 9 holes with a value are in no figure a round",
        "1 shot without a value, not counted",
        "incomplete: 2026-06-07 casual, hole 2: shot 2: picked up or not finished, and no end recorded",
    ]
    by_club = played("summary").stdout
    assert "ball 1 +0.01 (6 shots), extra balls +0.04 (1 shot); these never count for a score" in by_club


def test_players_are_named_where_there_is_a_choice(played: Run, file: Callable[..., Path]) -> None:
    played("import", file(table([row(player="Ash", holed="yes")])))
    result = played("summary")
    assert (result.exit_code, result.stderr) == (2, "error: --player: name one player: Ash, Wren Quillfeather\n")
    assert document(played, "--player", "Ash")["player"] == "Ash"
    result = played("summary", "--player", "Nobody")
    assert result.stderr == "error: --player: 'Nobody' is not known; there is Ash, Wren Quillfeather\n"
    everyone = json.loads(played("summary", "--everyone", "--json").stdout)
    assert [one["player"] for one in everyone] == ["Ash", "Wren Quillfeather"]
    assert played("summary", "--everyone").stdout.count("strokes gained by club") == 2


def test_a_player_is_not_mixed_with_another(played: Run, file: Callable[..., Path]) -> None:
    before = document(played, "--player", "Wren Quillfeather")
    played("import", file(table([row(player="Ash", holed="yes")])))
    assert document(played, "--player", "Wren Quillfeather") == before


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--by", "wind"), "--by: 'wind' is not one of club, category, lie, distance"),
        (("--from", "yesterday"), "--from: 'yesterday' is not a day, YYYY-MM-DD"),
        (("--from", "2026-06-01", "--to", "2026-05-01"), "--from: 2026-06-01 is after --to 2026-05-01"),
        (("--kind", "match"), "--kind: 'match' is not one of practice, casual, competition"),
        (("--balls", "some"), "'some' is not one of"),
        (("--baseline", "nobody"), "baseline: 'nobody' is neither a file nor one of tour, tour_2011_green"),
        (("--moon",), "no such option"),
    ],
)
def test_bad_options_are_one_clear_message(played: Run, options: tuple[str, ...], words: str) -> None:
    result = played("summary", *options)
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr


def test_a_baseline_of_your_own_values_the_shots(played: Run, file: Callable[..., Path]) -> None:
    own = file(
        b"lie,distance,expected_strokes\ntee,100,3\ntee,500,5\nfairway,50,2\nfairway,250,4\ngreen,1,1\ngreen,100,3\n",
        "own.csv",
    )
    found = document(played, "--baseline", str(own), "--by", "hole", "--to", "2026-05-01")
    assert found["baseline"]["id"] == "own"
    assert found["rows"][0]["strokes_gained"] == pytest.approx(4.5 - 4, abs=EXACT)
    bad = file(b"lie,distance,expected_strokes\nbush,100,3\n", "bad.csv")
    result = played("summary", "--baseline", str(bad))
    assert (result.exit_code, "row 2, lie: 'bush' is not one of" in result.stderr) == (2, True)
