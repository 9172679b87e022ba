"""The envelope of a change: what is checked before its body, and the fingerprint that tells two changes apart."""

from __future__ import annotations

import math
from typing import Any
from uuid import UUID, uuid4, uuid5

import pytest

from server.records.changes import (
    FutureTimeError,
    canonical,
    change_named,
    digest,
    parse_change,
    parse_time,
    put_of,
    words_of,
)
from server.records.validation import InvalidError
from tests.records.made import BODIES, body_of, change, named


def faults_of(raw: Any) -> list[tuple[str, str, str]]:
    """(field, value, message) of every fault."""
    with pytest.raises(InvalidError) as refused:
        parse_change(raw)
    return [(fault.field, fault.value, fault.message) for fault in refused.value.faults]


@pytest.mark.parametrize("kind", BODIES)
def test_a_sound_change_of_every_kind_is_taken_with_its_body_as_sent(kind: str) -> None:
    raw = change(kind, body_of(kind, moon="full"), parents=[named("p")])
    parsed = parse_change(raw)
    assert (parsed.change_id, parsed.record_id, parsed.parents) == (raw["change_id"], raw["record_id"], (named("p"),))
    assert parsed.body == canonical(raw["body"])
    assert parsed.fields["moon"] == "full"


@pytest.mark.parametrize("kind", BODIES)
def test_a_put_that_is_made_here_is_the_change_that_its_envelope_gives(kind: str) -> None:
    body, at = body_of(kind), "2026-05-01T10:00:00.123Z"
    raw = change(kind, body, parents=[named("p")], device_id="import", client_time=at)
    words = words_of(body)
    made_id = change_named(raw["record_id"], words)
    assert made_id == str(uuid5(UUID(raw["record_id"]), digest(body)))
    raw["change_id"] = made_id
    moment = parse_time(at, "client_time")
    made = put_of(made_id, raw["record_id"], kind, body, words, (named("p"),), "import", at, moment)
    assert made == parse_change(raw)


def test_a_delete_has_no_body() -> None:
    parsed = parse_change(change("shot"))
    assert (parsed.op, parsed.body, parsed.fields) == ("delete", None, {})


@pytest.mark.parametrize(
    ("field", "bad"),
    [
        ("change_id", "7"),
        ("change_id", None),
        ("record_id", 7),
        ("record_id", "\ud800"),
        ("kind", ""),
        ("kind", "k" * 41),
        ("kind", None),
        ("kind", "weather"),
        ("parents", None),
        ("parents", "none"),
        ("parents", {}),
        ("op", "patch"),
        ("op", None),
        ("device_id", ""),
        ("device_id", "d" * 81),
        ("device_id", "a\0b"),
        ("device_id", "\udfff"),
        ("client_time", ""),
        ("client_time", "noon"),
        ("client_time", 1_700_000_000),
        ("client_time", "2026-13-01T00:00:00Z"),
        ("schema_version", 0),
        ("schema_version", -1),
        ("schema_version", 1.5),
        ("schema_version", "1"),
        ("schema_version", True),
        ("schema_version", math.nan),
        ("schema_version", 10_001),
    ],
)
def test_each_member_of_the_envelope_is_checked_and_named(field: str, bad: Any) -> None:
    faults = faults_of(change("shot", BODIES["shot"]) | {field: bad})
    assert [fault[0] for fault in faults] == [field]


def test_members_that_are_missing_are_named_together() -> None:
    missing = {"change_id", "record_id", "kind", "parents", "op", "device_id", "client_time", "schema_version"}
    assert {(field, message) for field, _, message in faults_of({})} == {(name, "is missing") for name in missing}


@pytest.mark.parametrize("raw", [None, 5, "x", [], True])
def test_a_change_is_an_object(raw: Any) -> None:
    assert [(field, message) for field, _, message in faults_of(raw)] == [("body", "is not an object")]


def test_parents_are_ids_of_other_changes() -> None:
    raw = change("shot", BODIES["shot"])
    ((field, _, _),) = faults_of(raw | {"parents": [named("a"), "x"]})
    assert field == "parents.1"
    ((field, _, _),) = faults_of(raw | {"parents": [raw["change_id"]]})
    assert field == "parents"
    ((field, _, _),) = faults_of(raw | {"parents": [str(uuid4()) for _ in range(101)]})
    assert field == "parents"
    assert len(parse_change(raw | {"parents": [str(uuid4()) for _ in range(100)]}).parents) == 100


def test_a_put_needs_a_body_that_is_an_object() -> None:
    for body in (None, 5, "x", []):
        faults = faults_of(change("shot", BODIES["shot"]) | {"body": body})
        assert [(field, message) for field, _, message in faults] == [("body", "is not an object")]


def test_a_body_of_2_mb_is_too_large_and_one_just_below_1_mb_is_not() -> None:
    ((field, value, message),) = faults_of(change("shot", body_of("shot", diary="x" * 2_000_000)))
    assert (field, message) == ("body", "is too large")
    assert value.startswith("2000")
    assert parse_change(change("shot", body_of("shot", diary="x" * 990_000))).fields["diary"] == "x" * 990_000


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_numbers_that_json_does_not_know_are_refused_in_unknown_fields_too(bad: float) -> None:
    ((field, _, _),) = faults_of(change("shot", body_of("shot", moon=[bad])))
    assert field == "body"


def test_a_version_from_the_future_is_no_bad_change() -> None:
    with pytest.raises(FutureTimeError, match=r"schema_version: 2 is newer than this server \(1 to 1\)"):
        parse_change(change("shot", {"anything": "goes"}, schema_version=2))


def test_the_fingerprint_knows_order_of_keys_from_difference() -> None:
    raw = change("shot", BODIES["shot"], parents=[named("a"), named("b")])
    same = dict(reversed([*(raw | {"body": dict(reversed([*raw["body"].items()]))}).items()]))
    assert parse_change(same).digest == parse_change(raw).digest
    others = [
        {"body": body_of("shot", note="other")},
        {"record_id": str(uuid4())},
        {"parents": [named("a")]},
        {"client_time": "2026-05-01T09:30:00.001Z"},
        {"device_id": "tablet"},
        {"op": "delete", "body": None},
        {"kind": "club", "body": BODIES["club"]},
    ]
    digests = {parse_change(raw | other).digest for other in others}
    assert len(digests | {parse_change(raw).digest}) == len(others) + 1


def test_canonical_json_is_ascii_and_sorted() -> None:
    assert canonical({"b": "Ä", "a": [1, 2.5, None]}) == '{"a":[1,2.5,null],"b":"\\u00c4"}'
