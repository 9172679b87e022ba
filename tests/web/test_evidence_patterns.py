"""The patterns of a player's clubs on the screen: the API's numbers, drawn to scale, in the player's own unit."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from server.game.numbers import plain
from server.game.numbers import signed as numbers_of
from tests.web.begun import begin_player
from tests.web.evidence_pages import (
    answer,
    demo_server,
    interval_words,
    open_view,
    signed,
    table_rows,
    to_view,
    unfold,
    wait_drawn,
)
from tests.web.pattern_words import METRES_A_YARD, SIDES, centre, fixed, metric, percent, share, spread, to_side
from tests.web.phone import Phone, Server

PLOT = """() => {
  const picture = [...document.querySelectorAll('.pair svg[role=img]')].find((one) => one.querySelector('.target'));
  const numbers = (mark, ...names) => names.map((name) => Number(mark.getAttribute(name)));
  const axis = [...picture.querySelectorAll('.axis-number')].map((mark) => [Number(mark.textContent), mark.getAttribute('text-anchor'), ...numbers(mark, 'x', 'y')]);
  const target = numbers(picture.querySelector('.target circle'), 'cx', 'cy');
  const dots = [...picture.querySelectorAll('circle.finish')].map((mark) => [...numbers(mark, 'cx', 'cy'), mark.classList.contains('aside')]);
  const beyond = picture.querySelectorAll('.finish.beyond').length;
  const ellipse = picture.querySelector('.next-shot');
  return {axis, target, dots, beyond, ellipse: ellipse && [...numbers(ellipse, 'cx', 'cy', 'rx', 'ry'), ellipse.getAttribute('transform')]};
}"""  # noqa: E501


def pixels_a_unit(axis: list[list[Any]], target: list[float], across: bool) -> float:
    """Pixels a yard or metre along one axis, from its largest printed number."""
    mine = [mark for mark in axis if (mark[1] == "middle") == across]
    number, _, x, y = max(mine, key=lambda mark: float(mark[0]))
    lift = 0.3 * 16  # the words of an upward mark stand this much below their line
    away = abs(x - target[0]) if across else abs(y - lift - target[1])
    return float(away / number)


def rows_of(server: Server, **query: Any) -> list[dict[str, Any]]:
    return list(answer(server, "patterns", **query)["patterns"])


def test_every_tapped_finish_is_drawn_to_scale_where_the_api_has_it(reader: Phone, demo: Server) -> None:
    page = reader.page
    for club in ("driver", "7 iron"):
        to_view(page, demo, f"patterns?club={club.replace(' ', '+')}")
        finishes_to_scale(page, demo, club)
    assert reader.errors == []


def finishes_to_scale(page: Page, demo: Server, club: str) -> None:
    """Finishes and oval of the pattern that is shown against the API's answer."""
    row = next(one for one in rows_of(demo, club=club) if one["swing"] == "full")
    found = page.evaluate(PLOT)
    scale = pixels_a_unit(found["axis"], found["target"], across=True)
    assert scale == pytest.approx(pixels_a_unit(found["axis"], found["target"], across=False), rel=0.01)
    x, y = found["target"]
    shots = row["finishes"]["shots"]
    assert len(shots) == row["tapped"] == len(found["dots"]) + found["beyond"]
    wanted = {(round(x + scale * one["right_yd"]), round(y - scale * one["long_yd"])) for one in shots}
    drawn = {(round(dot[0]), round(dot[1])) for dot in found["dots"]}
    near = [any(abs(a - c) <= 1 and abs(b - d) <= 1 for c, d in wanted) for a, b in drawn]
    assert all(near)
    assert found["beyond"] + sum(aside for *_, aside in found["dots"]) == row["robust"]["set_aside"]
    ellipse = row["ellipse"]
    cx, cy, rx, ry, turn = found["ellipse"]
    assert (cx, cy) == pytest.approx((x + scale * ellipse["right_yd"], y - scale * ellipse["long_yd"]), abs=0.5)
    assert (rx, ry) == pytest.approx((scale * ellipse["half_short_yd"], scale * ellipse["half_long_yd"]), rel=0.01)
    assert turn.startswith(f"rotate({ellipse['turned_deg']:.2f} ")


