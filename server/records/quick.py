"""The quick way through a schema: a flat record whose every field is in order is typed without marshmallow's machinery.

It accepts only what the schema accepts and gives the same typed fields; whatever it does not take (also every fault)
goes through the schema itself, which then says what is wrong.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from marshmallow import Schema, ValidationError, missing
from marshmallow.decorators import VALIDATES_SCHEMA
from marshmallow.fields import Raw

from server.records.fields import ListOf, Taken


class _Plan:
    """What the quick way needs of one schema. `whole`: its checks between fields; `flat`: it has no nested fields."""

    def __init__(self, schema: Schema) -> None:
        fields = schema.load_fields
        self.take = {name: field.take for name, field in fields.items() if isinstance(field, Taken | ListOf)}
        raw = sum(isinstance(field, Raw) for field in fields.values())
        self.flat = len(self.take) + raw == len(fields)
        self.refuses_null = {name for name, field in fields.items() if not field.allow_none}
        self.required = {name for name, field in fields.items() if field.required}
        self.defaults = {
            name: field.load_default for name, field in fields.items() if field.load_default is not missing
        }
        self.whole = [getattr(schema, name) for name, *_ in schema._hooks[VALIDATES_SCHEMA]]


@lru_cache(maxsize=32)
def _plan(schema: Schema) -> _Plan:
    return _Plan(schema)


def quick_load(schema: Schema, body: Any) -> dict[str, Any] | None:
    """The typed fields of `body`, or None when the schema has to look itself."""
    plan = _plan(schema)
    if not plan.flat or not isinstance(body, dict) or not plan.required <= body.keys():
        return None
    typed = plan.defaults.copy()
    take_of = plan.take.get
    try:
        for name, value in body.items():
            if value is None:
                if name in plan.refuses_null:
                    return None
                typed[name] = None
            else:
                take = take_of(name)
                typed[name] = take(value) if take else value
        for check in plan.whole:
            check(typed)
    except ValidationError:
        return None
    return typed
