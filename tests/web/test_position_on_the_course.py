"""Positions on the play screen, tapped: a hole within two taps a shot, what goes wrong, nothing asked while idle, and
a hole mapped by walking."""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Mapping
from typing import Any

from playwright.sync_api import expect
from shapely.geometry import Point

from server.game.hole_maps import kind_of, map_fault, middle_of_green, polygon
from server.game.units import METRES_PER_YARD
from tests import tiers
from tests.records.made import Season, body_of
from tests.web.phone import Phone, Server
from tests.web.test_positions import AS_JSON, MAPS, place, yards
from tests.web.thumb import PLAYERS_YARDS, Spot, Thumb, club_for

COUNTED = """
  window.positionsAsked = 0;
  window.intervals = 0;
  const watch = () => { throw new Error('a position was watched'); };
  const asked = navigator.geolocation.getCurrentPosition.bind(navigator.geolocation);
  navigator.geolocation.getCurrentPosition = (...given) => { window.positionsAsked += 1; return asked(...given); };
  navigator.geolocation.watchPosition = watch;
  const interval = window.setInterval;
  window.setInterval = (...given) => { window.intervals += 1; return interval(...given); };
"""
NAME_OF_CLUBS = {
    "Driver": "driver",
    "3-wood": "wood",
    "5-iron": "iron",
    "7-iron": "iron",
    "SW": "wedge",
    "Putter": "putter",
}
HOLE = 1
LOADED = "() => Promise.all(['play-marking', 'finish-offer'].map((name) => import(`/js/screens/${name}.js`)))"
"""What a phone loads with the first tap on Mark, before the network goes."""


def stand(phone: Phone, x: float, y: float, accuracy: float = 3.0, noise_m: float = 0.0) -> None:
    """The player walks to a point of the hole; the phone is off by `noise_m` to the north-east."""
    lon, lat = place(x + noise_m / METRES_PER_YARD * math.sqrt(0.5), y + noise_m / METRES_PER_YARD * math.sqrt(0.5))
    phone.context.set_geolocation({"longitude": lon, "latitude": lat, "accuracy": accuracy})


def with_maps(
    phone: Phone,
    server: Server,
    name: str,
    pars: str = "444",
    clubs: Mapping[str, str] = NAME_OF_CLUBS,
    mapped: int = 1,
    earlier: Mapping[str, int] | None = None,
    **fields: Any,
) -> tuple[str, str]:
    """A phone of a player with the invented course mapped on the earth, at a round of it; ids of round and course.
    `earlier`: how far clubs went in a round before."""
    made = Season(name)
    bag = [made.club(label, sort) for label, sort in clubs.items()]
    holes = [
        {"number": number, "par": int(par), "length_yd": round(middle_of_green(MAPS[number])[1])}
        for number, par in enumerate(pars, start=1)
    ]
    course = made.put("course", "course", body_of("course", tees=[{"name": "white", "holes": holes}]))
    for number in range(1, mapped + 1):
        body = {"course_id": course, "hole": number, "features": MAPS[number], "frame": AS_JSON}
        made.put("hole_map", f"map {number}", body)
    round_id = made.put("round", "one", body_of("round", holes=holes, bag=bag, course_id=course) | fields)
    if earlier:
        before = made.put("round", "before", body_of("round", holes=holes, bag=bag, course_id=course, closed=True))
        ids = dict(zip(clubs, bag, strict=True))
        for order, (label, far) in enumerate((one for one in earlier.items() for _ in range(3)), start=1):
            swing = {"lie": "fairway", "distance_yd": far + 120, "club_id": ids[label], "order": order}
            finish = {"swing": "full", "target_yd": far, "right_yd": 0, "long_yd": 0}
            made.put("shot", f"before {order}", body_of("shot", round_id=before, **swing, **finish))
    server.post(f"/api/players/{made.player_id}/changes", {"device_id": "another", "changes": made.changes})
    phone.context.add_init_script(COUNTED)
    phone.open()
    phone.page.click(f"#player-{made.player_id}")
    phone.page.wait_for_selector(".go-on")
    phone.page.goto(f"{phone.address}/#/round/{round_id}/{HOLE}")
    phone.page.wait_for_selector("#hit")
    return round_id, course