def test_the_tables_say_what_the_api_says(reader: Phone, demo: Server) -> None:
    page = reader.page
    for club, swing in (("driver", "full"), ("54 wedge", "part"), ("5 iron", "full")):
        to_view(page, demo, f"patterns?club={club.replace(' ', '+')}&swing={swing}")
        pattern_tables(page, demo, club, swing)
    assert reader.errors == []


def pattern_tables(page: Page, demo: Server, club: str, swing: str) -> None:
    """The tables of the pattern that is shown against the API's answer."""
    row = next(one for one in rows_of(demo, club=club) if one["swing"] == swing)
    told = {name: cells for name, *cells in table_rows(page, "The pattern against a target")}
    assert told["centre"] == [centre(row[name]["centre"], name) for name in ("right", "long")]
    assert told["spread"] == [spread(row[name]["spread"]) for name in ("right", "long")]
    assert told["shots"] == [str(row["tapped"]), str(row["shots"])]
    if row["robust"] and row["robust"]["set_aside"]:
        assert told[f"centre without {row['robust']['set_aside']} outliers"] == [
            to_side(row["robust"][f"{name}_yd"], name) for name in ("right", "long")
        ]
    assert table_rows(page, "Share of shots") == [
        [name, share(figure), str(figure["n"])] for name, figure in row["shares"].items()
    ]
    quantiles = {name: cells for name, *cells in table_rows(page, "Side and length")}
    for words, key in (("10th percentile", "0.1"), ("middle shot", "0.5"), ("90th percentile", "0.9")):
        marks = (("right", 0, ""), ("long", 0, ""), ("offline_deg", 1, "°"))
        assert quantiles[words] == [
            to_side(row[name]["quantiles"][key], name, digits, mark) for name, digits, mark in marks
        ]
    assert quantiles["skew"] == [f"{row[name]['skew']:.2f}".replace("-", "−") for name in SIDES]
    for side in ("left", "right", "long", "short"):
        labels = page.locator(".pair svg[role=img]").first.locator(".axis-words").all_text_contents()
        assert any(f"{side} {percent(row['shares'][side]['value'])}" in label for label in labels)


def test_the_warnings_are_given_in_words(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "patterns?club=5+iron")
    (row,) = rows_of(demo, club="5 iron")
    shown = page.locator(".warnings li").all_inner_texts()
    assert [words.rstrip(".").lower() for words in shown] == [words.lower() for words in row["warnings"]]
    assert any("side spread needs far more shots" in words for words in shown)
    assert any("the length comes from the distances before and after" in words for words in shown)


def test_below_five_shots_no_finish_is_reported(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "patterns?club=7+iron&swing=part")
    row = next(one for one in rows_of(demo, club="7 iron") if one["swing"] == "part")
    assert row["shots"] < 5
    expect(page.locator(".verdict")).to_have_text("Not enough shots to show where the 7 iron finishes.")
    found = page.evaluate(PLOT)
    assert (len(found["dots"]), found["ellipse"]) == (row["tapped"], None)
    assert "NaN" not in page.inner_text("main")
    assert "undefined" not in page.inner_text("main")


def test_without_a_tapped_finish_the_length_alone_is_shown_and_where_it_comes_from(reader: Phone, demo: Server) -> None:
    """The shipped season taps nearly all, so the answer is one whose finishes were not."""
    said = answer(demo, "patterns", club="4 iron A")
    row = next(one for one in said["patterns"] if one["swing"] == "full")
    nothing = {"value": None, "low": None, "high": None, "n": 0}
    blank = {"centre": nothing, "spread": nothing, "quantiles": {}, "skew": None}
    row |= {"tapped": 0, "from_distances": row["shots"], "ellipse": None, "circle": None, "robust": None}
    row |= {"right": blank, "offline_deg": blank, "median_from_target_yd": None, "warnings": []}
    row["shares"] |= {"left": nothing, "right": nothing}
    row["finishes"] = {"shots": [], "left_out": 0}
    page = reader.page
    page.route(
        "**/patterns?club=4**", lambda route: route.fulfill(body=json.dumps(said), content_type="application/json")
    )
    open_view(reader, demo, "patterns?club=4+iron+A")
    expect(page.locator(".evidence-body")).to_contain_text("only their length is known, from the distances before")
    told = {name: cells for name, *cells in table_rows(page, "The pattern against a target")}
    assert told["centre"] == ["–", centre(row["long"]["centre"], "long")]
    assert [cells[1] for cells in table_rows(page, "Share of shots") if cells[0] in ("left", "right")] == ["–", "–"]
    expect(page.locator(".target")).to_have_count(0)
    assert "NaN" not in page.inner_text("main")
    assert reader.errors == []


