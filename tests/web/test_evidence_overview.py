"""The overview of a player's evidence: the API's numbers, addresses that come back the same."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Page, expect

from tests.web.evidence_pages import (
    answer,
    demo_player,
    interval_words,
    open_view,
    signed,
    table_rows,
    to_view,
    wait_drawn,
)
from tests.web.phone import Phone, Server


def value_words(row: dict[str, Any], name: str) -> str:
    """A mean over its interval as a cell shows it, or why there is none."""
    if row[f"{name}_low"] is None:
        return str(row["too_few"])
    return f"{signed(row[name])} {interval_words(row[f'{name}_low'], row[f'{name}_high'])}"


def counted_words(row: dict[str, Any]) -> str:
    """How much a row rests on, as it stands under its name."""
    shots, rounds = (f"{row[name]} {name[:-1]}{'' if row[name] == 1 else 's'}" for name in ("shots", "rounds"))
    return f"{shots} in {rounds}"


def test_the_table_and_the_picture_say_what_the_api_says(reader: Phone, demo: Server) -> None:
    page = reader.page
    for by in ("club", "category", "distance", "lie", "setup"):
        for per in ("shot", "round"):
            to_view(page, demo, f"overview?by={by}" + ("&per=round" if per == "round" else ""))
            table_and_picture(page, demo, by, per)
    assert reader.errors == []


def table_and_picture(page: Page, demo: Server, by: str, per: str) -> None:
    """The overview that is shown against the API's answer."""
    said = answer(demo, "strokes-gained", by=by)
    shown = table_rows(page, f"Strokes gained by {by}")
    assert len(shown) == len(said["rows"]) >= 4
    shrinks = per == "shot" and by in ("club", "category")
    wanted = sorted(
        [
            value_words(row, "per_shot"),
            "–" if row["too_few"] else value_words(row, "per_round"),
            *(["–" if row["too_few"] else value_words(row, "shrunk")] if by in ("club", "category") else []),
        ]
        for row in said["rows"]
    )
    assert sorted(row[1:] for row in shown) == wanted
    folded = page.locator(".lengths-taken li").all_text_contents()
    assert folded == (said["lengths"]["words"] if by == "category" else [])
    counts = sorted(row[0].split()[-5:] for row in shown)
    assert counts == sorted(counted_words(row).split() for row in said["rows"])
    known = [row for row in said["rows"] if row["per_shot_low"] is not None]
    drawn = page.locator(".pair").first.locator("svg[role=img]")
    expect(drawn.locator(".dot")).to_have_count(len(known))
    expect(drawn.locator(".tick-mark")).to_have_count(len(known) if shrinks else 0)
    clear = sum(row[f"per_{per}_low"] > 0 or row[f"per_{per}_high"] < 0 for row in known)
    expect(drawn.locator(".dot.full")).to_have_count(clear)


def test_dots_stand_on_the_side_that_the_sign_says(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "overview")
    zero, dots = page.evaluate(
        """() => {
          const picture = document.querySelector('.pair svg[role=img]');
          const zero = picture.querySelector('.zero-line').getAttribute('d').match(/^M([\\d.]+)/)[1];
          const dots = [...picture.querySelectorAll('.dot')];
          return [Number(zero), dots.map((dot) => [Number(dot.getAttribute('cx')), dot.classList.contains('lost')])];
        }"""
    )
    rows = answer(demo, "strokes-gained", by="club")["rows"]
    # coloured where the interval is clear of zero, and only there: in the picture and in the table alike
    assert sum(lost for _, lost in dots) == sum(row["per_shot_high"] < 0 for row in rows if not row["too_few"]) > 0
    assert all(x < zero for x, lost in dots if lost)
    coloured = page.locator(".club-table td:nth-child(2) .loss")
    expect(coloured).to_have_count(sum(row["per_shot_high"] < 0 for row in rows if not row["too_few"]))
    expect(page.locator(".club-table td:nth-child(4) .loss")).to_have_count(
        sum(row["shrunk_high"] < 0 for row in rows if not row["too_few"])
    )
    assert [x for x, _ in dots] == sorted((x for x, _ in dots), reverse=True), "from gain to loss"


