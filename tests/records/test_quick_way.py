"""The quick way types what the schema types, and takes nothing that the schema refuses."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from marshmallow import ValidationError

from server.records.changes import ChangeSchema
from server.records.quick import quick_load
from server.records.schemas import SCHEMAS
from tests.records.made import BODIES, body_of, change, named
from tests.tiers import count

ENVELOPE = ChangeSchema()
QUICK = sorted(set(SCHEMAS) - {"hole_map"})
"""A map's polygons are always left to the schema."""

ODD = (None, True, False, 0, 1, 1.0, -1, 2.5, 1e9, float("inf"), "", "x", "fairway", "2026-05-01", "2026-02-30", "\0")
VALUES = st.sampled_from([*ODD, named("x"), named("x").upper(), [], [1], [named("x")] * 2, {}, {"number": 1}])


def by_schema(kind: str, body: Any) -> Any:
    """What the schema alone makes of a body; None where it refuses."""
    schema = SCHEMAS.get(kind, ENVELOPE)
    try:
        return schema.load(copy.deepcopy(body))
    except ValidationError:
        return None


def places(value: Any) -> Iterator[tuple[Any, Any]]:
    """Every dict or list inside, with each of its keys or places."""
    if isinstance(value, dict | list):
        for key in value if isinstance(value, dict) else range(len(value)):
            yield value, key
            yield from places(value[key])


def told(value: Any) -> Any:
    """A value that is compared with its types, for 1, 1.0 and True are equal, and without the order of keys."""
    if isinstance(value, dict):
        return {key: told(inside) for key, inside in value.items()}
    if isinstance(value, list):
        return [told(inside) for inside in value]
    return type(value), repr(value)


@pytest.mark.parametrize("kind", QUICK)
def test_sound_bodies_go_the_quick_way(kind: str) -> None:
    body = body_of(kind)
    assert quick_load(SCHEMAS[kind], body) == by_schema(kind, body) != None  # noqa: E711


def test_an_envelope_goes_the_quick_way() -> None:
    raw = change("club", {"label": "x"})
    assert quick_load(ENVELOPE, raw) == by_schema("envelope", raw) != None  # noqa: E711


@pytest.mark.parametrize("kind", [*SCHEMAS, "envelope"])
@settings(max_examples=count(50, 300))
@given(data=st.data())
def test_whatever_is_odd_is_typed_alike_or_left_to_the_schema(kind: str, data: st.DataObject) -> None:
    schema = SCHEMAS.get(kind, ENVELOPE)
    body = copy.deepcopy(BODIES[kind]) if kind in BODIES else change("club", {"label": "x"})
    for name in data.draw(st.lists(st.sampled_from([*schema.fields, "unknown"]), max_size=2)):
        body[name] = copy.deepcopy(data.draw(VALUES))
    for _ in range(data.draw(st.integers(0, 2))):
        inside, key = data.draw(st.sampled_from(list(places(body))))
        inside[key] = copy.deepcopy(data.draw(VALUES))
    if data.draw(st.booleans()):
        body.pop(data.draw(st.sampled_from(list(body))))
    before = copy.deepcopy(body)
    found = quick_load(schema, body)
    assert repr(body) == repr(before)
    if found is not None:
        assert told(found) == told(by_schema(kind, body))
