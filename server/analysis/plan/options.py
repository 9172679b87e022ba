"""The options of a shot: every club (and planned shape) that the player has shots of, with the landings that they
make likely.

From a tee, the fairway or the fringe the full swings from those lies count. From another lie the shots from that lie
count when there are enough, else those from tee, fairway and fringe, made shorter and wider by the stated factors.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from typing import Final

import numpy as np
import pandas as pd

from server.analysis.expected_strokes.curves import Floats
from server.analysis.patterns.finishes import FULL, GOOD_LIES, PART, TAPPED, finishes
from server.analysis.patterns.full_swings import club_distances, full_swings
from server.analysis.plan.flight import ROLLED, flight_of
from server.analysis.plan.landings import FEWEST_OWN_SHOTS, of_pattern, own_landings, stated
from server.analysis.plan.own_carry import Carries, carry_words, own_carries, own_flight
from server.analysis.plan.posterior import Prior
from server.analysis.plan.priors import Skill, learnt, of_shape, prior_of
from server.analysis.plan.rows import AboutOption, LeftOut
from server.analysis.plan.tee_plan import Option
from server.game.lies import RECOVERY, ROUGH, SAND

ENOUGH_OF_A_SETUP: Final = 20
"""With so many shots of the setup in force only they count; with fewer all setups do, and it is stated."""
ENOUGH_OF_A_SHAPE: Final = 15
"""With so many shots of each of two planned shapes each is an option of its own. When one has them, shapes with fewer
(`FEWEST_OWN_SHOTS` at least) join it, the club's shots of other shapes as their prior."""
MOSTLY: Final = 0.5
"""Shapes with few shots join others only when this share of the club's shots has a planned shape."""
ENOUGH_OF_A_LIE: Final = 15
ENOUGH_OF_OTHERS: Final = 60
"""With so many shots of the player's other clubs these are the prior, else the stated pattern is."""
MOST_CLUBS: Final = 30
"""Unless clubs are named, so many are planned with: those with the most shots."""
ENOUGH_PART: Final = 10
SHORTEST_PART: Final = 0.75
"""A part swing is planned from this share of the full distance up. These eight are choices of this tool."""

PUNCHED: Final = "punch"
PUNCH_YD: Final = 100.0
PUNCH: Final = Skill(depth_share=0.15, side_deg=4.5, mishit_share=0.1)

FROM_LIE: Final = {ROUGH: (0.95, 1.5), SAND: (0.94, 1.5), RECOVERY: (0.90, 1.6)}
"""Share of the distance left and factor of the spread, when too few shots from the lie are known. Spread from the
rough: 1.2 (scores of 70 to 83) to 2.1 (professionals) times the fairway's (Broadie 2008, 100 to 150 yd); 1.9 on the
tour by James and Rees (2008). The distances are common practice, no source."""


RIGHT_HANDED: Final = "right"


class Bag:
    """A player's clubs, ready to be planned with; what does not change from hole to hole is worked out once.

    `finishes`: as `finishes.finishes` returns it; `distances`: club -> yards, as `club_distances` of
    `full_swings`. A club's full swings are moved along the line so that their middle goes that far: a
    finish gives the side, and more swings than the tapped ones give the length. `carries`: as `own_carries` returns
    them. `plays`: right or left. A left-hander's shots are mirrored, worked out as a right-hander's, and the landings
    mirrored back: what is believed of draws and fades before there are shots is turned with the player.
    """

    def __init__(
        self,
        finishes: pd.DataFrame,
        distances: dict[str, float],
        carries: Carries | None = None,
        plays: str = RIGHT_HANDED,
    ) -> None:
        tapped = _as_far(finishes[finishes["source"].eq(TAPPED)], distances)
        self._left_handed = plays != RIGHT_HANDED
        self._tapped = _mirrored(tapped) if self._left_handed else tapped
        self._carries = carries or {}
        self._full: dict[tuple[str, str], tuple[list[Option], str | None]] = {}
        self._shots: dict[str, tuple[pd.DataFrame, _Others]] = {}

    def options(
        self, lie: str, to_hole_yd: float, clubs: Sequence[str] | None = None
    ) -> tuple[list[Option], list[LeftOut]]:
        """Every option from `lie`, `to_hole_yd` yards from the hole, and who is left out with the reason. `clubs`:
        labels, those that have the most tapped shots when None."""
        left_out: list[LeftOut] = []
        if clubs is None:
            labels, left_out = self._most_used()
        else:
            labels = list(clubs)
        found: list[Option] = []
        for label in labels:
            if label not in self._shots:
                of_club = self._tapped["club"].astype("object").eq(label)
                self._shots[label] = self._tapped[of_club], _Others(self._tapped[~of_club])
            mine, others = self._shots[label]
            if (label, lie) not in self._full:
                full, why = _of_club(label, mine, others, lie)
                self._full[label, lie] = [self._known(option, label) for option in full], why
            made, reason = self._full[label, lie]
            part = _part_swing(label, mine, others, lie, to_hole_yd, made)
            found += made + [self._known(option, label) for option in part]
            if reason:
                left_out.append({"name": label, "reason": reason})
        if found and lie == RECOVERY:
            found.append(self._turned(punch()))
        return found, left_out

    def _known(self, option: Option, label: str) -> Option:
        """The same with the carry of the player's own shots, seen from the side that the player plays from."""
        if not option.flight.own_shots:
            option = replace(option, flight=own_flight(option.flight, self._carries.get(label)))
        about: AboutOption = {**option.about, "notes": option.about["notes"] + carry_words(option.flight)}
        return self._turned(replace(option, about=about))

    def _turned(self, option: Option) -> Option:
        if not self._left_handed:
            return option
        return replace(option, landings=replace(option.landings, right=-option.landings.right))

    def _most_used(self) -> tuple[list[str], list[LeftOut]]:
        """The labels to plan with, in the order of the shots, and who is left out with the reason."""
        labels = [str(label) for label in self._tapped["club"].unique()]
        if len(labels) <= MOST_CLUBS:
            return labels, []
        counts = self._tapped["club"].astype(str).value_counts()
        most = set(sorted(labels, key=lambda label: -int(counts[label]))[:MOST_CLUBS])
        reason = f"{MOST_CLUBS} other clubs have more shots; name this one to plan with it"
        return (
            [label for label in labels if label in most],
            [{"name": label, "reason": reason} for label in labels if label not in most],
        )