def test_the_headline_is_the_full_round_with_its_interval(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "overview")
    total = answer(demo, "strokes-gained", by="round")["total"]
    headline = page.locator(".headline")
    expect(headline.locator(".number")).to_have_text(signed(total["per_round"]))
    expect(headline).to_contain_text(
        f"between {signed(total['per_round_low'])} and {signed(total['per_round_high'])} with 90 %"
    )
    expect(page.locator("#method")).to_contain_text(f"{total['rounds']} rounds, {total['shots']} shots")


def test_the_trend_holds_every_round_and_the_band_of_every_month(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "overview")
    rounds = answer(demo, "strokes-gained", by="round")["rows"]
    by_month = answer(demo, "strokes-gained", by="month")
    months = by_month["rows"]
    assert [row["month"] for row in months] == sorted(row["month"] for row in months)
    expect(page.get_by_text(by_month["trend"]["words"])).to_be_visible()
    picture = page.locator("svg[role=img]").last
    expect(picture.locator(".dot")).to_have_count(len(rounds))
    said = [row for row in months if row["per_round_low"] is not None]
    assert picture.locator(".band").get_attribute("d").count("M") == len(said) > 3
    shown = table_rows(page, "Strokes gained a round by month")
    assert [row[1] for row in shown] == [value_words(row, "per_round") for row in months]
    page.get_by_text("Every round in numbers").click()
    assert sorted(row[1] for row in table_rows(page, "Strokes gained by round")) == sorted(
        signed(row["strokes_gained"]) for row in rounds
    )


def test_filters_go_into_the_address_and_come_back_from_it(reader: Phone, make_phone: Any, demo: Server) -> None:
    page = open_view(reader, demo, "overview")
    page.click("#by-category")
    page.wait_for_function("() => location.hash.includes('by=category')")
    page.click("#filters")
    page.fill("#filter-from", "2026-05-01")
    page.fill("#filter-to", "2026-08-31")
    page.select_option("#filter-kind", "practice")
    page.select_option("#filter-level", "0.8")
    page.click("#per-round")
    page.wait_for_function("() => location.hash.includes('per=round') && location.hash.includes('level=0.8')")
    wait_drawn(page)
    assert page.evaluate("document.activeElement.id") == "per-round", "the focus stays where the thumb was"
    address = page.evaluate("location.hash")
    assert set(address.split("?")[1].split("&")) == {
        "by=category", "per=round", "from=2026-05-01", "to=2026-08-31", "kind=practice", "level=0.8",
    }  # fmt: skip
    said = answer(
        demo, "strokes-gained", by="category", kind="practice", level=0.8, **{"from": "2026-05-01", "to": "2026-08-31"}
    )
    expect(page.locator("#method")).to_contain_text(f"{said['total']['rounds']} rounds")

    other: Phone = make_phone(demo)
    again = other.open(address)
    wait_drawn(again)
    assert table_rows(again, "Strokes gained by category, with the 80 % interval") == table_rows(
        page, "Strokes gained by category"
    )
    assert again.inner_text("#filters").startswith("practice rounds, 1 May 2026 to 31 Aug 2026, intervals at 80 %")
    expect(again.locator("#by-category")).to_have_attribute("aria-pressed", "true")
    assert reader.errors == other.errors == []


def test_one_round_is_too_few_and_says_so_without_a_number(reader: Phone, demo: Server) -> None:
    day = min(row["round"][:10] for row in answer(demo, "strokes-gained", by="round")["rows"])
    page = open_view(reader, demo, f"overview?from={day}&to={day}")
    expect(page.locator(".headline .verdict")).to_have_text(
        "Not enough rounds yet: strokes gained a round needs two of nine holes or more."
    )
    rows = answer(demo, "strokes-gained", by="club", **{"from": day, "to": day})["rows"]
    assert {row[1] for row in table_rows(page, "Strokes gained by club")} == {row["too_few"] for row in rows}
    expect(page.locator(".pair svg[role=img] .row-marks")).to_have_count(0)


