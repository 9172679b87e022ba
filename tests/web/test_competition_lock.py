"""Rule 4.3a: while a competition round is open, the phone notes and shows the score, and nothing that advises."""

from __future__ import annotations

import re
import urllib.error
from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.records.made import change
from tests.web.begun import begin_player, begin_round
from tests.web.phone import Phone, Server

FIGURE_OF_STROKES_GAINED = re.compile(r"[+\u2212]\d\.\d\d")


def opened(phone: Phone, address: str) -> str:
    phone.page.evaluate("(to) => { location.hash = '#/' + to; }", address)
    phone.page.wait_for_function("(to) => document.body.dataset.screen === (to.split('/')[0] || 'rounds')", arg=address)
    phone.page.wait_for_timeout(150)
    return phone.page.inner_text("main")


def test_nothing_but_the_score_until_the_round_is_closed(phone: Phone) -> None:
    earlier = begin_round(phone)
    phone.hit()
    phone.type_distance(140)
    phone.hit()
    phone.hole_out(look_back=True)
    assert FIGURE_OF_STROKES_GAINED.search(phone.page.inner_text("main"))
    assert FIGURE_OF_STROKES_GAINED.search(opened(phone, f"round/{earlier}/card"))
    assert FIGURE_OF_STROKES_GAINED.search(opened(phone, f"round/{earlier}/review"))
    opened(phone, "")
    competition = phone.start_round("competition")
    clubs = phone.page.locator(".entry .clubs")
    assert clubs.locator("[aria-pressed=true]").count() == 0, "a club was suggested"
    clubs.get_by_role("button", name="Driver", exact=True).click()
    phone.hit()
    assert clubs.locator("[aria-pressed=true]").count() == 0, "a club was suggested"
    clubs.get_by_role("button", name="8i, 8-iron", exact=True).click()
    phone.hole_out(look_back=True)
    assert "Score only: a competition round is open" in phone.page.inner_text("main")
    for round_id in (earlier, competition):
        for address in ("1", "card", "review"):
            words = opened(phone, f"round/{round_id}/{address}")
            assert not FIGURE_OF_STROKES_GAINED.search(words), f"{round_id}/{address}: {words}"
        assert "Locked until the round is finished" in opened(phone, f"round/{round_id}/review")
        assert "rule 4.3a" in opened(phone, f"round/{round_id}/review")
    player = phone.player_id()
    for address in (f"evidence/{player}", f"evidence/{player}/trial", f"evidence/{player}/priorities"):
        assert "Locked until the round is finished" in opened(phone, address), address
    words = opened(phone, "bag")
    assert "rule 4.3a" in words
    assert "swing" not in words.split("rule 4.3a")[1]
    phone.page.goto(f"{phone.address}/#/round/{earlier}/review")
    phone.page.reload()
    expect(phone.page.locator("h1")).to_have_text("Locked until the round is finished")
    opened(phone, f"round/{competition}/card")
    phone.stop_here()
    assert FIGURE_OF_STROKES_GAINED.search(opened(phone, f"round/{competition}/review"))
    assert FIGURE_OF_STROKES_GAINED.search(opened(phone, f"round/{earlier}/review"))


def test_one_ball_and_fourteen_clubs(phone: Phone) -> None:
    begin_player(phone)
    opened(phone, "bag/new")
    phone.page.fill("#club-label", "2-iron")
    phone.page.click("#save-club")
    phone.page.wait_for_selector("h1 >> text=2-iron")
    opened(phone, "")
    phone.page.click("#new-round")
    phone.page.wait_for_selector("#kind-competition")
    assert "Rule 4.1b" not in phone.page.inner_text("main")
    phone.page.click("#kind-competition")
    expect(phone.page.locator("main")).to_contain_text("Rule 4.1b allows 14 clubs in a counting round: remove 1.")
    phone.page.click("#start-round")
    phone.page.locator(".entry .clubs").get_by_role("button", name="Driver", exact=True).click()
    phone.hit()
    phone.page.click("#more-actions")
    expect(phone.page.locator("dialog")).to_contain_text("Extra balls are for practice rounds only (rule 5.5).")
    assert phone.page.locator("#extra-same, #extra-other").count() == 0
    assert phone.page.locator("#provisional").count() == 1


LOCKED = "Locked until the round is finished"


def test_another_kind_opens_nothing_and_closing_does(phone: Phone) -> None:
    round_id = begin_round(phone, "competition")
    player = phone.player_id()
    opened(phone, f"round/{round_id}/setup")
    phone.page.click("#kind-practice")
    hint = "stay locked until this round is finished, whatever its kind"
    expect(phone.page.locator("main")).to_contain_text(hint)
    phone.page.click("#save-round")
    phone.page.wait_for_selector("#close-round")
    (kept,) = phone.live("round")
    assert kept["body"]["kind"] == "practice"
    assert LOCKED in opened(phone, f"evidence/{player}")
    assert LOCKED in opened(phone, f"notes/{player}")
    phone.page.reload()
    expect(phone.page.locator("h1")).to_have_text(LOCKED)
    opened(phone, f"round/{round_id}/card")
    phone.stop_here()
    phone.wait_sent()
    assert LOCKED not in opened(phone, f"evidence/{player}")
    opened(phone, f"round/{round_id}/card")
    phone.page.click("#reopen")
    phone.page.wait_for_selector("#close-round")
    assert LOCKED in opened(phone, f"evidence/{player}")


def wait_for(there: Callable[[], bool], phone: Phone) -> None:
    for _ in range(150):
        if there():
            return
        phone.page.wait_for_timeout(200)
    raise AssertionError("it did not come in half a minute")


def delete_round(phone: Phone, round_id: str) -> None:
    opened(phone, f"round/{round_id}/card")
    phone.page.click("#delete-round")
    phone.page.locator("dialog").get_by_role("button", name="Delete", exact=True).click()
    phone.page.wait_for_selector("#new-round")


@pytest.mark.service_worker
def test_a_deleted_round_locks_while_a_shot_of_another_device_lives(phone: Phone, live_server: Server) -> None:
    round_id = begin_round(phone, "competition")
    player = phone.player_id()
    clubs = phone.page.locator(".entry .clubs")
    clubs.get_by_role("button", name="Driver", exact=True).click()
    phone.hit()
    phone.wait_sent()
    (shot,) = phone.live("shot")
    late = change("shot", shot["body"] | {"hole": 2, "order": 1}, device_id="watch")
    live_server.post(f"/api/players/{player}/changes", {"device_id": "watch", "changes": [late]})
    phone.go_offline()
    delete_round(phone, round_id)
    assert LOCKED not in opened(phone, f"evidence/{player}"), "no shot of it is known here"
    phone.context.set_offline(False)
    phone.page.reload()
    phone.wait_sent()
    wait_for(lambda: late["record_id"] in {one["record_id"] for one in phone.live("shot")}, phone)
    opened(phone, "")
    assert LOCKED in opened(phone, f"evidence/{player}")
    expect(phone.page.locator("main")).to_contain_text("was deleted, but shots of it from another device")
    with pytest.raises(urllib.error.HTTPError) as refused:
        live_server.get(f"/api/players/{player}/strokes-gained")
    assert refused.value.code == 423
    phone.page.click("#bring-back")
    phone.page.wait_for_selector("#close-round")
    assert LOCKED in opened(phone, f"evidence/{player}")
    delete_round(phone, round_id)
    phone.wait_sent()
    assert LOCKED not in opened(phone, f"evidence/{player}")
    live_server.get(f"/api/players/{player}/strokes-gained")
