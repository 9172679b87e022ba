"""Seasons simulated shot by shot: forecasts from the rounds before contain the scores as often as they say."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.plan.hole_to_play import HoleToPlay
from server.analysis.plan.solve import StoppedError
from server.analysis.round_ahead import checked
from server.analysis.round_ahead.checked import ROUNDS_BEFORE, check_rounds
from server.analysis.round_ahead.playing import NoClubError, holes_ahead, known_of, played_rounds
from server.analysis.round_ahead.scoring import covered
from tests import tiers
from tests.analysis.simulated_scores import COURSE, HOLES, holes_to_play, season

TOUR = load_baseline()
SEASONS = tiers.count(2, 60)
LATEST = 10
TWO = HOLES[:2]


def two_holes(_tees: str | None = None) -> list[HoleToPlay]:
    """The first two holes, for what does not count scores."""
    return holes_to_play()[:2]


@pytest.mark.simulation
@pytest.mark.parametrize("form", [0.0, 0.2] if tiers.LONG else [0.2])
def test_eight_scores_in_ten_lie_in_the_range_of_eight_in_ten(form: float) -> None:
    """Within Monte-Carlo error: scores of one season lean on the same shots, so that seasons are what is counted."""
    found = []
    for seed in range(SEASONS):
        made, _ = check_rounds(
            season(40, seed, form), COURSE, HOLES, holes_to_play, TOUR, most_solved=3 if tiers.LONG else 1
        )
        found.append(covered([one.forecast for one in made[-LATEST:]], 0.8))
    assert np.mean(found) == pytest.approx(0.8, abs=3 * math.sqrt(0.16 / LATEST / SEASONS) + 0.02)


@pytest.fixture(scope="module")
def shots() -> pd.DataFrame:
    return season(12, 1, 0.0)


def test_a_round_is_predicted_from_earlier_days_alone(shots: pd.DataFrame, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever happens on the day and after it; two rounds of one day do not know each other."""
    seen: list[tuple[pd.Timestamp, int]] = []
    real = checked.known_of

    def watched(valued: pd.DataFrame, baseline: object, plays: str) -> object:
        seen.append((valued["played_on"].max(), valued["round_id"].nunique()))
        return real(valued, baseline, plays)

    monkeypatch.setattr(checked, "known_of", watched)
    same_day = shots.assign(
        played_on=shots["played_on"].where(
            shots["round_id"].ne("r006"), shots.loc[shots["round_id"].eq("r005"), "played_on"].iloc[0]
        )
    )
    made, times = check_rounds(same_day, COURSE, TWO, two_holes, TOUR, most_solved=2, balls=256)
    assert [one.rounds_before for one in made] == [5, 5, 7, 8, 9, 10, 11]
    assert times == len(seen) == 2
    assert seen[0][1] == ROUNDS_BEFORE
    for (last, _), first in zip(
        seen, (made[0], next(one for one in made if one.rounds_before == seen[1][1])), strict=True
    ):
        assert last.date() < first.played_on


def test_unfinished_rounds_are_not_predicted_and_still_count_before(shots: pd.DataFrame) -> None:
    """A picked-up hole has no score: its round is left out of the check, its other holes stay in what came before."""
    holed = shots["holed"] & shots["round_id"].eq("r008") & shots["hole"].eq(2)
    picked = shots.assign(holed=shots["holed"] & ~holed, picked_up=holed)
    rounds = played_rounds(picked, COURSE, TWO).rounds.set_index("round_id")
    assert (rounds.loc["r008", "holes"], bool(rounds.loc["r008", "finished"])) == (1, False)
    made, _ = check_rounds(picked, COURSE, TWO, two_holes, TOUR, most_solved=1, balls=256)
    assert len(made) == 12 - ROUNDS_BEFORE - 1
    assert made[-1].rounds_before == 11


def test_another_course_and_rounds_without_one_do_not_count(shots: pd.DataFrame) -> None:
    assert len(played_rounds(shots, "Elsewhere", HOLES).rounds) == 0
    nowhere = shots.assign(course=None)
    assert check_rounds(nowhere, COURSE, HOLES, holes_to_play, TOUR) == ([], 0)


def test_solving_tells_its_progress_and_can_be_stopped(shots: pd.DataFrame) -> None:
    known, told = known_of(shots, TOUR), []
    holes_ahead(known, two_holes(), balls=256, progress=told.append)
    assert told == sorted(told)
    assert told[-1] == pytest.approx(1.0)

    def stop(share: float) -> None:
        if share > 0.3:
            raise StoppedError

    with pytest.raises(StoppedError):
        holes_ahead(known, two_holes(), balls=256, progress=stop)


def test_a_player_without_a_tapped_finish_is_named(shots: pd.DataFrame) -> None:
    with pytest.raises(NoClubError, match="no finish is tapped yet"):
        holes_ahead(known_of(shots.assign(right_yd=np.nan), TOUR), holes_to_play())
    assert check_rounds(shots.assign(right_yd=np.nan), COURSE, HOLES, holes_to_play, TOUR)[0] == []
