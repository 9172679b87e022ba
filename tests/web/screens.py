"""Every screen of the app, reached as a player reaches it, with a name for its picture."""

from __future__ import annotations

from collections.abc import Iterator

from playwright.sync_api import expect

from tests.web.phone import Phone

EDITED_ELSEWHERE = """async (record) => {
  const change = {
    change_id: crypto.randomUUID(),
    record_id: record.record_id,
    kind: 'shot',
    parents: [],
    op: 'put',
    body: { ...record.body, strike: 'toe' },
    device_id: 'another',
    client_time: new Date().toISOString(),
    schema_version: 1,
  };
  const body = JSON.stringify({ device_id: 'another', now: new Date().toISOString(), changes: [change] });
  const headers = { 'content-type': 'application/json' };
  await fetch(`/api/players/${record.player_id}/changes`, { method: 'POST', headers, body });
}"""


def go(phone: Phone, address: str, wait: str = "h1") -> None:
    phone.page.evaluate("(to) => { location.hash = '#/' + to; }", address)
    phone.page.wait_for_function(f"() => document.querySelector('main {wait}') !== null")
    phone.page.wait_for_timeout(60)


def close_sheet(phone: Phone) -> None:
    phone.page.wait_for_selector("dialog")
    phone.page.keyboard.press("Escape")
    phone.page.wait_for_selector("dialog", state="detached")


def first_steps(phone: Phone) -> Iterator[str]:
    phone.open()
    yield "players"
    phone.sign_up()
    yield "rounds, none yet"
    go(phone, "courses/new", "#course-name")
    yield "new course"
    page = phone.page
    page.fill("#course-name", "Heron Marsh (invented)")
    page.fill("#pars", "443545344443545344")
    page.keyboard.press("Tab")
    for hole, length in enumerate([388, 412, 171, 534, 401, 556, 188, 367, 429] * 2, start=1):
        page.fill(f"#length-{hole}", str(length))
    page.click("#save-course")
    go(phone, "courses", ".list")
    yield "courses"
    go(phone, f"courses/{phone.live('course')[0]['record_id']}/map/1/walk", "#walk-at-tee")
    page.context.grant_permissions(["geolocation"])
    for at, north in (("tee", 47.36), ("green", 47.3635)):
        page.context.set_geolocation({"longitude": 8.5, "latitude": north, "accuracy": 4})
        page.click(f"#walk-at-{at}")
        page.click("#mark-here")
        page.wait_for_selector(f"#walked li >> text={at.title()}")
    yield "map by walking"
    page.locator("#walked button").last.click()
    page.locator("#walked button").last.click()
    go(phone, "new", "#played-on")
    yield "new round"


def a_hole(phone: Phone) -> Iterator[str]:
    page = phone.page
    page.click("#kind-practice")
    page.click("#start-round")
    page.wait_for_selector("#hit")
    yield "first tee"
    page.click("#all-clubs")
    yield "all clubs"
    close_sheet(phone)
    page.click("#conditions")
    page.click("#wind-light")
    page.click("#compass-light-SW")
    page.click("#pin-depth-back")
    expect(page.locator("#pin-depth-back")).to_have_attribute("aria-pressed", "true")
    yield "wind and pin"
    close_sheet(phone)
    phone.hit()
    phone.tap("#lie-rough")
    phone.type_distance(154)
    page.click("#mark-ball")
    page.wait_for_selector("#position-words p:has-text('Ball marked')")
    yield "second shot"
    phone.hit()
    phone.hit()
    yield "on the green"
    page.click("#more-actions")
    yield "more"
    page.click("#penalty-unplayable")
    yield "where is the next one played"
    close_sheet(phone)
    page.locator(".shot").nth(1).click()
    page.click("#actual-fade")
    page.locator(".finish-pad").click(position={"x": 140, "y": 130})
    yield "one shot"
    page.click("#save-shot")
    page.wait_for_selector("dialog", state="detached")
    phone.hole_out()
    yield "turned to the next hole"
    page.click("#hole-1")
    page.wait_for_selector(".done-words")
    yield "hole done"
    phone.next_hole()
    phone.wait_for_hole(2)
    phone.hit()
    page.click("#more-actions")
    page.click("#provisional")
    page.wait_for_selector("#ball-2[aria-pressed=true]")
    phone.hit()
    yield "a provisional"


