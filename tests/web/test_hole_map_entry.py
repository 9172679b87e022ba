"""A hole's map entered by thumb without a network, sent and planned; what is wrong is named and nothing is saved."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from playwright.sync_api import Page, expect

from server.game.hole_maps import map_fault
from server.game.map_form import HoleForm, Trouble, map_from_form
from tests.web.begun import begin_player
from tests.web.evidence_pages import demo_player
from tests.web.phone import Phone, Server
from tests.web.thumb import new_course

PARS, LENGTHS = "443545344" * 2, [388, 412, 171, 534, 401, 556, 188, 367, 429] * 2
TAPS_AND_KEYS_A_MINUTE = 60
"""A tap or a key a second is slow; so a hole that takes no more is entered in a minute."""


def with_course(phone: Phone) -> tuple[str, str]:
    """A new player with a course of eighteen holes, sent; the ids of both."""
    player = begin_player(phone)
    new_course(phone, "Heron Marsh (invented)", PARS, LENGTHS)
    phone.wait_sent()
    return player, str(phone.live("course")[0]["record_id"])


def to_hole(phone: Phone, hole: int) -> Page:
    """From the list of courses to the entry of a hole's map, by taps."""
    phone.page.click("#tab-Courses")
    phone.page.click("main .list-row[href^='#/courses/']")  # not a round of the screen before
    phone.page.click("#course-maps")
    phone.page.click(f"#map-{hole}")
    phone.page.wait_for_selector("#map-drawing svg")
    return phone.page


def typed(phone: Phone, field: str, number: float) -> None:
    """Types a number; each key counts."""
    phone.page.fill(f"#{field}", f"{number:g}")
    phone.taps += 1 + len(f"{number:g}")


@pytest.mark.service_worker
def test_a_hole_is_entered_offline_in_a_minute_and_planned_after_sending(make_phone: Any) -> None:
    phone: Phone = make_phone()
    player, course = with_course(phone)
    phone.wait_for_worker()
    phone.page.reload()  # from the second start on the whole app is there
    phone.wait_for_whole_app()
    phone.go_offline()
    page = to_hole(phone, 1)
    phone.taps = 4
    typed(phone, "map-wide-1", 34)
    typed(phone, "map-wide-2", 28)
    phone.tap("#add-right")
    phone.tap("#map-kind-1-out_of_bounds")
    typed(phone, "map-begins-1", 30)
    phone.tap("#add-left")
    phone.tap("[id='map-kind-2-red water']")
    typed(phone, "map-begins-2", 26)
    phone.tap("#map-part-2-part")
    typed(phone, "map-from-2", 180)
    typed(phone, "map-to-2", 260)
    phone.tap("#add-short")
    typed(phone, "map-begins-3", 4)
    typed(phone, "map-depth", 28)
    typed(phone, "map-width", 24)
    phone.tap("#save-map-next")
    expect(page.locator("h1")).to_have_text("Hole 2: map")
    assert phone.taps <= TAPS_AND_KEYS_A_MINUTE
    assert "to send" in phone.status()
    (record,) = phone.live("hole_map")
    form = HoleForm(
        388,
        28,
        24,
        ((220, 34), (270, 28)),
        (
            Trouble("out_of_bounds", "right", 30),
            Trouble("red water", "left", 26, 180, 260),
            Trouble("bunker", "short", 4),
        ),
    )
    assert record["body"]["features"] == [as_json(one) for one in map_from_form(form)]
    assert map_fault(record["body"]["features"]) is None
    assert (record["body"]["course_id"], record["body"]["hole"]) == (course, 1)
    phone.context.set_offline(False)
    page.evaluate("dispatchEvent(new Event('online'))")
    phone.wait_sent()
    plans = phone_server(phone).get(f"/api/players/{player}/plans")
    assert plans["courses"][0]["mapped"] == [1]
    assert phone.errors == []


def as_json(value: Any) -> Any:
    """A value as it comes out of JSON."""
    return json.loads(json.dumps(value))


def phone_server(phone: Phone) -> Server:
    """The server that a phone speaks to, for asking it."""
    return Server(0, int(phone.address.rsplit(":", 1)[1]), Path(), lambda pid: None)


def window_of(page: Page) -> list[float]:
    """Left, near, right, far of what the strip shows, in yards."""
    words = page.get_attribute("#map-drawing svg", "data-window")
    assert words
    return [float(word) for word in words.split()]


