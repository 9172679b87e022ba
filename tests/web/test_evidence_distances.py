"""The distance ladder on the screen: the API's numbers, the flags with their reasons, the correction for the air."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from server.game.numbers import plain
from tests.web.evidence_pages import answer, demo_server, hold_back, open_view, table_rows, wait_drawn
from tests.web.pattern_words import METRES_A_YARD, metric, percent
from tests.web.phone import Phone, Server

FLAGGED = ("gap", "overlap")
NAMED = (*FLAGGED, "both on trial")
"""Flags that stand with a reason: the last is no fault of the bag."""


def near(words: str, *values: float) -> None:
    """The whole numbers in the words are these values; a half may go either way."""
    numbers = [float(part.replace("−", "-")) for part in words.replace("–", " ").split() if part.lstrip("−-").isdigit()]
    assert numbers == pytest.approx(list(values), abs=0.5001), words


def test_the_ladder_says_what_the_api_says(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "distances")
    said = answer(demo, "distances")
    rows = table_rows(page, "Full swings in yd")
    assert [cells[0] for cells in rows] == [f"{rung['club']} {rung['shots']} shots" for rung in said["clubs"]]
    for (_, middle, half, tenths), rung in zip(rows, said["clubs"], strict=True):
        median = rung["median"]
        near(middle, median["value"], median["low"], median["high"])
        near(half, *rung["middle_half"])
        near(tenths, *rung["tenth_to_ninetieth"])
    widest = max((step for step in said["steps"] if step["gap_yd"]["low"]), key=lambda step: step["gap_yd"]["value"])
    low, value, high = (plain(widest["gap_yd"][name], 0) for name in ("low", "value", "high"))
    lead = page.locator(".headline")
    expect(lead.locator(".number")).to_have_text(f"{value} yd")
    expect(lead).to_contain_text(f"from {widest['longer']} to {widest['shorter']}, the widest step")
    expect(lead).to_contain_text(f"between {low} and {high} yd with {percent(said['level'])} confidence")
    steps = table_rows(page, "From each club to the next")
    assert len(steps) == len(said["steps"])
    for (name, apart, overlap, flag), step in zip(steps, said["steps"], strict=True):
        assert name == f"{step['longer']} → {step['shorter']}"
        near(apart, step["gap_yd"]["value"], step["gap_yd"]["low"], step["gap_yd"]["high"])
        assert overlap.startswith(percent(step["overlap"]["value"]))
        assert flag == (
            step["flag"] if step["sure"] or step["flag"] == "not clear yet" else f"{step['flag']}, not sure"
        )
    expect(page.locator(".evidence-body")).to_contain_text("local rules come first")
    assert reader.errors == []


LADDER = """() => {
  const picture = document.querySelector('.pair svg[role=img]');
  const marks = [...picture.querySelectorAll('.axis-number')].map((mark) => [Number(mark.textContent), Number(mark.getAttribute('x'))]);
  const place = (mark) => Number(mark.getAttribute('d').match(/^M([\\d.]+)/)[1]);
  return {
    marks,
    middles: [...picture.querySelectorAll('.tick-mark')].map(place),
    boxes: [...picture.querySelectorAll('.box-mark')].map((box) => [Number(box.getAttribute('x')), Number(box.getAttribute('width'))]),
    whiskers: [...picture.querySelectorAll('.whisker')].map((mark) => mark.getAttribute('d').match(/^M([\\d.]+),[\\d.]+ L[\\d.,]+ L([\\d.]+)/).slice(1).map(Number)),
    flags: [...picture.querySelectorAll('.flag')].map((mark) => mark.textContent),
  };
}"""  # noqa: E501


def test_each_club_is_drawn_where_its_numbers_say(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "distances")
    said = answer(demo, "distances")
    found = page.evaluate(LADDER)
    (low, left), (high, right) = found["marks"][0], found["marks"][-1]

    def at(yards: float) -> float:
        return float(left + (right - left) * (yards - low) / (high - low))

    assert found["middles"] == pytest.approx([at(rung["median"]["value"]) for rung in said["clubs"]], abs=0.2)
    assert found["middles"] == sorted(found["middles"], reverse=True), "the longest first"
    for rung, (start, width), ends in zip(said["clubs"], found["boxes"], found["whiskers"], strict=True):
        assert [start, start + width] == pytest.approx([at(one) for one in rung["middle_half"]], abs=1)
        assert ends == pytest.approx([at(one) for one in rung["tenth_to_ninetieth"]], abs=0.2)
    flagged = [step for step in said["steps"] if step["flag"] in FLAGGED]
    assert [words.split()[0] for words in found["flags"]] == [step["flag"] for step in flagged]
    assert [words.endswith("?") for words in found["flags"]] == [not step["sure"] for step in flagged]


def test_every_flag_has_its_reason(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "distances")
    said = answer(demo, "distances")
    items = page.locator(".flags li").all_inner_texts()
    named = [step for step in said["steps"] if step["flag"] in NAMED]
    assert len(items) == len(named) >= 3
    flagged = [step for step in named if step["flag"] in FLAGGED]
    assert len(flagged) == len(named) - 1
    for words, step in zip(items, named, strict=True):
        assert words.startswith(f"{step['longer']} and {step['shorter']}: ")
        if step["flag"] == "both on trial":
            assert (step["longer"], step["shorter"]) == ("4 iron A", "4 iron B")
            assert "Both are on trial: one is to replace the other" in words
            continue
        assert ("not sure yet" in words) == (not step["sure"])
        assert ("more than 18 yd" if step["flag"] == "gap" else "more than 35 %") in words
        if step["flag"] == "overlap":
            assert f"goes further than one with the {step['longer']} {percent(step['overlap']['value'])}" in words
    sure = sum(step["sure"] for step in flagged)
    expect(page.locator(".verdict")).to_contain_text(f"{sure} of them sure")


def test_the_limits_go_into_the_address_and_come_back(reader: Phone, make_phone: Any, demo: Server) -> None:
    page = open_view(reader, demo, "distances")
    page.click("#flag-settings")
    page.fill("#gap", "13")
    page.press("#gap", "Tab")
    page.wait_for_function("() => location.hash.includes('gap=13')")
    wait_drawn(page)
    page.fill("#overlap", "20")
    page.press("#overlap", "Tab")
    page.wait_for_function("() => location.hash.includes('overlap=0.2')")
    wait_drawn(page)
    said = answer(demo, "distances", gap_yd=13, overlap=0.2)
    flagged = [step for step in said["steps"] if step["flag"] in FLAGGED]
    assert len(flagged) > sum(step["flag"] in FLAGGED for step in answer(demo, "distances")["steps"])
    named = sum(step["flag"] in NAMED for step in said["steps"])
    expect(page.locator(".flags li")).to_have_count(named)
    expect(page.locator("#flag-settings")).to_have_text("Flags: a gap over 13 yd, an overlap over 20 %")
    again = make_phone(demo).open(page.evaluate("location.hash"))
    wait_drawn(again)
    expect(again.locator(".flags li")).to_have_count(named)
    page.click("#default-flags")
    page.wait_for_function("() => !location.hash.includes('gap')")
    page.click("#filters")
    expect(page.locator("#filter-kind")).to_have_count(1)
    expect(page.locator("#filter-level")).to_have_count(0)
    assert reader.errors == []


@pytest.fixture
def typing(reader: Phone, demo: Server) -> tuple[Page, list[Route]]:
    """A view in which a limit is being typed, a 2 so far; the answers to come are held back."""
    page = open_view(reader, demo, "distances")
    page.click("#flag-settings")
    page.locator("#overlap").press("Control+a")
    page.locator("#overlap").press_sequentially("2")
    return page, hold_back(page, "**/distances*")


def goes_on(page: Page, held: list[Route]) -> None:
    """The answers come; what was typed is still there, and counts once the field is left."""
    for route in held:
        route.continue_()
    expect(page.locator(".as-of")).not_to_contain_text("Asking")
    expect(page.locator("#overlap")).to_be_focused()
    expect(page.locator("#overlap")).to_have_value("2")
    assert "overlap" not in page.evaluate("location.hash"), "half a number does not count"
    page.keyboard.press("Tab")
    page.wait_for_function("() => location.hash.includes('overlap=0.02')")


def test_what_is_typed_while_the_view_is_drawn_again_is_not_lost(typing: tuple[Page, list[Route]]) -> None:
    page, held = typing
    page.evaluate("dispatchEvent(new HashChangeEvent('hashchange'))")  # as a change of another filter draws it
    expect(page.locator(".as-of")).to_contain_text("Asking the server…")
    goes_on(page, held)


def test_what_is_typed_outlives_a_wait_for_the_first_answer(typing: tuple[Page, list[Route]]) -> None:
    page, held = typing
    page.locator("#gap").dispatch_event("change")  # it comes into the address: never asked, nothing is kept
    expect(page.locator(".evidence-body")).to_have_text("Asking the server…")
    expect(page.locator("#overlap")).to_have_count(0)
    goes_on(page, held)


def test_a_limit_outside_its_range_is_named_and_can_be_mended(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "distances?gap=500")
    expect(page.locator(".evidence-body [role=alert]")).to_contain_text("500 is outside its range (1 to 100 yd)")
    page.click("#flag-settings")
    page.fill("#gap", "900")
    page.press("#gap", "Tab")
    page.wait_for_function("() => location.hash.includes('gap=100')")
    expect(page.locator(".pair svg[role=img]")).to_have_count(1)


def test_the_air_is_not_corrected_for_unless_asked_and_then_it_is_shown(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "distances")
    expect(page.locator("#air-settings")).to_have_text("Not corrected for the air")
    expect(page.locator("#corrected")).to_have_count(0)
    page.click("#air-settings")
    page.fill("#temperature", "-5")
    page.press("#temperature", "Tab")
    page.wait_for_function("() => location.hash.includes('temperature=-5')")
    page.wait_for_selector("#corrected")
    page.fill("#wind", "10")
    page.press("#wind", "Tab")
    page.wait_for_function("() => location.hash.includes('wind=10')")
    expect(page.locator("#corrected")).to_contain_text("10 mph of wind against")
    said = answer(demo, "distances", temperature_c=-5, head_wind_mph=10)
    shorter = (1 - said["air"]["factor"]) * 100
    expect(page.locator("#corrected")).to_contain_text(f"every distance is {shorter:.1f} % shorter")
    expect(page.locator("#corrected")).to_contain_text("−5 °C at 0 m")
    expect(page.locator("#corrected")).to_contain_text("Rules of thumb disagree by a factor of about 2.")
    rows = table_rows(page, "Full swings in yd")
    near(rows[0][1], *(said["clubs"][0]["median"][name] for name in ("value", "low", "high")))
    page.click("#no-air")
    page.wait_for_function("() => !location.hash.includes('wind')")
    expect(page.locator("#corrected")).to_have_count(0)
    assert reader.errors == []


def test_the_day_of_measuring_alone_corrects_nothing(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "distances?measured_c=30&measured_m=1500")
    expect(page.locator("#air-settings")).to_have_text("Not corrected for the air")
    rows = table_rows(page, "Full swings in yd")
    near(rows[0][1], *(answer(demo, "distances")["clubs"][0]["median"][name] for name in ("value", "low", "high")))


def test_a_player_who_reads_metres_sees_and_sets_metres(make_phone: Any, tmp_path: Path) -> None:
    server = demo_server(tmp_path, short=True)
    try:
        metric(server)
        device: Phone = make_phone(server)
        page = open_view(device, server, "distances")
        median = answer(server, "distances")["clubs"][0]["median"]
        rows = table_rows(page, "Full swings in m")
        near(rows[0][1], *(median[name] * METRES_A_YARD for name in ("value", "low", "high")))
        expect(page.locator("#flag-settings")).to_contain_text("a gap over 16 m")
        page.click("#flag-settings")
        page.fill("#gap", "11")
        page.press("#gap", "Tab")
        page.wait_for_function("() => location.hash.includes('gap=12.03')")
        expect(page.locator("#flag-settings")).to_contain_text("a gap over 11 m")
        assert " yd" not in page.inner_text(".evidence-body")
    finally:
        server.stop()
