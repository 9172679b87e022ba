"""Every field of every kind: what it takes at the edges, what it refuses just beyond, and how the fault says so."""

from __future__ import annotations

import math
from typing import Any

import pytest

from server.records.schemas import SCHEMAS
from server.records.validation import InvalidError, load
from tests.records.made import BODIES, body_of, named

NOT_NUMBERS = ["400", True, [400], {"yd": 400}]
NOT_FINITE = [math.nan, math.inf, -math.inf]

# kind, field, the range as it is said, values taken, values refused
NUMBERS: list[tuple[str, str, str, list[Any], list[Any]]] = [
    ("player", "short_game_yd", "above 0 to 200 yd", [0.01, 50, 200], [0, -1, 200.01]),
    ("club", "loft_deg", "0 to 80 degrees", [0, 9.5, 80], [-0.1, 80.1]),
    ("setup", "loft_deg", "0 to 80 degrees", [0, 9.5, 80], [-0.1, 80.1]),
    ("round", "wind_mph", "0 to 100 mph", [0, 100], [-1, 100.5]),
    ("round", "temperature_c", "-30 to 60 degrees C", [-30, 0, 60], [-31, 61]),
    ("round", "green_speed_ft", "3 to 20 ft", [3, 9.5, 20], [2.9, 20.1, 0]),
    ("shot", "distance_yd", "above 0 to 700 yd", [0.001, 400, 700], [0, -0.0, -5, 700.001, 1e9, 10**30]),
    ("shot", "target_yd", "above 0 to 700 yd", [0.5, 700], [0, 701]),
    ("shot", "right_yd", "-300 to 300 yd", [-300, 0, 300], [-300.1, 300.1]),
    ("shot", "carry_yd", "above 0 to 400 yd", [0.5, 400], [0, -1, 400.1]),
    ("shot", "long_yd", "-700 to 300 yd", [-700, 0, 300], [-700.1, 300.1]),
    ("practice_ball", "target_yd", "above 0 to 700 yd", [0.5, 700], [0, 701]),
    ("practice_ball", "carry_yd", "above 0 to 400 yd", [0.5, 400], [0, -1, 400.1]),
    ("practice_ball", "total_yd", "above 0 to 500 yd", [0.5, 500], [0, 500.1]),
    ("practice_ball", "right_yd", "-300 to 300 yd", [-300, 0, 300], [-300.1, 300.1]),
    ("practice_ball", "long_yd", "-700 to 300 yd", [-700, 0, 300], [-700.1, 300.1]),
    ("practice_ball", "length_ft", "above 0 to 150 ft", [0.1, 150], [0, 150.1]),
    ("practice_ball", "left_ft", "above 0 to 900 ft", [0.1, 900], [0, 900.1]),
]
WHOLES: list[tuple[str, str, str, list[Any], list[Any]]] = [
    ("shot", "hole", "1 to 36, whole numbers", [1, 36, 18.0], [0, 37, 1.5, -1, 10**30]),
    ("shot", "ball", "1 to 30, whole numbers", [1, 30], [0, 31]),
    ("shot", "order", "1 to 99, whole numbers", [1, 99], [0, 100]),
    ("shot", "penalty_strokes", "0 to 2, whole numbers", [0], [-1, 3, 0.5]),
    ("hole_map", "hole", "1 to 36, whole numbers", [1, 36], [0, 37]),
    ("practice_ball", "order", "1 to 2000, whole numbers", [1, 2000], [0, 2001]),
    ("round", "holes_meant", "1 to 36, whole numbers", [1, 9, 36], [0, 37, 9.5]),
]
TEXTS = [
    ("player", "name", 1, 80),
    ("player", "baseline", 1, 80),
    ("club", "label", 1, 60),
    ("setup", "note", 0, 500),
    ("setup", "shaft", 0, 120),
    ("setup", "ball", 0, 120),
    ("course", "name", 1, 120),
    ("round", "tees", 0, 60),
    ("round", "note", 0, 2000),
    ("round", "ball_label", 1, 60),
    ("shot", "note", 0, 2000),
    ("shot", "at", 0, 40),
    ("session", "note", 0, 2000),
    ("session", "ball_label", 1, 60),
    ("session", "from_file", 0, 120),
    ("session", "at", 0, 40),
    ("practice_ball", "at", 0, 40),
]
CHOICES = {
    ("player", "plays"): "right, left",
    ("player", "units"): "yards, metres",
    ("player", "category_scheme"): "four_part, three_part",
    ("club", "sort"): "driver, wood, hybrid, iron, wedge, putter",
    ("round", "kind"): "practice, casual, competition",
    ("round", "firmness"): "soft, medium, firm",
    ("round", "lengths_taken"): "paced, laser, guessed, position, map",
    ("shot", "lie"): "tee, fairway, fringe, rough, sand, recovery, green",
    ("shot", "end_lie"): "tee, fairway, fringe, rough, sand, recovery, green",
    ("shot", "penalty_reason"): "out_of_bounds, lost, penalty_area, unplayable, other",
    ("shot", "swing"): "full, part",
    ("shot", "planned_shape"): "draw, straight, fade",
    ("shot", "planned_height"): "low, normal, high",
    ("shot", "actual_shape"): "draw, straight, fade",
    ("shot", "strike"): "centre, heel, toe, high, low, thin, fat",
    ("session", "place"): "range, putting_green, short_game",
    ("practice_ball", "lie"): "tee, fairway, rough, sand",
    ("practice_ball", "swing"): "full, part",
    ("practice_ball", "planned_shape"): "draw, straight, fade",
    ("practice_ball", "actual_shape"): "draw, straight, fade",
    ("practice_ball", "strike"): "centre, heel, toe, high, low, thin, fat",
}
IDENTITIES = [
    ("setup", "club_id"),
    ("hole_map", "course_id"),
    ("round", "course_id"),
    ("shot", "round_id"),
    ("shot", "club_id"),
    ("practice_ball", "session_id"),
    ("practice_ball", "club_id"),
    ("practice_ball", "duel_id"),
]
DAYS = [("club", "retired_on"), ("setup", "since"), ("round", "played_on"), ("session", "date")]
FLAGS = [
    ("player", "shares_positions"),
    ("club", "on_trial"),
    ("round", "closed"),
    ("round", "stopped"),
    ("shot", "holed"),
    ("shot", "picked_up"),
    ("shot", "provisional"),
    ("session", "closed"),
    ("practice_ball", "holed"),
]