def bag_of(valued: pd.DataFrame, plays: str = RIGHT_HANDED) -> Bag:
    """The bag of valued shots, as `valued_shots` returns them, of a player who plays right- or left-handed."""
    swings = full_swings(valued)
    return Bag(finishes(valued), club_distances(swings), own_carries(valued, swings), plays)


def _mirrored(tapped: pd.DataFrame) -> pd.DataFrame:
    """The same shots seen in a mirror: right is left, and nothing aside stays 0."""
    return tapped.assign(right_yd=0.0 - tapped["right_yd"], offline_deg=0.0 - tapped["offline_deg"])


def _as_far(tapped: pd.DataFrame, distances: dict[str, float]) -> pd.DataFrame:
    """The same, the full swings of each club moved along so that the median from good lies is the club's distance."""
    club = tapped["club"].astype("object")
    good = tapped["swing"].eq(FULL) & tapped["lie"].astype("object").isin(GOOD_LIES)
    middle = tapped["along_yd"].where(good).groupby(club).transform("median")
    further = (club.map(distances).astype("float64") - middle).where(tapped["swing"].eq(FULL), 0.0).fillna(0.0)
    return tapped.assign(along_yd=tapped["along_yd"] + further, target_yd=tapped["target_yd"] + further)


class _Others:
    """The shots of a player's other clubs, and what is believed of a club by them: the same from every lie."""

    def __init__(self, shots: pd.DataFrame) -> None:
        full = shots[shots["swing"].eq(FULL) & shots["lie"].astype("object").isin(GOOD_LIES)]
        self.learnt_from = full if len(full) >= ENOUGH_OF_OTHERS else full.iloc[:0]
        """None of them when they are too few."""

    @cached_property
    def prior(self) -> Prior:
        """Learnt from them, or of the stated pattern."""
        full, stated = self.learnt_from, prior_of(Skill())
        if full.empty:
            return stated
        share = (full["along_yd"] / full["target_yd"]).to_numpy(dtype=np.float64)
        right = share * np.tan(np.radians(full["offline_deg"].to_numpy(dtype=np.float64)))
        clubs = pd.factorize(full["club"].astype("object"))[0].astype(np.float64)
        return learnt(np.column_stack([right, share]), clubs, stated)

    @property
    def words(self) -> str:
        """What is believed, in words."""
        if self.learnt_from.empty:
            return f"from the player's own shots and {Skill().words}, each uncertain"
        return "from the player's own shots and what the other clubs have in common"


def _of_club(label: str, mine: pd.DataFrame, others: _Others, lie: str) -> tuple[list[Option], str | None]:
    full = mine[mine["swing"].eq(FULL)]
    good = full[full["lie"].astype("object").isin(GOOD_LIES)]
    from_lie = full[full["lie"].astype("object").eq(lie)]
    notes = []
    factors = (1.0, 1.0)
    shots = good
    if lie not in GOOD_LIES and len(from_lie) >= ENOUGH_OF_A_LIE:
        shots = from_lie
    elif lie not in GOOD_LIES:
        factors = FROM_LIE[lie]
        notes.append(
            f"too few shots from the {lie}: those from tee, fairway and fringe, {factors[0]:g} as far, "
            f"{factors[1]:g} as wide"
        )
    if len(shots) < FEWEST_OWN_SHOTS:
        return [], f"{len(shots)} tapped full swings; at least {FEWEST_OWN_SHOTS} are needed"
    shots, stated = _of_setup(shots)
    notes += stated
    notes.append(others.words)
    prior = others.prior.widened(FROM_LIE[lie][1] if lie not in GOOD_LIES else 1.0)
    found = []
    for shape, part in _by_shape(shots):
        name = label if shape is None else f"{label}, {shape}"
        words = notes if shape is None else [*notes, f"planned as {shape}"]
        before, behind = prior, others.learnt_from
        if shape is not None and len(part) < ENOUGH_OF_A_SHAPE:
            behind = shots[~shots.index.isin(part.index)]
            rest = _own(behind, factors)
            before = learnt(rest / np.median(rest[:, 1]), np.zeros(len(rest)), prior)
            words = [f"planned as {shape}: {len(part)} shots, with the club's shots of other shapes", *notes[:-1]]
        if shape is not None:
            planned = behind["planned_shape"].astype("object")
            before = of_shape(before, shape, planned.where(planned.notna(), None).tolist())
        option = _option(name, label, FULL, shape, _own(part, factors), before, words)
        found.append(replace(option, flight=flight_of(_sort(full))))
    return found, None


