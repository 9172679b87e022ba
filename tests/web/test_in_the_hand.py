"""What makes the app easy in the hand: short club labels, settings of this phone, conditions, quiet when idle."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.web.begun import begin_round
from tests.web.measures import LEAST_TARGET_PX, SMALL_TARGETS, TOO_WIDE
from tests.web.phone import Phone

LABELS = [
    ("Pitching wedge", "wedge", "PW"), ("PW", "wedge", "PW"), ("gap wedge", "wedge", "GW"), ("50°", "wedge", "50"),
    ("50 degree wedge", "wedge", "50"), ("54 wedge", "wedge", "54"), ("56° low bounce", "wedge", "56 LB"),
    ("4 iron", "iron", "4i"), ("4-iron", "iron", "4i"), ("4i", "iron", "4i"), ("Iron 10", "iron", "10i"),
    ("4 iron A", "iron", "4i A"), ("4 iron, old forged blade", "iron", "4i OFB"), ("3-wood", "wood", "3w"),
    ("3 hybrid", "hybrid", "3h"), ("Driver", "driver", "driver"), ("driver 2", "driver", "driver 2"),
    ("Putter", "putter", "putter"), ("Driving iron", "iron", "Driving…"), ("Chipper", "iron", "Chipper"),
    ("50° putter", "putter", "50° put…"), ("  7   iron ", "iron", "7i"), ("4 ironwood", "iron", "4 ironw…"),
    ("", "iron", ""), ("🏌" * 20, "iron", "🏌" * 7 + "…"), ("<b>", "iron", "<b>"),
]  # fmt: skip
SHORT = """async (given) => {
  const { shortLabel, shortLabels, spokenLabel } = await import('/js/game/club-labels.js');
  const bag = (labels) => labels.map((label, place) => ({ record_id: String(place), body: { label, sort: 'iron' } }));
  return {
    short: given.map(([label, sort]) => shortLabel(label, sort)),
    apart: [...shortLabels(bag(['4 iron A', '4 iron B', '5 iron', '5-iron', '6i'])).values()],
    spoken: [spokenLabel('4i', '4 iron'), spokenLabel('driver', 'Driver'), spokenLabel('50', '50°')],
  };
}"""

DUELS = """async ({ shots, ids, hole, ball }) => {
  const { duelsOf, stillToHit } = await import('/js/game/alternation.js');
  return [duelsOf(shots, ids), stillToHit(shots, ids, hole, ball)];
}"""

CONDITIONS = """async () => {
  const { conditionsByHole, conditionsLines, withConditions } = await import('/js/game/hole-conditions.js');
  const first = withConditions(null, 3, { wind: 'light', wind_from_deg: 225 });
  const before = [{ hole: 3, wind: 'light', gusts: true }, { hole: 1, pin_side: 'left' }];
  const kept = withConditions(before, 3, { wind: null });
  const gone = withConditions([{ hole: 3, wind: 'light' }], 3, { wind: null });
  const recorded = [...first, { hole: 5, pin_depth: 'back', pin_side: 'left' }, { hole: 6, wind: 'none' }];
  return { first, kept, gone, lines: conditionsLines(conditionsByHole([1, 2, 3, 4, 5, 6, 7], recorded)) };
}"""

TEXT = """async () => {
  const { plainText } = await import('/js/ui/share.js');
  const { h } = await import('/js/ui/elements.js');
  const head = h('thead', null, h('tr', null, h('th', null, 'no')));
  const table = h('table', null, h('caption', { class: 'hidden' }, 'x'), head,
    h('tbody', null, h('tr', null, h('th', null, 'driver'), h('td', null, '+0.4'), h('td', null, '')),
      h('tr', null, h('th', null, '<b>7 iron</b>'), h('td', null, '-1.2'))));
  const page = h('article', null, h('h2', null, 'Robin Vale'), h('p', null, 'Two ', h('strong', null, 'rounds'), '.'),
    h('dl', null, h('dt', null, 'Score'), h('dd', null, '81')), h('div', { class: 'no-print' }, h('p', null, 'hidden')),
    h('button', null, 'Print'), table);
  return plainText(page);
}"""


def test_short_labels_fit_a_ring_and_stay_apart(module_page: Page) -> None:
    found = module_page.evaluate(SHORT, [[label, sort] for label, sort, _ in LABELS])
    assert found["short"] == [short for _, _, short in LABELS]
    assert all(len(short) <= 8 for short in found["short"])
    assert found["apart"] == ["4i A", "4i B", "5 iron", "5-iron", "6i"], "two that would be the same keep their labels"
    assert found["spoken"] == ["4i, 4 iron", "Driver", "50°"]


def shot(club: str, ball: int = 1, order: int = 1, **more: Any) -> dict[str, Any]:
    return {"hole": 1, "lie": "fairway", "distance_yd": 180, "club_id": club, "ball": ball, "order": order} | more


@pytest.mark.parametrize(
    ("shots", "ball", "duels", "left"),
    [
        ([], 1, 0, []),
        ([shot("a")], 1, 0, ["b", "c"]),
        ([shot("x")], 1, 0, []),
        ([shot("a"), shot("x", order=2, distance_yd=20)], 1, 0, []),
        ([shot("a"), shot("b", ball=2)], 1, 1, ["c"]),
        ([shot("a"), shot("b", ball=2)], 2, 1, ["c"]),
        ([shot("a"), shot("b", ball=2), shot("c", ball=3)], 3, 1, []),
        ([shot("a"), shot("b", ball=2, distance_yd=181)], 1, 0, ["b", "c"]),
        ([shot("a"), shot("b", order=2)], 1, 0, ["c"]),
        ([shot("a", hole=2), shot("b", ball=2)], 2, 0, ["a", "c"]),
        ([shot("a", ball=2, provisional=True)], 2, 0, []),
    ],
)
def test_a_duel_is_two_clubs_from_one_spot_with_a_ball_each(
    module_page: Page, shots: list[dict[str, Any]], ball: int, duels: int, left: list[str]
) -> None:
    given = {"shots": shots, "ids": ["a", "b", "c"], "hole": 1, "ball": ball}
    assert module_page.evaluate(DUELS, given) == [duels, left]


def test_conditions_are_changed_by_hole_and_shown_by_groups_of_holes(module_page: Page) -> None:
    found = module_page.evaluate(CONDITIONS)
    assert found["first"] == [{"hole": 3, "wind": "light", "wind_from_deg": 225}]
    assert found["kept"] == [{"hole": 1, "pin_side": "left"}, {"hole": 3, "gusts": True}], "unknown fields stay"
    assert found["gone"] is None
    assert found["lines"] == [
        "Holes 3 to 4: light wind from SW",
        "Hole 5: light wind from SW, pin back left",
        "Holes 6 to 7: no wind",
    ]


def test_what_is_shared_is_the_text_of_the_page(module_page: Page) -> None:
    assert module_page.evaluate(TEXT) == "Robin Vale\nTwo rounds.\nScore: 81\ndriver  +0.4\n<b>7 iron</b>  -1.2"


SHARED = """async (browsers) => {
  const { shareButton } = await import('/js/ui/share.js');
  document.body.innerHTML = '<p class="told">81 strokes</p>';
  const found = [];
  for (const [share, copy] of browsers) {
    const said = [];
    const session = { frame: { say: (words) => said.push(words) }, warn: (words) => said.push(words) };
    const fails = (name) => Promise.reject(new DOMException('no', name));
    const shared = async ({ text }) => (share === 'takes' ? said.push(`shared ${text}`) : fails(share));
    const copied = async (text) => (copy === 'takes' ? said.push(`copied ${text}`) : fails(copy));
    const set = (name, value) => Object.defineProperty(navigator, name, { value, configurable: true });
    set('share', share ? shared : undefined);
    set('clipboard', copy ? { writeText: copied } : undefined);
    const button = shareButton(session, 'Card', '.told');
    button?.click();
    await new Promise((next) => setTimeout(next));
    found.push([button?.textContent ?? null, ...said]);
  }
  return found;
}"""


def test_where_nothing_can_be_shared_the_text_is_copied(module_page: Page) -> None:
    refused = "Not shared: this phone refused. Print it instead."
    browsers = {
        ("takes", "takes"): ["Share", "shared 81 strokes"],
        ("AbortError", "takes"): ["Share"],
        ("NotAllowedError", "takes"): ["Share", "copied 81 strokes", "Copied as text"],
        ("NotAllowedError", None): ["Share", refused],
        (None, "takes"): ["Copy as text", "copied 81 strokes", "Copied as text"],
        (None, "NotAllowedError"): ["Copy as text", refused],
        (None, None): [None],
    }
    assert module_page.evaluate(SHARED, list(map(list, browsers))) == list(browsers.values())


BALLS = """async (cases) => {
  const { countedBalls } = await import('/js/views/distances.js');
  return cases.map(([source, rung]) => countedBalls({ source }, rung));
}"""


def test_a_ladder_says_what_it_counts(module_page: Page) -> None:
    cases = [
        ["course", {"shots": 12}],
        ["both", {"shots": 1, "practice_balls": 0}],
        ["both", {"shots": 0, "practice_balls": 24}],
        ["practice", {"shots": 24, "practice_balls": 0}],
        [None, {"shots": 2}],
    ]
    assert module_page.evaluate(BALLS, cases) == [
        "12 shots", "1 shot", "24 practice balls", "24 practice balls", "2 shots",
    ]  # fmt: skip


WATCHED = """() => {
  window.calls = [];
  const sentinel = () => {
    const one = new EventTarget();
    one.release = async () => { window.calls.push('released'); one.dispatchEvent(new Event('release')); };
    return one;
  };
  const wakeLock = { request: async (kind) => { window.calls.push(kind); return sentinel(); } };
  Object.defineProperty(navigator, 'wakeLock', { value: wakeLock });
  navigator.vibrate = (ms) => window.calls.push(ms);
  navigator.share = async ({ title, text }) => window.calls.push([title, text]);
  const ask = () => window.calls.push('position');
  Object.defineProperty(navigator, 'geolocation', { value: { getCurrentPosition: ask, watchPosition: ask } });
  window.painted = null; // the root as it is when the body is first there
  new MutationObserver((_, watcher) => {
    if (!document.body) return;
    const { style, dataset, className } = document.documentElement;
    window.painted = [style.fontSize, dataset.hand, className];
    watcher.disconnect();
  }).observe(document, { childList: true, subtree: true });
}"""
TITLE_IN_SIGHT = """() => {
  const title = document.querySelector('h1').getBoundingClientRect();
  const main = document.querySelector('main').getBoundingClientRect();
  const seen = document.elementFromPoint(title.left + 5, title.top + title.height / 2);
  return title.top >= main.top - 1 && title.bottom <= main.bottom && seen?.closest('h1') !== null;
}"""
LABELS_FIT = """() => [...document.querySelectorAll('.entry .clubs .choice')]
  .filter((one) => one.scrollWidth > one.clientWidth || one.getBoundingClientRect().height > 70)
  .map((one) => one.textContent)"""
SIZES = [(320, 568), (390, 844), (1280, 800)]


@pytest.fixture
def playing(phone: Phone) -> Phone:
    """A phone on the first tee, with its wake lock, vibration, share sheet and position replaced by ones that count."""
    phone.context.add_init_script(f"({WATCHED})()")
    begin_round(phone)
    return phone


def calls(phone: Phone) -> list[Any]:
    return list(phone.page.evaluate("window.calls.splice(0)"))


def go(phone: Phone, address: str, wait: str) -> None:
    phone.page.evaluate("(to) => { location.hash = to; }", address)
    phone.page.wait_for_selector(wait)


def test_the_settings_of_this_phone(playing: Phone) -> None:
    page = playing.page
    hole = page.evaluate("location.hash")
    playing.hit()
    assert calls(playing) == [], "nothing that was not asked for"
    go(playing, "#/this-phone", "#text-100")
    for setting in ("#text-200", "#hand-left", "#gloves-on", "#awake-on", "#vibrate-on"):
        page.click(setting)
        expect(page.locator(setting)).to_have_attribute("aria-pressed", "true")
    assert calls(playing) == [], "no hole is on the screen"
    go(playing, hole, "#hit")
    page.wait_for_function("() => window.calls.includes('screen')")
    calls(playing)
    page.reload()
    page.wait_for_selector("#hit")
    assert page.evaluate("window.painted") == ["200%", "left", "gloves"], "before anything is painted"
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate(TOO_WIDE) == []
        assert page.evaluate(SMALL_TARGETS, LEAST_TARGET_PX) == []
    assert page.evaluate("document.querySelector('#key-5').offsetHeight") >= 62
    boxes = page.evaluate("['hit', 'undo'].map((id) => document.getElementById(id).getBoundingClientRect().left)")
    assert boxes[0] < boxes[1], "Hit lies under the left thumb"
    page.wait_for_function("() => window.calls.includes('screen')")
    calls(playing)
    playing.hit()
    assert calls(playing) == [15], "a short vibration, and the lock is held already"
    go(playing, hole.removesuffix("1") + "card", "#go-on")
    assert calls(playing) == ["released"]
    page.click("#share")
    ((title, text),) = calls(playing)
    assert title == "Scorecard"
    assert "Robin Vale" in text
    go(playing, hole, "#hit")
    page.wait_for_function("() => window.calls.includes('screen')")
    hide = "(state) => { Object.defineProperty(document, 'visibilityState', { value: state, configurable: true });"
    page.evaluate(hide + " document.dispatchEvent(new Event('visibilitychange')); }", "hidden")
    page.wait_for_function("() => window.calls.includes('released')")
    page.evaluate(hide + " document.dispatchEvent(new Event('visibilitychange')); }", "visible")
    page.wait_for_function("() => window.calls.at(-1) === 'screen'")
    page.evaluate('localStorage.setItem(\'pencilbag this phone\', \'{"text": 9000, "hand": 7, "gloves": "x"}\')')
    page.reload()
    page.wait_for_selector("#hit")
    assert page.evaluate("window.painted") == ["", "right", ""], "what is no setting is not applied"
    assert playing.errors == []


def test_a_hole_on_a_low_screen_with_wind_and_pin(playing: Phone) -> None:
    page = playing.page
    taps = playing.taps
    playing.tap("#wind-at-fresh-SW")
    expect(page.locator(".conditions-words")).to_have_text("fresh SW")
    expect(page.locator("#wind-at-fresh-SW")).to_have_attribute("aria-pressed", "true")
    assert playing.taps == taps + 1, "strength and direction in one tap"
    page.click("#conditions")
    page.click("#pin-depth-back")
    expect(page.locator(".conditions-words")).to_have_text("fresh SW, pin back")
    page.keyboard.press("Escape")
    for _ in range(4):
        playing.hit()
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        page.evaluate("document.querySelector('main').scrollTop = 1e6")
        assert page.evaluate(TITLE_IN_SIGHT), f"the hole's title at {width} x {height}"
        assert page.evaluate(LABELS_FIT) == []
    go(playing, page.evaluate("location.hash.replace(/1$/, '2')"), "h1:text-is('Hole 2')")
    expect(page.locator(".conditions-words")).to_have_text("fresh SW")
    (round_,) = playing.live("round")
    assert round_["body"]["hole_conditions"] == [
        {"hole": 1, "wind": "fresh", "wind_from_deg": 225, "pin_depth": "back"}
    ]
    go(playing, page.evaluate("location.hash.replace(/2$/, 'card')"), "#recorded-conditions")
    lines = ["Hole 1: fresh wind from SW, pin back", "Holes 2 to 18: fresh wind from SW"]
    expect(page.locator("#recorded-conditions li")).to_have_text(lines)
    go(playing, page.evaluate("location.hash.replace(/card$/, 'review')"), "h1 >> text=Review")
    expect(page.locator("#recorded-conditions li")).to_have_text(lines)
    assert playing.errors == []


IN_SIGHT = """() => {
  const head = document.querySelector('.hole-head').getBoundingClientRect();
  const main = document.querySelector('main').getBoundingClientRect();
  const boxes = (names) => [...document.querySelectorAll(names)].map((one) => one.getBoundingClientRect());
  const seen = boxes('#wind-at button')
    .filter((box) => box.top >= head.bottom - 1 && box.bottom <= main.bottom)
    .filter((box) => box.left >= 0 && box.right <= innerWidth);
  const entry = boxes('.entry button, #bar button');
  return [seen.length, entry.every((box) => box.top >= head.bottom && box.bottom <= innerHeight)];
}"""
LOWER = {(390, 664): 25, (375, 667): 25, (360, 740): 25, (320, 568): 5}
"""Keys of the wind that are in sight beside the whole entry; the others are drawn along."""


def test_the_compass_by_keys_and_on_lower_screens(playing: Phone) -> None:
    """One stop of the Tab key, arrows round it; a second tap takes it back; one tap on lower screens too."""
    page = playing.page
    words = page.locator(".conditions-words")
    expect(page.locator("#wind-at [tabindex='0']")).to_have_count(1)
    page.focus("#wind-at-none")
    for key in ("ArrowUp", "ArrowUp", "ArrowLeft", "ArrowUp", "ArrowUp", "Enter"):
        page.keyboard.press(key)
    expect(words).to_have_text("strong NW")
    expect(page.locator("#wind-at-strong-NW")).to_be_focused()
    expect(page.locator("#wind-at [tabindex='0']")).to_have_id("wind-at-strong-NW")
    expect(page.get_by_role("button", name="NW strong wind")).to_have_count(1)
    page.keyboard.press("Enter")
    expect(words).to_have_text("wind, pin")
    (round_,) = playing.live("round")
    assert round_["body"].get("hole_conditions") is None
    for key in ("ArrowDown", "ArrowDown", "ArrowDown", "ArrowDown"):
        page.keyboard.press(key)
    expect(page.locator("#wind-at-none")).to_be_focused()
    page.keyboard.press("Enter")
    expect(words).to_have_text("no wind")
    points = iter(("light-E", "fresh-S", "strong-SW", "fresh-NW"))
    for (width, height), in_sight in LOWER.items():
        page.set_viewport_size({"width": width, "height": height})
        page.evaluate("document.querySelector('main').scrollTop = 1e6")
        seen, entry = page.evaluate(IN_SIGHT)
        assert seen >= in_sight, f"{seen} of 25 at {width} x {height}"
        assert entry, f"the entry is whole at {width} x {height}"
        assert page.evaluate(SMALL_TARGETS, LEAST_TARGET_PX) == []
        assert page.evaluate(TOO_WIDE) == []
        taps = playing.taps
        playing.tap(f"#wind-at-{(point := next(points))}")
        expect(words).to_have_text(point.replace("-", " "))
        assert playing.taps == taps + 1, "strength and direction in one tap"
    tapped = page.locator("#wind-at-fresh-NW").bounding_box()
    page.click("#wind-at-strong-NW")
    expect(words).to_have_text("strong NW")
    assert page.locator("#wind-at-fresh-NW").bounding_box() == tapped, "what was drawn along stays under the thumb"
    page.click("#conditions")
    assert page.evaluate(SMALL_TARGETS, LEAST_TARGET_PX) == []
    page.click("#compass-fresh-W")
    expect(words).to_have_text("fresh W")
    page.click("#wind-light")
    expect(words).to_have_text("light W")
    page.keyboard.press("Escape")
    go(playing, page.evaluate("location.hash.replace(/1$/, '2')"), "h1:text-is('Hole 2')")
    expect(words).to_have_text("light W")
    expect(page.locator("#wind-at-light-W")).to_be_in_viewport(ratio=1)
    assert playing.errors == []


ROUND_LINES = """async (bodies) => {
  const { roundConditions } = await import('/js/screens/recorded-conditions.js');
  return bodies.map(roundConditions);
}"""


def test_conditions_of_the_round_in_one_line(module_page: Page) -> None:
    whole = {"wind_mph": 0, "temperature_c": -2, "firmness": "firm", "green_speed_ft": 9.5, "lengths_taken": "position"}
    said = "wind 0 mph, -2 °C, firm ground, greens 9.5 ft, lengths: phone’s position"
    odd = {"lengths_taken": "drone", "wind_mph": None}
    assert module_page.evaluate(ROUND_LINES, [whole, {}, odd]) == [said, "", "lengths: drone"]


TIMERS = """() => {
  window.started = [];
  for (const name of ['setTimeout', 'setInterval', 'requestAnimationFrame']) {
    const real = window[name].bind(window);
    window[name] = (...given) => { window.started.push(name); return real(...given); };
  }
}"""
HOURS = 2


def test_no_timer_and_no_position_while_the_screen_is_idle(playing: Phone) -> None:
    """After five minutes without a touch nothing is started any more, for hours; a touch brings the exchange back."""
    page = playing.page
    playing.hit()
    playing.wait_sent()
    page.clock.install()
    page.reload()
    page.wait_for_selector("#hit")
    page.clock.run_for(10_000)
    playing.wait_sent()
    for _ in range(10):  # ten minutes, with answers of the server between
        page.clock.run_for(60_000)
        playing.wait_sent()
    page.evaluate(TIMERS)
    page.clock.run_for(HOURS * 3_600_000)
    assert page.evaluate("window.started") == []
    assert calls(playing) == []
    with page.expect_response(lambda answer: "/changes" in answer.url):
        page.click("#lie-rough")
        page.clock.run_for(10)
    assert playing.errors == []


PUTTS_RUN_OVER = """() => [...document.querySelectorAll('.putts button')].filter((key) => {
  const words = document.createRange();
  words.selectNodeContents(key);
  const [inside, box] = [words.getBoundingClientRect(), key.getBoundingClientRect()];
  return inside.left < box.left || inside.right > box.right;
}).map((key) => key.textContent)"""


def test_the_lengths_of_putts_stay_in_their_keys_at_twice_the_size(phone: Phone) -> None:
    begin_round(phone)
    phone.hit()
    phone.tap("#lie-green")
    phone.page.wait_for_selector("#putt-30")
    for percent in (100, 200):
        phone.page.evaluate("(size) => { document.documentElement.style.fontSize = `${size}%`; }", percent)
        assert phone.page.evaluate(PUTTS_RUN_OVER) == []
