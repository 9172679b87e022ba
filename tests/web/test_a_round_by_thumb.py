"""A whole invented round, offline, tapped as a thumb would: the taps are counted, the app is killed twice."""

from __future__ import annotations

import random
from typing import Any

import pandas as pd
import pytest
from playwright.sync_api import expect

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.strokes_gained.attribution import attribute
from tests import tiers
from tests.web.audit import check_consistent, delivered_once, live_shots
from tests.web.phone import ANSWER, Phone, Server
from tests.web.thumb import Spot, Thumb, club_for, ends, new_course

pytestmark = pytest.mark.service_worker

ALL_PARS = "443545344443544345"
ALL_LENGTHS = [392, 418, 174, 531, 405, 548, 186, 371, 433, 401, 366, 158, 522, 447, 389, 203, 412, 539]
ORDER = tuple(range(1, 19)) if tiers.LONG else (4, 5, 6, 7, 8, 9, 11, 12, 17, 1, 2, 3, 10, 13, 14, 15, 16, 18)
"""The holes of the course; by default everything that can happen has happened after nine of them."""
PLAYED = tiers.count(9, 18)
PARS = "".join(ALL_PARS[hole - 1] for hole in ORDER)
LENGTHS = [ALL_LENGTHS[hole - 1] for hole in ORDER]
MOST_TAPS_A_SHOT = 3.0
MOST_TAPS_A_TAP_IN = 2
CLOSE = 1e-9

VALUES = f"""async () => {{
  const {{ attribute }} = await import('/js/game/valuation.js');
  const {{ categoryScheme }} = await import('/js/game/categories.js');
  {ANSWER}
  const database = await answer(indexedDB.open('pencilbag'));
  const all = (name) => answer(database.transaction(name).objectStore(name).getAll());
  const records = (await all('records')).filter((record) => !record.deleted);
  const baseline = (await all('answers')).find((row) => row.path === '/api/baselines/tour').value;
  database.close();
  const round = records.find((record) => record.kind === 'round').body;
  const pars = new Map(round.holes.map((hole) => [hole.number, hole.par]));
  const shots = records.filter((record) => record.kind === 'shot');
  const bodies = shots.map((record) => record.body);
  const values = attribute(bodies, (shot) => pars.get(shot.hole), baseline, categoryScheme());
  return Object.fromEntries(shots.map((record, place) => [record.record_id, values[place]]));
}}"""


def penalty_on_the_tee_shot(thumb: Thumb, length: int, par: int, chance: random.Random) -> None:
    """Into the water off the tee; relief two club-lengths from the crossing point, rule 17.1d(3)."""
    thumb.note(Spot("tee", length), "Driver")
    thumb.more("penalty-penalty_area", "way-lateral")
    thumb.play_out(Spot("rough", 191), par, chance)


def out_of_bounds(thumb: Thumb, length: int, par: int, chance: random.Random) -> None:
    """The second is out of bounds: again from the same spot, rule 18.2b."""
    first, second = Spot("tee", length), Spot("rough", 161)
    thumb.note(first, "Driver")
    thumb.note(second, club_for(second, par))
    thumb.more("penalty-out_of_bounds", "way-same_spot")
    expect(thumb.phone.page.locator("#distance .number")).to_have_text("161")
    thumb.play_out(second, par, chance)


def lost_with_a_provisional(thumb: Thumb, length: int, par: int, chance: random.Random) -> None:
    """The first is lost, the provisional becomes the ball in play, rule 18.3c."""
    page = thumb.phone.page
    thumb.note(Spot("tee", length), "Driver")
    thumb.more("provisional")
    page.wait_for_selector("#ball-2[aria-pressed=true]")
    thumb.note(Spot("tee", length), "Driver")
    thumb.phone.tap("#first-lost")
    expect(page.locator(".shot")).to_have_count(2)
    thumb.play_out(Spot("fairway", 118), par, chance)


def two_extra_balls(thumb: Thumb, length: int, par: int, chance: random.Random) -> None:
    """Ball 1 is played out; two more balls are hit from where its second was played, and where they lie is noted."""
    page = thumb.phone.page
    tee, second = Spot("tee", length), Spot("fairway", 163)
    thumb.note(tee, "Driver")
    thumb.note(second, "7-iron")
    for ball, end in ((2, Spot("green", 22)), (3, Spot("rough", 14))):
        thumb.more("extra-same")
        page.wait_for_selector(f"#ball-{ball}[aria-pressed=true]")
        thumb.note(second, "6-iron")
        if page.locator(f"#lie-{end.lie}").get_attribute("aria-pressed") == "false":
            thumb.phone.tap(f"#lie-{end.lie}")
        thumb.distance(end.distance, 5 if end.lie == "green" else 10)
        thumb.phone.tap("#lies-here")
        page.wait_for_selector("#ball-1[aria-pressed=true]")
    thumb.play_out(Spot("green", 17), par, chance)


