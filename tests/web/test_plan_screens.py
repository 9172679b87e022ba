"""The plan of a shot and the page for the round: what they show is what the API says; kept, locked and printed."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Any
from urllib.parse import parse_qs, urlencode

import pytest
from playwright.sync_api import Page, expect

from tests.tiers import LONG
from tests.web.begun import begin_player
from tests.web.evidence_pages import (
    LEAVE,
    change_of,
    demo_player,
    go_to,
    open_view,
    percent,
    push,
    signed,
    table_rows,
    to_view,
    unfold,
    wait_drawn,
    wait_held,
)
from tests.web.made_plans import course_of, plans_of_the_round
from tests.web.phone import ALL, Phone, Server

MOMENT = "2026-05-12T18:40:00Z"
SHEETS = {"A4": (210, 297), "Letter": (215.9, 279.4)}


@pytest.fixture(autouse=True)
def patient() -> Iterator[None]:
    """A plan takes a third of a second, and many times that on a machine with other work."""
    expect.set_options(timeout=60_000)
    yield
    expect.set_options(timeout=30_000)


def plan_of(server: Server, hole: int, **more: Any) -> Any:
    """What the API plans on a hole of the invented course, from the tees played last."""
    course = course_of(server)
    query = {"course_id": course["course_id"], "tees": course["latest_tees"], "hole": hole} | more
    return server.get(f"/api/players/{demo_player(server)}/tee-plan?{urlencode(query)}")


def view_of(server: Server, hole: int, **more: Any) -> str:
    """The address of the plan of a hole."""
    course = course_of(server)
    filters = {"ground": course["course_id"], "tees": course["latest_tees"], "hole": hole} | more
    return f"plan?{urlencode(filters)}"


def wait_planned(page: Page, holes: int = 18) -> None:
    """Until the page for the round has every hole."""
    page.wait_for_function(
        "(holes) => document.querySelectorAll('.round-plan tbody tr').length === holes"
        " && document.querySelector('#plan-progress')?.textContent === ''",
        arg=holes,
        timeout=300_000,
    )


def hold(page: Page, hole: int) -> list[Any]:
    """Holds the plan of one hole back until it is let go on."""
    held: list[Any] = []

    def keep(route: Any) -> None:
        held.append(route)

    page.route(f"**/tee-plan?**hole={hole}**", keep)
    return held


def whole(value: float) -> str:
    """A whole number, halves up, as the browser rounds."""
    return str(math.floor(value + 0.5))


def aim_words(option: dict[str, Any]) -> str:
    line = option["line"].replace("the middle of the fairway", "mid-fairway")
    yards = option["aim_yd"]
    return line if abs(yards) < 0.5 else f"{whole(abs(yards))} yd {'right' if yards > 0 else 'left'} of {line}"


def capital(words: str) -> str:
    return words[:1].upper() + words[1:]


CALLED = {"draw": "a draw", "straight": "a straight ball", "fade": "a fade"}


def of_100(chance: float) -> str:
    if 0 < chance < 0.005:
        return "under 1 of 100"
    return "over 99 of 100" if 0.995 < chance < 1 else f"{whole(chance * 100)} of 100"


def test_a_plan_shows_what_the_api_says(reader: Phone, demo: Server) -> None:
    """Hole 4 of the invented course is a par 3 on which two irons are as good."""
    page = reader.page
    for hole in (1, 4, 8):
        page.evaluate(LEAVE, f"#/evidence/{demo_player(demo)}/{view_of(demo, hole)}")
        page.wait_for_selector(".evidence-body:not([data-left])")
        unfold(page)
        plan = plan_of(demo, hole)
        assert (plan["verdict"] == "no real difference") == (hole == 4)
        shows_the_plan(page, plan)


def shows_the_plan(page: Page, plan: dict[str, Any]) -> None:
    best, second = plan["options"][0], plan["second"]
    place = f"{'at ' if best['aim_yd'] == 0 else ''}{aim_words(best)}"
    expect(page.locator("#plan-best")).to_have_text(f"{capital(best['name'])}, {place}")
    costs = f"{signed(second['costs'])} strokes ({signed(second['low'])} to {signed(second['high'])})"
    chance = of_100(second["chance_best_is_better"])
    verdict = f"{capital(plan['verdict'])}: {second['name']} costs {costs}; {best['name']} is better in {chance}."
    expect(page.locator("#plan-verdict")).to_have_text(verdict)
    expect(page.locator(".plan-shape")).to_have_count(len(plan["shapes"]))
    for place, shape in enumerate(plan["shapes"]):
        words = (
            f"{capital(shape['club'])}: {shape['verdict']}: {CALLED[shape['against']]} costs {signed(shape['costs'])}"
        )
        expect(page.locator(".plan-shape").nth(place)).to_contain_text(words)
    interval = f"90 % interval {best['low']:.2f} to {best['high']:.2f}"
    expect(page.locator("#plan-figure")).to_have_text(f"{best['expected']:.2f} strokes {interval}")
    rows = table_rows(page, "Every club at its best aim")
    near = [option for option in plan["options"] if option["expected"] <= best["expected"] + 0.3]
    assert len(rows) == len(near)
    costly = len(plan["options"]) - len(near)
    assert costly > 1
    expect(page.locator(".plan-costly summary")).to_have_text(f"{costly} more clubs cost more than 0.3 strokes")
    expect(page.locator(".plan-costly table")).not_to_be_visible()
    rows += table_rows(page, "Clubs that cost more")
    for row, option in zip(rows, plan["options"], strict=True):
        name, strokes, costs, ends = row
        shots = f"{option['shots']} shot{'s' if option['shots'] > 1 else ''}"
        assert name == f"{option['name']} {aim_words(option)} {whole(option['reach_yd'])} yd, {shots}"
        assert strokes == f"{option['expected']:.2f} {option['low']:.2f} to {option['high']:.2f}"
        difference = "best" if option is best else signed(option["expected"] - best["expected"])
        assert costs == f"{difference} best in {of_100(option['chance_best'])}"
        shares = option["shares"]
        assert ends == " ".join(f"{end} {percent(shares[end])}" for end in ("fairway", "green", "trouble"))
    expect(page.locator(".caution")).to_contain_text(plan["caution"])
    expect(page.locator(".caution")).to_contain_text("nobody is where")


PLACES = """() => {
  const box = document.querySelector('.pair svg[role=img]');
  const centre = (one) => { const b = one.getBBox(); return [b.x + b.width / 2, b.y + b.height / 2]; };
  return {
    landings: [...box.querySelectorAll('.landing')].map(centre),
    good: box.querySelectorAll('.landing.good').length,
    trouble: box.querySelectorAll('.landing.trouble').length,
    ball: centre(box.querySelector('.ball-mark')),
    aim: centre(box.querySelector('.aim-ring')),
    green: box.querySelector('.edge-green').getBBox().width,
  };
}"""


def test_the_drawing_is_to_scale_and_another_club_has_its_own(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, view_of(demo, 8))
    plan = plan_of(demo, 8)
    shows_the_sample_to_scale(page, plan)
    distances_stand_where_the_arcs_cross_the_line(page, plan)
    another_club_is_chosen(page, plan)


def shows_the_sample_to_scale(page: Page, plan: dict[str, Any]) -> None:
    option = plan["options"][0]
    found = page.evaluate(PLACES)
    assert len(found["landings"]) == len(option["landings"]["ends"]) == 80
    assert found["good"] == sum(end in ("fairway", "green") for end in option["landings"]["ends"])
    assert found["trouble"] == sum(
        end in ("sand", "trees", "water", "out_of_bounds") for end in option["landings"]["ends"]
    )
    green = next(one for one in plan["features"] if one["properties"]["golf"] == "green")["geometry"]["coordinates"][0]
    scale = found["green"] / (max(x for x, _ in green) - min(x for x, _ in green))
    (bx, by), (ax, ay) = found["ball"], found["aim"]
    assert ((ax - bx) ** 2 + (by - ay) ** 2) ** 0.5 / scale == pytest.approx(option["reach_yd"], rel=0.01)
    lengths = sorted(((x - bx) ** 2 + (y - by) ** 2) ** 0.5 / scale for x, y in found["landings"])
    told = zip(option["landings"]["right_yd"], option["landings"]["along_yd"], strict=True)
    assert lengths == pytest.approx(sorted((right**2 + along**2) ** 0.5 for right, along in told), rel=0.02)


def another_club_is_chosen(page: Page, plan: dict[str, Any]) -> None:
    """Its curve is the API's."""
    other = plan["options"][2]
    page.get_by_role("link", name=other["name"], exact=True).click()
    expect(page.locator(".curve-part caption")).to_have_text(f"Expected strokes over aim, {other['name']}")
    assert parse_qs(page.url.split("?", 1)[1])["option"] == [other["name"]]
    rows = table_rows(page, "Expected strokes over aim")
    points = other["curve"][::5]
    assert len(rows) == len(points) == 9
    for (aim, strokes, costs), point in zip(rows, points, strict=True):
        yards = point["aim_yd"]
        assert aim == ("on the line" if yards == 0 else f"{abs(yards):.0f} yd {'left' if yards < 0 else 'right'}")
        assert strokes == f"{point['expected']:.2f}"
        assert costs == signed(point["expected"] - other["expected"])
    expect(page.locator("h2").first).to_contain_text(capital(other["name"]))


