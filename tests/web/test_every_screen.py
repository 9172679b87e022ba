"""Every screen, light and dark: accessible, large enough to tap, readable in sunlight, no wider than the phone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.web.measures import LOW_CONTRAST, SMALL_TARGETS, TOO_WIDE
from tests.web.phone import Phone
from tests.web.screens import every_screen

PICTURES = Path(__file__).resolve().parents[2] / ".artifacts" / "screens"
LEAST_TARGET_PX = 48
LEAST_CONTRAST = 7.0
AXE_OPTIONS = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}


def picture(phone: Phone, folder: str, name: str) -> None:
    PICTURES.joinpath(folder).mkdir(parents=True, exist_ok=True)
    phone.page.screenshot(path=PICTURES / folder / f"{name.replace(', ', '-').replace(' ', '-')}.png")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_screen_is_accessible_tappable_and_readable(make_phone: Any, theme: str) -> None:
    phone: Phone = make_phone(color_scheme=theme, reduced_motion="reduce")
    axe = Axe()
    problems: list[str] = []
    seen = 0
    for name in every_screen(phone):
        seen += 1
        picture(phone, f"{theme}-390", name)
        for violation in axe.run(phone.page, options=AXE_OPTIONS).response["violations"]:
            where = [node["html"][:120] for node in violation["nodes"][:3]]
            problems.append(f"{name}: axe {violation['id']}: {violation['help']} {where}")
        problems += [f"{name}: small target {one}" for one in phone.page.evaluate(SMALL_TARGETS, LEAST_TARGET_PX)]
        contrast = phone.page.evaluate(LOW_CONTRAST, LEAST_CONTRAST)
        assert contrast["texts"] > 3, f"{name}: no text was measured"
        problems += [f"{name}: contrast {one}" for one in contrast["found"]]
        problems += [f"{name}: too wide {one}" for one in phone.page.evaluate(TOO_WIDE)]
    assert seen >= 31
    assert not problems, "\n".join(problems)
    assert phone.errors == []


@pytest.mark.parametrize(
    ("folder", "width", "height", "zoom"),
    [("light-320", 320, 568, 1), ("light-390-zoom", 390, 844, 2), ("light-1280", 1280, 800, 1)],
)
def test_every_screen_fits(make_phone: Any, folder: str, width: int, height: int, zoom: int) -> None:
    phone: Phone = make_phone(reduced_motion="reduce")
    problems: list[str] = []
    phone.context.add_init_script(
        f"addEventListener('DOMContentLoaded', () => {{ document.documentElement.style.fontSize = '{zoom * 100}%'; }});"
    )
    original = phone.open

    def open_wide(*arguments: Any) -> Any:
        page = original(*arguments)
        page.set_viewport_size({"width": width, "height": height})
        return page

    phone.open = open_wide  # type: ignore[method-assign]
    for name in every_screen(phone):
        picture(phone, folder, name)
        problems += [f"{name}: too wide {one}" for one in phone.page.evaluate(TOO_WIDE)]
        problems += [f"{name}: small target {one}" for one in phone.page.evaluate(SMALL_TARGETS, LEAST_TARGET_PX)]
    assert not problems, "\n".join(problems)
