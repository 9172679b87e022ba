"""What was worked out from a player's log and is still true: kept in memory, as long as the log stays as it was.

A key holds the log's mark, so that one more change makes every cached answer unreachable; the oldest go first. Records
can also be derived anew by `check --rebuild` without a change of the log: so nothing stays cached for longer than a few
minutes. Who was erased is forgotten at once in the process that erased, and in others by age.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from functools import partial
from threading import Lock
from typing import Any, Final
from uuid import UUID

import pandas as pd
from flask import Response, current_app, request
from sqlalchemy import Connection

from server.analysis.expected_strokes.baseline import Baseline
from server.api.baselines import named_baseline
from server.api.database import engine, metrics
from server.api.players import known_player
from server.questions.valued_shots import scheme_of, valued_shots
from server.store.engine import reading
from server.store.frames import Selection
from server.store.players import Player
from server.store.season_rows import log_marks

LONGEST_S: Final = 150.0
"""An answer made from a frame that was nearly as old is told for as long again: five minutes in all."""
MOST_FRAMES: Final = 16
"""Frames of valued shots; a season of 5,000 shots is about 4 MB."""
MOST_SHOTS: Final = 100_000
"""In all cached frames together: whoever asks a long log for one span after another fills no memory with it."""
MOST_ANSWERS: Final = 512
LARGEST_ANSWER: Final = 100_000
"""Bytes; longer answers are made anew."""


class Cache:
    """A few values by key, the latest used stay; safe between threads. `clock`: seconds that only grow; `weigh`:
    what a value weighs, of which all together are at most `heaviest`: one that is heavier by itself is not kept;
    `count`: learns of each look-up whether the value was there."""

    def __init__(
        self,
        most: int,
        longest_s: float = LONGEST_S,
        clock: Callable[[], float] = time.monotonic,
        *,
        weigh: Callable[[Any], int] = lambda _: 0,
        heaviest: int = 0,
        count: Callable[[bool], None] = lambda _: None,
    ) -> None:
        self.most, self.longest_s, self.clock = most, longest_s, clock
        self.weigh, self.heaviest, self.count = weigh, heaviest, count
        self._values: OrderedDict[Hashable, tuple[float, Any]] = OrderedDict()
        self._lock = Lock()
        self._making: dict[Hashable, Lock] = {}

    def get(self, key: Hashable) -> Any:
        """The value, or None when it is not kept or too old."""
        with self._lock:
            self._end_old()
            found = self._values.get(key)
            if found is not None:
                self._values.move_to_end(key)
        self.count(found is not None)
        return None if found is None else found[1]

    def _peek(self, key: Hashable) -> Any:
        with self._lock:
            found = self._values.get(key)
        return None if found is None else found[1]

    def put(self, key: Hashable, value: Any) -> None:
        """Keep it; the one that was not used for longest goes."""
        with self._lock:
            self._end_old()
            self._values.pop(key, None)
            if self.weigh(value) > self.heaviest:
                return
            self._values[key] = (self.clock(), value)
            self._values.move_to_end(key)
            while len(self._values) > self.most or self._weight() > self.heaviest:
                self._values.popitem(last=False)

    def _weight(self) -> int:
        return sum(self.weigh(value) for _, value in self._values.values())

    def clear(self) -> None:
        """Keep nothing of what there is."""
        with self._lock:
            self._values.clear()

    def _end_old(self) -> None:
        """Let go of what is too old, asked for or not: it may be large, and of a player who was erased since."""
        oldest = self.clock() - self.longest_s
        for key in [key for key, (made_at, _) in self._values.items() if made_at < oldest]:
            del self._values[key]

    def get_or_make(self, key: Hashable, make: Callable[[], Any]) -> Any:
        """The value, made by one thread while the others that want it wait: a page asks for several groupings of the
        same shots at once. What `make` raises is raised, and the next one tries again."""
        found = self.get(key)
        if found is not None:
            return found
        with self._lock:
            making = self._making.setdefault(key, Lock())
        with making:
            found = self._peek(key)
            try:
                if found is None:
                    found = make()
                    self.put(key, found)
            finally:
                with self._lock:
                    self._making.pop(key, None)
        return found


def _cache(name: str, made: Cache) -> Cache:
    found: Cache = current_app.extensions.setdefault(f"pencilbag_cache_{name}", made)
    found.count = partial(metrics().looked_up, name)
    return found


def cached_frames() -> Cache:
    """Frames of valued shots of this application."""
    return _cache("frames", Cache(MOST_FRAMES, weigh=len, heaviest=MOST_SHOTS))


def cached_lines() -> Cache:
    """Players as a coach's list has them."""
    return _cache("lines", Cache(MOST_ANSWERS))


def cached_answers() -> Cache:
    """Answers as they were sent."""
    return _cache("answers", Cache(MOST_ANSWERS))


def clear_caches() -> None:
    """Keep nothing of what this application has worked out."""
    for cache in (cached_frames(), cached_lines(), cached_answers()):
        cache.clear()


def log_mark(connection: Connection, player_id: str) -> str:
    """What the player's log is at this moment: another change makes another mark."""
    return "; ".join(f"{known} {chain}" for known, chain in log_marks(connection, [player_id]))


def cached_shots(connection: Connection, player: Player, selection: Selection, baseline: Baseline) -> pd.DataFrame:
    """The valued shots, worked out once for everything that asks for them while log and baseline stay. Never change the
    frame: it is everybody's."""
    key = (log_mark(connection, player.player_id), selection, baseline)
    scheme = scheme_of(player)
    found: pd.DataFrame = cached_frames().get_or_make(
        key, lambda: valued_shots(connection, selection, baseline, scheme)
    )
    return found


def answered(player_id: UUID, query: dict[str, Any], make: Callable[[], Any]) -> Response:
    """The answer that this question had before, while log and baseline are the same; else what `make` answers.

    404 for the player or the baseline, and whatever `make` raises. The mark is read before the records: an answer is
    never older than its mark.
    """
    with reading(engine()) as connection:
        player = known_player(connection, player_id)
        mark = log_mark(connection, player.player_id)
    baseline = named_baseline(query.get("baseline", player.baseline))
    asked = tuple(sorted((name, str(value)) for name, value in query.items()))
    # the baseline itself is in the key: a file that changed is another one, however it is called
    key = (request.endpoint, player.player_id, mark, baseline, asked)
    answers = cached_answers()
    text = answers.get(key)
    if text is None:
        text = current_app.json.dumps(make(), separators=(",", ":"), allow_nan=False)
        if len(text) <= LARGEST_ANSWER:
            answers.put(key, text)
    return Response(text + "\n", content_type="application/json")
