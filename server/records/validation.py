"""Faults: what is wrong with a record, each naming field, value and range."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final, TypedDict

from marshmallow import Schema, ValidationError
from marshmallow.fields import Field, List, Nested

from server.records.json_types import RecordBody
from server.records.quick import quick_load
from server.records.schemas import SCHEMAS

LONGEST_VALUE: Final = 80
MOST_FAULTS: Final = 50
"""Of one change or request so many faults are reported and kept; of the rest the last of them says how many there
are."""


class FaultDocument(TypedDict):
    """One thing wrong, as a problem document tells it."""

    field: Annotated[str, "a dotted path"]
    value: Annotated[str, "a short form of what was given"]
    range: Annotated[str, "what is allowed"]
    message: str


@dataclass(frozen=True)
class Fault:
    """One thing wrong. `field` is a dotted path, `value` a short form of what was given, `range` what is allowed.
    `counts_for`: how many faults it speaks of."""

    field: str
    value: str
    range: str
    message: str
    counts_for: int = 1

    def as_dict(self) -> FaultDocument:
        """The fault as a problem document gives it."""
        return {"field": self.field, "value": self.value, "range": self.range, "message": self.message}

    def __str__(self) -> str:
        given = f" {self.value}" if self.value else ""
        allowed = f" ({self.range})" if self.range else ""
        return f"{self.field}:{given} {self.message}{allowed}"


def listed(faults: Iterable[Fault], most: int = MOST_FAULTS) -> list[Fault]:
    """At most so many of these faults; when there are more the last one counts the rest."""
    found = list(faults)
    if len(found) <= most:
        return found
    kept = [fault for fault in found if fault.counts_for == 1][: most - 1]
    rest = sum(fault.counts_for for fault in found) - len(kept)
    return [*kept, Fault("errors", str(rest), f"up to {most} are listed", "more were found", rest)]


class InvalidError(ValueError):
    """A record or a request that cannot be taken, with its faults (`listed`)."""

    def __init__(self, faults: Iterable[Fault], most: int = MOST_FAULTS) -> None:
        self.faults = listed(faults, most)
        super().__init__("; ".join(map(str, self.faults)))


def shown(value: Any) -> str:
    """A value as an error shows it: in full when short, cut when long, empty when it is missing."""
    if value is None:
        return ""
    words = value if isinstance(value, str) else repr(value)
    return words if len(words) <= LONGEST_VALUE else words[: LONGEST_VALUE - 1] + "…"


def load(kind: str, body: Any) -> RecordBody:
    """The typed fields of a record of `kind`. Raises InvalidError with every fault."""
    if kind not in SCHEMAS:
        raise InvalidError([Fault("kind", shown(kind), ", ".join(SCHEMAS), "is not a kind of record")])
    return load_with(SCHEMAS[kind], body)


def load_stored(kind: str, body: Any) -> RecordBody:
    """The typed fields of a record that was taken before. A check between fields that has become stricter since does
    not undo it: what is kept stays readable."""
    typed = quick_load(SCHEMAS[kind], body, agreement=False)
    return load(kind, body) if typed is None else typed


def load_with(schema: Schema, body: Any) -> RecordBody:
    """`body` through any schema. Raises InvalidError with every fault."""
    if not isinstance(body, dict):
        raise InvalidError([Fault("body", shown(body), "an object", "is not an object")])
    if (typed := quick_load(schema, body)) is not None:
        return typed
    try:
        return dict(schema.load(body))
    except ValidationError as error:
        raise InvalidError(faults_in(error.normalized_messages(), schema, body)) from error  # type: ignore[no-untyped-call]


def faults_in(messages: Mapping[Any, Any], schema: Schema | None, body: Any) -> list[Fault]:
    """marshmallow's messages about `body` as faults (`listed`)."""
    return listed(_faults(messages, schema, body, ""))


def _faults(messages: Mapping[Any, Any], schema: Schema | None, body: Any, path: str) -> Iterator[Fault]:
    for name, found in messages.items():
        field = _field(schema, str(name))
        value = _inside(body, name)
        place = f"{path}{name}"
        if isinstance(found, dict):
            yield from _nested_faults(found, field, value, place)
            continue
        allowed = str(field.metadata.get("range", "")) if field else ""
        given = "" if field is not None and field.metadata.get("secret") else shown(value)
        for message in found:
            plain = "is missing" if message.startswith("Missing data") else _plain(message)
            yield Fault(shown(place), given, allowed, plain)


def _nested_faults(found: Mapping[Any, Any], field: Field[Any] | None, value: Any, place: str) -> Iterator[Fault]:
    inner = field.inner if isinstance(field, List) else field
    schema = inner.schema if isinstance(inner, Nested) else None
    for index, below in found.items():
        if isinstance(field, List) and isinstance(below, dict):
            yield from _faults(below, schema, _inside(value, index), f"{place}.{index}.")
        elif isinstance(field, List):
            allowed = str(inner.metadata.get("range", "")) if inner is not None else ""
            for message in below:
                yield Fault(f"{place}.{index}", shown(_inside(value, index)), allowed, _plain(message))
        else:
            yield from _faults({index: below}, schema, value, f"{place}.")


_IN_OUR_WORDS: Final = {
    "Field may not be null.": "is missing",
    "Invalid value.": "is not valid",
    "Not a valid date.": "is not a day",
    "Not a valid integer.": "is not a whole number",
    "Not a valid number.": "is not a number",
    "Special numeric values (nan or infinity) are not permitted.": "is not a finite number",
    "Not a valid UUID.": "is not a UUID",
    "Not a valid string.": "is not text",
    "Not a valid boolean.": "is neither true nor false",
    "Not a valid list.": "is not a list",
    "Not a valid mapping type.": "is not an object",
    "Invalid input type.": "is not an object",
    "Unknown field.": "is not known here",
}
"""What marshmallow says, in the words of our own fields."""


def _plain(message: str) -> str:
    """A library's sentence as the end of ours: no capital, no full stop."""
    if message in _IN_OUR_WORDS:
        return _IN_OUR_WORDS[message]
    first = message[:1].lower() + message[1:] if message[:2].istitle() else message
    return first.removesuffix(".")


def _field(schema: Schema | None, name: str) -> Field[Any] | None:
    """The field that bears `name` in the data, which may be another name than in the schema."""
    if schema is None:
        return None
    return schema.fields.get(name) or next((one for one in schema.fields.values() if one.data_key == name), None)


def _inside(body: Any, name: Any) -> Any:
    if isinstance(body, dict):
        return body.get(name)
    if isinstance(body, list) and isinstance(name, int) and name < len(body):
        return body[name]
    return None
