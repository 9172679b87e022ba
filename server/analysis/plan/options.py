"""The options of a shot: every club (and planned shape) that the player has shots of, with the landings that they
make likely.

From a tee, the fairway or the fringe the full swings from those lies count. From another lie the shots from that lie
count when there are enough, else those from good lies, made shorter and wider by the stated factors.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import pandas as pd

from server.analysis.expected_strokes.curves import Floats
from server.analysis.patterns.finishes import FULL, GOOD_LIES, PART, TAPPED, finishes
from server.analysis.patterns.full_swings import club_distances, full_swings
from server.analysis.plan.landings import FEWEST_OWN_SHOTS, PRIOR_SHOTS, Landings, Skill, own_landings, stated
from server.analysis.plan.rows import AboutOption, LeftOut
from server.analysis.plan.tee_plan import Option
from server.game.lies import RECOVERY, ROUGH, SAND

ENOUGH_OF_A_SETUP: Final = 20
"""With so many shots of the setup in force only they count; with fewer all setups do, and it is stated."""
ENOUGH_OF_A_SHAPE: Final = 15
"""With so many shots of each of two planned shapes each is an option of its own."""
ENOUGH_OF_A_LIE: Final = 15
ENOUGH_OF_OTHERS: Final = 60
"""With so many shots of the player's other clubs these are the prior, else the stated pattern is."""
MOST_CLUBS: Final = 30
"""Unless clubs are named, so many are planned with: those with the most shots."""
ENOUGH_PART: Final = 10
SHORTEST_PART: Final = 0.75
"""A part swing is planned from this share of the full distance up. These seven are choices of this tool."""

FROM_LIE: Final = {ROUGH: (0.95, 1.5), SAND: (0.94, 1.5), RECOVERY: (0.90, 1.6)}
"""Share of the distance left and factor of the spread, when too few shots from the lie are known. Spread from the
rough: 1.2 (scores of 70 to 83) to 2.1 (professionals) times the fairway's (Broadie 2008, 100 to 150 yd); 1.9 on the
tour by James and Rees (2008). The distances are common practice, no source."""


class Bag:
    """A player's clubs, ready to be planned with; what does not change from hole to hole is worked out once.

    `finishes`: as `finishes.finishes` returns it; `distances`: club -> yards, as `club_distances` of
    `full_swings`. A club's full swings are moved along the line so that their middle goes that far: a
    finish tells the side, and more swings than the tapped ones tell the length.
    """

    def __init__(self, finishes: pd.DataFrame, distances: dict[str, float]) -> None:
        self._tapped = _as_far(finishes[finishes["source"].eq(TAPPED)], distances)
        self._full: dict[tuple[str, str], tuple[list[Option], str | None]] = {}

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
            mine, others = (self._tapped[flag] for flag in _split(self._tapped, label))
            if (label, lie) not in self._full:
                self._full[label, lie] = _of_club(label, mine, others, lie)
            made, reason = self._full[label, lie]
            found += made + _part_swing(label, mine, others, lie, to_hole_yd, made)
            if reason:
                left_out.append({"name": label, "reason": reason})
        return found, left_out

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


def bag_of(valued: pd.DataFrame) -> Bag:
    """The bag of valued shots, as `valued_shots` returns them."""
    return Bag(finishes(valued), club_distances(full_swings(valued)))


def _as_far(tapped: pd.DataFrame, distances: dict[str, float]) -> pd.DataFrame:
    """The same, the full swings of each club moved along so that the median from good lies is the club's distance."""
    club = tapped["club"].astype("object")
    good = tapped["swing"].eq(FULL) & tapped["lie"].astype("object").isin(GOOD_LIES)
    middle = tapped["along_yd"].where(good).groupby(club).transform("median")
    further = (club.map(distances).astype("float64") - middle).where(tapped["swing"].eq(FULL), 0.0).fillna(0.0)
    return tapped.assign(along_yd=tapped["along_yd"] + further, target_yd=tapped["target_yd"] + further)


