"""An option made ready to be played from every node of a hole's grid at once: the Fast Fourier transform of its carries
in each direction that is tried."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import fft

from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.flight import Day, Flight, flown
from server.analysis.plan.hole_grid import HoleGrid, Raster
from server.analysis.plan.tee_plan import Option

BALLS: Final = 700
"""Balls of a pattern that the solver plays: every third of the plan's."""
COARSE_BALLS: Final = 350
"""And on the coarse grid."""
FARTHEST_OFF_YD: Final = 72.0
"""A ball farther than this from the middle of its pattern counts at this."""
RUN_STEP_YD: Final = 6
"""Runs are rounded to so many yards."""
FALL_STEP: Final = 0.4
"""And slopes of the descent to so much."""
GRID_SPREAD: Final = 1 / 6 + 1 / 12

Transforms = npt.NDArray[np.complex64]


@dataclass(frozen=True)
class Frame:
    """The nodes of a grid with a margin on every side, `pad` nodes wide at least, in which transforms are taken.
    `size`: rows and columns of the frame."""

    nodes: tuple[int, int]
    pad: int
    size: tuple[int, int]

    @staticmethod
    def of(grid: HoleGrid) -> Frame:
        """The frame of a grid."""
        pad = int(np.ceil(FARTHEST_OFF_YD / grid.spacing))
        rows, columns = (fft.next_fast_len(count + 2 * pad, real=True) for count in grid.node_shape)
        return Frame(grid.node_shape, pad, (rows, columns))

    def field(self, nodes: Raster) -> Transforms:
        """The transform of values of nodes; beyond the grid its edge goes on."""
        row, column = (
            np.clip(np.arange(size) - self.pad, 0, count - 1) for size, count in zip(self.size, self.nodes, strict=True)
        )
        return np.asarray(fft.rfft2(nodes.take(row, axis=0).take(column, axis=1)))

    def means(self, fields: Transforms, swing: Swing) -> Raster:
        """The mean of fields, one a direction, over the balls of a swing from every node: (d, rows, columns)."""
        correlated = fft.irfft2(fields * swing.carries, s=self.size, overwrite_x=True)
        found = np.empty((len(correlated), *self.nodes), dtype=np.float32)
        row, column = (
            np.clip(np.arange(count) + self.pad + by[:, None], 0, count + 2 * self.pad - 1)
            for count, by in zip(self.nodes, (swing.up, swing.right), strict=True)
        )
        for number, transformed in enumerate(correlated):
            transformed.take(row[number], axis=0).take(column[number], axis=1, out=found[number], mode="clip")
        return found


@dataclass(frozen=True, eq=False)
class Swing:
    """An option of one lie, ready to be played anywhere: the transform of its carries in every direction that is tried
    (d, ...), where each carry's middle lies from the ball in nodes (d,), how far it runs, how it falls, and its
    flight."""

    option: int
    aims: npt.NDArray[np.intp]
    carries: Transforms
    up: npt.NDArray[np.intp]
    right: npt.NDArray[np.intp]
    run_yd: int
    fall: float
    carry_yd: float
    flight: Flight
    low: bool

    def only(self, keep: npt.NDArray[np.bool_]) -> Swing:
        """The same in fewer directions."""
        aims, carries = self.aims[keep], self.carries[keep]
        return replace(self, aims=aims, carries=carries, up=self.up[keep], right=self.right[keep])


def swing_of(
    number: int, option: Option, grid: HoleGrid, frame: Frame, tried: npt.NDArray[np.intp], day: Day, balls: int
) -> Swing:
    """Option `number` of its lie with `balls` balls in the directions `tried`, places in the grid's."""
    landings = option.landings
    pick = landings.evenly(balls)
    aims = grid.aims[tried]
    shots = flown((0.0, 0.0), aims, landings.right[pick], landings.along[pick], option.flight, day)
    run = float(np.hypot(shots.x - shots.carry_x, shots.y - shots.carry_y).mean())
    run_yd = round(run / RUN_STEP_YD) * RUN_STEP_YD
    # a ball lands where its run, rounded to cells, leads to its rest: the rounding moves the landing
    run_up, run_right = grid.steps(aims, run_yd)
    up = (shots.y - run_up[:, None] * grid.cell) / grid.spacing
    right = (shots.x - run_right[:, None] * grid.cell) / grid.spacing
    mid_up, mid_right = (np.floor(one.mean(axis=1)).astype(np.intp) for one in (up, right))
    carries = _transformed(up - mid_up[:, None], right - mid_right[:, None], frame)
    slope = float(np.tan(np.radians(option.flight.descent_deg)))
    fall = 0.0 if option.low else round(slope / FALL_STEP) * FALL_STEP
    carry = float(np.hypot(shots.carry_x, shots.carry_y).mean())
    return Swing(number, tried, carries, mid_up, mid_right, run_yd, fall, carry, option.flight, option.low)


def _transformed(up: Floats, right: Floats, frame: Frame) -> Transforms:
    """The transform of carries (d, n) around their middles, each ball shared among the four nodes around it."""
    high, wide = frame.size
    up, right = (np.clip(_less_spread(one), -frame.pad, frame.pad - 1.001) for one in (up, right))
    low_up, low_right = np.floor(up).astype(np.intp), np.floor(right).astype(np.intp)
    share_up, share_right = up - low_up, right - low_right
    aim = np.arange(len(up))[:, None] * (high * wide)
    rows = (low_up % high * wide + aim, 1 - share_up), ((low_up + 1) % high * wide + aim, share_up)
    columns = (low_right % wide, 1 - share_right), ((low_right + 1) % wide, share_right)
    places = [(row + column).ravel() for row, _ in rows for column, _ in columns]
    shares = [(by_up * by_right).ravel() for _, by_up in rows for _, by_right in columns]
    found = np.bincount(np.concatenate(places), np.concatenate(shares), minlength=len(up) * high * wide)
    kernel = (found / up.shape[1]).astype(np.float32).reshape(len(up), high, wide)
    return np.asarray(np.conj(fft.rfft2(kernel)))


def _less_spread(places: Floats) -> Floats:
    """Balls drawn towards their middle (d, n), in nodes, by what the grid will spread them again: sharing a ball among
    nodes adds 1/6 of a squared spacing on average, the mean over a node's cells 1/12 (Silverman and Young, Biometrika
    74 (1987) 469-479, for the same with a kernel)."""
    middle = places.mean(axis=1, keepdims=True)
    spread = places.var(axis=1, keepdims=True)
    kept = np.sqrt(np.clip(1 - GRID_SPREAD / np.maximum(spread, 1e-9), 0.0, 1.0))
    return np.asarray(middle + kept * (places - middle))
