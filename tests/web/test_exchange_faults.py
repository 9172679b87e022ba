"""Faults between phone and server: answers of others, refusals, a restored backup, a second device."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, Route, expect

from tests import tiers
from tests.web.audit import check_consistent, delivered_once, live_shots
from tests.web.begun import begin_round
from tests.web.conftest import start_server
from tests.web.phone import Phone, Server

CHANGES = "**/api/players/*/changes*"
HTML = "<!doctype html><title>Welcome</title><form>Accept the terms of this network</form>"
ANSWERS: dict[str, dict[str, Any]] = {
    "a hotspot's page": {"status": 200, "content_type": "text/html", "body": HTML},
    "a page that calls itself JSON": {"status": 200, "content_type": "application/json", "body": HTML},
    "a cut-off body": {"status": 200, "content_type": "application/json", "body": '{"acknowledged": ["0", "'},
    "an empty body": {"status": 200, "content_type": "application/json", "body": ""},
    "JSON of something else": {"status": 200, "content_type": "application/json", "body": '{"ok": true}'},
    "a list": {"status": 200, "content_type": "application/json", "body": "[]"},
    "null": {"status": 200, "content_type": "application/json", "body": "null"},
    "changes without ids": {
        "status": 200,
        "content_type": "application/json",
        "body": '{"acknowledged": [], "quarantined": [], "changes": [{}], "cursor": "1:x", "more": false}',
    },
    "a cursor that is none": {
        "status": 200,
        "content_type": "application/json",
        "body": '{"acknowledged": [], "quarantined": [], "changes": [], "cursor": 7, "more": false}',
    },
    "a redirect": {"status": 302, "headers": {"location": "/manifest.webmanifest"}, "body": ""},
    "a proxy's error": {"status": 502, "content_type": "text/html", "body": "Bad gateway"},
    "not found, by a stranger": {"status": 404, "content_type": "text/html", "body": HTML},
    "an error of the server": {"status": 500, "content_type": "application/problem+json", "body": '{"title": "Error"}'},
}
OF_EACH_SORT = (
    "a hotspot's page",
    "a page that calls itself JSON",
    "a cut-off body",
    "changes without ids",
    "a redirect",
    "a proxy's error",
)
TRIED = ANSWERS if tiers.LONG else {name: ANSWERS[name] for name in OF_EACH_SORT}


def ready(phone: Phone) -> tuple[str, str]:
    round_id = begin_round(phone)
    return phone.player_id(), round_id


def send_now(phone: Phone) -> None:
    phone.page.evaluate("location.hash = '#/saving'")
    phone.page.wait_for_selector("#send-now")
    phone.page.click("#send-now")


def answering(answer: dict[str, Any]) -> Callable[[Route], None]:
    """Gives this answer to whatever is asked."""
    return lambda route: route.fulfill(**answer)


def test_no_other_answer_is_taken_for_the_servers(phone: Phone, live_server: Server) -> None:
    """One phone meets them in turn: each time a shot waits, and is on the server once it is heard again."""
    player_id, round_id = ready(phone)
    page = phone.page
    for hole, (name, answer) in enumerate(TRIED.items(), start=1):
        phone.wait_sent()
        page.evaluate("(hash) => { location.hash = hash; }", f"#/round/{round_id}/{hole}")
        phone.wait_for_hole(hole)
        page.route(CHANGES, answering(answer))
        phone.hit()
        send_now(phone)
        expect(page.locator("#sending-words"), name).to_have_text("1 change saved here, not sent yet.")
        expect(page.locator("main"), name).to_contain_text("Not sent:")
        assert check_consistent(phone)["outbox"] == 1, name
        page.unroute(CHANGES)
        page.click("#send-now")
        phone.wait_sent()
        assert len(live_shots(delivered_once(phone, live_server, player_id))) == hole, name


def test_an_answer_lost_after_the_commit_sends_nothing_twice(phone: Phone, live_server: Server) -> None:
    player_id, _ = ready(phone)
    phone.wait_sent()
    lost: list[str] = []

    def lose(route: Route) -> None:
        if route.request.method == "POST" and len(lost) < 2:
            route.fetch()
            lost.append(route.request.post_data or "")
            route.abort()
        else:
            route.continue_()

    phone.page.route(CHANGES, lose)
    phone.hit()
    phone.wait_sent()
    assert len(lost) == 2
    assert len(live_shots(delivered_once(phone, live_server, player_id))) == 1


def test_acknowledged_is_not_yet_out_of_the_outbox(on_the_tee: Phone) -> None:
    phone = on_the_tee
    phone.wait_sent()
    phone.page.route(CHANGES, lambda route: route.abort() if route.request.method == "GET" else route.continue_())
    phone.hit()
    send_now(phone)
    expect(phone.page.locator("main")).to_contain_text("No network")
    assert check_consistent(phone)["outbox"] == 1
    phone.page.unroute(CHANGES)
    phone.page.click("#send-now")
    phone.wait_sent()
    assert check_consistent(phone)["outbox"] == 0


def test_a_401_keeps_the_outbox(on_the_tee: Phone) -> None:
    phone = on_the_tee
    phone.wait_sent()
    answer = {
        "status": 401,
        "content_type": "application/problem+json",
        "body": '{"title": "Unauthorized", "detail": "Sign in."}',
    }
    phone.page.route(CHANGES, lambda route: route.fulfill(**answer))
    phone.hit()
    send_now(phone)
    expect(phone.page.locator("main")).to_contain_text("Not sent: Sign in.")
    assert check_consistent(phone)["outbox"] == 1
    phone.page.unroute(CHANGES)
    phone.page.click("#send-now")
    phone.wait_sent()


def test_one_bad_change_blocks_nothing_and_is_shown(phone: Phone, live_server: Server) -> None:
    player_id, round_id = ready(phone)
    phone.wait_sent()

    def poison(route: Route) -> None:
        sent = json.loads(route.request.post_data or "{}") if route.request.method == "POST" else None
        if sent:
            for change in sent["changes"]:
                if change["kind"] == "shot" and change["body"]["order"] == 1:
                    change["body"]["lie"] = "moon"
            route.continue_(post_data=json.dumps(sent))
        else:
            route.continue_()

    phone.page.route(CHANGES, poison)
    phone.hit()
    phone.hit()
    expect(phone.page.locator("#saving")).to_have_text("saved and sent, 1 need attention", timeout=60_000)
    phone.page.click("#saving")
    expect(phone.page.locator("main")).to_contain_text("Kept here, refused by the server")
    expect(phone.page.locator("main")).to_contain_text("lie")
    assert [shot["order"] for shot in live_shots(live_server.log(player_id))] == [2]
    phone.page.unroute(CHANGES)
    phone.page.goto(f"{phone.address}/#/round/{round_id}/1")
    phone.page.locator(".shot").first.click()
    phone.page.click("#strike-heel")
    phone.page.click("#save-shot")
    phone.wait_sent()
    assert {shot["order"] for shot in live_shots(live_server.log(player_id))} == {1, 2}


def test_a_request_that_is_too_large_goes_in_halves(phone: Phone, live_server: Server) -> None:
    player_id, _ = ready(phone)
    phone.wait_sent()
    sizes: list[int] = []

    def narrow(route: Route) -> None:
        count = (
            len(json.loads(route.request.post_data or "{}").get("changes", [])) if route.request.method == "POST" else 0
        )
        sizes.append(count)
        if count > 1:
            body = '{"title": "Content Too Large", "status": 413}'
            route.fulfill(status=413, content_type="application/problem+json", body=body)
        else:
            route.continue_()

    phone.page.route(CHANGES, narrow)
    phone.page.evaluate("window.dispatchEvent(new Event('offline'))")
    for _ in range(3):
        phone.hit()
    phone.wait_sent()
    assert len(live_shots(delivered_once(phone, live_server, player_id))) == 3
    assert max(sizes) > 1


def test_a_restored_old_backup_gets_everything_again(make_phone: Any, own_server: Server) -> None:
    phone: Phone = make_phone(own_server)
    player_id, _ = ready(phone)
    phone.hit()
    phone.wait_sent()
    own_server.stop()
    database = own_server.folder / "server.sqlite"
    backup = own_server.folder / "backup.sqlite"
    for suffix in ("", "-wal", "-shm"):
        part = database.with_name(database.name + suffix)
        if part.exists():
            shutil.copy(part, backup.with_name(backup.name + suffix))
    again = start_server(own_server.folder, own_server.port)
    phone.hit()
    phone.hit()
    phone.wait_sent()
    assert len(live_shots(again.log(player_id))) == 3
    again.stop()
    for suffix in ("", "-wal", "-shm"):
        part = database.with_name(database.name + suffix)
        part.unlink(missing_ok=True)
        kept = backup.with_name(backup.name + suffix)
        if kept.exists():
            shutil.copy(kept, part)
    restored = start_server(own_server.folder, own_server.port)
    try:
        assert len(live_shots(restored.log(player_id))) == 1
        send_now(phone)
        expect(phone.page.locator("#sending-words")).to_contain_text("Everything is sent", timeout=60_000)
        phone.wait_sent()
        assert len(live_shots(delivered_once(phone, restored, player_id))) == 3
    finally:
        restored.stop()


def second_phone(make_phone: Any, player_id: str, round_id: str) -> Phone:
    phone: Phone = make_phone()
    phone.open()
    phone.page.click(f"#player-{player_id}")
    phone.page.wait_for_selector("#new-round")
    phone.page.goto(f"{phone.address}/#/round/{round_id}/1")
    phone.page.wait_for_selector(".shot")
    return phone


def change_strike(phone: Phone, strike: str) -> None:
    phone.page.locator(".shot").first.click()
    phone.page.click(f"#strike-{strike}")
    phone.page.click("#save-shot")
    phone.page.wait_for_selector("dialog", state="detached")


def test_two_devices_show_both_versions_and_keep_either(make_phone: Any, live_server: Server) -> None:
    one: Phone = make_phone()
    player_id, round_id = ready(one)
    one.hit()
    one.wait_sent()
    two = second_phone(make_phone, player_id, round_id)
    two.wait_sent()
    for phone, strike in ((one, "heel"), (two, "toe")):
        phone.go_offline()
        change_strike(phone, strike)
    for phone in (one, two):
        phone.context.set_offline(False)
        phone.wait_sent()
    for phone in (one, two):
        send_now(phone)
        phone.wait_sent()
        phone.page.goto(f"{phone.address}/#/round/{round_id}/1")
        expect(phone.page.locator(".notice")).to_contain_text("Two devices changed the same entry")
    one.page.click("text=Compare both versions")
    one.page.wait_for_selector(".version")
    assert one.page.locator(".version").count() == 2
    words = one.page.inner_text(".versions")
    assert "heel" in words
    assert "toe" in words
    one.page.locator(".version", has_text="heel").get_by_role("button", name="Keep this one").click()
    expect(one.page.locator("main")).to_contain_text("Every entry has one version")
    one.wait_sent()
    send_now(two)
    two.wait_sent()
    for phone in (one, two):
        assert [shot["body"]["strike"] for shot in phone.live("shot")] == ["heel"]
        assert not any(record["conflict"] for record in phone.all_of("records"))
        delivered_once(phone, live_server, player_id)


def test_an_edit_beats_a_delete_and_unseen_shots_stay(make_phone: Any, live_server: Server) -> None:
    one: Phone = make_phone()
    player_id, round_id = ready(one)
    one.hit()
    one.hit()
    one.wait_sent()
    two = second_phone(make_phone, player_id, round_id)
    two.wait_sent()
    for phone in (one, two):
        phone.go_offline()
    change_strike(two, "thin")
    two.hit()  # a shot that the first phone has not seen
    one.page.evaluate(f"location.hash = '#/round/{round_id}/card'")
    one.page.click("#delete-round")
    one.tap_words("Delete", "dialog")
    one.page.wait_for_selector("#new-round")
    for phone in (one, two, one):
        phone.context.set_offline(False)
        send_now(phone)
        phone.wait_sent()
    shots = sorted(live_shots(delivered_once(one, live_server, player_id)), key=lambda shot: shot["order"])
    assert [(shot["order"], shot.get("strike")) for shot in shots] == [(1, "thin"), (3, None)]
    assert len(one.live("shot")) == len(two.live("shot")) == 2


TWO_AT_ONCE = """async () => {
  const { Schedule } = await import('/js/log/schedule.js');
  const schedule = new Schedule(null, () => 'a player', () => undefined);
  const ended = [];
  let release;
  schedule.locked = () => new Promise((go) => { release = go; });
  const first = schedule.now().then(() => ended.push('first'));
  const second = schedule.now().then(() => ended.push('second'));
  const third = schedule.now().then(() => ended.push('third'));
  release({ received: 0 });
  await first;
  const between = [...ended];
  release({ received: 0 });
  await Promise.all([second, third]);
  clearTimeout(schedule.timer);
  return [between, ended];
}"""


def test_an_exchange_asked_for_during_another_ends_with_one_more(module_page: Page) -> None:
    """What was written after the first began is sent by the second alone."""
    assert module_page.evaluate(TWO_AT_ONCE) == [["first"], ["first", "second", "third"]]
