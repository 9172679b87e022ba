"""Bags compared on made holes: what must hold whatever the hole, and the same worked out in other ways."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import pytest

from server.analysis.course_bag.course import ClubFound, CourseBag, Curves, course_bag, near_yd
from server.analysis.course_bag.swings import Played, Swings, between, from_lists, longer, scaled, tighter
from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.plan.ground import prepare
from server.analysis.plan.hole_grid import LIES, hole_grid
from server.analysis.plan.hole_to_play import HoleToPlay
from server.analysis.plan.solve import StoppedError, solve
from server.analysis.plan.tee_plan import Option
from server.game.hole_maps import Feature
from tests.analysis.bag_played_out import OneHole
from tests.analysis.made_bags import from_every_lie, full_bag
from tests.analysis.made_holes import LONG, rectangle, scaled_tour, straight_hole
from tests.analysis.played_out import Hole, played_out
from tests.tiers import count

CURVES = load_baseline()
TOUR = Curves(CURVES, CURVES)
BUNKERS = (rectangle("bunker", 16, 26, 240, 270), rectangle("bunker", -26, -16, 385, 405))


def swings(clubs: Sequence[Option]) -> Swings:
    """These clubs from every lie."""
    named = [replace(club, about={**club.about, "club": club.name}) for club in clubs]
    number = {club.name: place for place, club in enumerate(named)}

    def played(options: Sequence[Option]) -> list[Played]:
        return [Played(number[option.about["club"]], option) for option in options]

    every = from_every_lie(named)
    return from_lists(list(number), played(named), {lie: played(every[lie]) for lie in LIES})


def hole(*more: Feature, number: int = 1) -> HoleToPlay:
    return HoleToPlay(number, 4, LONG, prepare(straight_hole(15.0, *more)), (0.0, 0.0), (0.0, LONG))


def found(clubs: Sequence[Option], *holes: HoleToPlay, room: int = 13, curves: Curves = TOUR) -> CourseBag:
    return course_bag(holes or (hole(*BUNKERS),), swings(clubs), curves, room=room, draws=4)


BAG = full_bag()[2::2]
"""Six clubs from 110 to 261 yd."""


@pytest.fixture(scope="module")
def six() -> CourseBag:
    return found(BAG)


def worth(one: ClubFound) -> float:
    assert one.worth is not None
    return one.worth.strokes


def test_a_club_that_is_never_used_costs_nothing() -> None:
    stray = replace(_wilder(scaled(BAG[2], 1.02), 8.0), name="stray")
    (unused,) = [one for one in found([*BAG[:4], stray]).clubs if one.club == "stray"]
    assert unused.shots == 0
    assert unused.holes == []
    assert worth(unused) == 0
    assert unused.worth is not None
    assert not unused.worth.drawn.any()


def test_no_club_costs_anything_to_carry(six: CourseBag) -> None:
    assert all(worth(one) >= 0 for one in six.clubs)
    assert any(worth(one) > 0.05 for one in six.clubs)


def test_a_bag_with_one_more_club_never_costs_more() -> None:
    """Directions are those of the whole bag, so that two bags made apart agree to a few thousandths of a stroke."""
    fewer = [found(BAG[:count]).strokes for count in (3, 4, 5, 6)]
    assert np.diff(fewer).max() <= 0.01


def test_of_two_clubs_alike_each_is_worth_nothing_and_both_are_worth_much(six: CourseBag) -> None:
    used = max(six.clubs, key=worth)
    twin = replace(next(club for club in BAG if club.name == used.club), name="its twin")
    both = found([*BAG, twin])
    of = {one.club: one for one in both.clubs}
    assert worth(of[used.club]) == pytest.approx(0, abs=1e-6)
    assert worth(of["its twin"]) == pytest.approx(0, abs=1e-6)
    assert both.strokes == pytest.approx(six.strokes, abs=0.005)
    assert worth(used) > 0.05


def test_one_club_alone_has_nothing_to_choose() -> None:
    alone = found([BAG[2]])
    assert [one.club for one in alone.clubs] == [BAG[2].name]
    assert alone.clubs[0].carried
    assert alone.clubs[0].worth is None
    assert alone.strokes > found(BAG[:4]).strokes


def test_a_club_that_beats_all_others_everywhere_leaves_them_nothing() -> None:
    """It is 130 yd long, straight and true; others are wild at 132, 134 and 136."""
    wild = [scaled(BAG[1], (131 + 2 * place) / BAG[1].reach_yd) for place in range(3)]
    wild = [replace(_wilder(club, 3.0), name=f"wild {place}") for place, club in enumerate(wild)]
    best = replace(tighter(scaled(BAG[1], 137 / BAG[1].reach_yd), 0.3), name="best")
    of = {one.club: one for one in found([*wild, best]).clubs}
    assert all(worth(of[club.name]) < 0.02 for club in wild)
    assert worth(of["best"]) > 0.3


def _wilder(club: Option, factor: float) -> Option:
    landings = club.landings
    return replace(club, landings=replace(landings, right=landings.right * factor))


def test_which_clubs_stay_at_home_is_tried_in_every_way() -> None:
    """Out of four clubs into room for two, by brute force."""
    water = hole(rectangle("water_hazard", -30, 30, 330, 360))
    done = found(BAG[:4], water, room=2)
    carried = {one.club for one in done.clubs if one.carried}
    assert len(carried) == 2
    assert done.chosen.every
    pairs = [[BAG[first], BAG[second]] for first in range(4) for second in range(first + 1, 4)]
    cost = {frozenset(club.name for club in kept): found(kept, water).strokes for kept in pairs}
    assert cost[frozenset(carried)] <= min(cost.values()) + 0.02
    home = [one for one in done.clubs if not one.carried]
    assert all(one.instead is not None and one.instead[1].strokes >= -1e-6 for one in home)


def test_of_many_clubs_the_least_worth_is_left_out_again_and_again() -> None:
    """Most of them are unused: the least worth goes, again and again, until there is room for the rest."""
    many = count(18, 40)
    clubs = [replace(scaled(BAG[place % 6], 1 - 0.004 * (place // 6)), name=f"club {place}") for place in range(many)]
    done = found(clubs)
    assert sum(one.carried for one in done.clubs) == 13
    assert not done.chosen.every


def test_the_tours_putting_is_worth_nothing_to_the_tour(six: CourseBag) -> None:
    assert six.putting == 0.0


def test_better_putting_is_worth_what_the_first_putts_say() -> None:
    worse = scaled_tour(1.1)
    saved = found(BAG, curves=Curves(worse, CURVES)).putting
    assert 0.03 < saved < 0.2  # a tenth of the 0.3 to 1.1 strokes that a first putt costs over one


def test_a_tighter_club_saves_and_the_same_length_changes_nothing(six: CourseBag) -> None:
    most = max(six.clubs, key=lambda one: one.shots)
    assert most.tighter is not None
    assert most.tighter.strokes > 0.003
    same = longer(BAG[0], 0.0)
    assert same.landings.along == pytest.approx(BAG[0].landings.along)


def test_what_a_change_does_to_a_pattern() -> None:
    club = BAG[3]
    of, at = club.landings, longer(club, 5.0).landings
    assert longer(club, 5.0).reach_yd == pytest.approx(club.reach_yd + 5)
    assert np.arctan2(at.right, at.along) == pytest.approx(np.arctan2(of.right, of.along))
    tight = tighter(club).landings
    assert tight.right.std() == pytest.approx(0.9 * of.right.std())
    assert tight.along.mean() == pytest.approx(of.along.mean())
    half = between(BAG[1], BAG[2], "new")
    assert half.reach_yd == pytest.approx((BAG[1].reach_yd + BAG[2].reach_yd) / 2)
    spread = [(club.landings.right / club.reach_yd).std() for club in (BAG[1], half, BAG[2])]
    assert min(spread[0], spread[2]) - 1e-3 <= spread[1] <= max(spread[0], spread[2]) + 1e-3
    assert half.landings.share.sum() == pytest.approx(1)


def test_progress_grows_to_one_and_may_stop_the_work() -> None:
    told: list[float] = []
    course_bag((hole(),), swings(BAG[:3]), TOUR, draws=4, progress=told.append)
    assert told == sorted(told)
    assert told[-1] == pytest.approx(1)

    def stop(share: float) -> None:
        if share > 0.1:
            raise StoppedError

    with pytest.raises(StoppedError):
        course_bag((hole(),), swings(BAG[:3]), TOUR, draws=4, progress=stop)


def test_without_a_hole_or_a_club_there_is_nothing_to_compare() -> None:
    with pytest.raises(ValueError, match="no hole"):
        course_bag((), swings(BAG), TOUR)
    with pytest.raises(ValueError, match="no club"):
        course_bag((hole(),), swings([]), TOUR)


def test_near_the_hole_curves_stand_for_what_the_shortest_swing_cannot_reach() -> None:
    assert near_yd(swings(BAG)) == pytest.approx(0.86 * BAG[0].reach_yd)
    assert near_yd(swings(BAG[-2:])) == 130.0


def test_a_club_more_than_there_is_room_for_is_the_one_that_costs_least(six: CourseBag) -> None:
    """Of six, five: by every choice the one worth least stays at home."""
    least = min(worth(one) for one in six.clubs)
    done = found(BAG, room=5)
    (home,) = [one for one in done.clubs if not one.carried]
    assert done.strokes - six.strokes == pytest.approx(least, abs=1e-9)
    assert worth(home) == pytest.approx(least, abs=1e-9)


IRONS: Final = [club for club in full_bag()[1:12:2] if club.reach_yd < 255]
"""No driver, so that the tee is played as the fairway is."""


def test_a_bags_strokes_are_those_of_its_play_ball_by_ball() -> None:
    """By `played_out`, apart from tables and rasters. A table is kinder by some hundredths of a stroke a hole: balls
    are played from nodes 8 yd apart, and options chosen by the balls that then value them."""
    made = hole(*BUNKERS)
    one = OneHole(made, swings(IRONS), CURVES)
    whole = one.bags.solve(frozenset(range(len(IRONS))))
    ground = Hole(straight_hole(15.0, *BUNKERS), made.pin, CURVES, one.near)
    strokes = played_out(ground, one.swings.options(), made.start, one.policy(whole), count(4000, 40000))
    error = 3 * strokes.std() / np.sqrt(strokes.size)
    assert -0.005 - error < strokes.mean() - whole.strokes < 0.04 + error


def test_what_clubs_are_worth_is_what_solving_the_hole_without_them_costs() -> None:
    """By `solve` on its fine grid, once for each bag, directions chosen anew."""
    made, mine = hole(*BUNKERS), swings(IRONS)
    done = course_bag((made,), mine, TOUR, draws=4)
    grid, options = hole_grid(made.ground, made.start, made.pin), mine.options()

    def solved(without: str | None) -> float:
        left = {lie: [one for one in of if one.about["club"] != without] for lie, of in options.items()}
        return float(solve(grid, left, CURVES, near_yd(mine)).at(*np.zeros((2, 1)), "fairway")[0])

    whole = solved(None)
    assert done.strokes == pytest.approx(whole, abs=0.02)
    most = sorted(done.clubs, key=worth)[-2:]
    for one in most:
        assert worth(one) == pytest.approx(solved(one.club) - whole, abs=0.01)
