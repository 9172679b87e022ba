"""Markup and script in every text that somebody can type or send: no screen runs any of it or takes it for markup."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from tests.files.tables import row, table
from tests.made_once import copy_short_demo
from tests.web.account_people import a_coach, account, sign_in
from tests.web.account_screens import choose_table
from tests.web.conftest import start_server
from tests.web.evidence_pages import change_of, demo_player, push, wait_drawn
from tests.web.phone import Phone, Server
from tests.web.screens import close_sheet, go

WATCH = """
window.__csp = [];
document.addEventListener('securitypolicyviolation',
  (event) => window.__csp.push(`${event.violatedDirective} ${event.blockedURI}`));
"""
FAULTS = """() => ({
  ran: window.__ran ?? null,
  csp: window.__csp,
  made: [...document.querySelectorAll('.hurt, img[src="x"], main script, iframe, [onerror], [onclick]')]
    .map((one) => one.outerHTML.slice(0, 90)),
})"""
LEAVE = """(hash) => {
  for (const one of document.querySelectorAll('main h1, .evidence-body')) one.dataset.left = '';
  location.hash = hash;
}"""
"""To another address; what is shown now is marked, so that it is not taken for what comes."""
SAID = """() => [document.title, document.body.innerText,
  ...[...document.querySelectorAll('input, textarea, option')].map((one) => one.value + (one.textContent ?? '')),
  ...[...document.querySelectorAll('[aria-label]')].map((one) => one.ariaLabel),
  ...[...document.querySelectorAll('svg text, svg title')].map((one) => one.textContent)].join(' ')"""


def hostile(mark: str) -> str:
    """Markup that would show itself, script that would run, both kinds of quotes; `mark` says where it came from."""
    return f"{mark}'\"><img src=x onerror=__ran=1><b class=hurt>"


FIELDS: dict[str, dict[str, str]] = {
    "player": {"name": "M01"},
    "club": {"label": "M02"},
    "setup": {"note": "M03", "shaft": "M04", "ball": "M05"},
    "course": {"name": "M06"},
    "round": {"tees": "M08", "note": "M09", "ball_label": "M11"},
    "shot": {"note": "M10"},
}
"""The texts of each kind of record; M07 stands in the tees of a course, from M20 on in what is no record."""


def records_of(server: Server, player: str) -> dict[str, dict[str, Any]]:
    """The last change of each record."""
    return {one["record_id"]: one for one in server.log(player)}


def spoiled(body: dict[str, Any], kind: str, number: int) -> dict[str, Any]:
    """A record with hostile text in each of its text fields; labels stay apart by a number."""
    anew = body | {name: hostile(mark) for name, mark in FIELDS[kind].items()}
    if kind == "club":
        anew["label"] = f"{hostile('M02')}{number}"
    if kind == "round":  # two balls, so that a trial of them is offered
        anew["ball_label"] = f"{hostile('M11')}{number % 2}"
    if kind == "course":
        anew["tees"] = [tee | {"name": hostile("M07")} for tee in body["tees"]]
    return anew


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """The short demo season, all of whose texts are hostile; one round has another version."""
    copy_short_demo(tmp_path / "server.sqlite")
    found = start_server(tmp_path)
    player = demo_player(found)
    changes = []
    shots = 0
    for number, (record, one) in enumerate(records_of(found, player).items()):
        shots += one["kind"] == "shot"
        if one["kind"] in FIELDS and (one["kind"] != "shot" or shots < 200):
            anew = spoiled(one["body"], one["kind"], number)
            changes.append(change_of(player, one["kind"], anew, one["change_id"], record=record))
    rounds = [one for one in changes if one["kind"] == "round"]
    other = rounds[0]["body"] | {"note": f"other {hostile('M09')}"}
    changes.append(change_of(player, "round", other, *rounds[0]["parents"], record=rounds[0]["record_id"]))
    push(found, changes)
    yield found
    found.stop()


class Watch:
    """Looks at each screen: what ran, what was made, which marks are told."""

    def __init__(self) -> None:
        self.faults: list[str] = []
        self.seen: dict[str, set[str]] = {}

    def look(self, phone: Phone, name: str) -> None:
        phone.page.evaluate("() => document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        phone.page.wait_for_timeout(80)
        found = phone.page.evaluate(FAULTS)
        if found["ran"] is not None or found["made"] or found["csp"]:
            self.faults.append(f"{name}: {found}")
        said = phone.page.evaluate(SAID)
        for mark in re.findall(r"(M\d\d)'\"><img src=x", said):
            self.seen.setdefault(mark, set()).add(name)


def visit(phone: Phone, watch: Watch, address: str) -> None:
    """A screen by its address, whatever it says."""
    phone.page.evaluate(LEAVE, f"#/{address}")
    phone.page.wait_for_selector("main h1:not([data-left])")
    if phone.page.locator(".evidence-body").count():
        wait_drawn(phone.page)
    watch.look(phone, address.partition("?")[0])
    if address.startswith("round/") and phone.page.locator(".shot").count():
        phone.page.locator(".shot").first.click()
        phone.page.wait_for_selector("dialog textarea")
        watch.look(phone, "shot")
        close_sheet(phone)


def addresses(phone: Phone, player: str) -> Iterator[str]:
    """Every address of the app that this phone's records make."""
    live = {kind: phone.live(kind) for kind in ("round", "club", "course")}
    noted = sorted(live["round"], key=lambda one: str(one["body"]["played_on"]))
    yield from ("", "players", "player", "new", "bag", "courses", "courses/new", "account", "account/tokens", "sharing")
    for one in (noted[0]["record_id"], noted[-1]["record_id"]):
        yield from (f"round/{one}/{part}" for part in ("card", "review", "setup", "versions", "1"))
    yield f"bag/{live['club'][0]['record_id']}"
    course = live["course"][0]["record_id"]
    yield from (f"courses/{course}", f"courses/{course}/map", f"courses/{course}/map/1")
    yield from (f"notes/{player}", "own-data", "whose-phone", "saving", "import", "invitation", "caddie")
    bad = quote(hostile("M20"), safe="")
    yield from (
        f"invitation/{bad}",
        f"caddie/{bad}",
        f"join/{bad}",
        f"round/{bad}/card",
        f"evidence/{bad}/overview",
        bad,
    )
    yield from evidence(phone, player, course)
    for part in ("setup", "course", "from", "lie", "kind"):
        yield f"evidence/{player}/overview?{part}={bad}"
    yield f"evidence/{player}/trial?a={bad}&b={bad}"
    yield f"evidence/{player}/putting?club={bad}"


