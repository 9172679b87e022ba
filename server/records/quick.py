"""The quick way through a schema: a record whose every field is in order is typed without marshmallow's machinery.

It accepts only what the schema accepts and gives the same typed fields; whatever it does not parse (also every fault)
goes through the schema itself, which then says what is wrong.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

from marshmallow import Schema, ValidationError, missing
from marshmallow.decorators import VALIDATES_SCHEMA
from marshmallow.fields import Field, List, Nested, Raw

from server.records.fields import Entries, ListOf, Taken
from server.records.json_types import RecordBody


class _Plan:
    """What the quick way needs of one schema. `checks`: those between fields; `known`: it knows every field."""

    def __init__(self, schema: Schema) -> None:
        fields = schema.load_fields
        found = {name: _take_of(field) for name, field in fields.items()}
        self.parse = {name: parse for name, parse in found.items() if parse is not None}
        raw = sum(type(field) is Raw for field in fields.values())
        self.known = len(self.parse) + raw == len(fields)
        self.refuses_null = {name for name, field in fields.items() if not field.allow_none}
        self.required = {name for name, field in fields.items() if field.required}
        self.defaults = {
            name: field.load_default for name, field in fields.items() if field.load_default is not missing
        }
        self.checks = [getattr(schema, name) for name, *_ in schema._hooks[VALIDATES_SCHEMA]]


def _take_of(field: Field[Any]) -> Callable[[Any], Any] | None:
    """What types one value of a field; None where the quick way does not know how."""
    if isinstance(field, Taken | ListOf | Entries):
        return field.parse
    if isinstance(field, List) and isinstance(field.inner, Nested):
        return _Records(field, field.inner.schema).parse
    return None


class _Records:
    """A list of records inside another, such as the holes of a round."""

    def __init__(self, field: List[Any], schema: Schema) -> None:
        self.schema, self.checks = schema, field.validators

    def parse(self, value: Any) -> list[RecordBody]:
        """The typed records. ValidationError when the schema has to look itself."""
        if not isinstance(value, list):
            raise ValidationError("is not a list")
        for check in self.checks:
            check(value)
        typed = []
        for entry in value:
            record = quick_load(self.schema, entry)
            if record is None:
                raise ValidationError("contains a record that the schema must check")
            typed.append(record)
        return typed


@lru_cache(maxsize=32)
def _plan(schema: Schema) -> _Plan:
    return _Plan(schema)


def quick_load(schema: Schema, body: Any, *, agreement: bool = True) -> RecordBody | None:
    """The typed fields of `body`, or None when the schema has to look itself. `agreement`: with the checks between
    fields, else each field alone."""
    plan = _plan(schema)
    if not plan.known or not isinstance(body, dict) or not plan.required <= body.keys():
        return None
    typed = plan.defaults.copy()
    parser_of = plan.parse.get
    try:
        for name, value in body.items():
            if value is None:
                if name in plan.refuses_null:
                    return None
                typed[name] = None
            else:
                parse = parser_of(name)
                typed[name] = parse(value) if parse else value
        for check in plan.checks if agreement else ():
            check(typed)
    except ValidationError:
        return None
    return typed


def agreeing(schema: Schema, typed: RecordBody) -> bool:
    """Whether typed fields pass the schema's checks between fields."""
    try:
        for check in _plan(schema).checks:
            check(typed)
    except ValidationError:
        return False
    return True
