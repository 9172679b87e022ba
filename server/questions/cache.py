"""Values by key that are kept for a while, the latest used first."""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Any, Final

LONGEST_S: Final = 150.0
"""An answer made from a frame that was nearly as old is given for as long again: five minutes in all."""


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

    def get_or_renew(
        self, key: Hashable, holds: Callable[[Any], bool], renew: Callable[[Any], tuple[Any, bool]]
    ) -> Any:
        """The value while it `holds`; else what `renew` makes of the one that is kept (None without one), by one thread
        at a time. With it `renew` says whether it was made from that one: then it is as old as that one was."""
        found = self._held(key)
        self.count(found is not None and holds(found[1]))
        if found is not None and holds(found[1]):
            return found[1]
        with self._lock:
            making = self._making.setdefault(key, Lock())
        with making:
            try:
                found = self._held(key)
                if found is not None and holds(found[1]):
                    return found[1]
                value, from_it = renew(None if found is None else found[1])
                self.put(key, value)
                if found is not None and from_it:
                    self._as_old_as(key, value, found[0])
            finally:
                with self._lock:
                    self._making.pop(key, None)
        return value

    def _held(self, key: Hashable) -> tuple[float, Any] | None:
        with self._lock:
            self._end_old()
            found = self._values.get(key)
            if found is not None:
                self._values.move_to_end(key)
        return found

    def _as_old_as(self, key: Hashable, value: Any, made_at: float) -> None:
        with self._lock:
            kept = self._values.get(key)
            if kept is not None and kept[1] is value:
                self._values[key] = (made_at, value)