def _sort(shots: pd.DataFrame) -> str | None:
    """The type of the club that hit them, as it was recorded last; None where it is not."""
    sorts = shots["sort"].dropna() if "sort" in shots.columns else shots.iloc[:0, 0]
    return str(sorts.iloc[-1]) if len(sorts) else None


def punch() -> Option:
    """The stated punch out of trees: low, 100 yd, running for most of its way. A choice of this tool."""
    right, along = stated(PUNCH, PUNCH_YD)
    about: AboutOption = {
        "club": PUNCHED,
        "swing": PART,
        "planned_shape": None,
        "shots": 0,
        "prior_weight": 1.0,
        "notes": [f"a stated punch of {PUNCH_YD:g} yd under the branches: {PUNCH.figures}"],
    }
    return Option(PUNCHED, of_pattern(right, along), PUNCH_YD, about, ROLLED, low=True)


def _of_setup(shots: pd.DataFrame) -> tuple[pd.DataFrame, list[str]]:
    """The shots of the setup in force last, when there are enough of them."""
    if "setup" not in shots.columns:
        return shots, []
    ordered = shots.sort_values("played_on", kind="stable")
    setups = ordered["setup"].astype("object")
    latest = setups.iloc[-1]
    if setups.dropna().nunique() < 2 or latest is None:
        return ordered, []
    current = ordered[(setups == latest).to_numpy()]
    if len(current) >= ENOUGH_OF_A_SETUP:
        return current, [f"shots of the setup of {str(latest)[:10]} on"]
    return ordered, [f"all setups: only {len(current)} shots of the present one"]


def _by_shape(shots: pd.DataFrame) -> list[tuple[str | None, pd.DataFrame]]:
    """One group, or one for each planned shape when two or more have enough shots, or one has and most shots have a
    planned shape."""
    counts = shots["planned_shape"].dropna().value_counts()
    enough = [str(shape) for shape in counts[counts >= ENOUGH_OF_A_SHAPE].index]
    some = [str(shape) for shape in counts[counts >= FEWEST_OWN_SHOTS].index]
    taken = some if enough and counts.sum() >= MOSTLY * len(shots) else enough
    if len(taken) < 2:
        return [(None, shots)]
    return [(shape, shots[shots["planned_shape"].eq(shape)]) for shape in sorted(taken)]


def _own(shots: pd.DataFrame, factors: tuple[float, float]) -> Floats:
    """Right and along of own shots (n, 2), moved to another lie: shorter, and wider around the target."""
    distance, wider = factors
    target = shots["target_yd"].to_numpy(dtype=np.float64)
    right = shots["right_yd"].to_numpy(dtype=np.float64) * wider
    along = (target + shots["long_yd"].to_numpy(dtype=np.float64) * wider) * distance
    return np.column_stack([right, along])


def _option(name: str, club: str, swing: str, shape: str | None, own: Floats, prior: Prior, notes: list[str]) -> Option:
    landings = own_landings(own, prior)
    about: AboutOption = {
        "club": club,
        "swing": swing,
        "planned_shape": shape,
        "shots": landings.own_shots,
        "prior_weight": 1 - landings.own_share,
        "notes": notes,
    }
    return Option(name, landings, float(np.median(own[:, 1])), about)


def _part_swing(
    label: str, mine: pd.DataFrame, others: _Others, lie: str, to_hole_yd: float, full: list[Option]
) -> list[Option]:
    """A part swing at the hole, from good lies, when the club's full swing goes a little further than the hole is."""
    if not full or lie not in GOOD_LIES:
        return []
    reach = full[0].reach_yd
    shots = mine[mine["swing"].eq(PART) & mine["lie"].astype("object").isin(GOOD_LIES)]
    shots = shots[shots["target_yd"] >= SHORTEST_PART * reach]
    if len(shots) < ENOUGH_PART or not SHORTEST_PART * reach <= to_hole_yd < reach:
        return []
    along = shots["along_yd"].to_numpy(dtype=np.float64) / shots["target_yd"].to_numpy(dtype=np.float64) * to_hole_yd
    right = along * np.tan(np.radians(shots["offline_deg"].to_numpy(dtype=np.float64)))
    option = _option(f"{label}, part", label, PART, None, np.column_stack([right, along]), others.prior, [others.words])
    return [replace(option, flight=full[0].flight)]