def number(phone: Phone) -> int:
    return int(phone.page.locator("#distance .number").inner_text())


def marked(phone: Phone, words: str) -> None:
    phone.tap("#mark-ball")
    expect(phone.page.locator("#position-words")).to_contain_text(words)


def test_a_hole_by_position_within_two_taps_a_shot(phone: Phone, live_server: Server) -> None:
    """Offline; noise of 3 m; the flag is marked on the green and the finish of the second shot offered."""
    phone.context.grant_permissions(["geolocation"])
    round_id, _ = with_maps(phone, live_server, "Ash Walker")
    page = phone.page
    page.evaluate(LOADED)
    phone.go_offline()
    x, y = middle_of_green(MAPS[HOLE])
    phone.taps = 0
    stand(phone, 0, 0, noise_m=3)
    marked(phone, "Green")
    assert number(phone) == round(y)  # from the tee of a par 4 the card's length stays
    phone.hit()
    for aside, left in ((8.0, 160.0), (-6.0, 70.0)):
        stand(phone, x + aside, y - left, noise_m=3)
        marked(phone, "±3 m")
        truth = yards(place(x + aside, y - left), place(x, y))
        assert abs(number(phone) - truth) <= 3 / METRES_PER_YARD + 0.1 + 0.5
        expect(page.locator("#position-words")).to_contain_text("front")
        phone.hit()
    expect(page.locator("#lie-green")).to_have_attribute("aria-pressed", "true")
    stand(phone, x + 2, y + 3)
    marked(phone, "On or beside the green a position is not used.")
    phone.tap("#mark-hole")
    expect(page.locator("#mark-hole")).to_have_text("Hole marked")
    phone.hit()
    phone.hole_out(look_back=True)
    shots = sorted((one["body"] for one in phone.live("shot")), key=lambda shot: shot["order"])
    assert len(shots) == 5
    assert phone.taps / len(shots) <= 2, f"{phone.taps} taps for {len(shots)} shots"
    print(f"\n{phone.taps} taps for {len(shots)} shots by position")
    assert [len(shot.get("position") or []) for shot in shots] == [3, 3, 3, 0, 0]
    flag = next(one for one in phone.live("round"))["body"]["holes"][0]["flag"]
    assert yards(flag, place(x + 2, y + 3)) < 0.1
    assert page.evaluate("positionsAsked") == 5
    page.locator(".shot").nth(1).click()
    offered = page.locator("#finish-marked")
    expect(offered).to_contain_text("By position, against the hole")
    page.click("#use-marked")
    expect(page.locator("#use-marked")).to_have_count(0)
    page.click("#delete-position")
    expect(page.locator("#delete-position")).to_have_count(0)
    page.click("#save-shot")
    expect(page.locator("dialog")).to_have_count(0)
    second = next(one["body"] for one in phone.live("shot") if one["body"]["order"] == 2)
    assert -80 < second["long_yd"] < -60
    assert -25 < second["right_yd"] < 0
    assert second["position"] is None
    assert phone.errors == []
    phone.context.set_offline(False)
    phone.wait_sent()
    log = live_server.log(phone.player_id())
    assert {len(one["body"]["position"]) for one in log if one["kind"] == "shot" and one["body"].get("position")} == {3}
    assert [one["body"]["holes"][0].get("flag") for one in log if one["record_id"] == round_id][-1] == flag


