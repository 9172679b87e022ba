"""Plans of the invented course for the page of a round, most of which are not worked out."""

from __future__ import annotations

import re
from typing import Any, Final
from urllib.parse import parse_qs

from playwright.sync_api import Page, Route

from tests.tiers import LONG
from tests.web.evidence_pages import demo_player
from tests.web.phone import Server


def course_of(server: Server) -> dict[str, Any]:
    """The invented course as what can be planned."""
    return dict(server.get(f"/api/players/{demo_player(server)}/plans")["courses"][0])


PLANNED: Final = range(1, 19) if LONG else (1, 4, 7, 8)
"""Holes whose plans are worked out; the others have that of a hole of their par, under their own number and length."""


def plans_of_the_round(page: Page, demo: Server) -> dict[int, Any]:
    """Answers the page for the round; what it was told, by hole."""
    told: dict[int, Any] = {}
    course = course_of(demo)
    tees = next(tees for tees in course["tees"] if tees["name"] == course["latest_tees"])
    holes = {hole["number"]: hole for hole in tees["holes"]}

    def tell(route: Route) -> None:
        asked = int(parse_qs(route.request.url.split("?", 1)[1])["hole"][0])
        of = asked if asked in PLANNED else next(one for one in PLANNED if holes[one]["par"] == holes[asked]["par"])
        given = route.fetch(url=re.sub(r"\bhole=\d+", f"hole={of}", route.request.url))
        told[asked] = given.json()
        told[asked]["hole"] |= holes[asked]
        route.fulfill(response=given, json=told[asked])

    page.route("**/tee-plan?**", tell)
    return told