def picked_up(thumb: Thumb, length: int, par: int, chance: random.Random) -> None:
    """Three shots, then the ball is picked up where nobody noted it."""
    spot: Spot | None = Spot("tee", length)
    for _ in range(2):
        assert spot is not None
        thumb.note(spot, club_for(spot, par))
        spot = ends(spot, par, chance)
    thumb.more("pick-up-unknown")


SPECIAL = {
    4: penalty_on_the_tee_shot,
    5: two_extra_balls,
    8: out_of_bounds,
    11: lost_with_a_provisional,
    14: two_extra_balls,
    17: picked_up,
}
KILLED_AFTER = (6, 12)


def killed_and_opened_again(phone: Phone) -> None:
    """The browser kills the tab without a word; the app is opened from the home screen and goes on where it was."""
    phone.kill()
    phone.open()
    phone.page.wait_for_selector(".go-on")
    phone.tap(".go-on")
    phone.page.wait_for_selector(".play")


def test_a_full_round_by_thumb_offline(phone: Phone, live_server: Server) -> None:
    phone.open()
    player_id = phone.sign_up("Thumb Test")
    new_course(phone, "Heron Marsh (invented)", PARS, LENGTHS)
    phone.wait_for_worker()
    phone.wait_sent()
    phone.go_offline()
    round_id = phone.start_round("practice")
    thumb, chance, phone.taps = Thumb(phone), random.Random(18), 0
    for hole, (of_all, par, length) in enumerate(zip(ORDER, map(int, PARS), LENGTHS, strict=True), start=1):
        expect(phone.page.locator("h1")).to_have_text(f"Hole {hole}")
        if hole > PLAYED:
            break
        special = SPECIAL.get(of_all)
        if special:
            special(thumb, length, par, chance)
        else:
            thumb.play_out(Spot("tee", length), par, chance)
        phone.page.wait_for_selector(".card" if hole == 18 else f"h1:text-is('Hole {hole + 1}')")
        if of_all in KILLED_AFTER:
            killed_and_opened_again(phone)
    shots = len(phone.live("shot"))
    per_shot = phone.taps / shots
    assert shots > tiers.count(37, 80)
    assert per_shot <= MOST_TAPS_A_SHOT, f"{phone.taps} taps for {shots} shots: {per_shot:.2f} a shot"
    assert len(thumb.tap_ins) >= tiers.count(5, 10)
    assert max(thumb.tap_ins) <= MOST_TAPS_A_TAP_IN
    print(f"\n{phone.taps} taps, {shots} shots, {per_shot:.2f} a shot; tap-ins {thumb.tap_ins}")
    check_consistent(phone)
    assert all(change["kind"] != "shot" for change in live_server.log(player_id))
    phone.context.set_offline(False)
    phone.wait_sent()
    log = delivered_once(phone, live_server, player_id)
    assert len(live_shots(log)) == shots
    same_values(phone, live_server, player_id, round_id)
    assert phone.errors == []


def same_values(phone: Phone, server: Server, player_id: str, round_id: str) -> None:
    """Every value on the phone equals the server's: shot by shot, hole by hole, and the score."""
    on_phone = phone.page.evaluate(VALUES)
    pars = {hole: int(par) for hole, par in enumerate(PARS, start=1)}
    rows: list[dict[str, Any]] = [
        record["body"] | {"record_id": record["record_id"], "par": pars[record["body"]["hole"]]}
        for record in phone.live("shot")
    ]
    valued = attribute(pd.DataFrame(rows).set_index("record_id"), load_baseline("tour"))
    assert len(valued) == len(on_phone)
    for record_id, row in valued.iterrows():
        found = on_phone[record_id]
        assert found["basis"] == row["basis"]
        assert found["category"] == row["category"]
        if found["strokes_gained"] is None:
            assert pd.isna(row["strokes_gained"])
        else:
            assert abs(found["strokes_gained"] - row["strokes_gained"]) <= CLOSE
    card = server.get(f"/api/players/{player_id}/rounds/{round_id}/scorecard")
    assert [problem for problem in card["problems"] if problem["severity"] == "error"] == []
    of_record = {row["record_id"]: row for row in rows if row["ball"] == 1}
    assert {hole["strokes_gained"] for hole in card["holes"][PLAYED:]} <= {None}
    for hole in card["holes"][:PLAYED]:
        gained = [
            on_phone[record_id]["strokes_gained"]
            for record_id, row in of_record.items()
            if row["hole"] == hole["number"] and on_phone[record_id]["strokes_gained"] is not None
        ]
        assert abs(sum(gained) - hole["strokes_gained"]) <= CLOSE
    phone.page.evaluate(f"location.hash = '#/round/{round_id}/card'")
    phone.page.wait_for_selector(".card")
    assert phone.page.inner_text(".big-score .number") == str(card["total"]["score_of_complete_holes"])
    assert card["total"]["holes_complete"] == PLAYED - 1
    complete = f"incomplete: {PLAYED - 1} of 18 holes, 1 picked up"
    expect(phone.page.locator(".big-score")).to_contain_text(complete)
