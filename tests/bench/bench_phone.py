"""Size and speed of the phone app in a real browser, slowed down: `python -m tests.bench.bench_phone [--rounds N]`.

At 4x CPU slowdown: bytes of the first load, a cold start offline, tap to "saved", a season on the phone, each view of
evidence from its answer to its drawing; the scroll of a long practice session, at full speed too.
Never run as a timed test. On a busy machine, as root, `chrt -r 5` before the command keeps others off the processors.
"""

from __future__ import annotations

import argparse
import random
import statistics
import tempfile
import time
import uuid
from pathlib import Path
from typing import Any, Final

from playwright.sync_api import BrowserContext, Page, Playwright, sync_playwright

from tests.web.conftest import start_server
from tests.web.evidence_pages import demo_player, demo_server
from tests.web.phone import CHROMIUM, CHROMIUM_ARGUMENTS, Phone, Server, as_sent
from tests.web.write_asset_list import WORKER_FILES, files, first_files

SLOWDOWN: Final = 4
TAPS: Final = 60
REPEATS: Final = 5
SHOTS_A_ROUND: Final = 92
BALLS: Final = 300
FRAMES: Final = 90
MOMENT: Final = "2026-05-01T09:30:00.000Z"

TAP_TO_SAVED: Final = """() => new Promise((done) => {
  const link = document.getElementById('saving');
  const began = performance.now();
  const look = new MutationObserver(() => {
    if (link.dataset.state !== 'saved') return;
    look.disconnect();
    done(performance.now() - began);
  });
  delete link.dataset.state;
  look.observe(link, { attributes: true, attributeFilter: ['data-state'] });
  document.getElementById('hit').click();
})"""

SHOWN: Final = """([address, selector]) => new Promise((done) => {
  const began = performance.now();
  const look = new MutationObserver(() => {
    if (!document.querySelector(selector)) return;
    look.disconnect();
    requestAnimationFrame(() => setTimeout(() => done(performance.now() - began), 0));
  });
  look.observe(document.getElementById('main'), { childList: true, subtree: true });
  location.hash = address;
})"""


DRAWN: Final = """(hash) => new Promise((done) => {
  performance.clearResourceTimings();
  let last = 0;
  let drawn = 0;
  const look = new MutationObserver(() => {
    last = performance.now();
    requestAnimationFrame(() => setTimeout(() => { drawn = performance.now(); }, 0));
  });
  const all = { childList: true, subtree: true, attributes: true, characterData: true };
  look.observe(document.getElementById('main'), all);
  location.hash = hash;
  const wait = () => {
    const body = document.querySelector('.evidence-body:not(.waiting)');
    if (!last || drawn < last || performance.now() - drawn < 500 || !body?.children.length) return setTimeout(wait, 50);
    look.disconnect();
    const answers = performance.getEntriesByType('resource').filter((one) => one.name.includes('/api/'));
    done(drawn - Math.max(...answers.map((one) => one.responseEnd).filter((end) => end <= last)));
  };
  wait();
})"""
"""Milliseconds from the last answer that a view of evidence draws until its last change is on the screen."""

SCROLLED: Final = """(frames) => new Promise((done) => {
  const main = document.querySelector('main');
  main.scrollTop = 0;
  const step = (main.scrollHeight - main.clientHeight) / frames;
  let shown = 0;
  let began = null;
  const draw = (now) => {
    began ??= now;
    if (now - began >= frames * 1000 / 60) return done([shown, main.scrollTop]);
    shown += 1;
    main.scrollTop = step * (now - began) * 60 / 1000;
    requestAnimationFrame(draw);
  };
  requestAnimationFrame(draw);
})"""
"""Frames drawn while the screen scrolls from top to end in the time of so many at 60 a second, and where it ended."""


def change(kind: str, body: dict[str, Any], record_id: str) -> dict[str, Any]:
    """A first change of a record."""
    return {
        "change_id": str(uuid.uuid4()), "record_id": record_id, "kind": kind, "parents": [], "op": "put", "body": body,
        "device_id": "bench", "client_time": MOMENT, "schema_version": 1,
    }  # fmt: skip


def season(rounds: int) -> tuple[str, list[list[dict[str, Any]]]]:
    """An invented season as pushes: the player with a bag, then one push a round."""
    chance = random.Random(60)
    player, clubs = str(uuid.uuid4()), {name: str(uuid.uuid4()) for name in ("Driver", "7-iron", "Putter")}
    sorts = {"Driver": "driver", "7-iron": "iron", "Putter": "putter"}
    first = [change("player", {"name": "Bench Player", "plays": "right"}, player)]
    first += [change("club", {"label": name, "sort": sorts[name]}, club) for name, club in clubs.items()]
    holes = [{"number": number, "par": 4, "length_yd": 400} for number in range(1, 19)]
    pushes = [first]
    for number in range(rounds):
        round_id = str(uuid.uuid4())
        day = f"2026-{4 + number // 12:02d}-{1 + number % 12 * 2:02d}"
        body = {"played_on": day, "kind": "practice", "holes": holes, "bag": list(clubs.values()), "closed": True}
        push = [change("round", body, round_id)]
        push += [change("shot", shot, str(uuid.uuid4())) for shot in shots_of(round_id, clubs, chance)]
        pushes.append(push)
    return player, pushes


