"""Every screen of account, sharing, notes, import and own data, in every look: accessible, tappable, readable."""

from __future__ import annotations

from typing import Any

from tests.web.account_screens import every_account_screen
from tests.web.measures import faults_of
from tests.web.phone import Server

SCREENS = 28


def test_every_account_screen_is_accessible_tappable_and_readable(make_phone: Any, own_server: Server) -> None:
    problems, seen = [], []
    for phone, name in every_account_screen(make_phone, own_server):
        seen.append(name)
        problems += faults_of(phone.page, name, "account")
        assert phone.errors == []
    assert len(seen) == len(set(seen)) == SCREENS
    assert not problems, "\n".join(problems)
