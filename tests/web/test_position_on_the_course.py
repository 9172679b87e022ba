"""Positions on the play screen, tapped: a hole within two taps a shot, what goes wrong, nothing asked while idle, and
a hole mapped by walking."""

from __future__ import annotations

import math
from typing import Any

from playwright.sync_api import expect

from server.game.hole_maps import map_fault, middle_of_green
from server.game.units import METRES_PER_YARD
from tests.records.made import Season, body_of
from tests.web.phone import Phone, Server
from tests.web.test_positions import AS_JSON, MAPS, place, yards

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


def stand(phone: Phone, x: float, y: float, accuracy: float = 3.0, noise_m: float = 0.0) -> None:
    """The player walks to a point of the hole; the phone is off by `noise_m` to the north-east."""
    lon, lat = place(x + noise_m / METRES_PER_YARD * math.sqrt(0.5), y + noise_m / METRES_PER_YARD * math.sqrt(0.5))
    phone.context.set_geolocation({"longitude": lon, "latitude": lat, "accuracy": accuracy})


def with_maps(phone: Phone, server: Server, name: str, **fields: Any) -> tuple[str, str]:
    """A phone of a player with the invented course mapped on the earth, at a round of it; ids of round and course."""
    made = Season(name)
    bag = [made.club(label, sort) for label, sort in NAME_OF_CLUBS.items()]
    holes = [{"number": number, "par": 4, "length_yd": round(middle_of_green(MAPS[number])[1])} for number in (1, 2, 3)]
    course = made.put("course", "course", body_of("course", tees=[{"name": "white", "holes": holes}]))
    body = {"course_id": course, "hole": HOLE, "features": MAPS[HOLE], "frame": AS_JSON}
    made.put("hole_map", "map", body)
    round_id = made.put("round", "one", body_of("round", holes=holes, bag=bag, course_id=course) | fields)
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
    page.evaluate("() => Promise.all(['positions', 'geodesy'].map((name) => import(`/js/game/${name}.js`)))")
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
    phone.hit("#holed")
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
