"""What was worked out from a player's log and is still true: kept in memory, as long as the log stays as it was.

A key holds the log's mark, so that one more change makes every cached answer unreachable; the oldest go first. Records
can also be derived anew by `check --rebuild` without a change of the log: so nothing stays cached for longer than a few
minutes. Who was erased is forgotten at once in the process that erased, and in others by age.
"""

from __future__ import annotations

import hashlib
from collections.abc import Hashable, Sequence
from functools import partial
from typing import Final

from flask import current_app

from server import VERSION
from server.analysis.evidence.tallies import Tally
from server.analysis.expected_strokes.baseline import Baseline
from server.api.database import metrics, shared_store
from server.questions.cache import Cache
from server.store.engine import steps

MOST_FRAMES: Final = 16
"""Frames of valued shots; a season of 5,000 shots is about 4 MB."""
MOST_SHOTS: Final = 100_000
"""In all cached frames together: whoever asks a long log for one span after another fills no memory with it."""
MOST_TALLIES: Final = 2_000
MOST_HOLES: Final = 1_000_000
"""In all cached tallies together, 90 bytes each: a squad of 1,800 players of 30 rounds."""
MOST_ANSWERS: Final = 512
LARGEST_ANSWER: Final = 100_000
"""Bytes; longer answers are made anew, but for those about many players."""
MOST_LARGE_ANSWERS: Final = 8
MOST_PLANS: Final = 36
LARGEST_OF_MANY: Final = 2_000_000
"""Bytes of an answer about many players: the chance of each rank of 300 has 700 kB."""


def _cache(name: str, made: Cache) -> Cache:
    found: Cache = current_app.extensions.setdefault(f"pencilbag_cache_{name}", made)
    found.count = partial(metrics().looked_up, name)
    return found


def cached_frames() -> Cache:
    """Frames of valued shots of this application."""
    return _cache("frames", Cache(MOST_FRAMES, weigh=len, heaviest=MOST_SHOTS))


def cached_tallies() -> Cache:
    """Tallies of players: their rounds by hole and category, which squads, pairs and holes are judged by."""
    return _cache("tallies", Cache(MOST_TALLIES, weigh=_holes, heaviest=MOST_HOLES))


def _holes(tally: Tally) -> int:
    return int(tally.hole.size)


def cached_lines() -> Cache:
    """Players as a coach's list has them."""
    return _cache("lines", Cache(MOST_ANSWERS))


def cached_answers() -> Cache:
    """Answers as they were sent."""
    return _cache("answers", Cache(MOST_ANSWERS))


def shared_name(
    endpoint: str | None, mark: str, baselines: Sequence[Baseline | None], words: Sequence[tuple[str, str]]
) -> str:
    """What an answer about a player is called in the store that servers share: the same in every process."""
    named = [None if one is None else one.fingerprint for one in baselines]
    return hashlib.sha256(repr((VERSION, steps()[-1], endpoint, mark, named, words)).encode()).hexdigest()


def kept_answer(player_id: str, key: Hashable, name: str) -> str | None:
    """The answer that is kept here, or by another server. What is kept here goes when one of them erased somebody."""
    shared = shared_store()
    if shared is not None and shared.erased_elsewhere():
        clear_caches()
    text: str | None = cached_answers().get(key)
    if text is None and shared is not None and (text := shared.answer(player_id, name)) is not None:
        cached_answers().put(key, text)
    return text


def keep_answer(player_id: str, key: Hashable, name: str, text: str) -> None:
    """Keep an answer as it was sent, unless it is long; `key`: here, `name`: for other servers."""
    if len(text) > LARGEST_ANSWER:
        return
    cached_answers().put(key, text)
    if (shared := shared_store()) is not None:
        shared.keep_answer(player_id, name, text)


def cached_large_answers() -> Cache:
    """Longer answers about many players as they were sent."""
    return _cache("large_answers", Cache(MOST_LARGE_ANSWERS))


def cached_plans() -> Cache:
    """Plans, bags and predicted rounds as documents: two rounds of eighteen holes, about 0.5 MB each."""
    return _cache("plans", Cache(MOST_PLANS))


def clear_caches() -> None:
    """Keep nothing of what this application has worked out."""
    for cache in (cached_frames, cached_tallies, cached_lines, cached_answers, cached_large_answers, cached_plans):
        cache().clear()