def the_fault(kind: str, /, **fields: Any) -> Any:
    """The single fault of a sound body with these fields."""
    with pytest.raises(InvalidError) as refused:
        load(kind, body_of(kind, **fields))
    (fault,) = refused.value.faults
    return fault


@pytest.mark.parametrize(("kind", "field", "words", "taken", "refused"), NUMBERS + WHOLES)
def test_a_number_is_taken_up_to_its_edges_and_refused_beyond(
    kind: str, field: str, words: str, taken: list[Any], refused: list[Any]
) -> None:
    for value in taken:
        assert load(kind, body_of(kind, **{field: value}))[field] == value
    for value in refused:
        fault = the_fault(kind, **{field: value})
        assert (fault.field, fault.range) == (field, words)
        assert fault.value == repr(value)[:80]
        assert fault.message in ("is outside its range", "is not a whole number")


@pytest.mark.parametrize(("kind", "field"), [case[:2] for case in NUMBERS + WHOLES])
@pytest.mark.parametrize("value", NOT_NUMBERS + NOT_FINITE)
def test_a_number_is_a_finite_json_number(kind: str, field: str, value: Any) -> None:
    fault = the_fault(kind, **{field: value})
    assert fault.field == field
    assert fault.message in ("is not a number", "is not a finite number", "is not a whole number")


@pytest.mark.parametrize(("kind", "field", "shortest", "longest"), TEXTS)
def test_text_has_a_stated_length_and_only_characters_that_can_be_kept(
    kind: str, field: str, shortest: int, longest: int
) -> None:
    for good in ("x" * longest, "x" * max(shortest, 1), "Ä ⛳ 五\n"):
        assert load(kind, body_of(kind, **{field: good}))[field] == good
    beyond = ["x" * (longest + 1)] + ([""] if shortest else [])
    for bad in beyond:
        fault = the_fault(kind, **{field: bad})
        assert (fault.field, fault.range) == (field, f"{shortest} to {longest} characters")
        assert fault.message == "has the wrong length"
    for bad in ("a\0b", "a\ud800b", "\udfff"):
        assert the_fault(kind, **{field: bad}).message == "holds a character that cannot be stored"
    assert the_fault(kind, **{field: 5}).field == field


