"""The make-rate curve from lengths that are off: the likelihood integrates over the true length.

A putt of true length X is entered as W. The error is classical: the entered length scatters about the true one,

    log U = log X + e,   e normal with mean 0 and standard deviation s,   W = U rounded to feet, fives or tens

so that a length entered as W comes from a mix of true lengths, f(X | W) = P(W | X) f(X) / sum, and the chance that such
a putt falls is the mean of the curve over that mix. Which putts were rounded how coarsely is not known; the shares of
the three are estimated, as D. F. Heitjan and D. B. Rubin do with ages (JASA 85, 1990, 304-314). f(X), the player's mix
of true lengths, comes from the entered ones by expectation and maximisation with a smoothing step (B. W. Silverman,
M. C. Jones, J. D. Wilson and D. W. Nychka, "A smoothed EM approach to indirect estimation problems", J. R. Statist.
Soc. B 52, 1990, 271-324).

The likelihood way of measurement error: R. J. Carroll, D. Ruppert, L. A. Stefanski and C. M. Crainiceanu, Measurement
Error in Nonlinear Models, 2nd edition, 2006, chapter 8. Refused: regression calibration, which puts the mean of X in
the place of X, for near 5 ft the curve bends, and a mix of lengths does not fall as often as its mean; and SIMEX, which
adds error and cannot take rounding back.

How large the error is nobody measured: the posterior sums over `SCALES` times the size that is taken for granted.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from scipy.special import logsumexp, ndtr

from server.analysis.expected_strokes.curves import Floats
from server.analysis.putting.make_rates import (
    CARELESS,
    FIRST_POINTS,
    REACH_SD,
    SMALLEST,
    TOUR_PRIOR,
    WIDEST_SD,
    ZOOMS,
    Posterior,
    Prior,
    right_roll,
    straight_start,
    zoomed,
)

SCALES: Final = ((2 / 3, 0.25), (1.0, 0.5), (1.5, 0.25))
"""How many times the error that is taken for granted the true one may be, and how likely. A choice of this tool."""
NEAREST_FT: Final = 0.3
FARTHEST_FT: Final = 200.0
NODES: Final = 160
"""True lengths that are summed over, even in their logarithm: 4 % apart."""
STEPS: Final = 30
"""Of expectation and maximisation; from 20 to 500 the mix of 200,000 simulated putts moved by less than 0.01."""
SMOOTH: Final = 0.11
"""Width of the smoothing in log length. Without it lengths that are all rounded to fives keep the bumps of the start:
90 % intervals from 5 ft then held the truth in 80 % of seasons, with it in 86 %. A choice of this tool."""
START_WIDTH: Final = 0.35
ENTRY_FT: Final = 0.5
"""Entered lengths are taken to the half foot, so that a season has at most 300 of them."""
FIVES_FROM_FT: Final = 2.5
"""Below it a rounding to fives would give 0, which nobody enters: the length is then taken as whole feet."""
TENS_FROM_FT: Final = 15.0
"""Below it who rounds to tens rounds to fives: 10 ft is a five. A choice of this tool."""


class EnteredPutts(NamedTuple):
    """Putts whose lengths were taken in one way. `feet`, `tried`, `made`: shape (k,); `error`: standard deviation of
    the logarithm of the length, above 0."""

    feet: Floats
    tried: Floats
    made: Floats
    error: float


def entered_putts(feet: Floats, holed: Floats, error: float) -> EnteredPutts:
    """Putts of one way, each by itself (`feet`, `holed`: shape (n,)), counted by length."""
    near = np.maximum(np.round(np.asarray(feet) / ENTRY_FT), 1) * ENTRY_FT
    lengths, place = np.unique(near, return_inverse=True)
    tried = np.bincount(place, minlength=lengths.size).astype(np.float64)
    made = np.bincount(place, weights=holed, minlength=lengths.size).astype(np.float64)
    return EnteredPutts(lengths, tried, made, error)


def blurred_posterior(
    putts: list[EnteredPutts], prior: Prior = TOUR_PRIOR, careless: float = CARELESS, times: float = 1.0
) -> Posterior:
    """The posterior of the curve in true lengths. `times`: all true lengths are that many times what they would be.

    ValueError without any putt, or with an error that is not above 0.
    """
    if not sum(part.tried.sum() for part in putts) or min(part.error for part in putts) <= 0:
        raise ValueError("putts: at least one is needed, and errors of length above 0")
    nodes = np.geomspace(NEAREST_FT, FARTHEST_FT, NODES)
    mixes = [(np.log(chance), true_lengths(putts, nodes, scale)) for scale, chance in SCALES]
    tried, made = (np.concatenate([getattr(part, name) for part in putts]) for name in ("tried", "made"))
    missed = tried - made

    rolls = nodes * times

    def height(angle: Floats, distance: Floats) -> Floats:
        """Log posterior on a grid of two axes of shape (g,): shape (g, g)."""
        straight, right = straight_start(rolls, angle)[0], right_roll(rolls, distance)[0]
        falls = (1 - careless) * (straight[:, None, :] * right[None, :, :]).reshape(-1, NODES)
        sums = []
        for log_chance, mix in mixes:
            rate = falls @ mix.T
            fell, stayed = (np.log(np.maximum(part, SMALLEST)) for part in (rate, 1 - rate))
            sums.append(log_chance + fell @ made + stayed @ missed)
        away, along = (
            ((axis - mean) / sd) ** 2 for axis, mean, sd in zip((angle, distance), prior.mean, prior.sd, strict=True)
        )
        found = logsumexp(sums, axis=0).reshape(angle.size, distance.size)
        return np.asarray(found - 0.5 * (away[:, None] + along[None, :]))

    reach = REACH_SD * np.minimum(prior.sd, WIDEST_SD)
    angle, distance = np.linspace(prior.mean - reach, prior.mean + reach, FIRST_POINTS).T
    found = height(angle, distance)
    for _ in range(ZOOMS):
        angle, distance = (
            zoomed(angle[None], found.max(axis=1)[None])[0],
            zoomed(distance[None], found.max(axis=0)[None])[0],
        )
        found = height(angle, distance)
    weight = np.exp(found - found.max())
    return Posterior(angle, distance, weight / weight.sum(), careless)


def true_lengths(putts: list[EnteredPutts], nodes: Floats, scale: float = 1.0) -> Floats:
    """For every entered length of every part the mix of true lengths that it represents: shape (sum of k, nodes), rows
    that sum to 1. `scale`: times every part's error."""
    coarse = [_entered_given_true(part.feet, nodes, scale * part.error) for part in putts]
    counts = [part.tried / sum(other.tried.sum() for other in putts) for part in putts]
    apart = float(np.log(nodes[1] / nodes[0]))
    feet, share = np.concatenate([part.feet for part in putts]), np.concatenate(counts)
    near = np.exp(-0.5 * ((np.log(nodes) - np.log(feet)[:, None]) / START_WIDTH) ** 2)
    mix = share @ near
    mix /= mix.sum()
    shares = [np.full(len(one), 1 / len(one)) for one in coarse]
    for _ in range(STEPS):
        together = np.zeros(nodes.size)
        for place, (one, count) in enumerate(zip(coarse, counts, strict=True)):
            joint = shares[place][:, None, None] * one * mix
            joint *= (count / np.maximum(joint.sum(axis=(0, 2)), SMALLEST))[:, None]
            shares[place] = joint.sum(axis=(1, 2)) / joint.sum()
            together += joint.sum(axis=(0, 1))
        mix = _smoothed(together, SMOOTH / apart)
        mix /= mix.sum()
    found = np.concatenate([np.einsum("t,tkn->kn", part, one) for part, one in zip(shares, coarse, strict=True)]) * mix
    return np.asarray(found / np.maximum(found.sum(axis=1, keepdims=True), SMALLEST))


