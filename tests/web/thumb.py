"""A thumb that notes an invented round: it taps only what is not already right on the screen, in the cheapest way."""

from __future__ import annotations

import random
import re
from dataclasses import dataclass
from typing import Any

from playwright.sync_api import expect

from tests.web.phone import Phone

BACK_TO_THE_KEYS_MS = 250
"""A thumb needs longer than this from a sheet that closed back to the keys."""
PLAYERS_YARDS = {
    "Driver": 262, "3-wood": 236, "3-hybrid": 214, "4-iron": 197, "5-iron": 184, "6-iron": 171, "7-iron": 160,
    "8-iron": 148, "9-iron": 135, "PW": 122, "50°": 108, "54°": 94, "58°": 78,
}  # fmt: skip
"""What the invented player truly hits; the app begins with guesses of its own."""


@dataclass(frozen=True)
class Spot:
    """Where a ball lies: yards off the green, feet on it."""

    lie: str
    distance: int


def club_for(spot: Spot, par: int) -> str:
    """The club that the invented player takes."""
    if spot.lie == "green":
        return "Putter"
    if spot.lie == "tee" and par > 3:
        return "Driver"
    if spot.distance < 45:
        return "58°"
    usable = {club: yards for club, yards in PLAYERS_YARDS.items() if club != "Driver"}
    return min(usable, key=lambda club: abs(usable[club] - spot.distance))


def ends(spot: Spot, par: int, chance: random.Random) -> Spot | None:
    """Where an invented shot ends; None when it is holed."""
    if spot.lie == "green":
        if spot.distance <= 4 or (spot.distance <= 9 and chance.random() < 0.5):
            return None
        return Spot("green", max(1, round(spot.distance * chance.uniform(0.02, 0.16))))
    reach = PLAYERS_YARDS[club_for(spot, par)] * chance.gauss(0.97, 0.045)
    left = spot.distance - reach
    if spot.distance < 45 or left < 18:
        if chance.random() < 0.72:
            return Spot("green", chance.randint(4, 12) if spot.distance < 45 else chance.randint(8, 48))
        return Spot(chance.choice(["rough", "fringe", "sand"]), chance.randint(8, 26))
    lie = chance.choices(["fairway", "rough", "sand", "recovery"], [62, 28, 6, 4])[0]
    return Spot(lie, max(19, round(left)))


def club_named(label: str) -> re.Pattern[str]:
    """The name of a club's button that is read out: its label, behind the short one where that is not in it."""
    return re.compile(rf"(^|, ){re.escape(label)}$")


class Thumb:
    """Taps on one phone during one round."""

    def __init__(self, phone: Phone) -> None:
        self.phone = phone
        self.tap_ins: list[int] = []

    def note(self, spot: Spot, club: str, holed: bool = False) -> None:
        """One shot: lie, distance and club where they are not right yet, then Hit or Holed."""
        page, before = self.phone.page, self.phone.taps
        lie = page.locator(f"#lie-{spot.lie}")
        if spot.lie != "tee" and lie.get_attribute("aria-pressed") == "false":
            self.phone.tap(f"#lie-{spot.lie}")
        self.distance(spot.distance, 5 if spot.lie == "green" else 10)
        self.club(club)
        if holed:
            self.phone.hole_out()
        else:
            self.phone.hit()
        if holed and spot.lie == "green" and spot.distance <= 3:
            self.tap_ins.append(self.phone.taps - before)

    def distance(self, wanted: int, big: int) -> None:
        shown = self.phone.page.inner_text("#distance .number")
        if shown == "?":  # asked after relief: nothing is there to step from
            self.phone.type_distance(wanted)
            return
        away = wanted - int(shown)
        steps = abs(away) // big + abs(away) % big
        if steps > 1 and self.phone.page.locator(f"#putt-{wanted}").count():
            self.phone.tap(f"#putt-{wanted}")
        elif steps <= len(str(wanted)):
            for _ in range(abs(away) // big):
                self.phone.tap("#more-big" if away > 0 else "#less-big")
            for _ in range(abs(away) % big):
                self.phone.tap("#more" if away > 0 else "#less")
        else:
            self.phone.type_distance(wanted)
        assert int(self.phone.page.inner_text("#distance .number")) == wanted

    def club(self, label: str) -> None:
        named = club_named(label)
        row = self.phone.page.locator(".entry .clubs").get_by_role("button", name=named)
        if row.count() == 0:
            self.phone.tap("#all-clubs")
            self.phone.taps += 1
            self.phone.page.locator("dialog").get_by_role("button", name=named).click()
        elif row.get_attribute("aria-pressed") == "false":
            self.phone.taps += 1
            row.click()
        expect(row).to_have_attribute("aria-pressed", "true")

    def more(self, *ids: str) -> None:
        self.phone.tap("#more-actions")
        for one in ids:
            self.phone.tap(f"#{one}")
        self.phone.page.wait_for_selector("dialog", state="detached")
        self.phone.page.wait_for_timeout(BACK_TO_THE_KEYS_MS)

    def play_out(self, spot: Spot, par: int, chance: random.Random, most: int = 12) -> None:
        """From a spot until the ball is holed."""
        for _ in range(most):
            end = ends(spot, par, chance)
            self.note(spot, club_for(spot, par), holed=end is None)
            if end is None:
                return
            spot = end
        raise AssertionError("the invented player does not hole out")


def new_course(phone: Phone, name: str, pars: str, lengths: list[int]) -> None:
    """A course typed in from its pars and lengths."""
    page: Any = phone.page
    page.evaluate("location.hash = '#/courses/new'")
    page.wait_for_selector("#course-name")
    page.fill("#course-name", name)
    page.fill("#pars", pars)
    page.keyboard.press("Tab")
    for hole, length in enumerate(lengths, start=1):
        page.fill(f"#length-{hole}", str(length))
    page.click("#save-course")
    page.wait_for_selector("h1 >> text=Courses")
    page.evaluate("location.hash = '#/'")
    page.wait_for_selector("#new-round")