def evidence(phone: Phone, player: str, course: str) -> Iterator[str]:
    clubs = sorted(one["body"]["label"] for one in phone.live("club"))
    a, b = (quote(label, safe="") for label in clubs[:2])
    for by in ("club", "category", "setup"):
        yield f"evidence/{player}/overview?by={by}"
    yield f"evidence/{player}/compare?by=club&from=2026-03-01&to=2026-06-01&beside_from=2026-06-02&beside_to=2026-12-01"
    yield f"evidence/{player}/trial?a={a}&b={b}"
    for view in ("putting", "patterns", "patterns?split=setup", "distances", "priorities", "report", "round-plan"):
        yield f"evidence/{player}/{view}"
    yield f"evidence/{player}/plan?ground={course}&hole=1"


def test_no_text_is_run_or_taken_for_markup(make_phone: Any, server: Server) -> None:
    player = server.get("/api/players")["players"][0]["player_id"]
    wren, coach, squad = hostile("M21"), hostile("M22"), hostile("M23")
    account(server, wren, "player", player)
    account(server, coach, "coach", None, squad)
    watch = Watch()
    phone: Phone = make_phone(server)
    phone.context.add_init_script(WATCH)
    phone.open()
    sign_in(phone, wren)
    phone.page.wait_for_selector(".round, .list li, #new-round")
    phone.wait_sent()
    share_and_token(phone, watch, coach, squad)
    reader = a_coach_reads(make_phone, server, watch, coach, player)
    for address in addresses(phone, player):
        visit(phone, watch, address)
    tables(phone, watch)
    printed(reader, watch, player)
    assert watch.faults == []
    assert phone.errors == reader.errors == []
    wanted = {mark for fields in FIELDS.values() for mark in fields.values()} | {
        "M07",
        *(f"M{n}" for n in range(20, 27)),
    }
    assert wanted - watch.seen.keys() == set()


def share_and_token(phone: Phone, watch: Watch, coach: str, squad: str) -> None:
    page = phone.page
    go(phone, "account/tokens", "#make-token")
    page.fill("#token-label", hostile("M24"))
    page.click("#make-token")
    page.wait_for_selector("#token")
    watch.look(phone, "token made")
    go(phone, "sharing", "#invite")
    page.click("#by-name")
    page.fill("#share-reader", coach)
    page.click("#share-with-reader")
    page.wait_for_selector("#readers")
    page.click("#by-squad")
    page.fill("#share-squad", squad)
    page.click("#share-with-squad")
    page.wait_for_selector("#readers li >> nth=1")
    watch.look(phone, "sharing")
    page.locator("#readers button").last.click()
    watch.look(phone, "end a share")
    close_sheet(phone)


def a_coach_reads(make_phone: Any, server: Server, watch: Watch, coach: str, player: str) -> Phone:
    reader = a_coach(make_phone, server, coach)
    reader.page.evaluate(WATCH)
    for address in (
        "account",
        "players",
        "evidence",
        f"evidence/{player}/overview?by=setup",
        f"evidence/{player}/compare",
    ):
        visit(reader, watch, address)
    go(reader, f"notes/{player}", "#note-words")
    reader.page.select_option("#note-about", index=1)
    reader.page.fill("#note-words", hostile("M25"))
    reader.page.click("#leave-note")
    reader.page.wait_for_selector(".note")
    watch.look(reader, "note left")
    return reader


def tables(phone: Phone, watch: Watch) -> None:
    """A table whose cells are hostile: refused, and before it is stored."""
    text = hostile("M26")
    for cells in (
        {"lie": text, "distance": text},
        {"club": text, "course": text, "tees": text, "ball_label": text, "note": text, "holed": "yes"},
    ):
        go(phone, "import", "#table-file")
        choose_table(phone, table([row(player=hostile("M01"), **cells)]), f"{text}.csv")
        phone.page.wait_for_selector(".faults, #store-rounds, .notice")
        watch.look(phone, "import")


def printed(reader: Phone, watch: Watch, player: str) -> None:
    visit(reader, watch, f"evidence/{player}/report")
    reader.page.emulate_media(media="print")
    watch.look(reader, "printed report")
    assert reader.page.pdf().startswith(b"%PDF")
    reader.page.emulate_media(media="screen")


def test_the_watch_sees_what_runs_and_what_is_made(make_phone: Any, live_server: Server) -> None:
    phone: Phone = make_phone(live_server)
    phone.context.add_init_script(WATCH)
    page = phone.open()
    page.evaluate("(words) => document.querySelector('main').insertAdjacentHTML('beforeend', words)", hostile("M01"))
    page.wait_for_timeout(200)
    watch = Watch()
    watch.look(phone, "spoiled")
    assert "script-src-attr" in watch.faults[0]
    assert 'class="hurt"' in watch.faults[0]