def test_dates_without_a_round_and_dates_the_wrong_way_round(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "overview?from=2019-01-01&to=2019-12-31")
    expect(page.locator(".evidence-body .empty")).to_have_text(
        "There is no shot in the rounds asked for, from 2019-01-01 to 2019-12-31."
    )
    page = open_view(reader, demo, "overview?from=2026-06-01&to=2026-05-01")
    expect(page.locator(".failed [role=alert]")).to_contain_text("is after to")


def test_the_list_of_players_leads_to_each_players_evidence(coach: Phone, demo: Server) -> None:
    page = coach.open()
    page.click("text=For coaches")
    page.click(f"#evidence-{demo_player(demo)}")
    wait_drawn(page)
    expect(page.locator(".evidence-player")).to_contain_text("Wren Quillfeather")
    expect(page).to_have_title("Overview, Wren Quillfeather · Pencilbag")
    page.click("text=All players")
    expect(page.locator("h1")).to_have_text("Squad")


def test_an_unknown_player_is_named_as_such(coach: Phone, demo: Server) -> None:
    page = coach.open("#/evidence/00000000-0000-4000-8000-000000000000/overview")
    expect(page.locator(".failed [role=alert]")).to_contain_text("There is no player")


ANSWER_WORDS = """async ([rows, by]) => {
  const { answerWords } = await import('/js/views/overview.js');
  return answerWords({ rows }, by).textContent;
}"""


def part_row(by: str, key: str, low: float | None, middle: float, high: float | None) -> dict[str, Any]:
    """A row of a summary as far as its answer needs it."""
    return {by: key, "per_round": middle, "per_round_low": low, "per_round_high": high}


def test_most_strokes_are_lost_only_where_no_other_part_could_cost_as_much(module_page: Page) -> None:
    driver = part_row("club", "driver", -1.9, -1.42, -0.94)
    putter = part_row("club", "putter", -1.56, -1.09, -0.61)
    wedge = part_row("club", "54 wedge", -0.57, -0.34, -0.1)
    wild = part_row("club", "3 wood", -4.0, -1.8, 0.4)
    rare = part_row("club", "5 wood", None, -2.0, None)
    for rows, words in (
        ([wedge, driver, rare], "Most strokes are lost with the driver, −1.42 a round."),
        (
            [wedge, putter, driver],
            "Strokes are clearly lost with the driver, −1.42 a round, but not clearly more than with the putter, −1.09"
            ".",
        ),
        (
            [wild, putter, driver],
            "Strokes are clearly lost with the driver, −1.42 a round, but not clearly more than with the 3 wood, −1.80,"
            " or 1 other.",
        ),
        ([wild, rare], "No part clearly costs strokes yet."),
    ):
        assert module_page.evaluate(ANSWER_WORDS, [rows, "club"]) == words


def test_every_grouping_has_its_part_in_a_sentence(module_page: Page) -> None:
    for by, key, words in (
        ("category", "approach", "on approach shots"),
        ("category", "off_the_tee", "off the tee"),
        ("lie", "recovery", "from recovery lies"),
        ("lie", "green", "from the green"),
        ("distance", "over 3 to 6 ft", "on 3–6 ft putts"),
        ("distance", "over 100 to 125 yd", "from 100–125 yd"),
        ("setup", "4 iron A, 2026-03-01 thin blade", "with the 4 iron A (thin blade)"),
    ):
        row = part_row(by, key, -0.9, -0.6, -0.3)
        assert module_page.evaluate(ANSWER_WORDS, [[row], by]) == f"Most strokes are lost {words}, −0.60 a round."


def test_the_answer_of_the_demo_names_what_could_cost_as_much(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "overview")
    rows = {row["club"]: row for row in answer(demo, "strokes-gained", by="club")["rows"]}
    assert rows["putter"]["per_round_low"] < rows["driver"]["per_round_high"], "the two overlap"
    expect(page.locator("#answer")).to_have_text(
        f"Strokes are clearly lost with the driver, {signed(rows['driver']['per_round'])} a round, "
        f"but not clearly more than with the putter, {signed(rows['putter']['per_round'])}."
    )
