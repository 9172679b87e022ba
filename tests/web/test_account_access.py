"""Every screen of account, sharing, notes, import and own data: accessible, tappable, readable, never too wide."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.web.account_screens import every_account_screen
from tests.web.measures import LOW_CONTRAST, SMALL_TARGETS, TOO_WIDE
from tests.web.phone import Phone, Server

PICTURES = Path(__file__).resolve().parents[2] / ".artifacts" / "screens" / "account"
LEAST_TARGET_PX = 48
LEAST_CONTRAST = 7.0
SCREENS = 26
AXE_OPTIONS = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}


def picture(phone: Phone, folder: str, name: str) -> None:
    PICTURES.joinpath(folder).mkdir(parents=True, exist_ok=True)
    phone.page.screenshot(path=PICTURES / folder / f"{name.replace(', ', '-').replace(' ', '-')}.png")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_account_screen_is_accessible_tappable_and_readable(
    make_phone: Any, own_server: Server, theme: str
) -> None:
    axe, problems, seen = Axe(), [], []
    for phone, name in every_account_screen(make_phone, own_server, color_scheme=theme, reduced_motion="reduce"):
        seen.append(name)
        picture(phone, f"{theme}-390", name)
        for violation in axe.run(phone.page, options=AXE_OPTIONS).response["violations"]:
            where = [node["html"][:120] for node in violation["nodes"][:3]]
            problems.append(f"{name}: axe {violation['id']}: {violation['help']} {where}")
        problems += [f"{name}: small target {one}" for one in phone.page.evaluate(SMALL_TARGETS, LEAST_TARGET_PX)]
        contrast = phone.page.evaluate(LOW_CONTRAST, LEAST_CONTRAST)
        assert contrast["texts"] > 3, f"{name}: no text was measured"
        problems += [f"{name}: contrast {one}" for one in contrast["found"]]
        problems += [f"{name}: too wide {one}" for one in phone.page.evaluate(TOO_WIDE)]
        assert phone.errors == []
    assert len(seen) == len(set(seen)) == SCREENS
    assert not problems, "\n".join(problems)


@pytest.mark.parametrize(
    ("folder", "width", "height", "zoom"),
    [("light-320", 320, 568, 1), ("light-390-zoom", 390, 844, 2), ("light-1280", 1280, 800, 1)],
)
def test_every_account_screen_fits(
    make_phone: Any, own_server: Server, folder: str, width: int, height: int, zoom: int
) -> None:
    problems: list[str] = []
    grow = (
        f"addEventListener('DOMContentLoaded', () => {{ document.documentElement.style.fontSize = '{zoom * 100}%'; }});"
    )

    def make(server: Server, **options: Any) -> Phone:
        phone: Phone = make_phone(server, **options)
        phone.context.add_init_script(grow)
        return phone

    for phone, name in every_account_screen(make, own_server, reduced_motion="reduce"):
        phone.page.set_viewport_size({"width": width, "height": height})
        picture(phone, folder, name)
        problems += [f"{name}: too wide {one}" for one in phone.page.evaluate(TOO_WIDE)]
        problems += [f"{name}: small target {one}" for one in phone.page.evaluate(SMALL_TARGETS, LEAST_TARGET_PX)]
    assert not problems, "\n".join(problems)