def the_rest(phone: Phone, round_id: str) -> Iterator[str]:
    page = phone.page
    go(phone, f"round/{round_id}/card", "table")
    yield "card"
    page.click("#delete-round")
    yield "delete a round"
    close_sheet(phone)
    page.click("#invite-caddie")
    page.wait_for_selector("#caddie-link")
    yield "let a caddie enter"
    close_sheet(phone)
    page.click("#close-round")
    yield "holes are missing"
    page.click("#close-nine")
    page.click("#reopen")
    page.wait_for_selector("#close-round")
    yield "opened again"
    go(phone, f"round/{round_id}/holes", "#length-1")
    page.click("#par-1-3")
    page.click("#save-holes")
    yield "an unusual hole"
    close_sheet(phone)
    yield "pars and lengths"
    go(phone, "nowhere", "#way-on")
    yield "no such page"
    go(phone, f"round/{round_id}/review", ".bars")
    yield "review"
    go(phone, f"round/{round_id}/versions")
    yield "versions, none"
    page.evaluate(EDITED_ELSEWHERE, phone.live("shot")[0])
    go(phone, "saving", "#send-now")
    phone.wait_sent()
    page.click("#send-now")
    phone.wait_sent()
    go(phone, f"round/{round_id}/versions", ".version")
    yield "two versions"
    go(phone, "sign-in", "#account-name")
    yield "sign in"
    go(phone, "join/a-code", "#join")
    yield "join by code"
    go(phone, "caddie/a-code", "#take-up")
    yield "enter a round"
    go(phone, f"round/{round_id}/setup", "#played-on")
    yield "bag and conditions"
    go(phone, "", ".list")
    yield "rounds"
    go(phone, "bag", ".list")
    yield "bag"
    page.locator(".list-row").nth(3).click()
    page.wait_for_selector("#club-label")
    page.fill("#setup-note", "one degree weaker")
    page.click("#add-setup")
    page.wait_for_selector("text=since")
    yield "club"
    go(phone, "bag/new", "#club-label")
    yield "new club"
    go(phone, "player", "#plays-right")
    yield "player"
    go(phone, "this-phone", "#text-100")
    yield "this phone"
    go(phone, "saving", "#save-log")
    yield "saving"


def practising(phone: Phone) -> Iterator[str]:
    page = phone.page
    go(phone, "practice/new", "#place-range")
    yield "practice session"
    page.click("#place-range")
    page.wait_for_selector(".finish-pad")
    yield "range"
    phone.settled()
    page.locator(".finish-pad").click(position={"x": 90, "y": 120})
    page.wait_for_selector(".balls-hit .shot")
    page.click("#figures")
    yield "range, figures typed"
    page.click("#more-actions")
    yield "more of a practice session"
    page.click("#start-duel")
    yield "duel"
    page.click("#begin-duel")
    page.locator(".balls-hit .shot").click()
    yield "one practice ball"
    close_sheet(phone)
    page.click("#finish-session")
    page.wait_for_selector("#totals")
    yield "practice totals"
    go(phone, "practice/new", "#place-short_game")
    page.click("#place-short_game")
    page.wait_for_selector("#left-6")
    yield "short game"
    go(phone, "practice/new", "#place-putting_green")
    page.click("#place-putting_green")
    page.wait_for_selector("#left-1")
    yield "putting green"
    go(phone, "import/practice", "#table-file")
    page.click("#columns")
    yield "import practice"


def under_lock(phone: Phone) -> Iterator[str]:
    go(phone, "new", "#played-on")
    phone.page.click("#kind-competition")
    phone.page.click("#start-round")
    phone.page.wait_for_selector(".lock")
    yield "competition"
    phone.page.click("#hit")
    expect(phone.page.locator("#alert")).to_contain_text("club")
    yield "an alert"
    phone.page.click("#alert-ok")
    round_id = phone.page.evaluate("location.hash.split('/')[2]")
    go(phone, f"round/{round_id}/review")
    yield "locked"


def every_screen(phone: Phone) -> Iterator[str]:
    """Walks through the app; yields the name of each screen while it is shown."""
    yield from first_steps(phone)
    yield from a_hole(phone)
    round_id = phone.page.evaluate("location.hash.split('/')[2]")
    yield from the_rest(phone, round_id)
    yield from practising(phone)
    yield from under_lock(phone)
