"""Tallies of many players kept in a file without a name: in memory stay a few numbers of each.

A player's tally is about 50 kB a season; two thousand players' together would outgrow all else that an export holds.
"""

from __future__ import annotations

import json
import os
import tempfile
import weakref
from typing import NamedTuple

import numpy as np

from server.analysis.evidence.tallies import Tally


class _Place(NamedTuple):
    """Where a tally begins in the file, how many rounds and holes it has, and the bytes of its words."""

    start: int
    rounds: int
    holes: int
    words: int
    categories: tuple[str, ...]


class KeptTallies:
    """Tallies by player. The file lies in `TMPDIR`, 50 kB a player, and goes with this. Raises OSError."""

    def __init__(self) -> None:
        self._handle, name = tempfile.mkstemp(prefix=".tallies-")
        weakref.finalize(self, os.close, self._handle)
        os.unlink(name)
        self._size = 0
        self._places: dict[str, _Place] = {}

    def __contains__(self, player_id: str) -> bool:
        return player_id in self._places

    def keep(self, player_id: str, tally: Tally) -> None:
        """Keep the tally of a player."""
        words = json.dumps([list(column) for column in (tally.ids, tally.kind, tally.course)]).encode()
        numbers = (tally.strokes, tally.day, tally.round_, tally.hole, tally.par, tally.shots)
        content = b"".join(
            [*(array.astype(kind).tobytes() for array, kind in zip(numbers, _KINDS, strict=True)), words]
        )
        place = _Place(self._size, tally.day.size, tally.hole.size, len(words), tally.categories)
        self._places[player_id] = place
        while content:
            written = os.pwrite(self._handle, content, self._size)
            self._size += written
            content = content[written:]

    def tally(self, player_id: str) -> Tally:
        """The tally of a player. KeyError for one who has none."""
        start, rounds, holes, words, categories = self._places[player_id]
        many = len(categories)
        counts = (holes * many, rounds, holes, holes, holes, holes * many)
        size = sum(count * np.dtype(kind).itemsize for count, kind in zip(counts, _KINDS, strict=True))
        content = os.pread(self._handle, size + words, start)
        found, at = [], 0
        for count, kind in zip(counts, _KINDS, strict=True):
            found.append(np.frombuffer(content, kind, count, at))
            at += found[-1].nbytes
        strokes, day, round_, hole, par, shots = found
        ids, kinds, course = (np.array(column, dtype=object) for column in json.loads(content[size:]))
        by_category = (strokes.reshape(holes, many), shots.reshape(holes, many))
        return Tally(categories, ids, day, kinds, course, round_, hole, par, by_category[1], by_category[0])


_KINDS = ("f8", "i8", "i4", "i2", "i2", "i2")
"""Of strokes, days, rounds, holes, pars and shots."""