def test_two_groups_are_two_ovals_and_are_named(reader: Phone, demo: Server) -> None:
    """The shipped player has none, so the answer is one whose finishes come in two."""
    said = answer(demo, "patterns", club="driver")
    row = next(one for one in said["patterns"] if one["swing"] == "full")
    oval = row["ellipse"] | {"half_long_yd": 14.0, "half_short_yd": 8.0, "turned_deg": 0.0}
    row["groups"] = [
        {"share": 0.4, "shots": 24, "right_yd": -22.0, "spread_yd": 5.0, "ellipse": oval | {"right_yd": -22.0}},
        {"share": 0.6, "shots": 36, "right_yd": 18.0, "spread_yd": 5.0, "ellipse": oval | {"right_yd": 18.0}},
    ]
    row |= {"ellipse": None, "circle": None, "robust": None}
    page = reader.page
    page.route(
        "**/patterns?club=driver**", lambda route: route.fulfill(body=json.dumps(said), content_type="application/json")
    )
    open_view(reader, demo, "patterns?club=driver")
    expect(page.locator(".pattern-verdict .verdict")).to_contain_text(
        "in two groups: 40 % around 22 yd left, 60 % around"
    )
    picture = page.locator(".pair svg[role=img]").filter(has=page.locator(".target")).first
    ovals = picture.locator(".next-shot")
    expect(ovals).to_have_count(2)
    target = float(picture.locator(".target circle").get_attribute("cx") or "nan")
    places = [float(mark.get_attribute("cx") or "nan") for mark in ovals.all()]
    assert places[0] < target < places[1]
    assert target - places[0] == pytest.approx((places[1] - target) * 22 / 18, rel=0.01)
    # no mark of a middle in which no ball ends
    expect(picture.locator(".dot")).to_have_count(0)
    told = {name: cells for name, *cells in table_rows(page, "The pattern against a target")}
    assert told["left group, 24 shots"][0] == to_side(-22.0, "right")
    assert reader.errors == []


def test_club_split_group_and_swing_go_into_the_address_and_come_back(
    reader: Phone, make_phone: Any, demo: Server
) -> None:
    page = open_view(reader, demo, "patterns")
    page.select_option("#club", "driver")
    page.wait_for_selector("#split-setup")
    page.click("#split-setup")
    page.wait_for_selector("#group")
    groups = [row["group"] for row in rows_of(demo, club="driver", split="setup")]
    assert len(groups) >= 2
    for group in groups:
        page.select_option("#group", group)
        page.wait_for_function("(group) => document.querySelector('#group')?.value === group", arg=group)
        page.wait_for_selector(".pair .target")
    row = rows_of(demo, club="driver", split="setup")[-1]
    told = {name: cells for name, *cells in table_rows(page, "The pattern against a target")}
    assert told["centre"][1] == centre(row["long"]["centre"], "long")
    shown = table_rows(page, "The two groups, in")
    assert [cells[1] for cells in shown] == [
        str(one["shots"]) for one in rows_of(demo, club="driver", split="setup") if one["swing"] == "full"
    ]
    again = make_phone(demo).open(page.evaluate("location.hash"))
    wait_drawn(again)
    unfold(page)
    unfold(again)
    assert [again.input_value(name) for name in ("#club", "#group")] == ["driver", groups[-1]]
    here, there = (one.inner_text(".evidence-body").split("\n", 1)[1] for one in (page, again))
    assert re.sub(r"\d\d:\d\d", "", there) == re.sub(r"\d\d:\d\d", "", here), "but for when it was asked for"
    assert reader.errors == []


