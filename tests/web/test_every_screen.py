"""Every screen, in every look: accessible, large enough to tap, readable in sunlight, no wider than the phone."""

from __future__ import annotations

import pytest

from tests.web.measures import faults_of
from tests.web.phone import Phone
from tests.web.screens import every_screen

pytestmark = pytest.mark.service_worker

SCREENS = 31


def test_every_screen_is_accessible_tappable_and_readable(phone: Phone) -> None:
    problems, seen = [], []
    for name in every_screen(phone):
        seen.append(name)
        problems += faults_of(phone.page, name, "phone")
    assert len(seen) == len(set(seen)) >= SCREENS
    assert not problems, "\n".join(problems)
    assert phone.errors == []