def edge_px(page: Page, kind: str) -> dict[str, float]:
    """The box of a kind of ground in the live drawing, in pixels of the drawing."""
    code = """(kind) => {
      const boxes = [...document.querySelectorAll(`#map-drawing .edge-${kind}`)].map((one) => one.getBBox());
      return boxes.length ? {x: boxes[0].x, y: boxes[0].y, width: boxes[0].width, height: boxes[0].height} : null;
    }"""
    found: dict[str, float] = page.evaluate(code, kind)
    return found


def test_the_drawing_is_live_and_to_scale(phone: Phone) -> None:
    with_course(phone)
    page = to_hole(phone, 1)
    expect(page.locator("#map-said")).to_contain_text("until you enter the green’s depth and the green’s width")
    page.fill("#map-depth", "40")
    page.fill("#map-width", "20")
    expect(page.locator("#map-said")).to_have_text("")
    page.fill("#map-wide-1", "50")
    _, near, _, far = window_of(page)
    scale = page.locator("#map-drawing svg").evaluate("(one) => Number(one.getAttribute('width'))") / (far - near)
    fairway, green = edge_px(page, "fairway"), edge_px(page, "green")
    assert fairway["height"] == pytest.approx(50 * scale, abs=0.2), "across the strip is across the hole"
    assert green["width"] == pytest.approx(40 * scale, rel=0.01)
    assert green["height"] == pytest.approx(20 * scale, rel=0.01)
    page.fill("#map-wide-1", "25")
    assert edge_px(page, "fairway")["height"] == pytest.approx(25 * scale, abs=0.2)
    page.click("#add-left")
    page.fill("#map-begins-1", "20")
    trees = edge_px(page, "trees")
    middle = page.locator("#map-drawing svg").evaluate("(one) => Number(one.getAttribute('height'))") / 2
    assert trees["y"] + trees["height"] == pytest.approx(middle - 20 * scale, abs=0.2), "left of the hole is above"
    described = page.locator("#map-drawing desc").text_content()
    assert described is not None
    assert "fairway 25 yd wide at 220 yd; trees left from 20 yd; green 40 yd deep and 20 yd wide" in described


BAD_NUMBERS = [
    ("map-depth", "300", "Green, depth: 300 is outside 5 to 80 yd."),
    ("map-depth", "", "Green, depth: nothing is entered; enter 5 to 80 yd."),
    ("map-wide-1", "500", "Fairway 1, width: 500 is outside 5 to 120 yd."),
    ("map-at-1", "600", "Fairway 1, distance: 600 is outside 50 to 388 yd."),
    ("map-begins-1", "", "Trouble 1, begins: nothing is entered; enter 0 to 150 yd."),
    ("map-begins-1", "-3", "Trouble 1, begins: -3 is outside 0 to 150 yd."),
    ("map-length", "5000", "Length: 5000 is outside 50 to 700 yd."),
    ("map-bend", "151", "Bend: 151 is outside 0 to 150 yd."),
]
SOUND_NUMBERS = {"map-at-1": "220", "map-length": "388", "map-bend": "10"}


def test_a_bad_number_is_named_with_its_range_and_nothing_is_saved(phone: Phone) -> None:
    with_course(phone)
    page = to_hole(phone, 1)
    page.click("#bend-right")
    page.click("#add-right")
    for name, value in {"wide-1": "30", "begins-1": "30", "depth": "28", "width": "24", "bend": "10"}.items():
        page.fill(f"#map-{name}", value)
    for field, number, words in BAD_NUMBERS:
        page.fill(f"#{field}", number)
        page.click("#save-map")
        expect(page.locator("#map-faults li"), words).to_have_text([words])
        expect(page.locator(f"#{field}"), words).to_have_attribute("aria-invalid", "true")
        expect(page.locator(f"#{field}-fault")).to_have_text(words)
        expect(page.locator(f"#{field}"), words).to_be_focused()
        assert phone.live("hole_map") == [], words
        page.fill(f"#{field}", SOUND_NUMBERS.get(field, "30"))
        page.click("h1")  # the next fault takes the focus itself
    page.click("#save-map")
    expect(page.locator("h1")).to_have_text("Maps of Heron Marsh (invented)")
    assert len(phone.live("hole_map")) == 1


