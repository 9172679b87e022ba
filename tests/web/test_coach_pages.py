"""A coach's way: the squad, one player, filters, two spans; addresses that come back the same to another coach."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Page, Route, expect

from server.analysis.evidence.pair import A_BETTER, pair_parts
from server.store.engine import open_database
from server.store.sharing import end_share, shares
from tests.analysis.tallied import every, tally
from tests.web.evidence_pages import go_to, interval_words, signed, table_rows, to_view, unfold, wait_drawn
from tests.web.measures import faults_of
from tests.web.phone import Phone
from tests.web.squad import EMPTY, LOCKED, MANY, WREN, Squad, squad


@pytest.fixture
def make_coach(make_phone: Any, here: Squad) -> Any:
    """A coach's browser, signed in."""

    def make(name: str) -> Phone:
        phone: Phone = make_phone(here.server)
        here.sign_in(phone, name)
        return phone

    return make


def said(page: Page, here: Squad, view: str, player: str = WREN) -> Any:
    """What the API tells this coach."""
    return page.evaluate("async (path) => (await fetch(path)).json()", f"/api/players/{here.players[player]}/{view}")


def opened(phone: Phone, here: Squad, address: str, player: str = WREN) -> Page:
    page = go_to(phone, f"#/evidence/{here.players[player]}/{address}")
    wait_drawn(page)
    return page


def squad_page(phone: Phone) -> Page:
    """The list of players, everything unfolded."""
    page = go_to(phone, "#/evidence", ".player-row")
    page.evaluate("() => document.querySelectorAll('details.fold').forEach((one) => { one.open = true; })")
    return page


def names(page: Page) -> list[str]:
    """The players in the order in which they stand."""
    found: list[str] = page.evaluate(
        "() => [...document.querySelectorAll('.squad .list-main')].map((one) => one.firstChild.textContent)"
    )
    return found


def test_the_squad_shows_the_last_round_and_the_latest_in_a_line(cara: Phone, here: Squad) -> None:
    page = squad_page(cara)
    assert names(page) == [LOCKED, MANY, WREN, EMPTY]
    listed = page.evaluate("async () => (await fetch('/api/squad')).json()")["players"]
    wren = next(one for one in listed if one["name"] == WREN)
    row = page.locator(".player-row", has_text=WREN)
    expect(row.locator(".list-under").first).to_have_text("11 Oct 2026, Blottingham Heath, practice · 30 rounds")
    expect(row.locator(".trend-words")).to_contain_text(f"{signed(wren['trend']['mean'])} a round over the last 12")
    trend = wren["trend"]
    expect(row.locator(".trend-words")).to_contain_text(
        f"{trend['words']}: {signed(trend['difference'])}, interval {interval_words(trend['low'], trend['high'])}"
    )
    line = row.locator(".sparkline")
    values = ", ".join(signed(one["strokes_gained"]) for one in wren["recent"])
    expect(line).to_have_attribute(
        "aria-label", f"Strokes gained for 18 holes in the last 12 rounds of {WREN}, earliest first: {values}"
    )
    assert line.locator(".curve").get_attribute("d").count("L") == 11
    parts = ", ".join(signed(one["per_round"]) for one in wren["parts"])
    assert ", ".join(row.locator(".part-values span").all_inner_texts()) == parts
    expect(row.locator(".part-bars svg")).to_have_attribute("aria-label", re.compile("with the 90 % interval"))
    assert "Goes back into the bag" in row.locator(".player-note").text_content()
    expect(page.locator(".player-row", has_text=LOCKED)).to_contain_text("locked: a competition round is open")
    empty = page.locator(".player-row", has_text=EMPTY)
    expect(empty).to_contain_text("no round yet")
    expect(empty).to_contain_text("Needed: a round with its shots")
    expect(empty.locator(".row-views a", has_text="report")).to_have_count(0)
    assert cara.errors == []