def test_days_kind_and_course_choose_the_shots(reader: Phone, demo: Server) -> None:
    page = open_view(
        reader, demo, "patterns?club=8+iron&from=2026-05-01&to=2026-07-31&kind=practice&course=Blottingham+Heath"
    )
    said = {"kind": "practice", "course": "Blottingham Heath"}
    (row, *_) = rows_of(demo, club="8 iron", **said, **{"from": "2026-05-01", "to": "2026-07-31"})
    assert 0 < row["shots"] < rows_of(demo, club="8 iron")[0]["shots"]
    told = {name: cells for name, *cells in table_rows(page, "The pattern against a target")}
    assert told["shots"] == [str(row["tapped"]), str(row["shots"])]
    page.click("#filters")
    assert page.input_value("#filter-course") == "Blottingham Heath"
    expect(page.locator("#filter-level")).to_have_count(0)


def test_planned_and_actual_shapes_are_the_apis(reader: Phone, demo: Server) -> None:
    said = answer(demo, "patterns")["shapes"]
    for address, shapes, named in (
        ("patterns", said, True),
        ("patterns?club=driver", [one for one in said if one["club"] == "driver"], False),
    ):
        page = open_view(reader, demo, address)
        label = [f"{one['club']}, {one['planned']}" if named else one["planned"] for one in shapes]
        names = ("draw", "straight", "fade", "not recorded")
        assert table_rows(page, "Planned shapes and the actual") == [
            [name, *(str(one["actual"][shape]) for shape in names), str(one["shots"])]
            for name, one in zip(label, shapes, strict=True)
        ]
        rows = table_rows(page, "Results of a planned shape")
        if not named:  # a column for each planned shape
            measures = ("came", "other way", "misses left", "misses right", "in words", "strokes gained")
            assert tuple(cells[0] for cells in rows) == measures
            turned = [list(column) for column in zip(*(cells[1:] for cells in rows), strict=True)]
            rows = [[name, *column] for name, column in zip(label, turned, strict=True)]
        assert rows == [
            [
                name,
                share(one["came"]),
                share(one["other_way"]) if one["other_way"] else "–",
                share(one["misses"]["left"]),
                share(one["misses"]["right"]),
                one["misses"]["word"] + ("" if one["misses"]["sure"] else ", not sure"),
                f"{signed(one['strokes_gained']['value'])} "
                + interval_words(one["strokes_gained"]["low"], one["strokes_gained"]["high"]),
            ]
            for name, one in zip(label, shapes, strict=True)
        ]


def test_shapes_lead_with_how_often_the_most_planned_one_comes(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "shapes")
    said = answer(demo, "patterns")
    order = [row["club"] for row in said["patterns"] if row["swing"] == "full"]
    places = [order.index(one["club"]) for one in said["shapes"]]
    assert places == sorted(places), "longest club first"
    known = [one for one in said["shapes"] if one["came"]["value"] is not None]
    most = max(known, key=lambda one: one["shots"])
    came = most["came"]
    lead = page.locator(".headline")
    expect(lead.locator(".number")).to_have_text(percent(came["value"]))
    expect(lead).to_contain_text(f"of {came['n']} shots curved as planned: {most['club']}, {most['planned']}")
    expect(lead).to_contain_text(f"between {percent(came['low'])} and {percent(came['high'])} with 90 % confidence")


def cost(found: dict[str, Any], *, length: bool) -> str:
    """What something costs as a cell shows it: yards or strokes, below zero it costs."""
    if found["lacking"]:
        return f"– {found['lacking']}"
    numbers = [found[name] for name in ("difference", "low", "high")]
    if not length:
        value, low, high = (signed(one) for one in numbers)
        return f"{value} {low} to {high}"
    digits = (1, 0, 0)
    value, low, high = (numbers_of(one, places).replace("-", "−") for one, places in zip(numbers, digits, strict=True))
    return f"{value} {low} to {high}"


def narrow(figure: dict[str, Any]) -> str:
    """A share with the unit once in its interval."""
    return share(figure).replace(f"{percent(figure['low'])} to", f"{percent(figure['low']).removesuffix(' %')} to")


