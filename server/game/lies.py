"""Lies: where the ball rests.

The order of `LIES` is also the integer code of each lie in arrays (tee = 0 ... green = 6).
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from pandas.api.extensions import ExtensionArray

TEE: Final = "tee"
FAIRWAY: Final = "fairway"
FRINGE: Final = "fringe"
ROUGH: Final = "rough"
SAND: Final = "sand"
RECOVERY: Final = "recovery"
GREEN: Final = "green"

LIES: Final[tuple[str, ...]] = (TEE, FAIRWAY, FRINGE, ROUGH, SAND, RECOVERY, GREEN)
CODE: Final[dict[str, int]] = {lie: code for code, lie in enumerate(LIES)}

UNKNOWN: Final = -1
"""Code of anything that is not a lie."""

VALUED_AS: Final[dict[str, str]] = {FRINGE: FAIRWAY}
"""Lies that a baseline has no column for, and the lie whose value they take."""

LIE_WORDS: Final = pd.CategoricalDtype(list(LIES))
"""All lies in their order, as words of a column."""

LieCodes = npt.NDArray[np.int8]


def lie_codes(lies: Any) -> LieCodes:
    """Codes of an array of lies.

    `lies`: shape (n,), lie names (list, array, Series, categorical) or codes already (integers).
    Returns int8, shape (n,); `UNKNOWN` (-1) where the value is missing or no lie.
    """
    values = lies.array if isinstance(lies, pd.Series | pd.Index) else lies
    if isinstance(values, pd.Categorical):
        return _codes_of_names(values.codes, values.categories)
    if isinstance(values, ExtensionArray) and isinstance(values.dtype, pd.StringDtype):
        return _codes_of_names(*pd.factorize(values))
    array = np.asarray(values)
    if array.dtype.kind in "iu":
        if array.dtype == np.int8 and (array.size == 0 or (array.min() >= UNKNOWN and array.max() < len(LIES))):
            return array
        return np.where((array >= 0) & (array < len(LIES)), array, UNKNOWN).astype(np.int8)
    return _codes_of_names(*pd.factorize(array))


def _codes_of_names(places: Any, names: Any) -> LieCodes:
    """Codes of lies that are given as places in a list of names, -1 where missing."""
    by_place = np.array([*(CODE.get(name, UNKNOWN) for name in names), UNKNOWN], dtype=np.int8)
    return np.asarray(by_place[places])


def lie_names(codes: LieCodes) -> pd.Categorical:
    """The lies of an array of codes as a categorical; missing where the code is `UNKNOWN`."""
    return pd.Categorical.from_codes(codes, dtype=LIE_WORDS)