PARS = "445344354443544354"
HOLES = tiers.count(9, 18)
BAG = {
    label: "driver" if label == "Driver" else "wood" if "wood" in label else "hybrid" if "hybrid" in label
    else "iron" if "iron" in label else "wedge" for label in PLAYERS_YARDS
} | {"Putter": "putter"}  # fmt: skip
ONE_TAP_PUTTS = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 15, 20, 25, 30)
MOST_TAPS = 1.9
IN_SIGHT = """() => {
  const [figure, head] = ['#distance', '.hole-head'].map((at) => document.querySelector(at).getBoundingClientRect());
  return figure.height > 0 && head.bottom <= figure.top + 1 && figure.bottom <= innerHeight;
}"""
"""The distance that was filled in stands whole below the head of the hole."""
WRONG = {3: "penalty_area", 8: "out_of_bounds"}
"""What befalls a tee shot, by hole."""


class Walker:
    """Plays a round by position: marks balls off the green, taps only what is not right by then."""

    def __init__(self, phone: Phone, chance: random.Random) -> None:
        self.phone, self.chance, self.thumb = phone, chance, Thumb(phone)
        self.long_tees = 0
        self.by_hand: Counter[str] = Counter()

    def lie(self, hole: int, at: tuple[float, float]) -> str:
        """Where a ball at a point of the mapped hole lies."""
        point = Point(at)
        on = {kind_of(one) for one in MAPS[hole] if one["geometry"]["type"] == "Polygon" and polygon(one).covers(point)}
        if "green" in on:
            return "green"
        green = max((polygon(one) for one in MAPS[hole] if kind_of(one) == "green"), key=lambda area: area.area)
        if "bunker" in on:
            return "sand"
        if green.distance(point) < 2:
            return "fringe"
        return "fairway" if "fairway" in on else "recovery" if "trees" in on else "rough"

    def mark(self, at: tuple[float, float], lie: str, left: int) -> None:
        """A tap on Mark; beside the green it may have to be lie and distance by hand."""
        page = self.phone.page
        stand(self.phone, *at, noise_m=2)
        self.phone.tap("#mark-ball")
        page.wait_for_selector("#position-words:has-text('±3 m'), #position-words:has-text('is not used')")
        if lie != "tee":
            self.set_lie(lie)
        if "is not used" in page.inner_text("#position-words"):
            self.phone.type_distance(left)

    def set_lie(self, lie: str) -> None:
        key = self.phone.page.locator(f"#lie-{lie}")
        if key.get_attribute("aria-pressed") == "false":
            self.by_hand["lie"] += 1
            self.phone.tap(f"#lie-{lie}")

    def hole(self, hole: int, par: int) -> None:
        """From the tee until the ball is holed."""
        goal, at = middle_of_green(MAPS[hole]), (0.0, 0.0)
        for shot in range(1, 9):
            left = math.dist(at, goal)
            lie = "tee" if shot == 1 else self.lie(hole, at)
            if lie == "green":
                self.putts(hole, max(1, round(left * 3)))
                return
            if lie == "tee" and par > 3:
                self.long_tees += 1  # not marked: the card's length counts there
            else:
                self.mark(at, lie, round(left))
            club = club_for(Spot(lie, round(left)), par)
            before = self.phone.taps
            self.thumb.club(club)
            self.by_hand["club"] += self.phone.taps - before
            self.phone.hit()
            wrong = WRONG.get(hole) if shot == 1 else None
            if wrong == "out_of_bounds":
                self.thumb.more("penalty-out_of_bounds", "way-same_spot")
                self.thumb.club("3-wood")
                self.phone.hit()
            elif wrong:
                self.thumb.more("penalty-penalty_area", "way-lateral")
            at = self.ends(at, goal, left, club)
        raise AssertionError("the invented player does not hole out")

    def ends(self, at: tuple[float, float], goal: tuple[float, float], left: float, club: str) -> tuple[float, float]:
        """Where a shot finishes: full clubs by their distance, less than a full one close to the hole."""
        full = PLAYERS_YARDS[club]
        aim = min(full, left) * self.chance.gauss(0.97, 0.05 if left > 45 else 0.12)
        aside = self.chance.gauss(0, 0.06 * min(full, left))
        along = ((goal[0] - at[0]) / left, (goal[1] - at[1]) / left)
        return at[0] + along[0] * aim + along[1] * aside, at[1] + along[1] * aim - along[0] * aside

    def putts(self, hole: int, feet: int) -> None:
        """Lengths to the nearest of one tap where that is within a tenth, else typed; a tap-in stays as suggested where
        that is within a foot. Two putts, three from far."""
        page = self.phone.page
        self.set_lie("green")
        lengths = [feet, max(1, round(feet * 0.1))] + ([1] if feet > 36 else [])
        if feet <= 4:
            lengths = lengths[:1]
        for length in lengths:
            near = min(ONE_TAP_PUTTS, key=lambda one: abs(one - length))
            noted = near if abs(near - length) <= 0.1 * length else length
            shown = int(page.inner_text("#distance .number"))
            if shown != noted and not (max(shown, length) <= 3 and abs(shown - length) <= 1):
                if noted > 9 and noted in ONE_TAP_PUTTS:
                    self.phone.tap(f"#putt-{noted}")
                else:
                    self.phone.type_distance(noted)
                assert int(page.inner_text("#distance .number")) == noted
            if length == lengths[-1]:
                self.phone.hole_out()
            else:
                self.phone.hit()


