"""The answer to a push. What is wrong with its changes is reported as far as there is room: the answer is never
larger than
twice the push and `SPARE`, so that a small push cannot make a large answer."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any, Final

from server.api.answers import Pushed as PushedAnswer
from server.api.answers import Quarantined
from server.api.problems import problem_body
from server.records.validation import Fault
from server.store.log import Pushed

SPARE: Final = 100_000
"""Bytes of an answer beside twice the push."""
FRAME: Final = 500
"""Bytes of the answer's other members."""
BRIEFLY: Final = 3
"""Faults of a change of which not all can be reported."""


def pushed_answer(done: Pushed, sent: int) -> PushedAnswer:
    """The answer to a push of `sent` bytes. Each bad change is named with its faults; with fewer of them or none where
    there is no room, when the quarantine (`GET .../quarantine`) tells them; `not_listed` counts those that are not
    even named."""
    room = 2 * sent + SPARE - FRAME
    acknowledged = list(done.acknowledged)
    # Ids as devices make them always fit; of others (each letter written as six) what does not fit is sent again.
    while _size(acknowledged) > room // 2:
        del acknowledged[len(acknowledged) // 2 :]
    left = room - _size(acknowledged)
    bare = [_entry(change_id, ()) for change_id, _ in done.quarantined]
    sizes = [_size(entry) for entry in bare]
    spent = sum(sizes)
    while spent > left:
        spent -= sizes.pop()
    left -= spent
    entries = []
    for (change_id, faults), short, size in zip(done.quarantined, bare, sizes, strict=False):
        fuller = _fitting(change_id, faults, left + size)
        left -= 0 if fuller is None else _size(fuller) - size
        entries.append(fuller or short)
    return {
        "acknowledged": acknowledged,
        "quarantined": entries,
        "not_listed": len(done.quarantined) - len(entries),
        "received_at": done.received_at,
        "now": done.received_at,
    }


def _fitting(change_id: str | None, faults: Sequence[Fault], room: int) -> Quarantined | None:
    """The change with all its faults, else with the first few, as there is room."""
    for reported in (faults, faults[:BRIEFLY]):
        if room > FRAME and _size(entry := _entry(change_id, reported)) <= room:
            return entry
    return None


def _entry(change_id: str | None, faults: Sequence[Fault]) -> Quarantined:
    problem = problem_body(422, "; ".join(map(str, faults)), faults)
    if not faults:
        del problem["detail"]
    return {"change_id": change_id, "problem": problem}


def _size(value: Any) -> int:
    """Bytes of a value in the answer, or a few more."""
    return len(json.dumps(value)) + 2
