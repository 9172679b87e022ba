"""Practice sessions on the phone: few taps a ball, nothing lost without a network, an older server, long lists."""

from __future__ import annotations

import json
from collections import Counter
from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from tests.records.made import Season, default_clubs
from tests.tiers import count
from tests.web.audit import delivered_once
from tests.web.begun import begin_player
from tests.web.phone import Phone, Server
from tests.web.screens import close_sheet, go

CHANGES = "**/api/players/*/changes"
MOST_TAPS_A_BALL = 2
MANY = count(100, 300)
BALLS = count(8, 20)


def begin(phone: Phone, place: str) -> str:
    """A new session at a place, from the first screen; its id."""
    go(phone, "", "#to-practice")
    phone.page.click("#to-practice")
    if phone.page.locator("#ball-count").count() == 0:
        phone.page.wait_for_selector("#place-range, #ball-count")
    if "practice/new" not in phone.page.url:
        go(phone, "practice/new", "#place-range")
    phone.page.click(f"#place-{place}")
    phone.page.wait_for_selector("#ball-count")
    return str(phone.page.evaluate("location.hash.split('/')[2]"))


def shown(phone: Phone) -> int:
    return phone.page.locator(".balls-hit li").count()


def tap_ball(phone: Phone, selector: str, **where: Any) -> None:
    """A tap that saves a ball, once a tap means one of its own; waits until it is listed."""
    before = shown(phone)
    phone.settled()
    phone.taps += 1
    phone.page.locator(selector).click(**where)
    expect(phone.page.locator(".balls-hit li")).to_have_count(before + 1)


def pad(phone: Phone, right: float, long: float) -> None:
    """A tap on the pad, as shares of the way to its edge."""
    box = phone.page.locator(".finish-pad").bounding_box()
    assert box is not None
    at = {"x": box["width"] * (1 + right) / 2, "y": box["height"] * (1 - long) / 2}
    tap_ball(phone, ".finish-pad", position=at)


def balls_of(phone: Phone, session_id: str) -> list[dict[str, Any]]:
    found = [one["body"] for one in phone.live("practice_ball") if one["body"]["session_id"] == session_id]
    return sorted(found, key=lambda ball: int(ball["order"]))