@pytest.mark.parametrize(("place", "names"), CHOICES.items())
def test_a_choice_takes_its_names_alone(place: tuple[str, str], names: str) -> None:
    kind, field = place
    for name in names.split(", "):
        more = {"end_distance_yd": 5} if field == "end_lie" else {}
        more |= {"distance_yd": 5} if name == "green" and field == "lie" else {}
        assert load(kind, body_of(kind, **{field: name}, **more))[field] == name
    for bad in ("TEE", "Right", "bush", "", names, 1, True, ["tee"]):
        fault = the_fault(kind, **{field: bad})
        assert (fault.field, fault.range) == (field, names)


@pytest.mark.parametrize(("kind", "field"), IDENTITIES)
def test_an_id_is_a_uuid(kind: str, field: str) -> None:
    assert str(load(kind, body_of(kind, **{field: named("a").upper()}))[field]) == named("a")
    for bad in ("", "7", named("a") + "0", 7, "g" * 36, "\ud800"):
        fault = the_fault(kind, **{field: bad})
        assert (fault.field, fault.range, fault.message) == (field, "a UUID", "is not a UUID")


@pytest.mark.parametrize(("kind", "field"), DAYS)
def test_a_day_is_a_day(kind: str, field: str) -> None:
    for good in ("2024-02-29", "0001-01-01", "9999-12-31"):
        assert load(kind, body_of(kind, **{field: good}))[field].isoformat() == good
    for bad in ("2026-02-29", "2026-13-01", "20260501", "2026-W01-1", "yesterday", "", 20260501, "2026-05-01T10:00"):
        fault = the_fault(kind, **{field: bad})
        assert (fault.field, fault.range, fault.message) == (field, "a day, YYYY-MM-DD", "is not a day")


@pytest.mark.parametrize(("kind", "field"), FLAGS)
def test_a_flag_is_true_or_false(kind: str, field: str) -> None:
    assert load(kind, body_of(kind, **{field: False}))[field] is False
    for bad in ("yes", 1, 0, "true"):
        fault = the_fault(kind, **{field: bad})
        assert (fault.field, fault.range) == (field, "true or false")


def test_every_field_of_every_kind_is_in_one_of_these_tests() -> None:
    tested = {case[:2] for case in [*NUMBERS, *WHOLES, *TEXTS]} | set(CHOICES)
    tested |= {*IDENTITIES, *DAYS, *FLAGS}
    between = {
        ("shot", "end_distance_yd"),
        ("shot", "position"),
        ("course", "tees"),
        ("hole_map", "features"),
        ("hole_map", "walk"),
        ("round", "holes"),
        ("round", "bag"),
        ("round", "closings"),
        ("round", "hole_conditions"),
    }
    assert {(kind, name) for kind, schema in SCHEMAS.items() for name in schema.fields} == tested | between


@pytest.mark.parametrize("kind", BODIES)
def test_required_fields_are_named_when_missing_and_unknown_ones_are_kept(kind: str) -> None:
    for name in BODIES[kind]:
        with pytest.raises(InvalidError) as refused:
            load(kind, {key: value for key, value in BODIES[kind].items() if key != name})
        assert [(fault.field, fault.message) for fault in refused.value.faults] == [(name, "is missing")]
    kept = load(kind, body_of(kind, moon={"phase": [1, None]}))
    assert kept["moon"] == {"phase": [1, None]}


def test_every_fault_is_named_at_once_in_words_that_tell_value_and_range() -> None:
    with pytest.raises(InvalidError) as refused:
        load("shot", body_of("shot", distance_yd=812, lie="bush", order="two"))
    assert sorted(map(str, refused.value.faults)) == [
        "distance_yd: 812 is outside its range (above 0 to 700 yd)",
        "lie: bush is not one of its values (tee, fairway, fringe, rough, sand, recovery, green)",
        "order: two is not a whole number (1 to 99, whole numbers)",
    ]
    assert refused.value.faults[0].as_dict().keys() == {"field", "value", "range", "message"}


@pytest.mark.parametrize("body", [None, 5, "x", [], [{}]])
def test_a_body_is_an_object(body: Any) -> None:
    with pytest.raises(InvalidError, match=r"body: .*is not an object"):
        load("shot", body)


def test_an_unknown_kind_is_named() -> None:
    with pytest.raises(InvalidError, match=r"kind: weather is not a kind of record \(player, club, setup"):
        load("weather", {})


def test_a_long_value_is_cut_in_the_message() -> None:
    fault = the_fault("shot", lie="x" * 5000)
    assert fault.value == "x" * 79 + "…"