def test_the_order_of_the_squad_is_an_address(cara: Phone) -> None:
    page = squad_page(cara)
    page.click("#sort-name")
    page.wait_for_function("() => location.hash === '#/evidence?sort=name'")
    page.wait_for_function("() => document.querySelector('#sort-name')?.getAttribute('aria-pressed') === 'true'")
    assert names(page) == sorted([LOCKED, MANY, WREN, EMPTY])
    page.reload()
    page.wait_for_selector(".player-row")
    assert names(page) == sorted([LOCKED, MANY, WREN, EMPTY])


def test_the_squad_is_put_in_order_when_asked(cara: Phone, here: Squad) -> None:
    page = squad_page(cara)
    expect(page.locator("#rank-words")).to_have_count(0)
    page.click("#show-ranks")
    expect(page.locator("#rank-words")).to_be_visible()
    ranks = page.evaluate("async () => (await fetch('/api/squad/ranks?by=total')).json()")
    expect(page.locator("#rank-words")).to_have_text(ranks["words"])
    rows = table_rows(page, "Strokes gained a round compared with the squad")
    assert [row[0].split(",")[0] for row in rows] == [one["name"] for one in ranks["players"]]
    assert len(rows) == len(ranks["players"]) >= 2
    assert {one["name"] for one in ranks["left_out"]} == {LOCKED, EMPTY}
    expect(page.locator(".ranks")).to_contain_text(f"Left out: {LOCKED}, a competition round is open.")
    page.select_option("#rank-by", "putting")
    page.wait_for_function("() => document.querySelector('#rank-words')?.textContent.includes('putting')")
    assert cara.errors == []


def test_a_coach_sees_those_who_share_and_nobody_else(make_coach: Any, here: Squad) -> None:
    page = squad_page(make_coach("dora"))
    assert set(names(page)) == {WREN, EMPTY}
    page.goto(f"{here.server.address}/#/evidence/{here.players[MANY]}/overview")
    expect(page.locator(".failed [role=alert]")).to_contain_text("There is no player")
    nobody = make_coach("hazel").open("#/evidence", ".empty")
    expect(nobody.locator(".empty")).to_contain_text("No player shares with you yet")


def test_from_the_squad_to_a_club_and_to_every_other_view(cara: Phone, here: Squad) -> None:
    page = squad_page(cara)
    page.click(f"#evidence-{here.players[WREN]}")
    wait_drawn(page)
    assert page.locator(".views a").all_inner_texts() == ["Overview", "Periods", "Priorities", "Squad"]
    assert page.locator(".questions a").count() == 4
    expect(page.locator("#view-report")).to_be_visible()
    unfold(page)
    page.locator(".cell-link", has_text="driver").click()
    page.wait_for_function("() => location.hash.includes('/patterns?club=driver')")
    wait_drawn(page)
    page.go_back()
    page.wait_for_function("() => location.hash.includes('/overview')")
    wait_drawn(page)
    page.locator(".cell-link", has_text="putter").click()
    page.wait_for_function("() => location.hash.includes('/putting?club=putter')")
    wait_drawn(page)
    assert cara.errors == []


