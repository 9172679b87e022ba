"""The player's level and form as a document for people and programs: this season's, the lasting one, the trend."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated

from server.analysis.evidence.course_ratings import ratings_of
from server.analysis.evidence.level import round_rates, stated_level
from server.analysis.evidence.month_trend import stated_trend
from server.analysis.evidence.rows import Level, MonthTrend
from server.questions.question import Chosen
from server.reports.heading import Heading, heading
from server.store.rows import TeesRow


class LevelDocument(Heading, Level):
    """A player's level adjusted for courses and days. Strokes gained for 18 holes, unrounded."""

    trend: Annotated[MonthTrend, "form over the months"]


def level_document(chosen: Chosen, tees: Mapping[str, Sequence[TeesRow]]) -> LevelDocument:
    """The level on these courses and on an average one, what each course adds, and the trend by month. `tees`: of the
    player's courses, for their ratings."""
    rates, without = round_rates(chosen.valued)
    found = stated_level(rates, without, chosen.level, ratings_of(tees, chosen.baseline))
    return {**heading(chosen), **found, "trend": stated_trend(rates, without, chosen.level)}
