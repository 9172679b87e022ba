"""Every parameter that is a number, a day, a UUID or a word of a list, on every address, refuses bad values plainly."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient

LIBRARY = re.compile(r"[Nn]ot a valid|[Ss]pecial numeric|Unknown field|Field may|URL was not found")
"""Words of libraries that no answer may hold."""

BAD = {
    "day": ["x", "2026-13-01", "2026-02-30", "1e400"],
    "number": ["x", "nan", "1e400", "-1e300"],
    "whole": ["x", "1.5", "nan", "-9", "99999999999999999999"],
    "uuid": ["x", "-1", "1.5", "00000000-0000-0000-0000-00000000000g"],
    "choice": ["x", "-1", "NULL"],
}


def sort_of(schema: dict[str, Any]) -> str | None:
    """Which of the sorts a described parameter is."""
    if "enum" in schema:
        return "choice"
    if schema.get("format") in ("date", "uuid"):
        return {"date": "day", "uuid": "uuid"}[schema["format"]]
    kinds = schema.get("type")
    kinds = kinds if isinstance(kinds, list) else [kinds]
    return "whole" if "integer" in kinds else "number" if "number" in kinds else None


def asked(client: FlaskClient) -> Iterator[tuple[str, str, str, str]]:
    """Path, parameter, place and sort of all that GET takes."""
    for path, methods in client.get("/api/openapi.json").get_json()["paths"].items():
        if "get" in methods:
            for one in [*methods.get("parameters", []), *methods["get"].get("parameters", [])]:
                sort = sort_of(one["schema"])
                if sort:
                    yield path, one["name"], one["in"], sort


def filled(path: str, **given: str) -> str:
    """An address with a UUID at each id."""
    return re.sub(r"\{(\w+)\}", lambda found: given.get(found[1], "2026" if "year" in found[1] else UUID), path)


UUID = str(uuid.uuid4())


def test_every_parameter_refuses_bad_values_in_plain_words(client: FlaskClient) -> None:
    seen = set()
    for path, name, place, sort in asked(client):
        for value in BAD[sort]:
            if place == "path":
                answer = client.get(filled(path, **{name: value}))
                assert answer.status_code in (404, 422), (path, name, value)
            else:
                answer = client.get(filled(path), query_string={name: value})
                assert answer.status_code == 422, (path, name, value)
                fault = next(one for one in answer.get_json()["errors"] if one["field"] == name)
                assert fault["value"] == value, (path, fault)
                assert fault["range"], (path, fault)
            assert not LIBRARY.search(answer.get_data(as_text=True)), (path, name, value, answer.get_json())
            seen.add((place, sort))
    assert seen >= {("query", sort) for sort in BAD} | {("path", "uuid")}


@pytest.mark.parametrize("path", ["/api/players/x", "/api/season/26x/shots.csv", "/api/moon"])
def test_an_address_that_is_none_says_so(client: FlaskClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    assert answer.get_json()["detail"].startswith(f"There is nothing at {path}. Ids in an address are UUIDs")