def test_strikes_heights_and_shapes_of_a_club_are_the_apis(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "patterns?club=driver")
    (club,) = answer(demo, "strikes", club="driver")["clubs"]
    strike, height, shape = club["fields"]
    for field, caption in ((strike, "Strike"), (height, "Planned height")):
        said = f"{caption}, recorded for {field['told']} of {field['told'] + field['not_told']} shots"
        assert table_rows(page, said) == [
            [
                f"{'all but centre' if one['value'] == 'not centre' else one['value']} {one['shots']}",
                narrow(one["share"]),
                cost(one["yards"], length=True) if one["yards"] else "–",
                cost(one["strokes"], length=False),
            ]
            for one in field["values"]
        ]
    pooled = strike["values"][-1]
    assert pooled["yards"]["high"] < 0 < pooled["strokes"]["high"]
    lead = f"Missed the centre {percent(pooled['share']['value'])} of the time"
    words = (
        f"{lead}: on average such shots went {fixed(pooled['yards']['difference'], 0)} yd shorter than centred ones."
    )
    expect(page.locator(".strikes .lead")).to_have_text(words)
    always = f"Planned shape: recorded for {shape['told']} of {shape['told'] + shape['not_told']} shots, always fade"
    expect(page.locator(".strikes")).to_contain_text(always)
    assert reader.errors == []


def test_a_club_without_a_strike_says_where_to_note_it(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "patterns?club=driver&from=2026-03-07&to=2026-03-07")
    body = answer(demo, "strikes", club="driver", **{"from": "2026-03-07", "to": "2026-03-07"})
    page.route("**/strikes?**", lambda route: route.fulfill(json=body | {"clubs": []}))
    page.reload()
    wait_drawn(page)
    expect(page.locator(".strikes")).to_contain_text("Nothing recorded for these shots.")
    page.unroute("**/strikes?**")
    page.route("**/strikes?**", lambda route: route.fulfill(status=404, json={"title": "Not Found", "status": 404}))
    page.reload()
    wait_drawn(page)
    expect(page.locator(".shapes")).to_have_count(1)
    expect(page.locator(".strikes")).to_have_count(0)


def test_all_clubs_that_clearly_miss_are_named_and_lead_to_each(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "patterns")
    full = [row for row in rows_of(demo) if row["swing"] == "full"]
    shown = table_rows(page, "Where full swings finish")
    counts = [f"{row['club']} {row['shots']} shots to {row['target_yd']:.0f} yd" for row in full]
    assert [cells[0] for cells in shown] == counts
    for place, name in enumerate(("right", "long"), start=1):
        wanted = [f"{centre(row[name]['centre'], name)} spread {row[name]['spread']['value']:.1f}" for row in full]
        assert [cells[place] for cells in shown] == wanted
    small = [row for row in full if row["shots"] < 12]
    assert small
    expect(page.locator(".bag-table").first.locator(".count-cell .tally")).to_have_count(len(small))
    short = [row["club"] for row in full if row["long"]["centre"]["high"] < 0]
    expect(page.locator("#clearly")).to_contain_text(
        f"On average short with {', '.join(short[:-1])} and {short[-1]}; long with"
    )
    clear = [
        (abs(one["value"]), row["club"], name)
        for row in full
        for name, one in ((name, row[name]["centre"]) for name in ("right", "long"))
        if one["low"] > 0 or one["high"] < 0
    ]
    _, club, name = max(clear)
    far = next(row for row in full if row["club"] == club)[name]["centre"]
    headline = page.locator(".evidence-body > .headline")
    size, side = to_side(far["value"], name).split(" ")
    expect(headline.locator(".number")).to_have_text(size)
    near_end, far_end = sorted(abs(far[end]) for end in ("low", "high"))
    expect(headline).to_have_text(
        f"{size} yd {side} on average with the {club}"
        f"between {near_end:.1f} and {far_end:.1f} yd {side} with 90 % confidence"
    )
    order = "() => [...document.querySelector('.evidence-body').children].map((one) => one.className || one.tagName)"
    assert page.evaluate(order)[:3] == ["verdict", "headline", "SECTION"], "a sentence, a figure, a plot"
    drawn = page.locator(".pair svg[role=img]").first
    expect(drawn.locator(".tick-mark")).to_have_count(sum(bool(row["offline_deg"]["quantiles"]) for row in full))
    drawn_names = drawn.locator("text.direct").all_text_contents()
    assert drawn_names == ["the target", "middle shot", "10th", "middle half", "90th percentile"], (
        "named where they lie"
    )
    expect(drawn.locator(".row-marks > .tally")).to_have_count(sum(0 < row["tapped"] < 12 for row in full))
    assert page.locator(".legend").count() == 0
    page.locator(".cell-link", has_text="7 iron").first.click()
    page.wait_for_selector(".pair .target")
    assert page.evaluate("location.hash").endswith("/patterns?club=7+iron")


