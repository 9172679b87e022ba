"""Par and length of a hole are mended in a round, and what rests on them follows; unusual pairs are asked about."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from playwright.sync_api import expect

from tests.web.audit import check_consistent
from tests.web.begun import begin_player, begin_round
from tests.web.phone import Phone, Server
from tests.web.screens import close_sheet, go
from tests.web.seeded import changes_of, round_of, with_round


def mending(phone: Phone, round_id: str) -> None:
    go(phone, f"round/{round_id}/card", "#round-holes")
    phone.page.click("#round-holes")
    phone.page.wait_for_selector("#save-holes")


def saved(phone: Phone) -> None:
    phone.page.click("#save-holes")
    phone.page.wait_for_selector("#round-holes")


@pytest.mark.parametrize("closed", [True, False])
def test_a_par_is_mended_in_one_change_and_all_follows(phone: Phone, live_server: Server, closed: bool) -> None:
    round_id = with_round(phone, live_server, f"Par {uuid4()}", (1, 2), closed=closed)
    go(phone, f"round/{round_id}/review", ".bars")
    expect(phone.page.locator(".bars").first).to_contain_text("off the tee")
    before = phone.page.locator(".bars").first.inner_text()
    mending(phone, round_id)
    phone.page.click("#par-2-3")
    phone.page.click("#save-holes")
    expect(phone.page.locator("dialog")).to_contain_text("Hole 2: par 3 of 400 yd. That is unusual.")
    phone.tap_words("Yes, save", "dialog")
    phone.page.wait_for_selector("#round-holes")
    expect(phone.page.locator(".big-score")).to_contain_text("8 +1")
    (change,) = changes_of(phone)
    assert (change["kind"], change["record_id"]) == ("round", round_id)
    assert [hole["par"] for hole in round_of(phone, round_id)["holes"]] == [4, 3] + [4] * 16
    go(phone, f"round/{round_id}/review", ".bars")
    rows = phone.page.locator(".bars").first.locator("tbody tr")
    expect(rows.filter(has_text="off the tee")).to_contain_text("1 shot")
    expect(rows.filter(has_text="approach")).to_contain_text("3 shots")
    assert phone.page.locator(".bars").first.inner_text() != before
    go(phone, "", ".list")
    expect(phone.page.locator(".list-row").first).to_contain_text("+1")
    phone.wait_sent()
    card = live_server.get(f"/api/players/{phone.player_id()}/rounds/{round_id}/scorecard")
    assert (card["total"]["to_par"], card["holes"][1]["par"], card["holes"][1]["to_par"]) == (1, 3, 1)
    found = live_server.get(f"/api/players/{phone.player_id()}/strokes-gained?by=category")
    assert {row["category"]: row["shots"] for row in found["rows"]} == {"off_the_tee": 1, "approach": 3, "putting": 4}
    check_consistent(phone)


def test_a_length_takes_the_tee_shots_along_that_were_noted_at_it(phone: Phone, live_server: Server) -> None:
    """The tour table: tee 400 yd 3.99, tee 440 yd 4.08."""
    round_id = with_round(phone, live_server, f"Length {uuid4()}", (1, 2), closed=True)
    mending(phone, round_id)
    phone.page.fill("#length-1", "440")
    saved(phone)
    changes = changes_of(phone)
    assert sorted(change["kind"] for change in changes) == ["round", "shot"]
    starts = {
        shot["body"]["hole"]: shot["body"]["distance_yd"] for shot in phone.live("shot") if shot["body"]["lie"] == "tee"
    }
    assert starts == {1: 440, 2: 400}
    gained = phone.page.locator("tbody tr").first.locator("td").last
    expect(gained).to_have_text("+0.08")
    phone.wait_sent()
    card = live_server.get(f"/api/players/{phone.player_id()}/rounds/{round_id}/scorecard")
    assert card["holes"][0]["strokes_gained"] == pytest.approx(4.08 - 4, abs=1e-9)
    assert card["problems"] == []


def test_a_tee_shot_that_was_measured_stays(phone: Phone) -> None:
    round_id = begin_round(phone)
    phone.type_distance(391)
    phone.hit()
    mending(phone, round_id)
    phone.page.fill("#length-1", "395")
    saved(phone)
    (shot,) = phone.live("shot")
    assert shot["body"]["distance_yd"] == 391
    go(phone, f"round/{round_id}/1", ".hole-head")
    expect(phone.page.locator(".hole-head")).to_contain_text("par 4 · 395 yd")
    phone.page.click("#undo")
    expect(phone.page.locator(".hole-head")).to_contain_text("par 4 · 400 yd")


def test_what_is_unusual_is_asked_once(phone: Phone, live_server: Server) -> None:
    round_id = with_round(phone, live_server, f"Once {uuid4()}", (1,))
    mending(phone, round_id)
    page = phone.page
    page.click("#par-3-3")
    page.fill("#length-3", "430")
    page.click("#par-7-5")
    page.fill("#length-7", "205")
    page.click("#save-holes")
    words = "Hole 3: par 3 of 430 yd. Hole 7: par 5 of 205 yd. That is unusual."
    expect(page.locator("dialog")).to_contain_text(words)
    phone.tap_words("No", "dialog")
    page.wait_for_selector("dialog", state="detached")
    assert changes_of(phone) == []
    page.fill("#length-3", "143")
    page.click("#save-holes")
    expect(page.locator("dialog")).to_contain_text("Hole 7: par 5 of 205 yd. That is unusual.")
    phone.tap_words("Yes, save", "dialog")
    page.wait_for_selector("#round-holes")
    mending(phone, round_id)
    page.fill("#length-2", "410")
    saved(phone)
    holes = round_of(phone, round_id)["holes"]
    assert [(hole["par"], hole["length_yd"]) for hole in holes[:3]] == [(4, 400), (4, 410), (3, 143)]
    assert (holes[6]["par"], holes[6]["length_yd"]) == (5, 205)


def test_nothing_changed_writes_nothing_and_a_bad_length_is_named(phone: Phone, live_server: Server) -> None:
    round_id = with_round(phone, live_server, f"Bad {uuid4()}", (1,))
    mending(phone, round_id)
    phone.page.fill("#length-4", "701")
    phone.page.click("#save-holes")
    expect(phone.page.locator("#alert")).to_contain_text("hole 4 needs a length above 0 and up to 700 yd")
    phone.page.fill("#length-4", "400")
    saved(phone)
    assert changes_of(phone) == []


def type_course(phone: Phone, name: str, lengths: list[int]) -> Any:
    go(phone, "courses/new", "#course-name")
    page = phone.page
    page.click("#hole-count-9")
    page.fill("#course-name", name)
    page.fill("#pars", "434434544")
    page.keyboard.press("Tab")
    for hole, length in enumerate(lengths, start=1):
        page.fill(f"#length-{hole}", str(length))
    page.click("#save-course")
    return page


def test_the_course_form_asks_once_too(phone: Phone) -> None:
    begin_player(phone)
    page = type_course(phone, "Sedge Bank (invented)", [380, 430, 360, 390, 170, 401, 205, 388, 377])
    expect(page.locator("dialog")).to_contain_text("Hole 2: par 3 of 430 yd.")
    expect(page.locator("dialog")).to_contain_text("Hole 7: par 5 of 205 yd.")
    close_sheet(phone)
    assert phone.live("course") == []
    page.fill("#length-7", "505")
    page.click("#save-course")
    expect(page.locator("dialog")).to_contain_text("Hole 2: par 3 of 430 yd.")
    expect(page.locator("dialog")).not_to_contain_text("Hole 7")
    phone.tap_words("Yes, save", "dialog")
    page.wait_for_selector("h1 >> text=Courses")
    (course,) = phone.live("course")
    go(phone, f"courses/{course['record_id']}", "#length-1")
    page.fill("#length-1", "385")
    page.click("#save-course")
    page.wait_for_selector("h1 >> text=Courses")
    assert phone.live("course")[0]["body"]["tees"][0]["holes"][0]["length_yd"] == 385