def test_an_approach_is_planned_from_where_the_ball_lies(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, view_of(demo, 1))
    page.click("#plan-settings")
    page.click("#ball-else")
    page.wait_for_selector("#ball-away")
    page.fill("#ball-away", "120")
    page.press("#ball-away", "Tab")
    page.wait_for_function(
        "() => document.querySelector('.headline .hint')?.textContent.includes('120 yd to the hole')"
    )
    page.fill("#ball-right", "-15")
    page.press("#ball-right", "Tab")
    page.select_option("#plan-lie", "rough")
    page.wait_for_function("() => document.querySelector('.headline .hint')?.textContent.includes('from the rough')")
    asked = parse_qs(page.url.split("?", 1)[1])
    plan = plan_of(demo, 1, **{"from": asked["at"][0], "lie": "rough"})
    assert plan["to_hole_yd"] == pytest.approx((120**2 + 15**2) ** 0.5, abs=0.6)
    assert plan["from"][0] < -10, "left of the line is left"
    wait_drawn(page)
    rows = table_rows(page, "Every club at its best aim") + table_rows(page, "Clubs that cost more")
    assert [row[0].split(" ")[0] for row in rows] == [option["name"].split(" ")[0] for option in plan["options"]]
    page.click("#ball-tee")
    expect(page.locator("#ball-away")).to_have_count(0)


