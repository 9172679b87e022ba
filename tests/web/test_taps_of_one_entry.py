"""A shot belongs to the entry that stood on the screen, and a thumb that bounces on one spot taps once."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.web.phone import Phone
from tests.web.test_double_taps import holes_by_gap, playing, shots, slowed, tap_twice

__all__ = ["playing"]

SLOW_FRAME_MS = 400
HELD_MS = 1200
"""Longer than an entry takes to settle, shorter than the screen waits for a finger to lift."""

HELD_THUMB = f"""() => new Promise((yes) => {{
  const soon = window.requestAnimationFrame.bind(window);
  window.requestAnimationFrame = (work) => setTimeout(() => soon(work), {SLOW_FRAME_MS});
  const hit = () => document.getElementById('hit');
  const finger = (name) => hit().dispatchEvent(new PointerEvent(name, {{ bubbles: true }}));
  const lift = () => {{
    finger('pointerup');
    hit().click();
    window.requestAnimationFrame = soon;
    yes();
  }};
  const drawn = new MutationObserver(() => {{
    drawn.disconnect();
    setTimeout(() => {{
      hit().click();
      finger('pointerdown');
      setTimeout(lift, {HELD_MS});
    }}, 0);
  }});
  drawn.observe(document.getElementById('bar'), {{ childList: true }});
}})"""
"""The entry is drawn, shown late; Hit is tapped, and the thumb comes down again before the next entry can be drawn."""


def test_an_older_drawing_of_the_entry_does_not_stand_for_the_next_one(playing: Phone) -> None:
    playing.settled()
    other = playing.context.new_page()
    other.goto(f"{playing.address}/manifest.webmanifest")
    playing.page.evaluate(f"void ({HELD_THUMB})().then(() => {{ window.lifted = true; }})")
    other.evaluate("new BroadcastChannel('pencilbag').postMessage('written')")  # another tab: the entry is drawn again
    playing.page.wait_for_function("() => window.lifted")
    playing.settled()
    expect(playing.page.locator(".shot")).to_have_count(1)
    assert [(shot["order"], shot["lie"]) for shot in shots(playing)] == [(1, "tee")]


def test_the_second_tap_on_a_relief_changes_nothing_of_the_next_entry(playing: Phone) -> None:
    """The sheet is gone by then, and the thumb meets whatever field lies below it."""
    page = playing.page
    for hole, gap_ms in holes_by_gap(playing, [150, 300, 500]):
        playing.hit()
        playing.settled()
        page.click("#more-actions")
        page.click("#penalty-penalty_area")
        tap_twice(playing, "#way-back_on_line", gap_ms)
        playing.settled()
        expect(page.locator("#distance .number")).to_have_text("?")
        expect(page.locator("#lie-rough")).to_have_attribute("aria-pressed", "true")
        assert len(shots(playing, hole)) == 1


def test_the_second_tap_on_holed_opens_nothing(playing: Phone) -> None:
    """The round has turned to the next hole: the thumb meets another button."""
    for hole, gap_ms in holes_by_gap(playing, [80, 300, 500]):
        playing.hit()
        tap_twice(playing, "#holed", gap_ms)
        playing.settled()
        assert playing.page.locator("dialog").count() == 0
        assert playing.page.inner_text("h1") == f"Hole {hole + 1}"
        assert [bool(shot["holed"]) for shot in shots(playing, hole)] == [False, True]


@pytest.mark.parametrize("slowdown", [1, 4])
def test_a_tap_on_the_same_spot_counts_once_the_entry_has_settled(playing: Phone, slowdown: int) -> None:
    """Two tap-ins: what is swallowed is the bounce, not the next stroke, also on a slow phone."""
    playing.hit()
    playing.page.click("#lie-green")
    slowed(playing, slowdown)
    tap_twice(playing, "#hit", 1400)
    expect(playing.page.locator(".shot")).to_have_count(3)


@pytest.mark.parametrize("reason", ["out_of_bounds", "lost"])
def test_a_fairway_drop_lies_on_the_fairway(playing: Phone, reason: str) -> None:
    """Model local rule E-5: the relief area reaches onto the fairway; how far from the hole, only the player knows."""
    page = playing.page
    playing.hit()
    page.click("#more-actions")
    page.click(f"#penalty-{reason}")
    page.click("#way-fairway_drop")
    expect(page.locator("#distance .number")).to_have_text("?")
    expect(page.locator("#lie-fairway")).to_have_attribute("aria-pressed", "true")


SLOW_CLOCK = """async () => {
  const { TapGuard, SETTLES_MS } = await import('/js/screens/tap-guard.js');
  return new Promise((done) => {
    const guard = new TapGuard((busy) => busy || done(now() - drawn >= SETTLES_MS), () => now());
    const now = () => performance.now() * 0.9;
    let drawn = 0;
    guard.close();
    guard.end(true);
    const entry = guard.begin();
    drawn = now();
    guard.drawn(entry);
  });
}"""
"""The page's clock is behind when the timer ends, as one that counts in coarse steps is."""


def test_the_actions_settle_by_a_coarse_clock_too(module_page: Page) -> None:
    assert module_page.evaluate(SLOW_CLOCK) is True
