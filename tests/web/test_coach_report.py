"""The printed report: exactly one page on A4 and on Letter, black on white, whatever the player has."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.web.evidence_pages import go_to, unfold, wait_drawn
from tests.web.phone import Phone
from tests.web.squad import CLUBS, EMPTY, MANY, WREN, Squad, long_label

PAPERS = {"A4": (595.92, 842.88), "Letter": (612, 792)}
"""Points; Chromium rounds millimetres to whole pixels of 96 to the inch."""
MARGIN_MM = 12
LINE_MM = 5
"""Of the left margin: in them stands the red line, so they belong to the sheet that is laid out."""
POINTS_A_MM = 72 / 25.4


def report(phone: Phone, here: Squad, player: str, query: str = "") -> Page:
    """The report of a player on the screen, everything unfolded."""
    page = go_to(phone, f"#/evidence/{here.players[player]}/report{query}")
    wait_drawn(page)
    page.wait_for_selector(".report-foot")
    unfold(page)
    return page


def pages_of(pdf: bytes) -> list[tuple[float, float]]:
    """The size of every page of a PDF in points: one page object each, with a box of its own or its parent's."""
    count = len(re.findall(rb"/Type\s*/Page(?![a-zA-Z])", pdf))
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", pdf)
    assert count == len(boxes) > 0
    return [(float(width), float(height)) for width, height in boxes]


@pytest.mark.parametrize(
    ("player", "query"),
    [(WREN, ""), (EMPTY, ""), (MANY, ""), (WREN, "?from=2026-03-07&to=2026-03-07"), (WREN, "?level=0.99&kind=casual")],
)
def test_one_page_on_every_paper(cara: Phone, here: Squad, player: str, query: str) -> None:
    page = report(cara, here, player, query)
    for zoom in (1, 2):
        page.evaluate(f"() => {{ document.documentElement.style.fontSize = '{zoom * 100}%'; }}")
        for paper, size in PAPERS.items():
            assert pages_of(page.pdf(format=paper)) == [pytest.approx(size, abs=1)], (paper, zoom)


def test_the_count_of_pages_can_be_another(cara: Phone, here: Squad) -> None:
    page = report(cara, here, WREN)
    page.evaluate("() => { document.querySelector('.report').style.minHeight = '400mm'; }")
    assert len(pages_of(page.pdf(format="A4"))) == 2


CUT_OFF = """(room) => [...document.querySelectorAll('.report *')]
  .filter((one) => one.checkVisibility() && !one.closest('.hidden'))
  .map((one) => [one, one.getBoundingClientRect()])
  .filter(([one, box]) => box.right > room + 0.5 || box.left < -0.5)
  .map(([one, box]) => `${one.tagName}.${one.className} ${one.textContent.slice(0, 30)} ${box.left.toFixed(0)}..${box.right.toFixed(0)}`)"""  # noqa: E501

OVERLAPS = """() => {
  const all = [...document.querySelectorAll('.report-table td, .report-table th')];
  const shortened = (one) => one.querySelector('.cut') || one.classList.contains('words'); // they end in three dots
  const cells = all.filter((one) => one.checkVisibility() && !shortened(one));
  return cells.flatMap((cell) => {
    const next = cell.nextElementSibling;
    const inside = document.createRange();
    inside.selectNodeContents(cell);
    const words = inside.getBoundingClientRect();
    return next && words.width && words.right > next.getBoundingClientRect().left + 0.5 ? [cell.textContent] : [];
  });
}"""


@pytest.mark.parametrize("player", [WREN, MANY])
def test_nothing_is_cut_off_and_all_of_it_is_black_on_white(cara: Phone, here: Squad, player: str) -> None:
    cara.page.emulate_media(color_scheme="dark")
    page = report(cara, here, player)
    page.emulate_media(media="print", color_scheme="dark")
    for paper, size in PAPERS.items():
        wide, high = (points / POINTS_A_MM - 2 * MARGIN_MM for points in size)
        width, height = round((wide + LINE_MM) * 96 / 25.4), round(high * 96 / 25.4)
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate(CUT_OFF, width) == [], paper
        assert page.evaluate(OVERLAPS) == [], paper
        colours_and_hidden(page)


def colours_and_hidden(page: Page) -> None:
    """Black on white in a dark theme too, and nothing on paper that is only for the screen."""
    colours = page.evaluate(
        """() => [...new Set([...document.querySelectorAll('.report, .report *')].filter((one) => one.checkVisibility())
          .map((one) => getComputedStyle(one).color))]"""
    )
    assert colours == ["rgb(0, 0, 0)"]
    assert page.evaluate("() => getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    for hidden in ("#top", ".views", ".filters", ".evidence-foot", "#print-report", ".evidence-head"):
        assert page.locator(hidden).first.is_hidden(), hidden


def test_it_holds_rounds_score_categories_clubs_putting_priorities_and_notes(cara: Phone, here: Squad) -> None:
    page = report(cara, here, WREN)
    sections = page.locator(".report h3").all_inner_texts()
    assert sections == ["By category, a round", "Putting", "Priorities", "By club, a shot", "Notes", "Rounds"]
    said = page.evaluate("async (id) => (await fetch(`/api/players/${id}/scores`)).json()", here.players[WREN])
    facts = page.locator(".report-facts dd").all_inner_texts()
    assert facts[0].startswith(f"{said['means']['score']:.1f}")
    assert page.locator(".report-rounds tbody tr").count() == 8
    first = page.locator(".report-rounds tbody tr").first.inner_text()
    assert str(said["rounds"][0]["score"]) in first
    expect(page.locator(".report-notes li")).to_have_text(
        re.compile("cara, .*, club 4 iron A: Goes back into the bag when the trial is settled.")
    )


def test_what_does_not_fit_is_counted(cara: Phone, here: Squad) -> None:
    page = report(cara, here, MANY)
    clubs = page.locator(".report-table", has=page.locator("caption", has_text="by club"))
    expect(clubs.locator("tbody tr")).to_have_count(20)
    expect(page.locator(".report")).to_contain_text(f"{CLUBS - 20} clubs more, with the fewest shots")
    expect(page.locator(".report-notes li")).to_have_count(3)
    expect(page.locator(".report")).to_contain_text("The latest 3 of 6 notes.")
    expect(page.locator(".report-notes")).to_contain_text(long_label(5)[:30])


def test_an_empty_player_has_a_report_that_says_so(cara: Phone, here: Squad) -> None:
    page = report(cara, here, EMPTY)
    expect(page.locator(".report")).to_contain_text("there is nothing to report yet")
    expect(page.locator(".report h2")).to_have_text(EMPTY)


def test_the_button_prints(make_phone: Any, here: Squad) -> None:
    phone: Phone = make_phone(here.server)
    here.sign_in(phone, "cara")
    page = report(phone, here, WREN)
    page.evaluate("() => { globalThis.printed = 0; globalThis.print = () => { globalThis.printed += 1; }; }")
    page.click("#print-report")
    assert page.evaluate("globalThis.printed") == 1
