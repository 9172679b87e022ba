"""Ids that follow from a name: those of Python's `uuid.uuid5` (RFC 9562, section 5.5), one by one and together."""

from __future__ import annotations

import uuid
from itertools import repeat

from hypothesis import given
from hypothesis import strategies as st

from server.records.changes import change_named, changes_named
from server.records.named_ids import bytes_of, named_id, named_ids

UUIDS = st.uuids()
NAMED = st.lists(st.tuples(UUIDS, st.text()))


@given(NAMED)
def test_together_and_one_by_one_they_are_those_of_python(named: list[tuple[uuid.UUID, str]]) -> None:
    expected = [str(uuid.uuid5(space, name)) for space, name in named]
    assert named_ids([space.bytes for space, _ in named], [name for _, name in named]) == expected
    assert [named_id(bytes_of(str(space)), name) for space, name in named] == expected


@given(UUIDS, st.lists(st.text()))
def test_of_one_namespace(space: uuid.UUID, names: list[str]) -> None:
    assert named_ids(repeat(space.bytes), names) == [str(uuid.uuid5(space, name)) for name in names]


@given(NAMED)
def test_changes_are_named_together_as_one_by_one(named: list[tuple[uuid.UUID, str]]) -> None:
    records, words = [str(record) for record, _ in named], [word for _, word in named]
    assert changes_named(records, words) == list(map(change_named, records, words))
