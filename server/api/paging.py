"""Pages of lists: `limit` rows after a cursor, and a Link to the next page (RFC 8288) while there is more.

A cursor is the sort key of the last row that was given, not its place: rows that come or go in between shift nothing.
So every row that was there at the first page and stays where it sorts is given exactly once.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Callable, Sequence
from typing import Final, TypedDict, TypeVar
from urllib.parse import urlencode

from flask import request
from marshmallow import fields, validate

from server.api.answers import Query
from server.records.fields import Text
from server.records.validation import Fault, InvalidError, shown

LARGEST: Final = 500

Row = TypeVar("Row")


class PageQuery(Query):
    """A page of a list; the full list without `limit`."""

    limit = fields.Integer(
        validate=validate.Range(1, LARGEST, error="is outside its range"),
        metadata={"range": f"1 to {LARGEST}", "description": "rows a page"},
    )
    after = Text(600, 1, metadata={"description": "where the page before ended, as its Link says"})


class PageAsked(TypedDict, total=False):
    """What `PageQuery` reads."""

    limit: int
    after: str


def page_of(
    rows: Sequence[Row], query: PageAsked, key: Callable[[Row], tuple[str, ...]], *, falling: bool = False
) -> tuple[list[Row], dict[str, str]]:
    """The rows of the page that was asked for, and its headers.

    `rows`: all of them, in any order. `key`: unique words by which they are sorted, the first of them falling where
    `falling`. 422 for a cursor that is none.
    """
    ordered = sorted(rows, key=lambda row: key(row)[1:])
    ordered.sort(key=lambda row: key(row)[0], reverse=falling)
    if "after" in query:
        last = _cursor(query["after"])
        ordered = [row for row in ordered if _is_after(key(row), last, falling)]
    limit = query.get("limit", len(ordered))
    if limit >= len(ordered):
        return ordered, {}
    given = ordered[:limit]
    return given, {"Link": f'<{_next(key(given[-1]))}>; rel="next"'}


def next_of(headers: dict[str, str]) -> str | None:
    """The address of the next page in these headers, for a body that gives it too."""
    return headers["Link"][1:].partition(">")[0] if "Link" in headers else None


def _is_after(key: tuple[str, ...], last: tuple[str, ...], falling: bool) -> bool:
    if key[0] != last[0]:
        return (key[0] < last[0]) if falling else (key[0] > last[0])
    return key[1:] > last[1:]


def _next(key: tuple[str, ...]) -> str:
    """The address of the next page: the same question from behind this row."""
    # letters as they are: escaped, the longest names of other scripts would not fit into `after`
    cursor = base64.urlsafe_b64encode(json.dumps(key, ensure_ascii=False).encode()).decode().rstrip("=")
    asked = [(name, value) for name, value in request.args.items(multi=True) if name != "after"]
    return f"{request.path}?{urlencode([*asked, ('after', cursor)])}"


def _cursor(words: str) -> tuple[str, ...]:
    try:
        key = json.loads(base64.urlsafe_b64decode(words + "=" * (-len(words) % 4)))
        if isinstance(key, list) and key and all(isinstance(part, str) for part in key):
            return tuple(key)
    except ValueError:
        pass
    raise InvalidError([Fault("after", shown(words), "", "is not where a page ended; take the address of its Link")])