def shots_of(round_id: str, clubs: dict[str, str], chance: random.Random) -> list[dict[str, Any]]:
    """Every hole in five or six: tee, fairway, then putts."""
    shots: list[dict[str, Any]] = []
    for hole in range(1, 19):
        count = SHOTS_A_ROUND * hole // 18 - SHOTS_A_ROUND * (hole - 1) // 18
        for order in range(1, count + 1):
            if order == 1:
                lie, yards, club = "tee", 400.0, "Driver"
            elif order == 2:
                lie, yards, club = "fairway", 120.0 + chance.random() * 40, "7-iron"
            else:
                lie, yards, club = "green", 8.0 / order, "Putter"
            where = {"round_id": round_id, "hole": hole, "ball": 1, "order": order, "lie": lie, "distance_yd": yards}
            shots.append(where | {"club_id": clubs[club], "holed": order == count})
    return shots


def slow(page: Page) -> None:
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWDOWN})


def launch(playwright: Playwright, folder: Path) -> BrowserContext:
    return playwright.chromium.launch_persistent_context(
        folder, executable_path=CHROMIUM, args=CHROMIUM_ARGUMENTS, viewport={"width": 390, "height": 844}
    )


def first_load(playwright: Playwright, server: Server, folder: Path) -> None:
    """Bytes that the page asks for before it is usable, of all files of the first load, and of the whole app."""
    context = launch(playwright, folder)
    sizes: dict[str, int] = {}
    page = context.new_page()
    page.on("response", lambda answer: sizes.setdefault(answer.url, int(answer.headers.get("content-length", 0))))
    page.goto(server.address)
    page.wait_for_selector("#new-name")
    print(f"first screen       {sum(sizes.values()):>9} bytes in {len(sizes)} answers, as sent")
    context.close()
    whole = files()
    for words, paths in (("first load, all", first_files()), ("whole app", set(whole))):
        asked = {*paths, *WORKER_FILES}
        sent = sum(len(as_sent(server, path)) for path in asked)
        bare = sum(len(whole.get(path, b"")) for path in asked)
        print(f"{words:<18} {sent:>9} bytes in {len(asked)} files as sent, {bare} unpacked")


def cold_starts(playwright: Playwright, server: Server, folder: Path) -> None:
    """From opening the address, offline, browser closed before, to a screen that can be used."""
    times = []
    for turn in range(REPEATS + 1):
        context = launch(playwright, folder)
        if turn == 0:
            phone = Phone(context, server.address)
            phone.open()
            phone.sign_up("Bench Start")
            phone.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
            phone.wait_sent()
        else:
            page = context.new_page()
            context.set_offline(True)
            slow(page)
            page.goto(server.address, wait_until="commit")
            page.wait_for_selector("#new-round")
            times.append(page.evaluate("performance.getEntriesByName('usable')[0].startTime"))
        context.close()
    print(f"cold start offline {statistics.median(times):>9.0f} ms median, {max(times):.0f} ms worst of {len(times)}")