def test_a_shot_that_cannot_be_planned_says_why_and_keeps_the_choice(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, view_of(demo, 1, at="900,900"))
    expect(page.locator(".evidence-body [role=alert]")).to_contain_text("lies beyond the map")
    page.click("#ball-tee")
    expect(page.locator("#plan-verdict")).to_have_count(1)


def test_without_a_course_in_the_address_the_one_played_last_is_planned(reader: Phone, demo: Server) -> None:
    page = go_to(reader, f"#/evidence/{demo_player(demo)}/plan")
    expect(page.locator("#plan-verdict")).to_have_count(1)
    asked = parse_qs(page.url.split("?", 1)[1])
    course = course_of(demo)
    assert asked == {"ground": [course["course_id"]], "tees": [course["latest_tees"]], "hole": ["1"]}


def test_the_page_for_the_round_has_every_hole_tells_its_progress_and_prints_on_one_sheet(
    reader: Phone, demo: Server
) -> None:
    """One page for all of it: eighteen plans are most of what this file takes."""
    page = reader.page
    plans = plans_of_the_round(page, demo)
    held = hold(page, 3)
    go_to(reader, f"#/evidence/{demo_player(demo)}/round-plan")
    expect(page.locator("#plan-progress")).to_have_text("Planning hole 3, 3 of 18…")
    expect(page.locator(".round-plan tbody tr")).to_have_count(2)
    wait_held(page, held)
    held[0].fallback()
    wait_planned(page)
    every_hole_as_planned(page, [plans[hole] for hole in range(1, 19)])
    expect(page.locator("#next-shots-base")).to_have_text("Next shots: as the baseline")
    assert plans[7]["options"] == plan_of(demo, 7)["options"], "it asks for the plan of the hole's own page"
    for sheet in SHEETS:
        printed_on_one(page, sheet)
    assert reader.errors == []


