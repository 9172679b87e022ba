"""Every screen of account, sharing, notes, import and own data: accessible, tappable, readable, never too wide."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.web.account_screens import every_account_screen
from tests.web.measures import LEAST_TARGET_PX, SMALL_TARGETS, TOO_WIDE, faults_of, grow_text, take_picture
from tests.web.phone import Phone, Server

PICTURES = Path(__file__).resolve().parents[2] / ".artifacts" / "screens" / "account"
SCREENS = 26


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_account_screen_is_accessible_tappable_and_readable(
    make_phone: Any, own_server: Server, theme: str
) -> None:
    axe, problems, seen = Axe(), [], []
    for phone, name in every_account_screen(make_phone, own_server, color_scheme=theme, reduced_motion="reduce"):
        seen.append(name)
        take_picture(phone.page, PICTURES / f"{theme}-390", name)
        problems += faults_of(axe, phone.page, name)
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

    def make(server: Server, **options: Any) -> Phone:
        phone: Phone = make_phone(server, **options)
        grow_text(phone.context, zoom)
        return phone

    for phone, name in every_account_screen(make, own_server, reduced_motion="reduce"):
        phone.page.set_viewport_size({"width": width, "height": height})
        take_picture(phone.page, PICTURES / folder, name)
        problems += [f"{name}: too wide {one}" for one in phone.page.evaluate(TOO_WIDE)]
        problems += [f"{name}: small target {one}" for one in phone.page.evaluate(SMALL_TARGETS, LEAST_TARGET_PX)]
    assert not problems, "\n".join(problems)