def test_filters_by_course_lie_and_setup_are_in_the_address_and_in_the_numbers(
    cara: Phone, make_coach: Any, here: Squad
) -> None:
    page = opened(cara, here, "overview?by=distance")
    page.click("#filters")
    page.wait_for_function("() => document.querySelector('#filter-setup').options.length > 15")
    page.select_option("#filter-lie", "tee")
    page.wait_for_function("() => location.hash.includes('lie=tee')")
    page.select_option("#filter-course", "Blottingham Heath")
    page.wait_for_function("() => location.hash.includes('course=')")
    page.wait_for_function("() => document.querySelector('#filter-setup').options.length > 15")
    page.select_option("#filter-setup", "driver@2026-06-22")
    page.wait_for_function("() => location.hash.includes('setup=')")
    page.wait_for_function("() => document.querySelector('#filters').textContent.includes('driver since 22 Jun 2026')")
    wait_drawn(page)
    assert "on Blottingham Heath, from tee alone, with driver since 22 Jun 2026 alone" in page.inner_text("#filters")
    asked = "strokes-gained?by=distance&course=Blottingham+Heath&lie=tee&setup=driver%402026-06-22"
    rows = said(page, here, asked)["rows"]
    shown = table_rows(page, "Strokes gained by distance")
    assert sorted(row[0].split()[-5] for row in shown) == sorted(str(row["shots"]) for row in rows)
    assert 0 < sum(row["shots"] for row in rows) < said(page, here, "strokes-gained?lie=tee")["total"]["shots"]
    again = make_coach("dora").open(page.evaluate("location.hash"), ".evidence h1")
    wait_drawn(again)
    assert table_rows(again, "Strokes gained by distance") == shown
    expect(again.locator("#filter-setup")).to_have_value("driver@2026-06-22")
    expect(again.locator("#filter-lie")).to_have_value("tee")
    page.click("#filter-clear")
    page.wait_for_function("() => !/lie|setup|course/.test(location.hash)")
    assert cara.errors == []


def test_two_spans_say_what_the_api_says_and_come_back_the_same(cara: Phone, make_coach: Any, here: Squad) -> None:
    page = opened(cara, here, "compare")
    page.click("#cut-0")
    page.wait_for_function("() => location.hash.includes('beside_to=')")
    wait_drawn(page)
    page.wait_for_selector(".facts")
    query = page.evaluate("location.hash").split("?")[1]
    found = said(page, here, f"compared?{query}")
    assert found["first"]["rounds"] == found["second"]["rounds"] == 15
    expect(page.locator(".facts")).to_contain_text("15 rounds")
    shown = {row[0]: row[1:] for row in table_rows(page, "Strokes gained per shot by club in both periods")}
    assert len(shown) == len(found["rows"]) == 15
    for row in found["rows"]:
        cells = [
            f"{signed(part[name])} {interval_words(part[f'{name}_low'], part[f'{name}_high'])}"
            for part, name in ((row["difference"], "per_shot"), (row["second"], "per_shot"), (row["first"], "per_shot"))
        ]
        assert shown[row["club"]] == cells
    whole = found["total"]["difference"]
    expect(page.locator(".verdict")).to_have_text(found["verdict"])
    as_played = page.locator(".hint", has_text="With the courses as they were played")
    expect(as_played).to_contain_text(found["courses"])
    expect(as_played).to_contain_text(interval_words(whole["per_round_low"], whole["per_round_high"]))
    drawn = page.locator(".pair svg[role=img]")
    clear = [
        row for row in found["rows"] if row["difference"]["per_shot_low"] > 0 or row["difference"]["per_shot_high"] < 0
    ]
    expect(drawn.locator(".dot")).to_have_count(15)
    expect(drawn.locator(".dot.full")).to_have_count(len(clear))
    page.click("#by-category")
    page.wait_for_function("() => location.hash.includes('by=category')")
    page.wait_for_function("() => document.querySelectorAll('.evidence-table tbody tr').length === 4")
    before = table_rows(page, "Strokes gained per shot by category in both periods")
    address = page.evaluate("location.hash")
    page.reload()
    page.wait_for_selector(".evidence h1")
    wait_drawn(page)
    assert table_rows(page, "Strokes gained per shot by category in both periods") == before
    other = make_coach("dora").open(address, ".evidence h1")
    wait_drawn(other)
    assert table_rows(other, "Strokes gained per shot by category in both periods") == before
    assert cara.errors == []


def test_spans_that_share_rounds_say_why_nothing_is_compared(cara: Phone, here: Squad) -> None:
    page = opened(cara, here, "compare?from=2026-05-01&beside_to=2026-08-31")
    expect(page.locator(".verdict").first).to_have_text(
        "No interval for the whole round: the two periods share rounds."
    )
    shown = table_rows(page, "Strokes gained per shot by club in both periods")
    assert {row[1] for row in shown} <= {"the two periods share rounds", "in only one of the periods"}


