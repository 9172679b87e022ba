"""Two quick taps are one shot: a second tap on Hit, Holed or a penalty means the same shot until the next entry is
drawn and has settled, or until a field of it is touched."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from playwright.sync_api import expect

from tests import tiers
from tests.web.phone import Phone

GAPS_MS = [40, 80, 150, 300, 500]
ENDS_MS = GAPS_MS if tiers.LONG else [GAPS_MS[0], GAPS_MS[-1]]
"""The shortest and the longest gap, in the long tier all between."""


@pytest.fixture
def playing(on_the_tee: Phone) -> Phone:
    """A phone on the first tee."""
    return on_the_tee


@contextmanager
def slowed(phone: Phone, rate: int) -> Iterator[None]:
    """The phone's processor at a fraction of its speed."""
    if rate == 1:
        yield
        return
    devtools = phone.context.new_cdp_session(phone.page)
    devtools.send("Emulation.setCPUThrottlingRate", {"rate": rate})
    try:
        yield
    finally:
        devtools.send("Emulation.setCPUThrottlingRate", {"rate": 1})


def tap_twice(phone: Phone, selector: str, gap_ms: int, taps: int = 2) -> None:
    """Two taps or more on the same spot of the screen, as a bouncing thumb makes them: by the browser's own input."""
    phone.settled()
    box = phone.page.locator(selector).bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    mouse = phone.page.mouse
    mouse.move(x, y)
    mouse.down()
    mouse.up()
    for _ in range(taps - 1):
        # The gap between the taps, not the end of anything: nothing to wait for.
        time.sleep(gap_ms / 1000)
        mouse.down()
        mouse.up()


def shots(phone: Phone, hole: int = 1) -> list[dict[str, Any]]:
    """The shots of a hole in their order."""
    return phone.shots_here(hole)


def holes_by_gap(phone: Phone, gaps_ms: list[int]) -> Iterator[tuple[int, int]]:
    """A fresh hole for each gap: its number and the gap."""
    for hole, gap_ms in enumerate(gaps_ms, start=1):
        phone.to_hole(hole)
        expect(phone.page.locator(".shot")).to_have_count(0)
        print(f"hole {hole}: taps {gap_ms} ms apart")  # pytest shows it when the hole fails
        yield hole, gap_ms


@pytest.mark.parametrize(("slowdown", "gaps_ms"), [(1, GAPS_MS), (4, ENDS_MS)])
def test_two_quick_taps_on_hit_are_one_shot(playing: Phone, slowdown: int, gaps_ms: list[int]) -> None:
    with slowed(playing, slowdown):
        for hole, gap_ms in holes_by_gap(playing, gaps_ms):
            tap_twice(playing, "#hit", gap_ms)
            playing.settled()
            expect(playing.page.locator(".shot")).to_have_count(1)
            assert [(shot["order"], shot["lie"]) for shot in shots(playing, hole)] == [(1, "tee")]
    assert playing.errors == []


@pytest.mark.parametrize("slowdown", [1, 4] if tiers.LONG else [1])
def test_quick_taps_on_holed_are_one_shot_and_none_from_the_next_tee(playing: Phone, slowdown: int) -> None:
    """Two taps, then three: the round has turned to the next hole, where Holed lies on the same spot."""
    with slowed(playing, slowdown):
        for hole, gap_ms in holes_by_gap(playing, ENDS_MS * 2):
            playing.hit()
            tap_twice(playing, "#holed", gap_ms, taps=2 if hole <= len(ENDS_MS) else 3)
            playing.page.wait_for_selector(f"#turned >> text=Hole {hole}:")
            playing.settled()
            assert [(shot["order"], bool(shot["holed"])) for shot in shots(playing, hole)] == [(1, False), (2, True)]
            assert playing.page.inner_text("h1") == f"Hole {hole + 1}"
            assert shots(playing, hole + 1) == []
    playing.hit()  # one that is meant
    assert len(shots(playing, hole + 1)) == 1


def test_the_last_hole_turns_to_the_card_and_undo_comes_back(playing: Phone) -> None:
    """Three taps on Holed: one shot, and nothing of the card is tapped. Then a round whose holes stay."""
    page = playing.page
    playing.to_hole(17)
    playing.hole_out()
    page.click("#undo")
    playing.wait_for_hole(17)
    expect(page.locator(".shot")).to_have_count(0)
    playing.to_hole(1)
    playing.hit()
    playing.to_hole(18)
    tap_twice(playing, "#holed", 500, taps=3)
    expect(page.locator("#turned")).to_contain_text("Hole 18: hole in one")
    assert page.evaluate("location.hash").endswith("/card")
    assert len(shots(playing, 18)) == 1
    page.click("#undo")
    playing.wait_for_hole(18)
    assert shots(playing, 18) == []
    playing.stay_on_holes()
    playing.hit("#holed")
    expect(page.locator(".done-words")).to_have_text("Hole in one")
    playing.next_hole()
    page.wait_for_selector(".card")
    expect(page.locator("#turned")).to_have_count(0)
    page.evaluate("location.hash = '#/player'")
    page.click("#turn-next")  # as the tests after it on this phone expect
    expect(page.locator("#turn-next")).to_have_attribute("aria-pressed", "true")
    assert playing.errors == []


