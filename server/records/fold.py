"""Folding changes into a record, the same on the server and on every device.

Leaves are the changes of a record that no other change of it names as a parent. The head is the greatest leaf by
(not deleted, effective time, change id), so an edit beats a concurrent delete and clocks order only concurrent
edits. The put that speaks for the record is its head; of a deleted record it is the greatest put by (effective time,
change id), whether or not another change replaced it. The fold depends on the set of changes alone, never on the order
in which they arrived.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final, NamedTuple

PUT: Final = "put"
DELETE: Final = "delete"


class Version(NamedTuple):
    """What the fold needs of a change."""

    change_id: str
    parents: tuple[str, ...]
    op: str
    effective_time: str
    body: Any = None


class Folded(NamedTuple):
    """`leaves`, best first: the head is the first of them. `deleted`: whether the head is a delete. `speaks`: the put
    whose body the record shows, also when it is deleted; None when there never was one."""

    leaves: list[Version]
    deleted: bool
    speaks: Version | None

    @property
    def head(self) -> Version:
        """The greatest leaf: it says whether the record is there."""
        return self.leaves[0]


def rank(version: Version) -> tuple[bool, str, str]:
    """The order among leaves: the greatest is the head."""
    return (version.op != DELETE, version.effective_time, version.change_id)


def fold(versions: Iterable[Version]) -> Folded:
    """Fold all changes of one record. ValueError when there is none."""
    changes = {version.change_id: version for version in versions}
    if len(changes) == 1:
        leaves = list(changes.values())
        deleted = leaves[0].op == DELETE
        return Folded(leaves, deleted, None if deleted else leaves[0])
    if not changes:
        raise ValueError("changes: a record needs at least one")
    named = {parent for version in changes.values() for parent in version.parents if parent != version.change_id}
    # Parents that name each other in a ring (no honest device makes one) would leave no leaf: take all.
    leaves = [version for version in changes.values() if version.change_id not in named] or list(changes.values())
    leaves.sort(key=rank, reverse=True)
    if leaves[0].op != DELETE:
        return Folded(leaves, False, leaves[0])
    puts = (version for version in changes.values() if version.op != DELETE)
    return Folded(leaves, True, max(puts, key=rank, default=None))