def _smoothed(mix: Floats, width: float) -> Floats:
    """A mix over the nodes, smoothed by a normal of `width` nodes; its ends go on level."""
    reach = int(np.ceil(4 * width))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / width) ** 2)
    return np.asarray(np.convolve(np.pad(mix, reach, mode="edge"), kernel / kernel.sum(), mode="valid"))


def _entered_given_true(feet: Floats, nodes: Floats, error: float) -> Floats:
    """Chance that a putt from each node is entered as each length, when rounded to whole feet, fives or tens: shape
    (3, k, nodes)."""
    low, high = _rounded_from(feet)
    with np.errstate(divide="ignore"):
        below, above = (np.log(end)[..., None] - np.log(nodes) for end in (low, high))
    return np.asarray(ndtr(above / error) - ndtr(below / error))


def _rounded_from(feet: Floats) -> tuple[Floats, Floats]:
    """From which to which length, before rounding, an entered one comes under each rounding: two of shape (3, k).
    Lengths that a rounding cannot give have no width."""
    foot = np.maximum(feet - 0.5, 0.0), feet + 0.5
    five, ten = np.isclose(feet % 5, 0), np.isclose(feet % 10, 0) & (feet > TENS_FROM_FT)
    nothing = np.ones_like(feet)
    short = foot[0] < FIVES_FROM_FT
    fives_low = np.where(five, np.maximum(feet - 2.5, FIVES_FROM_FT), np.where(short, foot[0], nothing))
    fives_high = np.where(five, feet + 2.5, np.where(short, np.minimum(foot[1], FIVES_FROM_FT), nothing))
    as_fives = fives_low < TENS_FROM_FT
    tens_low = np.where(ten, np.maximum(feet - 5, TENS_FROM_FT), np.where(as_fives, fives_low, nothing))
    tens_high = np.where(ten, feet + 5, np.where(as_fives, np.minimum(fives_high, TENS_FROM_FT), nothing))
    return np.stack([foot[0], fives_low, tens_low]), np.stack([foot[1], fives_high, tens_high])