PENALTIES = [("#way-lateral", 1, ENDS_MS), ("#way-same_spot", 1, ENDS_MS[:1])]
LONG_PENALTIES = [("#way-lateral", 1, GAPS_MS), ("#way-same_spot", 1, GAPS_MS), ("#way-lateral", 4, GAPS_MS)]


@pytest.mark.parametrize(("way", "slowdown", "gaps_ms"), LONG_PENALTIES if tiers.LONG else PENALTIES)
def test_a_double_tap_on_a_penalty_hits_nothing(playing: Phone, way: str, slowdown: int, gaps_ms: list[int]) -> None:
    with slowed(playing, slowdown):
        for hole, gap_ms in holes_by_gap(playing, gaps_ms):
            playing.hit()
            playing.page.click("#more-actions")
            playing.page.click("#penalty-penalty_area")
            tap_twice(playing, way, gap_ms)
            playing.settled()
            (shot,) = shots(playing, hole)
            assert (shot["penalty_reason"], shot["penalty_strokes"]) == ("penalty_area", 1)


def test_what_lies_under_a_closing_sheet_is_not_hit(playing: Phone) -> None:
    """The second tap of a double one meets the button below: even there it hits no ball."""
    playing.hit()
    playing.page.click("#more-actions")
    playing.page.click("#penalty-penalty_area")
    playing.page.click("#way-lateral")
    playing.page.locator("#hit").dispatch_event("click")
    playing.settled()
    assert len(shots(playing)) == 1


def test_two_tap_ins_within_a_second_and_a_half_are_two_shots(playing: Phone) -> None:
    playing.hit()
    playing.page.click("#lie-green")
    playing.settled()
    playing.hit()
    began = time.monotonic()
    page = playing.page
    tap_twice(playing, "#hit", 1_400)
    expect(page.locator(".shot")).to_have_count(4)
    assert time.monotonic() - began < 10, "a slow machine is no proof either way"
    assert [shot["order"] for shot in shots(playing)] == [1, 2, 3, 4]


def test_a_touched_field_makes_the_next_tap_count_at_once(playing: Phone) -> None:
    """Holes are entered faster than 600 ms by who taps the fields: lie, then Hit."""
    page = playing.page
    page.evaluate(
        """async () => {
          const shown = (count) => new Promise((yes) => {
            const there = () => document.querySelectorAll('.shot').length === count;
            const look = () => (there() ? yes() : requestAnimationFrame(look));
            look();
          });
          document.getElementById('hit').click();
          await shown(1);
          await new Promise((yes) => requestAnimationFrame(() => requestAnimationFrame(yes)));
          document.getElementById('lie-rough').click();
          document.getElementById('hit').click();
          await shown(2);
        }"""
    )
    assert [shot["lie"] for shot in shots(playing)] == ["tee", "rough"]


def test_undo_and_then_hit_is_meant(playing: Phone) -> None:
    playing.hit()
    playing.page.click("#undo")
    expect(playing.page.locator(".shot")).to_have_count(0)
    playing.hit()
    assert len(shots(playing)) == 1


def test_a_second_tap_says_what_became_of_it(playing: Phone) -> None:
    tap_twice(playing, "#hit", 300)
    expect(playing.page.locator("#said")).to_have_text("Tapped twice: counted once.")


def test_a_ball_after_relief_asks_for_its_distance_and_guesses_the_lie_alone(playing: Phone) -> None:
    """The stroke before does not tell where the drop was made: 172 yd and a penalty area leave no putt."""
    page = playing.page
    playing.hit()
    playing.type_distance(172)
    playing.hit()
    for reason, way in (("penalty_area", "lateral"), ("unplayable", "back_on_line")):
        page.click("#more-actions")
        page.click(f"#penalty-{reason}")
        page.click(f"#way-{way}")
        expect(page.locator("#lie-rough")).to_have_attribute("aria-pressed", "true")
        expect(page.locator("#distance .number")).to_have_text("?")
        playing.settled()
        page.click("#hit")
        expect(page.locator("#alert")).to_contain_text("Type the distance first")
        assert len(shots(playing)) == 2
        page.click("#alert-ok")
        playing.settled()
        page.click("#undo")
        expect(page.locator("#distance .number")).not_to_have_text("?")
    page.click("#more-actions")
    page.click("#penalty-penalty_area")
    page.click("#way-lateral")
    expect(page.locator("#distance .number")).to_have_text("?")
    playing.type_distance(160)
    expect(page.locator("#distance .number")).to_have_text("160")
    expect(page.locator('.entry .clubs [aria-pressed="true"]')).to_have_count(1)
    playing.hit()
    assert [(shot["lie"], round(shot["distance_yd"])) for shot in shots(playing)][2] == ("rough", 160)


def test_again_from_the_same_spot_needs_no_typing(playing: Phone) -> None:
    page = playing.page
    playing.hit()
    playing.type_distance(172)
    playing.hit()
    page.click("#more-actions")
    page.click("#penalty-penalty_area")
    page.click("#way-same_spot")
    expect(page.locator("#distance .number")).to_have_text("172")
