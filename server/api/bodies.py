"""Reading the JSON of a request: as the standard has it, bounded in depth, with a clear answer to all else."""

from __future__ import annotations

import json
import math
from itertools import chain
from typing import Any, Final

from flask import Request, abort
from marshmallow import RAISE
from webargs.flaskparser import FlaskParser

DEEPEST: Final = 100
"""Levels of arrays and objects inside each other; no record needs a tenth of them."""


def strict_json(words: str | bytes) -> Any:
    """The value of a JSON text. ValueError for NaN and Infinity, numbers too large to keep, over 100 levels."""
    try:
        value = json.loads(words, parse_constant=_no_constant, parse_float=_finite)
    except RecursionError as error:
        raise ValueError(f"it is nested more than {DEEPEST} levels deep") from error
    level = [value]
    for _ in range(DEEPEST):
        # json.loads makes plain dicts and lists; the type alone says more quickly which of its values have an inside.
        level = [outer for outer in level if type(outer) is dict or type(outer) is list]
        if not level:
            return value
        level = list(chain.from_iterable(map(_inside, level)))
    raise ValueError(f"it is nested more than {DEEPEST} levels deep")


def _inside(outer: dict[str, Any] | list[Any]) -> Any:
    return outer.values() if isinstance(outer, dict) else outer


def _no_constant(name: str) -> Any:
    raise ValueError(f"{name} is not JSON")


def _finite(digits: str) -> float:
    number = float(digits)
    if not math.isfinite(number):
        raise ValueError(f"the number {digits[:40]} is too large to keep")
    return number


class StrictParser(FlaskParser):
    """The arguments of a request; a body must be JSON and say so, a word of a query must be known."""

    DEFAULT_UNKNOWN_BY_LOCATION = {**FlaskParser.DEFAULT_UNKNOWN_BY_LOCATION, "query": RAISE}  # noqa: RUF012

    def _raw_load_json(self, req: Request) -> Any:
        if not req.is_json:
            abort(415, description="The body must be JSON, with Content-Type: application/json.")
        body = req.get_data(cache=True)
        try:
            return strict_json(body)
        except ValueError as error:
            abort(400, description=f"The body is not valid JSON: {error}.")
