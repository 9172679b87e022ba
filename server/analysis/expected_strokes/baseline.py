"""Expected strokes: the average number of strokes to hole out from a lie and a distance, by a baseline.

E is interpolated linearly between a baseline's rows, per lie; E(holed) = 0. Outside the rows the
extension of `server.analysis.expected_strokes.curves` is used and marked.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from server.analysis.expected_strokes.curves import Curve, Floats, Grid, extend_all
from server.analysis.expected_strokes.files import BaselineFile, find_baseline, read_baseline
from server.game.lies import LieCodes, lie_codes

DEFAULT_BASELINE: Final = "tour"
"""Id of the baseline used when none is named."""


@dataclass(frozen=True, eq=False)
class Baseline:
    """A table of expected strokes, ready to value shots.

    >>> tour = load_baseline("tour")
    >>> tour.expected(["fairway", "green"], [100, 11]).round(4).tolist()
    [2.8, 2.004]
    """

    about: BaselineFile
    curves: dict[str, Curve]
    grid: Grid = field(repr=False)

    @property
    def id(self) -> str:
        """The name by which commands and addresses ask for it."""
        return self.about.id

    @property
    def version(self) -> str:
        """Changes whenever a value changes."""
        return self.about.version

    @cached_property
    def fingerprint(self) -> str:
        """Of all that an answer takes from it: equal fingerprints, equal answers, in whatever process."""
        digest = hashlib.sha256(repr((self.id, self.version, sorted(map(repr, self.about.about.items())))).encode())
        for lie, curve in sorted(self.curves.items()):
            digest.update(lie.encode() + curve.distance_yd.tobytes() + curve.expected.tobytes())
            digest.update(repr((curve.printed_from, curve.printed_to, curve.slope_beyond)).encode())
        return digest.hexdigest()

    def expected(self, lie: Any, distance_yd: Any) -> Floats:
        """Expected strokes to hole out.

        `lie`: shape (n,) or one lie; names or the codes of `server.game.lies`. `distance_yd`: shape (n,) or
        one number, ball to hole in yards (on the green too). They are broadcast against each other.
        Returns float64, shape (n,): NaN for an unknown lie, a lie that the baseline lacks, or a distance that
        is not a finite number above 0.
        """
        codes, distance = aligned(lie, distance_yd)
        return self.grid.expected(codes, distance)

    def extended(self, lie: Any, distance_yd: Any) -> npt.NDArray[np.bool_]:
        """True where `expected` had to use the extension outside the printed rows. Arguments as there."""
        return self.grid.is_extended(*aligned(lie, distance_yd))


def aligned(lie: Any, distance_yd: Any) -> tuple[LieCodes, Floats]:
    """Lie codes (int8) and yards (float64) of one shape (n,)."""
    codes = lie_codes(np.atleast_1d(np.asarray([lie], dtype=object)) if isinstance(lie, str) else lie)
    distance = np.atleast_1d(np.asarray(distance_yd, dtype=np.float64))
    codes = np.atleast_1d(codes)
    if codes.shape != distance.shape:
        codes, distance = np.broadcast_arrays(codes, distance)
    return np.ascontiguousarray(codes), np.ascontiguousarray(distance)


def make_baseline(about: BaselineFile) -> Baseline:
    """A baseline from rows that were read and checked."""
    curves = extend_all(about.rows)
    return Baseline(about, curves, Grid(curves))


def load_baseline(id_or_path: str | Path = DEFAULT_BASELINE) -> Baseline:
    """The baseline of that id from `baselines/`, or from a CSV or TOML file at a path.

    Raises ValueError, naming every bad row, when it cannot be used; LookupError for an unknown id.
    """
    return make_baseline(read_baseline(find_baseline(id_or_path)))
