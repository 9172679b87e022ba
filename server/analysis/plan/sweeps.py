"""Value iteration over the grid of one hole (`solve`): every lie and node by its best option and direction."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.plan.flight import Day
from server.analysis.plan.grid_rests import GridRests
from server.analysis.plan.hole_grid import CODES, LIES, HoleGrid, Raster, by_curves, near_values
from server.analysis.plan.swings import Frame, Swing, Transforms, swing_of
from server.analysis.plan.tee_plan import Option
from server.game.lies import FAIRWAY, GREEN, RECOVERY, ROUGH, SAND

BAND_YD: Final = 8.0
"""Places behind the green are played as those before it whose distance lies in the same band."""
BESIDE_PLAY_YD: Final = 40.0
MOST_LOST: Final = 0.95
"""With more than this share out of bounds an option has no sensible value."""
WALLED_YD: Final = 40.0
"""An iron is 10 yd high after so many."""
NOWHERE: Final = 50.0
"""The value of a place from which nothing can be played."""

Fields = Callable[[int, Swing], Transforms]


@dataclass(frozen=True)
class Begun:
    """What the sweeps over a coarser grid leave to the fine one: the value of every lie and node of the fine one, and
    by lie which options are tried, in which directions."""

    value: Raster
    tried: dict[str, dict[int, npt.NDArray[np.intp]]]


class Sweeps:
    """The values of a hole while it is solved. `value`: of every lie and node (lies, rows, columns); `option`, `aim`:
    the best option's place in the list of its lie and its direction, radians, of the same shape; -1 and NaN for none.

    `balls`: of every pattern; `begun`: what a coarser grid left; without it every option is tried in every direction,
    and the curves are begun from."""

    def __init__(
        self,
        grid: HoleGrid,
        options: Mapping[str, Sequence[Option]],
        curves: Baseline,
        within_yd: float,
        day: Day,
        *,
        balls: int,
        begun: Begun | None = None,
    ) -> None:
        self.grid, self.frame, self.rests = grid, Frame.of(grid), GridRests(grid)
        self.near = near = near_values(grid, curves, within_yd)
        start = by_curves(grid, curves) if begun is None else begun.value
        self.value: Raster = np.where(np.isnan(near.nodes), start, near.nodes).astype(np.float32)
        self.option = np.full(self.value.shape, -1, dtype=np.int16)
        self.aim = np.full(self.value.shape, np.nan, dtype=np.float32)
        self.planned = np.isnan(near.nodes[0])
        x, y = grid.nodes()
        self.bearing = np.arctan2(grid.pin[0] - x[None, :], grid.pin[1] - y[:, None])
        middle = (grid.aims[0] + grid.aims[-1]) / 2
        off = np.abs((self.bearing - middle + np.pi) % (2 * np.pi) - np.pi)
        self.turned = self.planned & (off > (grid.aims[-1] - grid.aims[0]) / 2)
        self.open = self.planned & ~self.turned
        self.bands = (grid.node_away() / BAND_YD).astype(np.intp)
        self.walled = self._walled()
        self.played = self._played()
        every = np.arange(grid.aims.size)
        self.swings: dict[str, list[Swing]] = {}
        for lie in LIES:
            # a lie that the hole has nowhere is never played from
            listed = options.get(lie, ()) if self.played[LIES.index(lie)].any() or lie in (FAIRWAY, ROUGH) else ()
            tried = dict.fromkeys(range(len(listed)), every) if begun is None else begun.tried[lie]
            self.swings[lie] = [
                swing_of(number, option, grid, self.frame, tried[number], day, balls)
                for number, option in enumerate(listed)
                if number in tried
            ]
        self.lost: dict[tuple[int, int, float], Transforms] = {}
        self.repeats: dict[tuple[str, int], tuple[Raster, Raster]] = {}

    def _played(self) -> npt.NDArray[np.bool_]:
        """Where a ball may lie on a hole that is played along its fairways: nodes of each lie that are planned, no
        farther than `BESIDE_PLAY_YD` from fairway or green. Only they decide when the sweeps end and what is pruned."""
        code = self.grid.code
        kept = np.isin(code, (*CODES[FAIRWAY], *CODES[GREEN]))
        beside = ndimage.maximum_filter(kept, size=2 * int(BESIDE_PLAY_YD / self.grid.cell) + 1, mode="constant")
        here = np.stack([np.isin(code, CODES[lie]) for lie in LIES])
        along = self.grid.on_nodes((here & beside).astype(np.float32)) > 0
        # a hole without a fairway is played anywhere
        found = along if (along & self.planned).any() else self.grid.on_nodes(here.astype(np.float32)) > 0
        return np.asarray(found & self.planned)

    def _walled(self) -> npt.NDArray[np.bool_]:
        """Nodes with trees on the straight way to the hole so near that nothing rises over them."""
        grid = self.grid
        found = np.zeros(grid.node_shape, dtype=np.bool_)
        if grid.tree_yd is None:
            return found
        x, y = grid.nodes()
        for yards in np.arange(grid.cell, WALLED_YD, grid.cell):
            row = (y[:, None] + np.cos(self.bearing) * yards - grid.near) / grid.cell
            column = (x[None, :] + np.sin(self.bearing) * yards - grid.left) / grid.cell
            rows, columns = grid.code.shape
            place = np.clip(row, 0, rows - 1).astype(np.intp), np.clip(column, 0, columns - 1).astype(np.intp)
            found |= grid.tree_yd[place] > 0
        return found

    def sweep(self, progress: Callable[[float], None], prune_within: float | None = None) -> float:
        """One sweep over every lie. Returns the largest change of the value of a place that is played. `progress`:
        called with the share done; `prune_within`: drop what is nowhere within so many strokes of the best."""
        fields = self._fields()
        changed = 0.0
        for place, lie in enumerate(LIES):
            if not self.swings[lie]:
                continue
            found, self.option[place], self.aim[place] = self._best(lie, fields, prune_within)
            self._turn_to_hole(found, self.option[place], self.aim[place])
            if lie == ROUGH:
                self.open = self.planned & ~self.turned & (self.option[place] >= 0)
            if self.rests.trees:
                self._punch_out(found, self.option[place])
            found = np.where(self.planned, found, self.value[place])
            changed = max(changed, float(np.abs(found - self.value[place])[self.played[place]].max(initial=0.0)))
            self.value[place] = found
            progress((place + 1) / len(LIES))
        self._fill_missing()
        return changed

    def begun(self) -> Begun:
        """What these sweeps leave to a grid with cells half as wide."""
        tried = {lie: {swing.option: swing.aims for swing in swings} for lie, swings in self.swings.items()}
        return Begun(self.grid.on_cells(self.value), tried)

    def best(self) -> tuple[npt.NDArray[np.int16], Raster]:
        """The best option and direction of every lie and node that is planned; -1 and NaN elsewhere."""
        return np.where(self.planned, self.option, np.int16(-1)), np.where(self.planned, self.aim, np.float32(np.nan))

    def _turn_to_hole(self, value: Raster, option: npt.NDArray[np.int16], aim: Raster) -> None:
        """Play from behind and far beside the green as from the same distance before it, straight at the hole: no
        direction that is tried leads from there to the hole. Changes its arguments."""
        if not self.turned.any():
            return
        bands = np.where(self.planned, self.bands, -1)
        for band in np.unique(bands[self.turned]):
            before = np.flatnonzero((bands == band) & ~self.turned)
            if not before.size:
                continue
            middle = before[np.argsort(value.ravel()[before])[before.size // 2]]
            here = (bands == band) & self.turned & ~self.walled & (value > value.ravel()[middle])
            value[here], option[here] = value.ravel()[middle], option.ravel()[middle]
            aim[here] = self.bearing[here]

    def _punch_out(self, value: Raster, option: npt.NDArray[np.int16]) -> None:
        """Where no option is better, the stated punch out sideways (top of this module). Changes its arguments."""
        rough = self.value[LIES.index(ROUGH)]
        for band in np.unique(self.bands[self.planned]):
            here = self.planned & (self.bands == band)
            if not (here & self.open).any():
                continue
            out = 1 + float(np.median(rough[here & self.open]))
            shut_in = here & (value > out)
            value[shut_in], option[shut_in] = out, -1

    def _fill_missing(self) -> None:
        """A lie without a club of its own is worth what the rough is: only holes in the records make one."""
        for place, lie in enumerate(LIES):
            if not self.swings[lie]:
                substitute = next(LIES.index(other) for other in (ROUGH, FAIRWAY, SAND, RECOVERY) if self.swings[other])
                self.value[place][self.planned] = self.value[substitute][self.planned]

    def cells(self) -> Raster:
        """The value of every cell as it lies; 0 where out of bounds or wet."""
        code = self.grid.code
        found = np.zeros(code.shape, dtype=np.float32)
        for place, lie in enumerate(LIES):
            here = np.isin(code, CODES[lie])
            if here.any():
                found[here] = self.grid.on_cells(self.value[place])[here]
        found[self.near.known] = self.near.value[self.near.known]
        return found

    def _fields(self) -> Fields:
        """The transform of what a ball is worth that lands in each place, by direction and swing; each worked out
        once a sweep."""
        cells = self.cells()
        values: dict[int, Raster] = {}
        kept: dict[tuple[int, int, float], Transforms] = {}

        def of(aim: int, swing: Swing) -> Transforms:
            key = aim, swing.run_yd, swing.fall
            if key not in kept:
                if aim not in values:
                    values[aim] = self.rests.value(cells, aim)
                kept[key] = self._field(values[aim].take(self.rests.of(*key)))
            return kept[key]

        return of

    def _field(self, landed: Raster) -> Transforms:
        return self.frame.field(self.grid.on_nodes(landed))

    def _best(
        self, lie: str, fields: Fields, prune_within: float | None
    ) -> tuple[Raster, npt.NDArray[np.int16], Raster]:
        """The best of every node from one lie: value, option, direction."""
        best = np.full(self.grid.node_shape, NOWHERE, dtype=np.float32)
        option = np.full(self.grid.node_shape, -1, dtype=np.int16)
        aim = np.full(self.grid.node_shape, np.nan, dtype=np.float32)
        values: list[Raster] = []
        for swing in self.swings[lie]:
            value = self.frame.means(np.stack([fields(int(number), swing) for number in swing.aims]), swing)
            if self.rests.any_lost or self.rests.trees:
                rate, more = self._repeated(lie, swing)
                value *= rate
                value += more
            else:
                value += 1
            first = value.argmin(axis=0)
            least = np.take_along_axis(value, first[None], axis=0)[0]
            better = least < best
            best[better] = least[better]
            option[better] = swing.option
            aim[better] = self.grid.aims[swing.aims[first[better]]]
            if prune_within is not None:
                values.append(value)
        if prune_within is not None:
            self._prune(lie, values, best + prune_within)
        return best, option, aim

    def _prune(self, lie: str, values: Sequence[Raster], limit: Raster) -> None:
        """Drop options and directions whose values are above the limit wherever the lie is played; none where nothing
        can be played at all."""
        matters = self.played[LIES.index(lie)]
        most = np.minimum(limit[matters], NOWHERE - 1)
        if not any((value[:, matters] <= most).any() for value in values):
            return
        kept = []
        for swing, value in zip(self.swings[lie], values, strict=True):
            keep = (value[:, matters] <= most).any(axis=1)
            if (lie, swing.option) in self.repeats:
                rate, more = self.repeats[lie, swing.option]
                self.repeats[lie, swing.option] = rate[keep], more[keep]
            if keep.any():
                kept.append(swing.only(keep))
        self.swings[lie] = kept

    def _repeated(self, lie: str, swing: Swing) -> tuple[Raster, Raster]:
        """Rate and constant with which the mean of the balls in play becomes the value of a shot that is repeated when
        lost (top of `solve`), (d, rows, columns) each: 0 and `NOWHERE` where it cannot be played."""
        key = lie, swing.option
        if key not in self.repeats:
            again: Raster = np.zeros((swing.aims.size, *self.grid.node_shape), dtype=np.float32)
            if self.rests.any_lost:
                lost = np.stack([self._lost(int(aim), swing) for aim in swing.aims])
                again = self.frame.means(lost, swing).clip(0.0, 1.0)
            rate = np.reciprocal(1 - np.minimum(again, MOST_LOST), dtype=np.float32)
            more = np.asarray((1 + again) * rate, dtype=np.float32)
            shut = again > MOST_LOST
            if self.rests.trees:
                shut |= self.rests.blocked(swing.aims, swing.flight, swing.carry_yd, low=swing.low)
            rate[shut], more[shut] = 0.0, NOWHERE
            self.repeats[key] = rate, more
        return self.repeats[key]

    def _lost(self, aim: int, swing: Swing) -> Transforms:
        key = aim, swing.run_yd, swing.fall
        if key not in self.lost:
            self.lost[key] = self._field(self.rests.lost(aim).take(self.rests.of(*key)))
        return self.lost[key]
