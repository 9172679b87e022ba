"""The fold: hand-made cases shared with the devices, and its laws."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.records.fold import DELETE, PUT, Version, fold
from tests.records.made import named

CASES = json.loads((Path(__file__).parents[1] / "vectors" / "fold.json").read_text(encoding="utf-8"))["cases"]


def version(raw: dict[str, Any]) -> Version:
    """A change of a case as the fold takes it."""
    return Version(raw["change_id"], tuple(raw["parents"]), raw["op"], raw["effective_time"], raw.get("body"))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_the_shared_cases(case: dict[str, Any]) -> None:
    folded = fold(version(raw) for raw in case["changes"])
    assert [leaf.change_id for leaf in folded.leaves] == case["leaves"]
    assert folded.head.change_id == case["head"] == case["leaves"][0]
    assert folded.deleted is case["deleted"]
    assert (folded.speaks.change_id if folded.speaks else None) == case["speaks"]


def test_a_record_has_at_least_one_change() -> None:
    with pytest.raises(ValueError, match="at least one"):
        fold([])


def v(name: str, parents: str = "", op: str = PUT, time: str = "1") -> Version:
    """A change by one-letter names."""
    return Version(named(name), tuple(named(parent) for parent in parents), op, time)


def leaves(*versions: Version) -> list[str]:
    return [leaf.change_id for leaf in fold(versions).leaves]


def test_by_hand() -> None:
    # a chain has one leaf, whatever its clocks say
    assert leaves(v("a", time="9"), v("b", "a", time="5"), v("c", "b", time="1")) == [named("c")]
    # of two concurrent edits the later one speaks, the other stays
    assert leaves(v("a"), v("b", "a", time="2"), v("c", "a", time="3")) == [named("c"), named("b")]
    # an edit beats a concurrent delete, however late the delete
    assert leaves(v("a"), v("b", "a", time="2"), v("c", "a", DELETE, time="9")) == [named("b"), named("c")]
    # a delete after an edit deletes
    assert fold([v("a"), v("b", "a"), v("c", "b", DELETE)]).deleted is True
    # a merge leaves one
    assert leaves(v("a"), v("b", "a"), v("c", "a"), v("d", "bc")) == [named("d")]
    # a parent that is not here yet is waited for, not missed
    assert leaves(v("b", "a")) == [named("b")]
    # the same time: the greater id, on every device
    assert leaves(v("a"), v("b")) == sorted([named("a"), named("b")], reverse=True)


@st.composite
def histories(draw: st.DrawFn) -> list[Version]:
    """Changes whose parents are any of the changes before them, some of which are withheld."""
    size = draw(st.integers(1, 9))
    made: list[Version] = []
    for number in range(size):
        parents = draw(st.sets(st.integers(0, number - 1), max_size=3)) if number else set()
        op = draw(st.sampled_from([PUT, PUT, DELETE]))
        time = f"2026-05-01T00:00:00.{draw(st.integers(0, 3)):03d}Z"
        ids = tuple(sorted(named(str(parent)) for parent in parents))
        made.append(Version(named(str(number)), ids, op, time, f"body {number}"))
    return draw(st.lists(st.sampled_from(made), min_size=1, unique=True))


@given(histories(), st.randoms(use_true_random=False))
def test_the_order_of_arrival_does_not_matter_nor_does_arriving_twice(made: list[Version], random: Any) -> None:
    shuffled = [*made, random.choice(made)]
    random.shuffle(shuffled)
    assert fold(shuffled) == fold(made)


@given(histories())
def test_laws_of_the_fold(made: list[Version]) -> None:
    folded = fold(made)
    ids = {leaf.change_id for leaf in folded.leaves}
    named_as_parent = {parent for change in made for parent in change.parents}
    assert ids == {change.change_id for change in made} - named_as_parent
    puts = [leaf for leaf in folded.leaves if leaf.op == PUT]
    assert folded.deleted is (not puts)
    rivals = puts or folded.leaves
    assert folded.head == max(rivals, key=lambda leaf: (leaf.effective_time, leaf.change_id))
    every_put = [change for change in made if change.op == PUT]
    latest = max(every_put, key=lambda change: (change.effective_time, change.change_id), default=None)
    assert folded.speaks == (folded.head if puts else latest)


@given(histories(), st.sampled_from([PUT, DELETE]))
def test_a_change_that_names_all_leaves_is_the_only_leaf(made: list[Version], op: str) -> None:
    last = Version(named("last"), tuple(leaf.change_id for leaf in fold(made).leaves), op, "0000")
    folded = fold([*made, last])
    assert folded.leaves == [last]
    assert folded.deleted is (op == DELETE)


def test_a_ring_of_parents_still_has_a_head() -> None:
    ring = [v("a", "b", time="1"), v("b", "a", time="2")]
    assert fold(ring).head.change_id == named("b")