@pytest.mark.service_worker
def test_balls_without_a_network_and_a_page_killed_twice(phone: Phone, live_server: Server) -> None:
    player = begin_player(phone)
    phone.wait_sent()
    phone.page.click("#to-practice")
    phone.page.click("#place-range")
    phone.page.wait_for_selector(".finish-pad")
    session_id = str(phone.page.evaluate("location.hash.split('/')[2]"))
    phone.go_offline()
    phone.taps = 0
    for number in range(BALLS):
        if number in (BALLS // 3, 2 * BALLS // 3):
            phone.kill()
            phone.open(f"#/practice/{session_id}", ".finish-pad")
            expect(phone.page.locator(".balls-hit li")).to_have_count(number)
        if number == BALLS // 2:
            phone.tap("#less-big")
        pad(phone, -0.5 + number / 20, 0.25)
    assert phone.taps <= MOST_TAPS_A_BALL * BALLS
    assert phone.taps == BALLS + 1  # one a ball, and one for another target
    hit = balls_of(phone, session_id)
    assert [ball["order"] for ball in hit] == list(range(1, BALLS + 1))
    assert len({ball["club_id"] for ball in hit}) == 1
    targets = [ball["target_yd"] for ball in hit]
    assert targets == [targets[0]] * (BALLS // 2) + [targets[0] - 10] * (BALLS // 2)  # carried on, over both kills too
    assert hit[0]["long_yd"] == 10  # a quarter of the pad's 40 yd
    assert hit[0]["right_yd"] == -20
    phone.context.set_offline(False)
    phone.page.reload()
    phone.page.wait_for_selector(".finish-pad")
    phone.wait_sent()
    log = delivered_once(phone, live_server, player)
    assert Counter(change["kind"] for change in log)["practice_ball"] == BALLS
    answer = live_server.get(f"/api/players/{player}/practice/{session_id}")
    assert [ball["order"] for ball in answer["hit"]] == list(range(1, BALLS + 1))
    assert phone.errors == []


def test_putts_are_taken_back_changed_deleted_and_counted(phone: Phone) -> None:
    begin_player(phone)
    session_id = begin(phone, "putting_green")
    phone.taps = 0
    for chip in ("#holed", "#left-2", "#holed", "#left-unknown"):
        tap_ball(phone, chip)
    assert phone.taps == 4
    phone.tap("#key-2")
    phone.tap("#key-0")
    tap_ball(phone, "#left-3")
    assert phone.taps == 7
    first = {"length_ft": 6, "holed": True}
    found = balls_of(phone, session_id)
    assert [{name: ball.get(name) for name in first} for ball in found] == [
        first,
        first | {"holed": False},
        first,
        first | {"holed": False},
        {"length_ft": 20, "holed": False},
    ]
    assert [ball.get("left_ft") for ball in found] == [None, 2, None, None, 3]
    page = phone.page
    page.click("#undo")
    expect(page.locator(".balls-hit li")).to_have_count(4)
    page.locator(".balls-hit .shot").nth(2).click()
    page.fill("#ball-left-ft", "1000")
    page.click("#save-ball-changes")
    expect(page.locator("#alert")).to_contain_text("above 0 and up to 900 ft")
    page.fill("#ball-left-ft", "4.5")
    page.click("#save-ball-changes")
    expect(page.locator(".balls-hit .shot").nth(2)).to_contain_text("4.5 ft left")
    page.locator(".balls-hit .shot").nth(0).click()
    page.click("#delete-ball")
    expect(page.locator(".balls-hit li")).to_have_count(3)
    page.click("#finish-session")
    page.wait_for_selector("#totals")
    assert page.locator("#totals tbody tr").inner_text().split("\t") == ["over 3 to 6 ft", "2 of 3", "67 %", "4.5"]
    # Among the rounds of its day; gone with all its balls once that is confirmed, and back with Undo nowhere else.
    go(phone, "", ".list-row")
    row = page.locator(".list-row").filter(has_text="practice session")
    expect(row).to_contain_text("putting green")
    expect(row).to_contain_text("3balls")
    row.click()
    page.click("#delete-session")
    close_sheet(phone)
    assert len(balls_of(phone, session_id)) == 3
    page.click("#delete-session")
    page.locator("dialog").get_by_role("button", name="Delete", exact=True).click()
    page.wait_for_selector("#to-practice")
    assert balls_of(phone, session_id) == phone.live("session") == []
    page.wait_for_selector("#to-practice")
    expect(page.locator(".list-row").filter(has_text="practice session")).to_have_count(0)
    assert phone.errors == []


def test_a_duel_typed_figures_the_short_game_and_targets(phone: Phone) -> None:
    drawn = [{"order": 1, "target_yd": 95, "why": "gap"}, {"order": 2, "target_yd": 230, "why": "bag"}]
    begin_player(phone)
    phone.page.route("**/practice-targets?*", lambda route: route.fulfill(json={"targets": drawn}))
    page = phone.page
    session_id = begin(phone, "range")
    page.click("#more-actions")
    page.click("#start-duel")
    page.click("#begin-duel")
    expect(page.locator("#duel-line")).to_contain_text("the first of the pair")
    for _ in range(4):
        pad(phone, 0.1, 0.1)
    hit = balls_of(phone, session_id)
    one, two = hit[0]["club_id"], hit[1]["club_id"]
    assert one != two
    assert [ball["club_id"] for ball in hit] == [one, two, two, one]
    assert hit[0]["duel_id"] == hit[1]["duel_id"] != hit[2]["duel_id"] == hit[3]["duel_id"]
    page.click("#more-actions")
    page.click("#end-duel")
    page.click("#figures")
    for key in ("1", "4", "8"):
        page.click(f"#figure-key-{key}")
    page.click("#figure-side")
    page.click("#figure-key-6")
    page.click("#figure-left")
    page.click("#figure-key-9")
    page.click("#figure-key-9")
    expect(page.locator("#alert")).to_contain_text("Right or left is at most 300 yd, not 699.")
    page.click("#figure-clear")
    page.click("#figure-key-6")
    tap_ball(phone, "#save-ball")
    typed = balls_of(phone, session_id)[-1]
    assert (typed["carry_yd"], typed["right_yd"], "total_yd" in typed, "duel_id" in typed) == (148, -6, False, False)
    page.click("#more-actions")
    page.click("#start-targets")
    expect(page.locator("#target-line")).to_contain_text("95 yd")
    expect(page.locator("#target-line")).to_contain_text("in a gap between your clubs")
    page.click("#figures")
    pad(phone, 0, 0)
    expect(page.locator("#target-line")).to_contain_text("target 2 of 2")
    pad(phone, 0, 0)
    expect(page.locator("#target-line")).to_have_count(0)
    near, far = balls_of(phone, session_id)[-2:]
    assert (near["target_yd"], far["target_yd"]) == (95, 230)
    clubs = {one["record_id"]: one["body"]["label"] for one in phone.live("club")}
    assert (clubs[near["club_id"]], clubs[far["club_id"]]) == ("54°", "3-wood")
    session_id = begin(phone, "short_game")
    page.click("#lie-sand")
    tap_ball(phone, "#left-6")
    tap_ball(phone, "#holed")
    found = balls_of(phone, session_id)
    kept = ("target_yd", "lie", "left_ft", "holed", "swing")
    assert [[ball.get(name) for name in kept] for ball in found] == [
        [20, "sand", 6, False, "part"],
        [20, "sand", None, True, "part"],
    ]
    assert phone.errors == []


def test_an_older_server_leaves_the_balls_on_the_phone_until_it_knows_them(phone: Phone, live_server: Server) -> None:
    player = begin_player(phone)
    phone.wait_sent()
    change = {
        "change_id": "00000000-0000-4000-8000-000000000001",
        "record_id": "00000000-0000-4000-8000-000000000002",
        "kind": "unheard_of",
        "parents": [],
        "op": "put",
        "body": {},
        "device_id": "x",
        "client_time": "2026-05-01T10:00:00Z",
        "schema_version": 1,
    }
    other = live_server.post(
        "/api/players/00000000-0000-4000-8000-000000000003/changes", {"device_id": "x", "changes": [change]}
    )
    (refused,) = other["quarantined"]  # what a server truly says of a kind that it does not know

    def older(route: Route) -> None:
        if route.request.method != "POST":
            route.continue_()
            return
        sent = json.loads(route.request.post_data or "")["changes"]
        ids = [one["change_id"] for one in sent]
        assert {one["kind"] for one in sent} <= {"session", "practice_ball"}
        aside = [{"change_id": one, "problem": refused["problem"]} for one in ids]
        route.fulfill(json={"acknowledged": ids, "quarantined": aside, "now": "2026-05-01T10:00:00Z"})

    phone.page.route(CHANGES, older)
    session_id = begin(phone, "putting_green")
    for _ in range(3):
        tap_ball(phone, "#holed")
    expect(phone.page.locator("#saving")).to_have_text("saved and sent, 4 for a newer server", timeout=60_000)
    go(phone, "saving", "#for-newer-server")
    expect(phone.page.locator("#for-newer-server")).to_contain_text("does not take 4 changes yet")
    assert phone.page.locator("#send-again").count() == 0
    go(phone, f"practice/{session_id}/review", "#kept-for-later")
    assert not [one for one in live_server.log(player) if one["kind"] == "practice_ball"]
    phone.page.unroute(CHANGES)
    phone.page.reload()
    phone.page.wait_for_selector("#totals")
    expect(phone.page.locator("#kept-for-later")).to_have_count(0)
    phone.wait_sent()
    log = delivered_once(phone, live_server, player)
    assert Counter(one["kind"] for one in log)["practice_ball"] == 3


TABLE = """Club,Carry (m),Offline,Target,Date
8-iron,128,4 L,140,2026-05-03
8-iron,131,2 R,140,2026-05-03
Trial iron,140,0,150,
"""


def test_a_table_of_balls_is_seen_stored_and_listed(phone: Phone, live_server: Server) -> None:
    player = begin_player(phone)
    phone.wait_sent()
    go(phone, "import/practice", "#table-file")
    page = phone.page
    page.fill("#table-day", "2026-05-04")
    chosen = {"name": "balls.csv", "mimeType": "text/csv"}
    page.set_input_files("#table-file", {**chosen, "buffer": TABLE.replace("131", "1310").encode()})
    expect(page.locator("#refused")).to_contain_text("balls.csv cannot be imported; nothing was stored.")
    expect(page.locator(".faults tbody tr")).to_have_count(1)
    expect(page.locator(".faults tbody tr")).to_contain_text("row 3")
    page.set_input_files("#table-file", {**chosen, "buffer": TABLE.encode()})
    expect(page.locator("#preview")).to_have_text("2 practice sessions, 3 balls. Nothing is stored yet.")
    expect(page.locator("#import-result")).to_contain_text("'Trial iron' is new")
    assert not [one for one in live_server.log(player) if one["kind"] in ("session", "practice_ball")]
    page.click("#store-rounds")
    expect(page.locator("#stored")).to_have_text("Stored: 2 practice sessions, 3 balls.")
    page.click("#to-rounds")
    row = page.locator(".list-row").filter(has_text="3 May 2026")
    expect(row).to_contain_text("2balls")
    assert len(phone.live("practice_ball")) == 3
    first = next(one["body"] for one in phone.live("practice_ball") if one["body"].get("right_yd", 0) < 0)
    assert first["carry_yd"] == pytest.approx(128 / 0.9144, abs=0.01)
    assert phone.errors == []


def with_many_balls(phone: Phone, server: Server) -> str:
    """A phone whose player has a session of many balls; the session's id."""
    made = Season("Practice Vale")
    clubs = default_clubs(made)
    session_id = made.put("session", "many", {"date": "2026-05-02", "place": "range"})
    for order in range(1, MANY + 1):
        body = {"session_id": session_id, "order": order, "club_id": clubs["8 iron"], "target_yd": 150.0}
        finish = {"right_yd": float(order % 21 - 10), "long_yd": float(order % 13 - 6)}
        made.put("practice_ball", f"ball {order}", body | finish)
    server.post(f"/api/players/{made.player_id}/changes", {"device_id": "phone", "changes": made.changes})
    phone.open()
    phone.page.click(f"#player-{made.player_id}")
    phone.page.wait_for_selector("#to-practice")
    return session_id


def test_a_ball_more_leaves_the_rows_of_a_long_session_alone(phone: Phone, live_server: Server) -> None:
    session_id = with_many_balls(phone, live_server)
    page: Page = phone.page
    expect(page.locator(".list-row").filter(has_text="practice session")).to_contain_text(f"{MANY}balls")
    go(phone, f"practice/{session_id}", ".finish-pad")
    expect(page.locator(".balls-hit li")).to_have_count(MANY)
    page.evaluate("""() => {
      document.querySelectorAll('.balls-hit li').forEach((row) => { row.dataset.old = 'yes'; });
      globalThis.added = [];
      const nodes = (one) => [...one.addedNodes, ...one.removedNodes];
      new MutationObserver((all) => globalThis.added.push(...all.flatMap(nodes))).observe(
        document.querySelector('.balls-hit'), {childList: true, subtree: true});
    }""")
    pad(phone, 0, 0)
    assert page.locator(".balls-hit li[data-old]").count() == MANY
    assert page.evaluate("globalThis.added.length") == 1
    contained = "() => getComputedStyle(document.querySelector('.balls-hit li')).contain"
    assert page.evaluate(contained) == "content"  # a row is laid out and painted by itself
    # The evidence takes them where it is told to, and keeps that in its address from view to view.
    phone.wait_sent()
    go(phone, f"evidence/{phone.player_id()}/patterns", ".empty")
    page.click("#filters")
    page.select_option("#filter-source", "practice")
    expect(page.locator("#practice-counted")).to_contain_text(f"{MANY + 1} practice balls of 1 session")
    assert page.url.endswith("/patterns?source=practice")
    page.click("#question-club")
    page.click("#view-distances")
    expect(page.locator("main h1")).to_have_text("Which club? Distances")
    expect(page.locator("#practice-counted")).to_contain_text(f"{MANY + 1} practice balls")
    assert page.url.endswith("/distances?source=practice")
    expect(page.locator("main th", has_text="practice balls")).to_have_count(1)
    expect(page.locator("#filters")).to_contain_text("practice sessions")
    page.select_option("#filter-source", "")
    expect(page.locator("#practice-counted")).to_have_count(0)
    assert page.url.endswith("/distances")
    assert phone.errors == []