def test_what_the_round_cannot_answer_has_its_own_reason(cara: Phone, here: Squad) -> None:
    """As the server answers where a span has no round of nine holes or more: shots can be compared."""
    reason = "too few rounds of 9 holes or more with a value"

    def unequal(route: Route) -> None:
        document = route.fetch().json()
        for row in (*document["rows"], document["total"]):
            row["difference"] |= {"per_round_low": None, "per_round_high": None, "lacking_per_round": reason}
            row["difference"] |= {"adjusted": None, "adjusted_low": None, "adjusted_high": None}
            row["difference"]["lacking_adjusted"] = reason
        document["groups_adjusted"] = 0
        route.fulfill(json=document)

    page = opened(cara, here, "compare")
    page.route("**/compared?**", unequal)
    page.click("#cut-0")
    page.wait_for_function("() => location.hash.includes('beside_to=')")
    page.wait_for_selector(".evidence-table tbody tr", state="attached")
    unfold(page)
    expect(page.locator(".verdict").first).to_have_text(f"No interval for the whole round: {reason}.")
    by_shot = table_rows(page, "Strokes gained per shot by club in both periods")
    assert not any(reason in row[1] for row in by_shot)
    page.click("#per-round")
    page.wait_for_function("() => location.hash.includes('per=round')")
    wait_drawn(page)
    page.wait_for_function("() => document.querySelector('.evidence-table caption').textContent.includes('per round')")
    by_round = table_rows(page, "Strokes gained per round by club in both periods")
    assert [row[1] for row in by_round] == [reason] * len(by_shot)


def test_an_empty_player_says_so_in_every_view(cara: Phone, here: Squad) -> None:
    for view, words in {
        "overview": "No shot with a value",
        "compare": "Two periods need rounds on at least four days",
        "report": "nothing to report yet",
    }.items():
        expect(opened(cara, here, view, EMPTY).locator(".evidence-body")).to_contain_text(words)
    assert cara.errors == []


def test_a_coach_is_locked_out_while_the_players_competition_round_is_open(cara: Phone, here: Squad) -> None:
    for view in ("overview", "compare?from=2026-05-01&beside_to=2026-04-30", "report"):
        page = opened(cara, here, view, LOCKED)
        expect(page.locator(".locked")).to_contain_text("rule 4.3a")
        assert page.locator(".evidence-body table").count() == 0


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Squad]:
    """A squad that a test may change."""
    made = squad(tmp_path, changed=True)
    yield made
    made.server.stop()


def test_what_was_shared_ends_at_once_and_nothing_is_kept(make_phone: Any, own: Squad) -> None:
    here = own
    phone: Phone = make_phone(here.server)
    here.sign_in(phone, "dora")
    page = opened(phone, here, "overview")
    engine = open_database(f"sqlite:///{here.server.folder}/server.sqlite")
    with engine.connect() as connection:
        mine = next(one for one in shares(connection, here.players[WREN]) if one["reader"] == "dora")
    assert end_share(engine, here.players[WREN], mine["share_id"])
    engine.dispose()
    page.reload()
    expect(page.locator(".failed [role=alert]")).to_contain_text("There is no player")
    page.goto(f"{here.server.address}/#/evidence")
    page.wait_for_selector(".player-row")
    assert names(page) == [EMPTY]
    phone.go_offline()
    page.goto(f"{here.server.address}/#/evidence/{here.players[WREN]}/overview")
    page.wait_for_selector(".failed")
    assert page.locator(".evidence-table").count() == 0


SCREENS = {
    "squad": ("", WREN),
    "club table": ("overview", MANY),
    "lie filter": ("overview?by=distance&lie=rough&setup=4+iron+A", WREN),
    "compare": ("compare?from=2026-07-01&beside_to=2026-06-30", WREN),
    "compare by distance": ("compare?from=2026-07-01&beside_to=2026-06-30&by=distance&per=round", MANY),
    "compare to choose": ("compare", WREN),
    "report": ("report", WREN),
    "report of many clubs": ("report", MANY),
    "report of nothing": ("report", EMPTY),
}


