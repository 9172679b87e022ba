"""The list of rounds with its search, the bag with what the phone knows, and the card on one printed page."""

from __future__ import annotations

import re
import uuid
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.web.begun import begin_round
from tests.web.phone import Phone, Server

DRIVES = (251.0, 262.0, 249.0, 270.0, 244.0)
MOMENT = "2026-05-01T09:30:00.000Z"
ROUNDS = [
    ("2026-04-03", "practice", "Heron Marsh (invented)"),
    ("2026-04-18", "casual", "Heron Marsh (invented)"),
    ("2026-05-02", "competition", "Long Barrow (invented)"),
    ("2026-05-16", "practice", "Long Barrow (invented)"),
    ("2026-06-21", "competition", "Heron Marsh (invented)"),
]


def change(kind: str, body: dict[str, Any], record_id: str) -> dict[str, Any]:
    return {
        "change_id": str(uuid.uuid4()),
        "record_id": record_id,
        "kind": kind,
        "parents": [],
        "op": "put",
        "body": body,
        "device_id": "another",
        "client_time": MOMENT,
        "schema_version": 1,
    }


@pytest.fixture(scope="module")
def player(live_server: Server) -> str:
    """A player with five closed rounds of one hole each: a drive of known length, a putt holed."""
    player, driver, putter = (str(uuid.uuid4()) for _ in range(3))
    changes = [
        change("player", {"name": "Kim Marsh", "plays": "left"}, player),
        change("club", {"label": "Driver", "sort": "driver"}, driver),
        change("club", {"label": "Putter", "sort": "putter"}, putter),
    ]
    holes = [{"number": 1, "par": 4, "length_yd": 300}]
    courses = {name: str(uuid.uuid4()) for _, _, name in ROUNDS}
    changes += [
        change("course", {"name": name, "tees": [{"name": "white", "holes": holes}]}, course)
        for name, course in courses.items()
    ]
    for (day, kind, name), drive in zip(ROUNDS, DRIVES, strict=True):
        round_id = str(uuid.uuid4())
        body = {"played_on": day, "kind": kind, "course_id": courses[name], "tees": "white", "holes": holes}
        changes.append(change("round", body | {"bag": [driver, putter], "closed": True}, round_id))
        first = {"round_id": round_id, "hole": 1, "ball": 1, "order": 1, "lie": "tee", "distance_yd": 400.0}
        changes.append(change("shot", first | {"club_id": driver}, str(uuid.uuid4())))
        second = {"round_id": round_id, "hole": 1, "ball": 1, "order": 2, "lie": "fairway", "club_id": putter}
        changes.append(change("shot", second | {"distance_yd": 400 - drive, "holed": True}, str(uuid.uuid4())))
    live_server.post(f"/api/players/{player}/changes", {"device_id": "another", "now": MOMENT, "changes": changes})
    return player


@pytest.fixture
def kim(phone: Phone, player: str) -> Phone:
    phone.open()
    phone.page.click(f"#player-{player}")
    phone.page.wait_for_selector(".finder")
    return phone


SEARCHES = [
    ("", "", [5, 4, 3, 2, 1]),
    ("may", "", [4, 3]),
    ("2026-04", "", [2, 1]),
    ("heron", "", [5, 2, 1]),
    ("barrow may", "", [4, 3]),
    ("", "competition", [5, 3]),
    ("heron", "competition", [5]),
    ("nowhere", "", []),
]


def test_rounds_are_found_by_date_course_and_kind(kim: Phone) -> None:
    for words, kind, days in SEARCHES:
        kim.page.evaluate("() => { document.querySelector('.finder').open = true; }")
        kim.page.fill("#search", words)
        kim.page.locator(".finder select").select_option(kind)
        expect(kim.page.locator("main .list > li"), f"{words} {kind}").to_have_count(len(days))
        expect(kim.page.locator("main [role=status]")).to_contain_text(f"{len(days)} round")
        shown = kim.page.locator("main .list > li").all_inner_texts()
        wanted = [ROUNDS[day - 1] for day in days]
        for text, (day, of_kind, course) in zip(shown, wanted, strict=True):
            assert of_kind in text
            assert course in text
            assert re.search(rf"\b{int(day[8:])} (Apr|May|Jun) 2026", text)


def test_the_bag_knows_full_swings_with_their_count(kim: Phone) -> None:
    kim.page.evaluate("location.hash = '#/bag'")
    row = kim.page.locator(".list-row", has_text="Driver")
    expect(row).to_contain_text(str(round(sorted(DRIVES)[2])))
    expect(row).to_contain_text("5 swings")


def test_an_edit_changes_the_list_at_once(kim: Phone) -> None:
    newest = kim.page.locator("main .list > li").first
    expect(newest).to_contain_text("\u22122")
    newest.locator("a").click()
    kim.page.click("#reopen")
    kim.page.click("#go-on")
    kim.page.wait_for_selector(".shot")
    kim.page.locator(".shot").first.click()
    kim.page.click("#edit-penalty-penalty_area")
    kim.page.click("#save-shot")
    kim.page.wait_for_selector("dialog", state="detached")
    kim.page.evaluate("location.hash = '#/'")
    expect(kim.page.locator("main .list > li").first).to_contain_text("\u22121")
    kim.page.wait_for_selector(".go-on")


def test_the_card_prints_on_one_page(phone: Phone) -> None:
    begin_round(phone, shots=1)
    phone.hole_out()
    phone.page.evaluate("location.hash = location.hash.replace(/\\d+$/, 'card')")
    phone.page.wait_for_selector(".card")
    printed = phone.page.pdf(format="A4")
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) == 1