def test_a_round_by_position_within_two_taps_a_shot(phone: Phone, live_server: Server) -> None:
    """Nine holes, 18 in the long tier, with an earlier round on the phone: a penalty area, a ball out of bounds."""
    phone.context.grant_permissions(["geolocation"])
    round_id, _ = with_maps(phone, live_server, "Ash Rounder", pars=PARS, clubs=BAG, mapped=18, earlier=PLAYERS_YARDS)
    phone.page.evaluate(LOADED)
    phone.go_offline()
    walker, phone.taps = Walker(phone, random.Random(7)), 0
    for hole in range(1, HOLES + 1):
        expect(phone.page.locator("h1")).to_have_text(f"Hole {hole}")
        walker.hole(hole, int(PARS[hole - 1]))
        after = f"round/{round_id}/{'card' if hole == 18 else hole + 1}"
        assert phone.page.evaluate("location.hash") == f"#/{after}"
    shots = [one["body"] for one in phone.live("shot") if one["body"]["round_id"] == round_id]
    scores = [
        sum(1 + (one.get("penalty_strokes") or 0) for one in shots if one["hole"] == hole)
        for hole in range(1, HOLES + 1)
    ]
    over = sum(scores) - sum(map(int, PARS[:HOLES]))
    each = phone.taps / len(shots)
    marked_too = (phone.taps + walker.long_tees) / len(shots)
    print(f"\n{phone.taps} taps for {len(shots)} shots by position, {each:.2f} a shot, {over:+d}: {scores}")
    print(f"{marked_too:.2f} with marks on the tees of par fours and fives; taps by hand: {dict(walker.by_hand)}")
    assert HOLES // 4 <= over <= HOLES, "a normal round"
    assert each < MOST_TAPS
    assert phone.errors == []


