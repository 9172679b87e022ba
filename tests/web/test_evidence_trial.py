"""The trial of A against B: the verdict first, the API's numbers, addresses that come back the same."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

import pytest
from playwright.sync_api import Page, expect

from tests.web.evidence_pages import (
    answer,
    interval_words,
    open_view,
    percent,
    signed,
    table_rows,
    to_view,
    unfold,
    wait_drawn,
)
from tests.web.phone import Phone, Server

PAIRS = [
    {"a": "4 iron A", "b": "4 iron B"},
    {"a": "driver@2026-06-22", "b": "driver@2026-01-01", "minimum_effect": "0.2"},
    {"a": "54 wedge", "b": "58 wedge", "from": "2026-04-01", "to": "2026-09-30", "level": "0.8"},
]


def facts(page: Page) -> dict[str, str]:
    """What stands in the list of facts: title -> value and what is under it."""
    found: dict[str, str] = page.evaluate(
        """() => {
          const parts = (fact) => [...fact.querySelector('dd').childNodes].map((part) => part.textContent);
          const facts = [...document.querySelectorAll('.facts > div')];
          return Object.fromEntries(facts.map((fact) => [fact.querySelector('dt').textContent, parts(fact).join(' ')]));
        }"""
    )
    return found


def test_a_trial_says_what_the_api_says_the_verdict_first(reader: Phone, demo: Server) -> None:
    page = reader.page
    for query in PAIRS:
        to_view(page, demo, f"trial?{urlencode(query)}")
        trial_shown(page, demo, query)
    assert reader.errors == []


def trial_shown(page: Page, demo: Server, query: dict[str, str]) -> None:
    """The trial that is shown against the API's answer."""
    said = answer(demo, "trial", **query)
    verdict = page.locator(".verdict")
    expect(verdict).to_have_text(said["verdict"]["words"])
    expect(verdict).to_have_attribute("data-code", said["verdict"]["code"])
    assert float(verdict.evaluate("(one) => parseFloat(getComputedStyle(one).fontSize)")) > 20
    gap, level = said["difference"], said["level"]
    front, rear = (said[side]["name"] for side in ("ab" if gap["per_shot"] > 0 else "ba"))
    turned = 1 if gap["per_shot"] > 0 else -1

    def words(low: str, high: str) -> str:
        return interval_words(*sorted((turned * gap[low], turned * gap[high])))

    assert table_rows(page, f"{front} against {rear}, from the same lie and distance") == [
        ["a round", signed(abs(gap["per_round"])), words("per_round_low", "per_round_high")],
        ["a shot", signed(abs(gap["per_shot"])), words("low", "high")],
        [
            f"a round, at every check ({percent((1 + level) / 2)})",
            "",
            words("per_round_always_low", "per_round_always_high"),
        ],
    ]
    expect(page.locator(".design")).to_have_text(said["design"]["words"])
    shown = facts(page)
    assert shown[f"Chance that {said['a']['name']} is better"].startswith(percent(said["chance_a_better"]))
    for side in ("a", "b"):
        mine = said[side]
        wanted = (
            f"{mine['shots']} {mine['matched_shots']} from the same lie and distance, in {mine['matched_rounds']} round"
        )
        assert shown[f"Shots with {mine['name']}"].startswith(wanted)
    settled = said["verdict"]["settled"]
    assert shown["Shots still needed"].startswith("none" if settled else "about") or said["shots_missing"] == 0
    for measure in ("length", "playable"):
        expect(page.locator(".evidence-body")).to_contain_text(said[measure]["words"])
    places = table_rows(page, "Strokes gained a shot and shots, by place")
    assert len(places) == len(said["places"]) >= 2
    assert [row[1:3] for row in places] == [
        [f"{signed(place['mean_a'])} ({place['shots_a']})", f"{signed(place['mean_b'])} ({place['shots_b']})"]
        for place in said["places"]
    ]