def every_hole_as_planned(page: Page, plans: list[dict[str, Any]]) -> None:
    """The rows of the page for the round against the API's answers."""
    rows = table_rows(page, "Wren Quillfeather: Blottingham Heath")
    total = 0.0
    for row, plan in zip(rows, plans, strict=True):
        best, second = plan["options"][0], plan["second"]
        total += best["expected"]
        goal = "fairway" if plan["hole"]["par"] > 3 else "green"
        assert row[0] == f"{plan['hole']['number']} par {plan['hole']['par']} {whole(plan['hole']['length_yd'])} yd"
        assert row[1] == f"{best['name']}{aim_words(best)}"
        assert row[2] == f"{best['expected']:.2f}"
        assert row[3] == f"{percent(best['shares'][goal])} trouble {percent(best['shares']['trouble'])}"
        costs = "no real difference" if plan["verdict"] == "no real difference" else signed(second["costs"])
        assert row[4] == f"{second['name']} {costs}"
    expect(page.locator(".round-plan")).to_contain_text(f"18 of 18 holes planned: {total:.2f} strokes expected")


def printed_on_one(page: Page, sheet: str) -> None:
    """The page for the round on a sheet of this size, without what is only for the screen."""
    pdf = page.pdf(format=sheet)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
    page.emulate_media(media="print")
    wide, high = (side / 25.4 * 96 for side in SHEETS[sheet])
    page.set_viewport_size({"width": round(wide - 24 / 25.4 * 96), "height": round(high)})
    page.wait_for_timeout(100)
    for unwanted in ("#top", "#bar", ".views", "#print-plan", "#plan-course", "#copy-address"):
        assert not page.locator(unwanted).first.is_visible(), unwanted
    expect(page.locator(".round-plan tbody tr")).to_have_count(18)
    for wanted in ("Blottingham Heath", "Planned on", "local rules come first", "nobody is where", "strokes expected"):
        expect(page.locator(".round-plan")).to_contain_text(wanted)
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    page.emulate_media(media="screen")


@pytest.mark.service_worker
def test_the_page_for_the_round_stays_without_a_network_with_its_date(make_phone: Any, demo: Server) -> None:
    device: Phone = make_phone(demo, MOMENT, timezone_id="UTC")
    page = open_view(device, demo, view_of(demo, 1))
    device.wait_for_whole_app()
    device.go_offline()
    a_hole_never_planned_says_so(page)
    device.context.set_offline(False)
    to_view(page, demo, "overview")
    plans_of_the_round(page, demo)
    page.goto(f"{demo.address}/#/evidence/{demo_player(demo)}/round-plan")
    wait_planned(page)
    before = table_rows(page, "Wren Quillfeather: Blottingham Heath")
    page.unroute_all(behavior="wait")
    device.go_offline()
    device.set_time("2027-01-03T09:15:00Z")
    page.reload()
    wait_planned(page)
    expect(page.locator(".plan-age")).to_contain_text("Planned on 12 May 2026, 18:40")
    expect(page.locator(".plan-age")).to_contain_text("the last answers stored on this device")
    assert table_rows(page, "Wren Quillfeather: Blottingham Heath") == before
    page.get_by_role("link", name="7", exact=True).click()
    expect(page.locator(".notice.as-of")).to_contain_text("12 May 2026, 18:40")
    expect(page.locator("#plan-verdict")).to_have_count(1)
    page.goto(f"{demo.address}/#/evidence/{demo_player(demo)}/overview")
    expect(page.locator(".headline")).to_have_count(1)  # the plans of 18 holes have pushed nothing else out
    kept = [row["path"] for row in page.evaluate(ALL, ["answers"])[0]]
    assert sum("/tee-plan?" in path for path in kept) == 18


def a_hole_never_planned_says_so(page: Page) -> None:
    """Without a network; hole 1 was planned."""
    page.select_option("#plan-hole", "9")
    expect(page.locator(".evidence-body [role=alert]")).to_contain_text("This view is not stored on this device")
    page.select_option("#plan-hole", "1")
    expect(page.locator("#plan-verdict")).to_have_count(1)
    expect(page.locator(".notice.as-of")).to_contain_text("the last answer stored on this device")


