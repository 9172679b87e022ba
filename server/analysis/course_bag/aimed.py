"""A hole solved once with every club, on the coarse grid: what each place is worth, and in which direction each swing
is best played from it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.plan.flight import Day
from server.analysis.plan.hole_grid import LIES, HoleGrid, Raster
from server.analysis.plan.sweeps import NOWHERE, Sweeps
from server.analysis.plan.swings import COARSE_BALLS
from server.analysis.plan.tee_plan import Option
from server.game.lies import ROUGH

SWEEPS: Final = 3
"""From the player's curves on; the values serve to find directions, and for places that are hardly ever reached."""


class Aimed(Sweeps):
    """A hole's values with every option. `aims`: (lie, place of the option) -> direction's number at every node; -1
    where it cannot be played."""

    def __init__(
        self,
        grid: HoleGrid,
        options: Mapping[str, Sequence[Option]],
        curves: Baseline,
        within_yd: float,
        day: Day,
        progress: Callable[[float], None],
    ) -> None:
        """`grid`: as it is to be solved, not made coarser here."""
        super().__init__(grid, options, curves, within_yd, day, balls=COARSE_BALLS)
        for sweep in range(SWEEPS):
            self.sweep(lambda share, sweep=sweep: progress((sweep + share) / (SWEEPS + 1)))  # type: ignore[misc]
        fields = self._fields()
        self.aims: dict[tuple[str, int], npt.NDArray[np.int16]] = {}
        for lie in LIES:
            for swing in self.swings[lie]:
                value = self.frame.means(np.stack([fields(int(number), swing) for number in swing.aims]), swing)
                if self.rests.any_lost or self.rests.trees:
                    rate, more = self._repeated(lie, swing)
                    value = value * rate + more
                first = value.argmin(axis=0)
                least = np.take_along_axis(value, first[None], axis=0)[0]
                found = swing.aims[first].astype(np.int16)
                self.aims[lie, swing.option] = np.where(least < NOWHERE - 1, found, np.int16(-1))
        self.out = self._punched()
        for lie in LIES:  # which lies can be played from stays, what transforms need goes
            self.swings[lie] = [swing.only(np.zeros(swing.aims.size, dtype=np.bool_)) for swing in self.swings[lie]]
        self.repeats.clear()
        self.lost.clear()
        progress(1.0)

    def _punched(self) -> Raster:
        """What a stated punch out sideways is worth at every node; `NOWHERE` on a hole without trees."""
        found = np.full(self.grid.node_shape, NOWHERE, dtype=np.float32)
        if not self.rests.trees:
            return found
        rough = self.value[LIES.index(ROUGH)]
        for band in np.unique(self.bands[self.planned]):
            here = self.planned & (self.bands == band)
            if (here & self.open).any():
                found[here] = 1 + float(np.median(rough[here & self.open]))
        return found
