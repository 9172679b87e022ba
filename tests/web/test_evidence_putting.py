"""Putting and priorities: the API's numbers, two putters compared, calm words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode

import pytest
from playwright.sync_api import expect

from tests.web.evidence_pages import (
    answer,
    demo_server,
    interval_words,
    open_anew,
    open_view,
    percent,
    second_putter,
    signed,
    table_rows,
    wait_drawn,
)
from tests.web.phone import Phone, Server
from tests.web.seeded import with_round


@pytest.fixture(scope="module")
def two_putters(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Server, str]]:
    server = demo_server(tmp_path_factory.mktemp("putters"))
    yield server, second_putter(server)
    server.stop()


def share_words(row: dict[str, Any], name: str) -> str:
    """A share over its interval as a cell shows it."""
    leaning = " mostly tour" if row.get("leans_on_tour") else ""
    return f"{percent(row[name])} {percent(row['low'])} to {percent(row['high'])}{leaning}"


@pytest.mark.parametrize("query", [{}, {"from": "2026-06-01", "kind": "practice", "level": "0.8"}])
def test_putting_shows_the_curve_and_what_was_counted(reader: Phone, demo: Server, query: dict[str, str]) -> None:
    page = open_view(reader, demo, f"putting?{urlencode(query)}")
    said = answer(demo, "putting", **query)
    level = percent(said["level"])
    assert table_rows(page, f"Share holed by length, with the {level} interval") == [
        [f"{row['feet']} ft", share_words(row, "rate"), str(row["putts_near"]), percent(row["tour"])]
        for row in said["curve"]
    ]
    page.click("summary >> text=What was counted")
    counted = table_rows(page, "Putts holed by length, all putters")
    assert [row[1] for row in counted] == [f"{row['holed']} of {row['putts']}" for row in said["bands"]]
    assert [row[2] for row in counted] == [share_words(row, "share") for row in said["bands"]]
    picture = page.locator(".pair svg[role=img]").first
    expect(picture.locator(".dot")).to_have_count(sum(row["feet"] <= 60 for row in said["bands"]))
    expect(picture.locator(".band.one")).to_have_count(1)
    expect(page.locator(".verdict")).to_contain_text(f"You hole half your putts from {round(said['half_ft'], 1):g} ft")
    low, half, high = (f"{round(said[name], 1):g}" for name in ("half_low_ft", "half_ft", "half_high_ft"))
    expect(page.locator(".headline .number")).to_have_text(f"{half} ft")
    expect(page.locator(".headline")).to_contain_text(f"{half} ft is where half your putts are holed")
    expect(page.locator(".headline")).to_contain_text(f"between {low} and {high} ft with {level} confidence")
    page.click("summary >> text=If lengths are off")
    assert page.locator(".lengths-taken li").all_inner_texts() == said["lengths"]["words"]
    gained = table_rows(page, "Strokes gained putting a round by length")
    assert [row[1] for row in gained] == [
        row["too_few"]
        if row["per_round_low"] is None
        else f"{signed(row['per_round'])} {interval_words(row['per_round_low'], row['per_round_high'])}"
        for row in said["gained"]["rows"]
    ]
    three = said["three_putts"]
    expect(page.locator(".three-putts .number")).to_have_text(percent(three["share"]))
    expect(page.locator(".three-putts")).to_contain_text(f"{three['three_putts']} of {three['holes']} holes")
    assert [row[1] for row in table_rows(page, "First putts by length")] == [
        str(row["putts"]) for row in said["first_putts"]["bands"]
    ]
    left = table_rows(page, "What missed putts leave, by length")
    assert [row[1] for row in left[:-1]] == [str(row["misses"]) for row in said["speed"]["bands"]]
    assert reader.errors == []


def test_dots_of_the_curve_stand_where_the_share_says(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "putting")
    bands = [row for row in answer(demo, "putting")["bands"] if row["feet"] <= 60]
    found = page.evaluate(
        """() => {
          const picture = document.querySelector('.pair svg[role=img]');
          const numbers = (name) => [...picture.querySelectorAll('.dot')].map((dot) => Number(dot.getAttribute(name)));
          const marks = [...picture.querySelectorAll('.axis-number')].map((one) => [one.textContent, ...['x', 'y'].map((at) => Number(one.getAttribute(at)))]);
          return {x: numbers('cx'), y: numbers('cy'), r: numbers('r'), marks};
        }"""  # noqa: E501
    )
    across = {words: x for words, x, _ in found["marks"] if "%" not in words}
    lines = {words: y for words, _, y in found["marks"] if "%" in words}
    lift = found["marks"] and 0.3 * 16  # the words of an upward mark stand this much below their line
    for place, row in enumerate(bands):
        x = across["0"] + (across["20"] - across["0"]) * row["feet"] / 20
        y = lines["0 %"] + (lines["100 %"] - lines["0 %"]) * row["share"] - lift
        assert found["x"][place] == pytest.approx(x, abs=0.2)
        assert found["y"][place] == pytest.approx(y, abs=0.2)
    order = sorted(range(len(bands)), key=lambda place: bands[place]["putts"])
    assert [found["r"][place] for place in order] == sorted(found["r"]), "more putts, larger dot"


def test_too_few_putts_say_so(make_phone: Any, demo: Server) -> None:
    device: Phone = make_phone(demo)
    with_round(device, demo, "Few Putts", tuple(range(1, 10)))
    (player,) = {change["player_id"] for change in device.all_of("changes")}
    open_anew(device, player, "putting")
    page = device.page
    said = demo.get(f"/api/players/{player}/putting")
    assert (said["putts"] < 20, said["curve"]) == (True, [])
    expect(page.locator(".verdict")).to_have_text(said["lacking"])
    expect(page.locator(".three-putts")).to_contain_text(said["three_putts"]["lacking"])
    assert "NaN" not in page.inner_text("main")


def test_an_empty_span_says_so(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "putting?from=2019-01-01&to=2019-12-31")
    words = "There is no shot in the rounds asked for, from 2019-01-01 to 2019-12-31."
    expect(page.locator("#empty-span")).to_have_text(words)
    expect(page.locator(".evidence-body svg[role=img]")).to_have_count(0)
    assert "NaN" not in page.inner_text("main")


def test_one_putter_offers_no_comparison(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "putting")
    expect(page.locator("#putter")).to_have_count(0)


def test_two_putters_are_compared_with_the_verdict_first(make_phone: Any, two_putters: tuple[Server, str]) -> None:
    server, other = two_putters
    device: Phone = make_phone(server)
    page = open_view(device, server, "putting")
    page.select_option("#putter", "putter")
    page.wait_for_selector("#other-putter")
    page.select_option("#other-putter", other)
    said = answer(server, "putting", club="putter", against=other)
    compared = said["comparison"]
    expect(page.locator(".verdict")).to_have_text(said["verdict"]["words"])
    expect(page.locator(".facts")).to_contain_text(percent(compared["chance_a_better"]))
    expect(page.locator(".facts")).to_contain_text(f"there are {compared['a']['putts']} and {compared['b']['putts']}")
    assert table_rows(page, "Share holed, allowing for length") == [
        [f"{row['feet']} ft", percent(row["a"]), percent(row["b"])] for row in compared["feet"]
    ]
    theirs = answer(server, "putting", club=other)
    rows = table_rows(page, "Share holed by length")
    assert [row[1:3] for row in rows] == [
        [share_words(mine, "rate"), share_words(yours, "rate")]
        for mine, yours in zip(said["curve"], theirs["curve"], strict=True)
    ]
    picture = page.locator(".pair svg[role=img]").first
    expect(picture.locator("circle.dot.one")).to_have_count(sum(row["feet"] <= 60 for row in said["bands"]))
    expect(picture.locator("rect.dot.two")).to_have_count(sum(row["feet"] <= 60 for row in theirs["bands"]))
    again = make_phone(server).open(page.evaluate("location.hash"))
    wait_drawn(again)
    assert again.inner_text(".verdict") == page.inner_text(".verdict")
    assert [again.input_value("#putter"), again.input_value("#other-putter")] == ["putter", other]
    assert device.errors == []


def test_priorities_are_at_most_three_sentences_with_what_comes_next(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "priorities")
    said = answer(demo, "priorities")
    expect(page.locator(".priorities > li")).to_have_count(len(said["priorities"]))
    assert 1 <= len(said["priorities"]) <= 3
    for place, one in enumerate(said["priorities"]):
        item = page.locator(".priorities > li").nth(place)
        expect(item.locator(".verdict")).to_have_text(
            f"{one['what']} cost about {one['strokes_a_round']:.1f} strokes a round."
        )
        expect(item).to_contain_text(one["next"])
        worked_out = page.locator("#method p", has_text=f"{one['what']}: as measured")
        expect(worked_out).to_contain_text(interval_words(one["low"], one["high"]))
        expect(worked_out).to_contain_text(f"{one['shots']} shots in {one['rounds']} rounds")
        expect(worked_out).to_contain_text(one["sure"])
    assert " ".join(page.locator(".evidence-body > .verdict, #priorities-caution").all_inner_texts()) == said["words"]
    worst = said["priorities"][0]
    headline = page.locator(".evidence-body > .headline")
    expect(headline.locator(".number")).to_have_text(signed(worst["per_round"]))
    expect(headline).to_contain_text(f"between {signed(worst['low'])} and {signed(worst['high'])} with 90 % confidence")
    order = "() => [...document.querySelector('.evidence-body').children].map((one) => one.className || one.tagName)"
    assert page.evaluate(order)[:3] == ["verdict", "headline", "SECTION"], "a sentence, a figure, a plot"
    rows = table_rows(page, "Strokes gained a round by part of the game")
    assert [row[2:] for row in rows] == [
        [signed(cell["shrunk_per_round"]), str(cell["shots"])] for cell in said["cells"]
    ]
    parts = " ".join(row[0] for row in rows)
    assert ("over 200 yd" in parts, "over 30 ft" in parts) == (True, True), "not as far as a length may go"
    assert not {"700", "150 ft"} & set(parts.replace("–", " ").split())
    marked = sum(row[0].startswith("▸") for row in rows)
    assert marked == len(said["priorities"])
    assert reader.errors == []


def test_nothing_stands_out_is_an_answer_too(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "priorities?from=2026-03-01&to=2026-03-12")
    said = answer(demo, "priorities", **{"from": "2026-03-01", "to": "2026-03-12"})
    assert said["priorities"] == []
    expect(page.locator(".evidence-body > .verdict")).to_have_text(said["words"])
    expect(page.locator(".priorities")).to_have_count(0)