@pytest.mark.service_worker
def test_a_round_that_begins_while_the_page_is_being_made_locks_it_and_every_plan(
    make_phone: Any, own_demo: Server
) -> None:
    """With the reason; by address too, and without a network, though answers are stored."""
    device: Phone = make_phone(own_demo, MOMENT, timezone_id="UTC")
    plan = view_of(own_demo, 1)
    page = open_view(device, own_demo, plan)
    page.wait_for_selector("#plan-verdict")
    held = hold(page, 2)
    player = demo_player(own_demo)
    page.goto(f"{own_demo.address}/#/evidence/{player}/round-plan")
    expect(page.locator(".round-plan tbody tr")).to_have_count(1)
    expect(page.locator("#round-ahead, #course-bag")).to_have_count(2)
    before = next(change["body"] for change in own_demo.log(player) if change["kind"] == "round")
    body = {"played_on": "2026-11-01", "holes": before["holes"], "bag": before["bag"], "kind": "competition"}
    push(own_demo, [change_of(player, "round", body)])
    wait_held(page, held)
    held[0].continue_()
    expect(page.locator(".locked")).to_contain_text("rule 4.3a")
    expect(page.locator(".round-plan table, .round-plan svg")).to_have_count(0)
    expect(page.locator("#round-ahead, #course-bag")).to_have_count(0)
    page.unroute_all(behavior="ignoreErrors")
    for offline in (False, True):
        if offline:
            device.go_offline()
        for view in (plan, "round-plan"):
            page.goto("about:blank")
            page.goto(f"{own_demo.address}/#/evidence/{player}/{view}")
            expect(page.locator(".locked")).to_contain_text("rule 4.3a")
            expect(page.locator(".locked")).to_contain_text("until this competition round is finished")
            expect(page.locator(".evidence-body svg, .evidence-body table, #plan-best")).to_have_count(0)


def test_without_a_map_a_player_is_told_how_to_get_one_and_in_a_competition_none_shows(
    make_phone: Any, demo: Server
) -> None:
    phone: Phone = make_phone(demo)
    player = begin_player(phone)
    phone.wait_sent()
    for view in ("plan", "round-plan"):
        phone.page.goto(f"{demo.address}/#/evidence/{player}/{view}")
        expect(phone.page.locator(".empty")).to_have_text("No hole is mapped yet.")
    phone.page.evaluate("() => { location.hash = '#/'; }")
    phone.start_round("competition")
    for view in ("plan", "round-plan"):
        phone.page.goto(f"{demo.address}/#/evidence/{demo_player(demo)}/{view}")
        expect(phone.page.locator("h1")).to_have_text("Locked until the round is finished")
        expect(phone.page.locator("main svg, main table")).to_have_count(0)


STOP = """() => new Promise((done) => {
  const look = () => {
    const key = document.querySelector('#stop-working');
    const { top, bottom, height } = key?.getBoundingClientRect() ?? { height: 0 };
    if (!height) return requestAnimationFrame(look);
    const header = document.querySelector('header').getBoundingClientRect().bottom;
    const words = key.closest('.working').innerText;
    key.click();
    done({ words, top, bottom, in_sight: top >= header && bottom <= innerHeight });
  };
  look();
})"""
"""Stops a long answer as soon as that can be done, which may be over in a second, and tells where the key was."""


def test_a_plan_looks_ahead_and_reckons_with_the_day(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, view_of(demo, 1))
    page.locator("#plan-settings").click()
    page.locator("#next-shots-own").click()
    stopped = page.evaluate(STOP)
    assert stopped["words"].startswith("Working it out on the server")
    assert stopped["in_sight"], stopped
    expect(page.locator(".failed")).to_contain_text("Stopped before the answer came.")
    expect(page.locator(".working")).to_have_count(0)
    page.locator("#try-again").click()
    expect(page.locator(".plan-ahead").first).to_be_visible(timeout=120_000)
    expect(page.locator(".working")).to_have_count(0)
    plan = plan_of(demo, 1, ahead="true")
    assert page.locator(".plan-ahead").all_inner_texts()[:2] == plan["ahead"]["words"]
    assert "ahead=own" in page.url
    if LONG:  # to look ahead again takes longer than a plan of the next shot
        the_day_is_reckoned_with(page)
    # without looking ahead the addresses and the answers are as before
    page.locator("#next-shots-base").click()
    expect(page.locator(".plan-ahead")).to_have_count(0)
    the_day_is_reckoned_with(page)