def test_a_club_without_a_finish_is_named_with_those_there_are(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "patterns?club=9+wood")
    expect(page.locator(".evidence-body [role=alert]")).to_contain_text("There is no finish of '9 wood'; there is")
    page.select_option("#club", "driver")
    page.wait_for_selector(".pair .target")


def test_lengths_are_in_the_unit_of_the_player(make_phone: Any, tmp_path: Path) -> None:
    server = demo_server(tmp_path, short=True)
    try:
        metric(server)
        device: Phone = make_phone(server)
        page = open_view(device, server, "patterns?club=driver")
        (row, *_) = rows_of(server, club="driver")
        target = plain(row["target_yd"] * METRES_A_YARD, 0)
        told = {name: cells for name, *cells in table_rows(page, f"The pattern against a target of {target} m")}
        assert told["centre"][1] == centre(row["long"]["centre"], "long", METRES_A_YARD)
        found = page.evaluate(PLOT)
        scale = pixels_a_unit(found["axis"], found["target"], across=True)
        across = scale * row["ellipse"]["half_long_yd"] * METRES_A_YARD
        assert found["ellipse"][3] == pytest.approx(across, rel=0.01)
        assert " yd" not in page.inner_text(".evidence-body")
    finally:
        server.stop()


def test_the_bag_on_the_phone_leads_to_patterns_and_distances(make_phone: Any, demo: Server) -> None:
    phone: Phone = make_phone(demo)
    player = begin_player(phone)
    page = phone.page
    phone.wait_sent()
    page.goto(f"{demo.address}/#/bag")
    page.wait_for_selector("#to-patterns")
    links = [page.get_attribute(name, "href") for name in ("#to-patterns", "#to-distances")]
    assert links == [f"#/evidence/{player}/patterns", f"#/evidence/{player}/distances"]
    page.click("#to-distances")
    expect(page.locator(".evidence-body .empty")).to_contain_text("No full swing with a known distance")
    page.goto(f"{demo.address}/#/bag")
    page.locator(".list-row", has_text="driver").click()
    page.click("#to-pattern")
    expect(page.locator("h1")).to_have_text("Where does it go? Patterns")
    expect(page.locator(".evidence-body .empty")).to_contain_text("No finish recorded in these rounds")
    assert page.evaluate("location.hash").endswith("/patterns?club=Driver")
    assert phone.errors == []


def test_three_groups_are_not_called_two(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "patterns?club=6+iron&swing=part&split=lie")
    assert len(table_rows(page, "The groups, in")) == 3


OVERRUN = """(table) => [...document.querySelectorAll(`${table} tbody :is(th, td)`)].filter((cell) => {
  const words = document.createRange();
  words.selectNodeContents(cell);
  const [inside, box] = [words.getBoundingClientRect(), cell.getBoundingClientRect()];
  return inside.left < box.left - 1 || inside.right > box.right + 1;
}).map((cell) => cell.textContent)"""


def test_on_a_phone_no_words_of_a_table_run_out_of_their_cell(reader: Phone, demo: Server) -> None:
    page = open_view(reader, demo, "patterns")
    assert any("not enough data" in row[1] for row in table_rows(page, "Where part swings finish"))
    assert page.evaluate(OVERRUN, ".bag-table") == []
    open_view(reader, demo, "overview")
    assert page.evaluate(OVERRUN, ".club-table") == []
    box = page.locator(".table-box.club-table, .table-box:has(.club-table)").first
    assert box.evaluate("(one) => one.scrollWidth <= one.clientWidth"), "every column is in sight"