def shown(phone: Phone, here: Squad) -> Iterator[str]:
    """Walks through a coach's screens; yields the name of each while it is shown."""
    squad_page(phone)
    for name, (address, player) in SCREENS.items():
        if address:
            to_view(phone.page, here.server, address, player=here.players[player])
        yield name


def test_a_coachs_screens_are_accessible_and_readable(cara: Phone, here: Squad) -> None:
    problems = []
    for name in shown(cara, here):
        problems += faults_of(cara.page, name, "coach")
    assert problems == []
    assert cara.errors == []


def _shows_a_pair(page: Page, pair: Any) -> None:
    """The table of two players of twelve rounds each, one of whom gains four strokes off the tee alone: coloured is
    what the intervals of all rows together leave clear of zero."""
    draw = np.random.default_rng(1)
    a, b = tally(draw, 12), tally(draw, 12)
    a.strokes[:, 0] += 4 / 18
    parts = pair_parts(a, b, (every(a), every(b)))
    made = pair | {"parts": parts, "words": "made", "shared_courses": ["Moor"]}
    page.route("**/pair?other=*", lambda route: route.fulfill(json=made))
    page.click("#show-pair")
    expect(page.locator("#pair-words")).to_have_text("made")
    rows = table_rows(page, f"{made['a']['name']} minus {made['b']['name']}, strokes gained a round")
    assert [row[0] for row in rows] == ["all strokes", "off the tee", "approach", "around the green", "putting"]
    for row, part in zip(rows, parts, strict=True):
        assert interval_words(part["together_low"], part["together_high"]) in row[1]
        assert row[3] == (f"{made['a']['name']} better" if part["verdict"] == A_BETTER else "not separated")
    assert parts[1]["verdict"] == A_BETTER
    coloured = page.locator(".pair-of-players .evidence-table .gain, .pair-of-players .evidence-table .loss")
    assert coloured.count() == sum(part["verdict"] == A_BETTER for part in parts)


def test_players_beside_others_and_the_holes_of_a_course(cara: Phone, here: Squad) -> None:
    """What the screens say is what the API says; who is locked is refused in words; nothing is asked before a press."""
    page = squad_page(cara)
    for words in ("#against-words", "#pair-words", "#holes-words"):
        expect(page.locator(words)).to_have_count(0)
    page.select_option("#against-player", here.players[WREN])
    page.select_option("#against-reference", "squad")
    page.click("#show-against")
    expect(page.locator("#against-words")).to_have_text(said(page, here, "against")["words"])
    page.select_option("#against-player", here.players[LOCKED])
    expect(page.locator("#against-words")).to_have_count(0)
    page.click("#show-against")
    expect(page.locator(".against [role=alert]")).to_contain_text("has a competition round open")
    page.select_option("#pair-a", here.players[WREN])
    page.select_option("#pair-b", here.players[MANY])
    page.click("#show-pair")
    pair = said(page, here, f"pair?other={here.players[MANY]}")
    expect(page.locator("#pair-words")).to_have_text(pair["words"])
    assert pair["words"].startswith("No result: no course was played by both")
    _shows_a_pair(page, pair)
    page.click("#show-holes")
    listed = page.evaluate("async () => (await fetch('/api/squad/holes')).json()")["courses"]
    course = listed[0]["course"]
    holes = page.evaluate("async (course) => (await fetch(`/api/squad/holes?course=${course}`)).json()", course)
    expect(page.locator("#holes-words")).to_have_text(holes["words"])
    assert len(table_rows(page, f"{course}: strokes gained compared with the mean of its holes, all strokes")) == 18
    page.select_option("#holes-part", "putting")
    assert len(table_rows(page, f"{course}: strokes gained compared with the mean of its holes, putting")) == 18
    expect(page.locator(".holes-of-course")).to_contain_text(f"Left out: {LOCKED}, a competition round is open.")
    assert cara.errors == [] or all("423" in error for error in cara.errors)