def test_metres_are_asked_for_and_kept_as_yards(phone: Phone) -> None:
    phone.open()
    phone.sign_up("Ellis Fenn", units="metres")
    new_course(phone, "Heron Marsh (invented)", PARS, LENGTHS)
    page = to_hole(phone, 3)
    expect(page.locator("label[for=map-depth]")).to_have_text("Depth, m")
    page.fill("#map-depth", "90")
    page.fill("#map-width", "20")
    page.click("#save-map")
    expect(page.locator("#map-faults li")).to_have_text(["Green, depth: 90 is outside 4.6 to 73.1 m."])
    page.fill("#map-depth", "25")
    page.click("#save-map")
    page.wait_for_selector("#next-map")
    (record,) = phone.live("hole_map")
    assert record["body"]["form"]["green_depth_yd"] == pytest.approx(25 / 0.9144)
    assert record["body"]["form"]["length_yd"] == pytest.approx(171 / 0.9144), "lengths were typed in metres too"


def test_a_map_comes_back_to_be_changed_and_is_written_over_or_removed(phone: Phone) -> None:
    player, _ = with_course(phone)
    page = to_hole(phone, 3)
    page.fill("#map-depth", "28")
    page.fill("#map-width", "24")
    page.click("#add-long")
    page.fill("#map-begins-1", "6")
    page.click("#save-map")
    page.click("#map-3")
    expect(page.locator("#map-depth")).to_have_value("28")
    expect(page.locator("#map-begins-1")).to_have_value("6")
    page.fill("#map-depth", "33")
    page.click("#save-map")
    page.wait_for_selector("#next-map")
    phone.wait_sent()
    maps = [change for change in phone_server(phone).log(player) if change["kind"] == "hole_map"]
    assert len(maps) == 2
    assert len({change["record_id"] for change in maps}) == 1
    assert maps[1]["parents"] == [maps[0]["change_id"]]
    page.click("#map-3")
    page.click("#remove-map")
    page.get_by_role("button", name="Remove", exact=True).click()
    page.wait_for_selector("#next-map")
    assert phone.live("hole_map") == []


def test_an_imported_map_is_shown_and_typing_replaces_it_in_its_own_record(make_phone: Any, own_short: Server) -> None:
    phone: Phone = make_phone(own_short)
    page = phone.open()
    player = demo_player(own_short)
    page.get_by_role("button", name="Wren Quillfeather").click()
    page.wait_for_selector("#new-round")
    phone.wait_sent()
    before = {one["body"]["hole"]: one for one in phone.live("hole_map")}
    assert len(before) == 18
    page = to_hole(phone, 1)
    expect(page.locator(".notice")).to_contain_text("an imported map of")
    assert page.locator("#map-drawing .edge-bunker").count() > 0
    page.fill("#map-wide-1", "31")
    page.fill("#map-depth", "27")
    page.fill("#map-width", "23")
    expect(page.locator("#map-drawing .edge-bunker")).to_have_count(0)
    page.click("#save-map")
    page.wait_for_selector("#to-plan")
    phone.wait_sent()
    after = {one["body"]["hole"]: one for one in phone.live("hole_map")}
    assert after[1]["record_id"] == before[1]["record_id"]
    assert after[1]["body"]["form"]["green_depth_yd"] == 27
    course = after[1]["body"]["course_id"]
    page.click("#to-plan")
    page.wait_for_selector("#plan-verdict")
    expect(page.locator(".evidence-body")).to_contain_text("Hole 1, par")
    query = urlencode({"course_id": course, "hole": 1, "tees": "middle"})
    plan = own_short.get(f"/api/players/{player}/tee-plan?{query}")
    assert plan["features"] == after[1]["body"]["features"]
    expect(page.locator("#plan-verdict")).to_have_attribute("data-verdict", plan["verdict"])
    assert phone.errors == []


def test_what_was_typed_stays_when_the_player_looks_elsewhere(phone: Phone) -> None:
    with_course(phone)
    page = to_hole(phone, 1)
    page.fill("#map-wide-1", "37")
    page.evaluate("location.hash = '#/bag'")
    page.wait_for_selector("h1 >> text=bag")
    page.go_back()
    expect(page.locator("#map-wide-1")).to_have_value("37")
