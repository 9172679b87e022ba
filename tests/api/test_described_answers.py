"""The description names every operation and says what each answers; real answers are what it says: nothing unknown,
nothing missing, no other type."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

import pytest
from jsonschema_rs import Draft202012Validator

from server.api.operation_ids import OPERATION_IDS
from tests.api.asked_answers import Operation, World, asked, database_in, make_world, operations_of

Schema = dict[str, Any]


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    made = make_world(database_in(tmp_path_factory.mktemp("answers")))
    yield made
    made.house.engine.dispose()


@pytest.fixture(scope="module")
def described(world: World) -> Schema:
    found: Schema = world.app.test_client().get("/api/openapi.json").get_json()
    return found


@pytest.fixture(scope="module")
def operations(described: Schema) -> dict[str, Operation]:
    return operations_of(described)


def faults(described: Schema, schema: Schema, answer: Any) -> list[str]:
    """What is wrong with an answer, each with its place."""
    whole = schema | {"components": described["components"]}
    checker = Draft202012Validator(whole, validate_formats=True)
    return [f"{'/'.join(map(str, one.instance_path))}: {one.message}"[:300] for one in checker.iter_errors(answer)]


def test_every_operation_has_a_name_of_its_own(described: Schema) -> None:
    names = [
        operation.get("operationId")
        for methods in described["paths"].values()
        for method, operation in methods.items()
        if method != "parameters"
    ]
    assert sorted(names) == sorted(OPERATION_IDS.values())
    assert len(set(names)) == len(names)
    assert all(name.isidentifier() and name.islower() for name in names)


def test_every_json_answer_has_a_schema(described: Schema) -> None:
    for path, methods in described["paths"].items():
        for method, operation in methods.items():
            for status in {"200", "201"} & set(operation["responses"] if method != "parameters" else ()):
                for kind, content in operation["responses"][status].get("content", {}).items():
                    assert kind != "application/json" or content.get("schema"), f"{method} {path} {status}"
                assert operation["responses"][status].get("content"), f"{method} {path} {status}"


def test_every_operation_with_a_json_answer_is_asked(world: World, operations: dict[str, Operation]) -> None:
    with_json = {name for name, operation in operations.items() if operation.answers}
    assert {ask.operation for ask in world.asks} == with_json


def test_every_answer_is_what_its_schema_says(
    world: World, described: Schema, operations: dict[str, Operation]
) -> None:
    wrong = {}
    for ask in world.asks:
        answer = asked(world, operations, ask)
        schema = operations[ask.operation].answers.get(answer.status_code)
        assert schema is not None, f"{ask}: {answer.status_code} {answer.text[:300]}"
        if found := faults(described, schema, answer.get_json()):
            wrong[str(ask)] = found
    assert not wrong


def reached(described: Schema, operations: dict[str, Operation]) -> dict[str, Schema]:
    """The schemas by name that JSON answers lead to."""
    found: dict[str, Schema] = {}
    open_ = [schema for operation in operations.values() for schema in operation.answers.values()]
    while open_:
        one = open_.pop()
        if "$ref" in one:
            name = one["$ref"].rsplit("/", 1)[-1]
            if name not in found:
                found[name] = described["components"]["schemas"][name]
                open_.append(found[name])
        parts = [*one.get("properties", {}).values(), *one.get("anyOf", ()), *one.get("allOf", ())]
        open_ += [*parts, *(one[name] for name in ("items", "additionalProperties") if isinstance(one.get(name), dict))]
    return found


def test_every_document_is_closed_and_says_the_type_of_each_key(
    described: Schema, operations: dict[str, Operation]
) -> None:
    free = {("QuarantineRow", "raw")}
    for name, schema in reached(described, operations).items():
        assert schema["additionalProperties"] is False, name
        assert schema.get("required") or name == "Constraints", name
        for key, value in schema["properties"].items():
            assert {"type", "$ref", "anyOf", "allOf"} & set(value) or (name, key) in free, f"{name}.{key}"


def test_the_check_of_an_answer_can_fail(world: World, described: Schema, operations: dict[str, Operation]) -> None:
    ask = next(ask for ask in world.asks if ask.operation == "read_strokes_gained")
    schema, answer = operations[ask.operation].answers[200], asked(world, operations, ask).get_json()
    assert not faults(described, schema, answer)
    row: dict[str, Any]
    for spoil in (
        lambda row: row.pop("shots"),
        lambda row: row.update(shots="7"),
        lambda row: row.update(spin=1),
        lambda row: row.update(strokes_gained=None),
    ):
        spoilt = copy.deepcopy(answer)
        row = spoilt["rows"][0]
        spoil(row)
        (found,) = faults(described, schema, spoilt)
        assert found.startswith("rows/0")