def test_the_dot_lies_on_the_side_of_the_better_one(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "trial?a=4+iron+A&b=4+iron+B")
    assert answer(demo, "trial", a="4 iron A", b="4 iron B")["difference"]["per_shot"] < 0
    zero, dot = page.evaluate(
        """() => [document.querySelector('.zero-line').getAttribute('d').match(/^M([\\d.]+)/)[1],
                  document.querySelector('.pair svg[role=img] .dot').getAttribute('cx')].map(Number)"""
    )
    assert dot > zero, "the one in front is on the right, whichever side it is"
    before = page.text_content(".pair svg[role=img]")
    page.click("#swap")
    page.wait_for_function("() => location.hash.includes('a=4+iron+B')")
    expect(page.locator(".pair svg[role=img] .dot")).to_have_class("dot full gained")
    assert page.text_content(".pair svg[role=img]") == before
    expect(page.locator(".verdict")).to_contain_text("4 iron B")


def test_two_taps_choose_a_trial_and_its_address_brings_it_back(reader: Phone, make_phone: Any, demo: Server) -> None:
    page = open_view(reader, demo, "trial")
    page.click("text=against driver since 1 Jan 2026")
    page.wait_for_selector(".verdict")
    unfold(page)
    page.select_option("#minimum-effect", "0.5")
    page.wait_for_function("() => location.hash.includes('minimum_effect=0.5')")
    page.wait_for_function(
        "() => document.querySelector('.evidence-body').textContent.includes('less than 0.5 strokes')"
    )
    other: Phone = make_phone(demo)
    again = other.open(page.evaluate("location.hash"))
    wait_drawn(again)
    assert again.inner_text(".verdict") == page.inner_text(".verdict")
    assert [again.input_value(f"#side-{side}") for side in "ab"] == ["driver@2026-06-22", "driver@2026-01-01"]
    assert again.input_value("#minimum-effect") == "0.5"
    unfold(again)
    again.select_option("#side-a", "4 iron A")
    again.select_option("#side-b", "4 iron B")
    wanted = answer(demo, "trial", a="4 iron A", b="4 iron B", minimum_effect=0.5)["verdict"]["words"]
    expect(again.locator(".verdict")).to_have_text(wanted)


def test_two_balls_are_offered_and_tried_over_all_clubs(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "trial")
    options = page.locator("#side-a option").all_inner_texts()
    assert options[-2:] == ["ball white Curlew", "ball yellow Marigold"]
    page.locator(".list-row", has_text="ball white Curlew").click()
    page.wait_for_selector(".verdict")
    said = answer(demo, "trial", a="ball:white Curlew", b="ball:yellow Marigold")
    expect(page.locator(".verdict")).to_have_text(said["verdict"]["words"])
    assert [page.input_value(f"#side-{side}") for side in "ab"] == ["ball:white Curlew", "ball:yellow Marigold"]
    assert facts(page)["Shots with ball white Curlew"].startswith(f"{said['a']['shots']} ")
    assert said["a"]["shots"] + said["b"]["shots"] > 2000
    unfold(page)
    page.select_option("#side-b", "driver")
    expect(page.locator(".evidence-body [role=alert]")).to_contain_text("a ball is tried against another ball")
    assert reader.errors == []


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"a": "driver", "b": "driver"}, "have the same shots"),
        ({"a": "driver", "b": "spoon"}, "'spoon' is not one of the player's clubs"),
    ],
)
def test_a_trial_that_cannot_be_leaves_the_choice_open(
    reader: Phone, demo: Server, query: dict[str, str], words: str
) -> None:
    page = open_view(reader, demo, f"trial?{urlencode(query)}")
    expect(page.locator(".evidence-body [role=alert]")).to_contain_text(words)
    page.select_option("#side-b", "3 wood")
    expect(page.locator(".verdict")).to_have_text(answer(demo, "trial", a="driver", b="3 wood")["verdict"]["words"])


def test_days_without_a_shot_say_so_and_show_no_number(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "trial?a=4+iron+A&b=4+iron+B&from=2019-01-01&to=2019-12-31")
    expect(page.locator(".verdict")).to_contain_text("Not clear yet")
    expect(page.locator(".pair svg[role=img]")).to_have_count(0)
    assert "NaN" not in page.inner_text("main")
    assert not [title for title in facts(page) if title.startswith("Chance that")]
