"""Every screen, light and dark: accessible, large enough to tap, readable in sunlight, no wider than the phone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.web.measures import LEAST_TARGET_PX, SMALL_TARGETS, TOO_WIDE, faults_of, grow_text, take_picture
from tests.web.phone import Phone
from tests.web.screens import every_screen

PICTURES = Path(__file__).resolve().parents[2] / ".artifacts" / "screens"


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_screen_is_accessible_tappable_and_readable(make_phone: Any, theme: str) -> None:
    phone: Phone = make_phone(color_scheme=theme, reduced_motion="reduce")
    axe = Axe()
    problems: list[str] = []
    seen = 0
    for name in every_screen(phone):
        seen += 1
        take_picture(phone.page, PICTURES / f"{theme}-390", name)
        problems += faults_of(axe, phone.page, name)
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
    grow_text(phone.context, zoom)
    original = phone.open

    def open_wide(*arguments: Any) -> Any:
        page = original(*arguments)
        page.set_viewport_size({"width": width, "height": height})
        return page

    phone.open = open_wide  # type: ignore[method-assign]
    for name in every_screen(phone):
        take_picture(phone.page, PICTURES / folder, name)
        problems += [f"{name}: too wide {one}" for one in phone.page.evaluate(TOO_WIDE)]
        problems += [f"{name}: small target {one}" for one in phone.page.evaluate(SMALL_TARGETS, LEAST_TARGET_PX)]
    assert not problems, "\n".join(problems)
