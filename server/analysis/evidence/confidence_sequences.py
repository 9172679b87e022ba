"""Intervals that hold at every look: a player looks after each round, not once.

A 90 % interval holds the truth in 90 of 100 seasons at one look that was fixed beforehand. Looked at after every round,
and believed the first time it leaves zero, it is wrong far more often. A confidence sequence holds the truth at all
looks together with its chance, however often and whenever one looks.

Here: the estimate less the truth in units of its standard error is t with f degrees of freedom from n = f + 1 rounds.
Mixing the likelihood ratio of t over true effects delta ~ N(0, g), in standard deviations of one round, gives

    B(t) = (1 + n g)^(-1/2) ((1 + t^2/f) / (1 + t^2/(f (1 + n g))))^((f + 1)/2)

which is a martingale of mean 1 at the truth (rounds normal, alike and independent), so that by Ville's inequality it
ever exceeds 1/alpha with a chance of at most alpha. The sequence is where B stays below 1/alpha; solved for t it is
`reach` standard errors either way, infinite while there are too few rounds to exclude anything.

Sources: S. R. Howard, A. Ramdas, J. McAuliffe and J. Sekhon, Annals of Statistics 49, 2021, 1055-1080 (confidence
sequences by mixtures); T. L. Lai, Annals of Statistics 4, 1976, 265-280, and H. Wang and A. Ramdas, Anytime-valid
t-tests, 2024 (unknown spread). B is the Bayes factor of M. Goenen, W. O. Johnson, Y. Lu and P. H. Westfall, The
American Statistician 59, 2005, 252-257. Tests hold B to numerical integration with scipy's noncentral t.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from server.analysis.evidence.intervals import Floats

PRIOR_VARIANCE: Final = 1.0
"""g: a prior worth one round, the unit-information prior (R. E. Kass and L. Wasserman, JASA 90, 1995, 928-934). With it
the sequence is 3.3 to 3.9 standard errors wide each way from 10 to 100 rounds at 95 %."""


def log_evidence(t: Floats | float, freedom: Floats | float, variance: float = PRIOR_VARIANCE) -> Floats:
    """ln B(t), the evidence against a difference of zero; `freedom` > 0."""
    times = 1 + (np.asarray(freedom) + 1) * variance
    square = np.asarray(t) ** 2 / np.asarray(freedom)
    half = (np.asarray(freedom) + 1) / 2
    return np.asarray(half * (np.log1p(square) - np.log1p(square / times)) - np.log(times) / 2)


def reach(freedom: float, alpha: float, variance: float = PRIOR_VARIANCE) -> float:
    """Standard errors either way at which ln B is ln(1/alpha); infinity while no t reaches it. `alpha`: 0 to 1.

    >>> round(reach(19, 0.05), 2), reach(2, 0.05)
    (3.42, inf)
    """
    if freedom <= 0:
        return float("inf")
    times = 1 + (freedom + 1) * variance
    edge = float(np.exp(2 * (np.log(1 / alpha) + np.log(times) / 2) / (freedom + 1)))
    return float(np.sqrt(freedom * (edge - 1) / (1 - edge / times))) if edge < times else float("inf")