def the_day_is_reckoned_with(page: Page) -> None:
    """Set in its fold, stated above the plan, and taken back."""
    if not page.locator("#blows").is_visible():
        page.locator("#day-settings").click()
    page.locator("#blows").fill("20")
    page.locator("#blows").blur()
    expect(page.locator(".plan-day")).to_contain_text("Wind of 20 mph against", timeout=120_000)
    page.locator("#usual-day").click()
    expect(page.locator(".plan-day")).to_have_count(0)


def test_a_plan_names_what_is_to_be_carried(reader: Phone, demo: Server) -> None:
    plans = {hole: plan_of(demo, hole) for hole in (4, 8)}
    hole, plan = next((hole, plan) for hole, plan in plans.items() if plan["options"][0]["carries"])
    page = open_view(reader, demo, view_of(demo, hole))
    first = plan["options"][0]["carries"][0]
    shown = str(page.locator(".plan-carry").first.text_content())
    assert f"from {whole(first['from_yd'])} yd to {whole(first['to_yd'])} yd" in shown
    assert f"{percent(first['over'])} land beyond it" in shown


def distances_stand_where_the_arcs_cross_the_line(page: Page, plan: dict[str, Any]) -> None:
    """A label lies as far from the ball as its yards on the drawing's scale, which the aim ring gives."""
    best = plan["options"][0]
    drawn = page.evaluate(
        """() => {
          const at = (one) => [Number(one.getAttribute('x') ?? one.getAttribute('cx')),
                               Number(one.getAttribute('y') ?? one.getAttribute('cy'))];
          const picture = document.querySelector('svg.picture:has(.aim-ring)');
          return {
            ball: at(picture.querySelector('.ball-mark')), aim: at(picture.querySelector('.aim-ring')),
            labels: [...picture.querySelectorAll('.arc-words')].map((one) => [one.textContent, ...at(one)]),
            rem: parseFloat(getComputedStyle(document.documentElement).fontSize),
          };
        }"""
    )
    scale = math.dist(drawn["ball"], drawn["aim"]) / best["reach_yd"]
    assert len(drawn["labels"]) >= 3
    for words, x, y in drawn["labels"]:
        yards = min(
            (
                math.dist(drawn["ball"], (x + side * 0.35 * drawn["rem"], y + 0.25 * drawn["rem"])) / scale
                for side in (-1, 1)
            ),
            key=lambda found: abs(found - float(words)),
        )
        assert yards == pytest.approx(float(words), abs=2.0), words


def test_pin_and_tee_of_the_day_travel_in_the_address(reader: Phone, demo: Server) -> None:
    """Set in the trade's words, stated above the plan, refused outside the green, and the same when opened again."""
    page = open_view(reader, demo, view_of(demo, 4))
    expect(page.locator(".plan-place")).to_have_count(0)
    page.click("#plan-settings")
    page.click("#pin-settings")
    page.fill("#pin-on", "90")
    page.press("#pin-on", "Tab")
    expect(page.locator(".fault").first).to_have_text(
        re.compile(r"^Pin on from the front edge: 90 is outside 1 to \d+")
    )
    assert "pin=" not in page.url
    page.click("#pin-back-left")
    expect(page.locator(".plan-place")).to_have_text(
        re.compile(r"^Pin of the day: \d+ yd on, \d+ yd from the left edge\.$")
    )
    page.fill("#tee-forward", "10")
    page.press("#tee-forward", "Tab")
    expect(page.locator(".plan-place").last).to_have_text("Tee of the day: 10 yd forward of the card’s.")
    stated = page.locator(".plan-place").all_inner_texts()
    asked = parse_qs(page.url.split("?", 1)[1])
    plan = plan_of(demo, 4, pin=asked["pin"][0], lie="tee", **{"from": asked["at"][0]})
    usual = plan_of(demo, 4)
    assert math.dist(plan["from"], usual["from"]) == pytest.approx(10, abs=0.1)
    expect(page.locator(".headline .hint")).to_contain_text(f"{whole(plan['to_hole_yd'])} yd to the hole from the tee")
    page.reload()
    expect(page.locator(".plan-place")).to_have_text(stated)
    page.goto(page.url.replace(asked["pin"][0].replace(",", "%2C"), "60%2C100"))
    expect(page.locator(".failed [role=alert]")).to_contain_text("Pin: (60, 100) is not on the green")
