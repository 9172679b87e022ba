"""A marshmallow schema of every document that a TypedDict defines: what is written once holds for mypy, for the checks
of answers, and for the description of the API.

A key's type says what it holds, `| None` that it may be null, `NotRequired` that it may be missing, and a string in
`Annotated` what it means, in which unit.

>>> from typing import TypedDict
>>> class Putt(TypedDict):
...     feet: Annotated[float, "length"]
...     left_ft: float | None
>>> schema_of(Putt)().validate({"feet": 8.0, "left_ft": None})
{}
>>> sorted(schema_of(Putt)().validate({"feet": 8.0, "spin": 1}))
['left_ft', 'spin']
"""

from __future__ import annotations

from functools import cache
from types import NoneType, UnionType
from typing import (
    Annotated,
    Any,
    NotRequired,
    Required,
    Union,
    get_args,
    get_origin,
    get_type_hints,
    is_typeddict,
)

from marshmallow import RAISE, Schema, fields

from server.records.json_types import JsonObject, RecordBody

Day = Annotated[str, fields.Date]
"""A day as a document says it: YYYY-MM-DD."""


class DocumentSchema(Schema):
    """A document: nothing unknown, nothing missing. It was built as its type says, and is given as it is."""

    class Meta:
        unknown = RAISE

    def dump(self, obj: Any, *, many: bool | None = None) -> Any:
        """The document itself."""
        return obj


@cache
def schema_of(document: Any) -> type[Schema]:
    """The schema of a TypedDict, always the same class. TypeError for a type that JSON does not have."""
    hints = get_type_hints(document, include_extras=True)
    name = document.__name__
    found = {key: _field(hint, f"{name}.{key}") for key, hint in hints.items()}
    return DocumentSchema.from_dict(found, name=f"{name}Schema")


def _field(hint: Any, place: str) -> fields.Field[Any]:
    required = True
    while get_origin(hint) in (NotRequired, Required):
        required = get_origin(hint) is Required
        (hint,) = get_args(hint)
    meaning: list[str] = []
    hint = _plain(hint, meaning)
    more: dict[str, Any] = {"required": required}
    if meaning:
        more["metadata"] = {"description": "; ".join(meaning)}
    if get_origin(hint) in (Union, UnionType):
        kinds = [one for one in get_args(hint) if one is not NoneType]
        if len(kinds) != 1:
            raise TypeError(f"{place}: {hint} is more than one type")
        more["allow_none"] = NoneType in get_args(hint)
        hint = kinds[0]
    return _of_type(hint, more, place)


def _plain(hint: Any, meaning: list[str]) -> Any:
    """The type without what it means; a kind of field that is named beside it stays."""
    if get_origin(hint) is not Annotated:
        return hint
    meaning += [one for one in hint.__metadata__ if isinstance(one, str)]
    kinds = [one for one in hint.__metadata__ if not isinstance(one, str)]
    return Annotated[hint.__origin__, kinds[0]] if kinds else hint.__origin__


SIMPLE: dict[Any, Any] = {
    str: fields.String,
    bool: fields.Boolean,
    float: fields.Float,
    JsonObject: fields.Dict,
    RecordBody: fields.Dict,
}


def _of_type(hint: Any, more: dict[str, Any], place: str) -> fields.Field[Any]:
    parts = get_args(hint)
    found: fields.Field[Any]
    if get_origin(hint) is Annotated:
        found = hint.__metadata__[0](**more)
    elif hint in SIMPLE:
        found = SIMPLE[hint](**more)
    elif hint is int:
        found = fields.Integer(strict=True, **more)
    elif hint is object:
        found = fields.Raw(**(more | {"allow_none": True}))
    elif is_typeddict(hint):
        found = fields.Nested(schema_of(hint), **more)
    elif get_origin(hint) is list:
        found = fields.List(_field(parts[0], place), **more)
    elif get_origin(hint) is dict and parts[0] is str:
        found = fields.Dict(keys=fields.String(), values=_field(parts[1], place), **more)
    else:
        raise TypeError(f"{place}: {hint} is no type of a document")
    return found
