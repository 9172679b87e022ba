"""A player's log on the server is full: the phone keeps what was noted, says so in plain words, and sends it later."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from tests.web.audit import check_consistent, delivered_once, live_shots
from tests.web.conftest import start_server
from tests.web.evidence_pages import hold_back, wait_held
from tests.web.phone import Phone, Server
from tests.web.screens import go
from tests.web.test_exchange_faults import ready, send_now


def test_what_has_no_room_stays_on_the_phone_and_goes_once_there_is(
    own_server: Server, make_phone: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone: Phone = make_phone(own_server)
    player_id, _ = ready(phone)
    phone.hit()
    phone.wait_sent()
    held = own_server.get("/api/me")["storage"][0]
    assert held["player_id"] == player_id
    own_server.stop()
    monkeypatch.setenv("PENCILBAG_LOG_BYTES", str(held["log_bytes"] + 100))
    full = start_server(own_server.folder, own_server.port)
    phone.hit()
    phone.hit()
    send_now(phone)
    expect(phone.page.locator("#sending-words")).to_have_text("2 changes saved here, not sent yet.")
    expect(phone.page.locator("main")).to_contain_text("Not sent: the server has no space left for this player.")
    expect(phone.page.locator("#no-room")).to_contain_text("Nothing is lost")
    held = hold_back(phone.page, "**/api/players/*/changes*")
    phone.page.click("#send-now")
    wait_held(phone.page, held)
    go(phone, "", ".list")
    go(phone, "saving", "#no-room")  # what helps stays while the next exchange runs
    phone.page.route("**/api/players/*/changes*", lambda route: route.continue_())
    for route in held:
        route.continue_()
    assert check_consistent(phone)["outbox"] == 2
    assert len(live_shots(full.log(player_id))) == 1
    full.stop()
    monkeypatch.delenv("PENCILBAG_LOG_BYTES")
    roomy = start_server(own_server.folder, own_server.port)
    try:
        send_now(phone)
        phone.wait_sent()
        expect(phone.page.locator("#no-room")).to_have_count(0)
        assert len(live_shots(delivered_once(phone, roomy, player_id))) == 3
    finally:
        roomy.stop()


ENDLESS = """async () => {
  const { ask } = await import('/js/log/answers.js');
  let pieces = 0;
  const stream = new ReadableStream({
    pull(controller) { pieces += 1; controller.enqueue(new Uint8Array(4_000_000).fill(32)); },
  });
  const answer = new Response(stream, { headers: { 'content-type': 'application/json' } });
  return ask(async () => answer, '/api/endless').then(() => ['taken', pieces], (error) => [error.kind, pieces]);
}"""


def test_an_answer_that_does_not_end_is_given_up(phone: Phone) -> None:
    """64 MB are the most; pieces of 4 MB, and one or two are asked for ahead."""
    phone.open()
    kind, pieces = phone.page.evaluate(ENDLESS)
    assert kind == "foreign"
    assert 16 <= pieces <= 19