def taps(playwright: Playwright, server: Server, folder: Path) -> None:
    """From the tap to "saved", which is said when the shot is on the disk."""
    context = launch(playwright, folder)
    phone = Phone(context, server.address)
    phone.open()
    phone.page.click("#new-round")
    phone.page.click("#start-round")
    phone.page.wait_for_selector("#hit")
    slow(phone.page)
    times = []
    for tap in range(TAPS):
        phone.settled()
        times.append(phone.page.evaluate(TAP_TO_SAVED))
        phone.page.wait_for_function("(count) => document.querySelectorAll('.shot').length === count", arg=tap % 6 + 1)
        if tap % 6 == 5:
            phone.page.evaluate("(hole) => document.getElementById(`hole-${hole}`).click()", tap // 6 + 2)
            phone.page.wait_for_function("() => document.querySelectorAll('.shot').length === 0")
    times.sort()
    late = times[int(len(times) * 0.95)]
    print(f"tap to saved       {statistics.median(times):>9.0f} ms median, {late:.0f} ms at the 95th percentile")
    context.close()


def season_on_the_phone(playwright: Playwright, server: Server, folder: Path, rounds: int) -> None:
    """A season pulled to the phone; then the list of rounds and a review."""
    player, pushes = season(rounds)
    for push in pushes:
        server.post(f"/api/players/{player}/changes", {"device_id": "bench", "now": MOMENT, "changes": push})
    context = launch(playwright, folder)
    phone = Phone(context, server.address)
    page = phone.open()
    began = time.perf_counter()
    page.click(f"#player-{player}")
    page.wait_for_selector("#new-round")
    phone.wait_sent()
    pulled = time.perf_counter() - began
    review = f"#/round/{pushes[-1][0]['record_id']}/review"
    page.evaluate(SHOWN, [review, ".bars"])
    slow(page)
    found: dict[str, list[float]] = {"list of rounds": [], "review": [], "bag": []}
    for _ in range(REPEATS):
        found["list of rounds"].append(page.evaluate(SHOWN, ["#/", ".finder"]))
        found["review"].append(page.evaluate(SHOWN, [review, ".bars"]))
        found["bag"].append(page.evaluate(SHOWN, ["#/bag", ".list"]))
    print(f"season             {sum(map(len, pushes)):>9} changes pulled and shown in {pulled:.1f} s at full speed")
    for name, times in found.items():
        print(f"  {name:<17}{statistics.median(times):>9.0f} ms median, {max(times):.0f} ms worst of {len(times)}")
    context.close()


def long_session(playwright: Playwright, server: Server, folder: Path) -> None:
    """The balls of a long practice session scrolled from end to end."""
    player, club, session = (str(uuid.uuid4()) for _ in range(3))
    push = [change("player", {"name": "Bench Range", "plays": "right"}, player)]
    push.append(change("club", {"label": "7-iron", "sort": "iron"}, club))
    push.append(change("session", {"date": "2026-05-02", "place": "range"}, session))
    for order in range(1, BALLS + 1):
        body = {"session_id": session, "order": order, "club_id": club, "target_yd": 150.0}
        finish = {"right_yd": float(order % 21 - 10), "long_yd": float(order % 13 - 6)}
        push.append(change("practice_ball", body | finish, str(uuid.uuid4())))
    server.post(f"/api/players/{player}/changes", {"device_id": "bench", "now": MOMENT, "changes": push})
    context = launch(playwright, folder)
    phone = Phone(context, server.address)
    page = phone.open()
    page.click(f"#player-{player}")
    page.wait_for_selector("#to-practice")
    phone.wait_sent()
    page.evaluate(SHOWN, [f"#/practice/{session}", ".balls-hit li"])
    for words in ("", f", {SLOWDOWN}x"):
        counts = [page.evaluate(SCROLLED, FRAMES)[0] for _ in range(REPEATS)]
        told = f"{statistics.median(counts):.0f} of {FRAMES} frames median, {min(counts)} worst of {len(counts)}"
        print(f"scroll {BALLS} balls{words:<5} {told}")
        slow(page)
    context.close()


def evidence_drawn(playwright: Playwright, folder: Path) -> None:
    """Each view of the demo season, whose answers the server has worked out before."""
    (folder / "demo").mkdir()
    server = demo_server(folder / "demo", keep=True)
    browser = playwright.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_ARGUMENTS)
    try:
        phone = Phone(
            browser.new_context(viewport={"width": 390, "height": 844}, service_workers="block"), server.address
        )
        page = phone.open()
        begin = f"#/evidence/{demo_player(server)}/"
        views = page.evaluate("() => import('/js/views/address.js').then((module) => Object.keys(module.VIEWS))")
        devtools = page.context.new_cdp_session(page)
        for view in views:
            times = []
            for turn in range(REPEATS + 2):  # the first two fill what the server and the browser keep
                rate = SLOWDOWN if turn > 1 else 1
                devtools.send("Emulation.setCPUThrottlingRate", {"rate": rate})
                times.append(page.evaluate(DRAWN, begin + view))
                devtools.send("Emulation.setCPUThrottlingRate", {"rate": 1})
                page.evaluate("() => { location.hash = '#/'; }")
                page.wait_for_selector("main h1")
            counted = times[2:]
            middle, worst = statistics.median(counted), max(counted)
            print(f"drawn: {view:<12}{middle:>8.0f} ms median, {worst:.0f} ms worst of {len(counted)}")
    finally:
        browser.close()
        server.stop()


def main() -> None:
    """Runs every measure once."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=60)
    rounds = parser.parse_args().rounds
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        base = Path(folder)
        server = start_server(base)
        try:
            print(f"real Chromium, {SLOWDOWN}x CPU slowdown")
            first_load(playwright, server, base / "first")
            cold_starts(playwright, server, base / "start")
            taps(playwright, server, base / "start")
            season_on_the_phone(playwright, server, base / "season", rounds)
            long_session(playwright, server, base / "range")
            evidence_drawn(playwright, base)
        finally:
            server.stop()


if __name__ == "__main__":
    main()
