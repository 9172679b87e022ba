"""Options that several commands have."""

from __future__ import annotations

import math
from datetime import date, datetime
from typing import Any

import click

from server.analysis.intervals import LEVELS
from server.analysis.trials import WORTHS

DAY = click.DateTime(["%Y-%m-%d"])


class Within(click.FloatRange):
    """A number between two bounds, both included; what is not a number is refused too."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        number = super().convert(value, param, ctx)
        if math.isnan(number):
            self.fail(f"{value!r} is not a number from {self.min:g} to {self.max:g}.", param, ctx)
        return number


LEVEL = Within(*LEVELS)
WORTH = Within(*WORTHS)


def as_day(moment: datetime | None) -> date | None:
    """The day of an option of the type `DAY`."""
    return None if moment is None else moment.date()