def test_what_cannot_be_used_leaves_the_keypad_and_nothing_is_asked_while_idle(
    phone: Phone, live_server: Server
) -> None:
    """Coarse, far away, refused; a distance by position in a competition; then ten minutes untouched; then off."""
    phone.context.grant_permissions(["geolocation"])
    round_id, _ = with_maps(phone, live_server, "Ash Loser", kind="competition")
    page = phone.page
    x, y = middle_of_green(MAPS[HOLE])
    stand(phone, x, y - 150, accuracy=15)
    marked(phone, "Accuracy ±15 m: not used, it takes ±10 m or better.")
    phone.context.set_geolocation({"longitude": 11.0, "latitude": 47.36, "accuracy": 3})
    marked(phone, "not on hole 1")
    page.click("#mark-hole")
    expect(page.locator("#position-words")).to_contain_text("not on hole 1: not marked")
    assert "flag" not in next(one for one in phone.live("round"))["body"]["holes"][0]
    phone.context.clear_permissions()
    marked(phone, "Position refused")
    assert number(phone) == round(y)
    phone.type_distance(321)
    assert number(phone) == 321
    page.locator(".clubs .choice").first.click()
    phone.hit()
    assert "position" not in phone.live("shot")[0]["body"]
    phone.context.grant_permissions(["geolocation"])
    stand(phone, x, y - 120)
    page.click("#lie-green")
    expect(page.locator("#mark-ball")).to_have_count(0)  # never on the green
    page.click("#lie-fairway")
    marked(phone, "Green 120, front")
    assert number(phone) == 120
    expect(page.locator(".clubs .choice[aria-pressed=true]")).to_have_count(0)  # no club is suggested (rule 4.3a)
    page.set_viewport_size({"width": 320, "height": 568})
    stand(phone, x, y - 170)
    marked(phone, "bunker left")
    expect(page.locator("#distance .number")).to_have_text("170")
    expect(page.locator("#distance .unit")).to_have_text("yd ±3 m")
    page.wait_for_function(IN_SIGHT)
    asked = page.evaluate("positionsAsked")
    page.clock.install()
    page.clock.run_for(600_000)
    assert page.evaluate("positionsAsked") == asked
    assert page.evaluate("intervals") == 0
    page.evaluate("location.hash = '#/player'")
    page.click("#position-off")
    expect(page.locator("#position-off")).to_have_attribute("aria-pressed", "true")
    page.evaluate(f"location.hash = '#/round/{round_id}/1'")
    page.wait_for_selector("#hit")
    expect(page.locator(".position")).to_have_count(0)
    assert phone.errors == []


def test_a_hole_is_mapped_by_walking_and_then_gives_distances(phone: Phone, live_server: Server) -> None:
    phone.context.grant_permissions(["geolocation"])
    round_id, course = with_maps(phone, live_server, "Ash Mapper")
    page = phone.page
    page.goto(f"{phone.address}/#/courses/{course}/map/2")
    page.click("#to-walk")
    page.wait_for_selector("#mark-here")
    page.evaluate(LOADED)
    phone.go_offline()

    def mark(at: str, *points: tuple[float, float], accuracy: float = 4.0) -> None:
        page.click(f"#walk-at-{at}")
        for point in points:
            stand(phone, *point, accuracy=accuracy)
            page.locator("#walk-said").evaluate("(one) => { one.textContent = ''; }")
            page.click("#mark-here")
            expect(page.locator("#walk-said")).to_contain_text("arked")

    mark("tee", (0, 0))
    page.click("#save-walk")
    expect(page.locator("#alert")).to_contain_text("Mark the tee and the green")
    page.click("#alert-ok")
    mark("green", (-10, 350), (10, 350), (10, 370), (-10, 370))
    mark("bunker", (15, 340))
    mark("bunker", (0, 0), accuracy=30)
    expect(page.locator("#walk-said")).to_contain_text("not marked")
    expect(page.locator("#walk-length")).to_contain_text("360 yd")
    expect(page.locator("#walk-faults")).to_have_count(0)
    page.click("#save-walk")
    page.wait_for_selector("#map-drawing svg")
    body = next(one["body"] for one in phone.live("hole_map") if one["body"]["hole"] == 2)
    assert map_fault(body["features"]) is None
    assert [len(shape["corners"]) for shape in body["walk"]] == [1, 4, 1]
    page.goto(f"{phone.address}/#/round/{round_id}/2")
    page.wait_for_selector("#hit")
    stand(phone, 0, 200)
    marked(phone, "Green 160, front 150, back 170 yd, ±3 m")
    expect(page.locator("#position-words")).to_contain_text("Reach–carry: bunker right 13")
    phone.context.set_offline(False)
    phone.wait_sent()
    log = [one for one in live_server.log(phone.player_id()) if one["kind"] == "hole_map"]
    assert log[-1]["body"]["walk"] == body["walk"]
    assert phone.errors == []