def _split(tapped: pd.DataFrame, label: str) -> tuple[pd.Series, pd.Series]:
    mine = tapped["club"].astype("object").eq(label)
    return mine, ~mine


def _of_club(label: str, mine: pd.DataFrame, others: pd.DataFrame, lie: str) -> tuple[list[Option], str | None]:
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
            f"too few shots from the {lie}: those from good lies, {factors[0]:g} as far, {factors[1]:g} as wide"
        )
    if len(shots) < FEWEST_OWN_SHOTS:
        return [], f"{len(shots)} tapped full swings; {FEWEST_OWN_SHOTS} are the least"
    shots, stated = _of_setup(shots)
    notes += stated
    prior = _prior(others, notes)
    found = []
    for shape, part in _by_shape(shots):
        words = notes if shape is None else [*notes, f"planned as {shape}"]
        name = label if shape is None else f"{label}, {shape}"
        found.append(_option(name, label, FULL, shape, _own(part, factors), prior, words))
    return found, None


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
    """One group, or one for each planned shape when two or more have enough shots."""
    counts = shots["planned_shape"].dropna().value_counts()
    enough = [str(shape) for shape in counts[counts >= ENOUGH_OF_A_SHAPE].index]
    if len(enough) < 2:
        return [(None, shots)]
    return [(shape, shots[shots["planned_shape"].eq(shape)]) for shape in sorted(enough)]


def _own(shots: pd.DataFrame, factors: tuple[float, float]) -> Floats:
    """Right and along of own shots (n, 2), moved to another lie: shorter, and wider around the target."""
    distance, wider = factors
    target = shots["target_yd"].to_numpy(dtype=np.float64)
    right = shots["right_yd"].to_numpy(dtype=np.float64) * wider
    along = (target + shots["long_yd"].to_numpy(dtype=np.float64) * wider) * distance
    return np.column_stack([right, along])


def _prior(others: pd.DataFrame, notes: list[str]) -> Any:
    """The prior as length shares and degrees of the player's other clubs (n, 2), or the stated pattern; notes say
    which."""
    full = others[others["swing"].eq(FULL) & others["lie"].astype("object").isin(GOOD_LIES)]
    if len(full) < ENOUGH_OF_OTHERS:
        skill = Skill()
        notes.append(f"prior of {PRIOR_SHOTS:g} shots: {skill.words}")
        return skill
    notes.append(f"prior of {PRIOR_SHOTS:g} shots: the player's other clubs")
    share = (full["along_yd"] / full["target_yd"]).to_numpy(dtype=np.float64)
    degrees = full["offline_deg"].to_numpy(dtype=np.float64)
    order = np.argsort(degrees, kind="stable")
    return np.column_stack([degrees[order], share[order]])


def _prior_at(prior: Any, reach_yd: float) -> tuple[Floats, Floats]:
    """Right and along of the prior at a distance."""
    if isinstance(prior, Skill):
        return stated(prior, reach_yd)
    along = prior[:, 1] * reach_yd
    return along * np.tan(np.radians(prior[:, 0])), along


def _option(name: str, club: str, swing: str, shape: str | None, own: Floats, prior: Any, notes: list[str]) -> Option:
    reach = float(np.median(own[:, 1]))
    landings: Landings = own_landings(own, _prior_at(prior, reach))
    about: AboutOption = {
        "club": club,
        "swing": swing,
        "planned_shape": shape,
        "shots": landings.own_shots,
        "prior_weight": PRIOR_SHOTS / (PRIOR_SHOTS + landings.own_shots),
        "notes": notes,
    }
    return Option(name, landings, reach, about)


def _part_swing(
    label: str, mine: pd.DataFrame, others: pd.DataFrame, lie: str, to_hole_yd: float, full: list[Option]
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
    notes: list[str] = []
    prior = _prior(others, notes)
    return [_option(f"{label}, part", label, PART, None, np.column_stack([right, along]), prior, notes)]
