"""Closing a round: what is asked when holes are missing, and what the round says of every closing and opening."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from playwright.sync_api import expect

from tests.web.audit import check_consistent
from tests.web.begun import begin_round
from tests.web.phone import Phone, Server
from tests.web.screens import close_sheet, go
from tests.web.seeded import round_of, with_round

FRONT_NINE, ALL = tuple(range(1, 10)), tuple(range(1, 19))


def carded(phone: Phone, server: Server, played: tuple[int, ...], **fields: object) -> str:
    """A phone on the card of a round with these holes played."""
    round_id = with_round(phone, server, f"Closing {uuid4()}", played, **fields)
    go(phone, f"round/{round_id}/card", "#close-round")
    return round_id


def recent(moment: str) -> bool:
    return abs(datetime.fromisoformat(moment) - datetime.now(UTC)) < timedelta(minutes=5)


def test_a_full_round_closes_without_a_question(phone: Phone, live_server: Server) -> None:
    round_id = carded(phone, live_server, ALL)
    phone.page.click("#close-round")
    phone.page.wait_for_selector("#reopen")
    assert phone.page.locator("dialog").count() == 0
    body = round_of(phone, round_id)
    assert (body["closed"], body["holes_meant"], body["stopped"]) == (True, None, False)
    (closing,) = body["closings"]
    assert recent(closing["closed_at"])
    assert closing["reopened_at"] is None


def test_missing_holes_are_named_and_nothing_closes_without_an_answer(phone: Phone, live_server: Server) -> None:
    round_id = carded(phone, live_server, (1, 2, 3, 5, 12))
    page = phone.page
    page.click("#close-round")
    expect(page.locator("dialog")).to_contain_text("Not played: holes 4, 6 to 11 and 13 to 18.")
    assert page.locator("#close-nine").count() == 0, "the holes played lie in both nines"
    page.click("#close-not")
    page.wait_for_selector("dialog", state="detached")
    page.click("#close-round")
    close_sheet(phone)
    assert round_of(phone, round_id).get("closed", False) is False
    page.click("#close-round")
    page.click("#close-stop")
    page.wait_for_selector("#reopen")
    body = round_of(phone, round_id)
    assert (body["closed"], body["holes_meant"], body["stopped"]) == (True, None, True)
    expect(page.locator(".big-score")).to_contain_text("stopped after 5 holes")
    phone.wait_sent()
    card = live_server.get(f"/api/players/{phone.player_id()}/rounds/{round_id}/scorecard")
    assert (card["stopped"], card["total"]["score"], card["total"]["score_of_complete_holes"]) == (True, None, 20)


def test_nine_holes_are_a_round(phone: Phone, live_server: Server) -> None:
    round_id = carded(phone, live_server, FRONT_NINE)
    page = phone.page
    expect(page.locator(".big-score")).to_contain_text("incomplete: 9 of 18 holes")
    page.click("#close-round")
    expect(page.locator("dialog")).to_contain_text("Not played: holes 10 to 18.")
    page.click("#close-nine")
    page.wait_for_selector("#reopen")
    expect(page.locator(".big-score")).to_have_text("36 level par 9 holes")
    assert round_of(phone, round_id)["holes_meant"] == 9
    phone.wait_sent()
    card = live_server.get(f"/api/players/{phone.player_id()}/rounds/{round_id}/scorecard")
    assert (card["holes_meant"], card["total"]["score"], card["total"]["complete"]) == (9, 36, True)
    go(phone, "", ".list")
    row = page.locator(".list-row").first
    expect(row).to_contain_text("36")
    expect(row).not_to_contain_text("after")
    go(phone, f"round/{round_id}/card", "#reopen")
    page.click("#reopen")
    page.wait_for_selector("#close-round")
    assert round_of(phone, round_id)["holes_meant"] is None, "an open round goes on to its last hole"
    check_consistent(phone)


def test_a_hole_that_was_begun_is_named(phone: Phone) -> None:
    round_id = begin_round(phone, shots=1)
    go(phone, f"round/{round_id}/card", "#close-round")
    phone.page.click("#close-round")
    expect(phone.page.locator("dialog")).to_contain_text("Not played: holes 2 to 18.")
    expect(phone.page.locator("dialog")).to_contain_text("Started, not finished: hole 1.")
    phone.page.click("#close-nine")
    phone.page.wait_for_selector("#reopen")
    expect(phone.page.locator("#left-open")).to_have_text("End not recorded: hole 1")


def test_an_abandoned_provisional_is_no_ball_without_an_end(phone: Phone) -> None:
    round_id = begin_round(phone, shots=1)
    phone.tap("#more-actions")
    phone.tap("#provisional")
    phone.page.wait_for_selector("#ball-2[aria-pressed=true]")
    phone.hit()
    phone.tap("#first-found")
    phone.page.wait_for_selector("#ball-1[aria-pressed=true]")
    phone.type_distance(150)
    phone.hole_out()
    go(phone, f"round/{round_id}/card", "#close-round")
    phone.stop_here()
    assert phone.page.locator("#left-open").count() == 0
    phone.wait_sent()
    card = phone.page.evaluate(
        "async (path) => (await fetch(path)).json()", f"/api/players/{phone.player_id()}/rounds/{round_id}/scorecard"
    )
    assert card["problems"] == []


@pytest.mark.parametrize("kind", ["competition", "casual"])
def test_every_closing_and_opening_is_in_the_round(phone: Phone, live_server: Server, kind: str) -> None:
    round_id = carded(phone, live_server, ALL, kind=kind)
    page = phone.page
    for _ in range(2):
        page.click("#close-round")
        page.wait_for_selector("#reopen")
        assert page.locator("#opened-again").count() == len(round_of(phone, round_id)["closings"][:-1]) * (
            kind == "competition"
        )
        page.click("#reopen")
        page.wait_for_selector("#close-round")
    closings = round_of(phone, round_id)["closings"]
    times = [one[name] for one in closings for name in ("closed_at", "reopened_at")]
    assert len(times) == 4
    assert times == sorted(times)
    assert all(map(recent, times))
    assert re.fullmatch(r"(Finished .+?, \d\d:\d\d\. Reopened .+?, \d\d:\d\d\. ?){2}", page.inner_text("#closings"))
    page.click("#close-round")
    page.wait_for_selector("#reopen")
    go(phone, f"round/{round_id}/review", "#closings")
    said = page.locator("#opened-again")
    if kind == "casual":
        assert said.count() == 0
    else:
        expect(said).to_contain_text("strokes gained, evidence and plans could be seen in between (rule 4.3a)")
    phone.wait_sent()
    (listed,) = live_server.get(f"/api/players/{phone.player_id()}/rounds")["rounds"]
    assert listed["closings"] == round_of(phone, round_id)["closings"]
    assert len((listed["opened_again"] or {"between": []})["between"]) == (2 if kind == "competition" else 0)


def test_an_old_record_that_knows_no_closings_is_opened_and_closed(phone: Phone, live_server: Server) -> None:
    round_id = with_round(phone, live_server, f"Old {uuid4()}", ALL, closed=True, kind="competition")
    go(phone, f"round/{round_id}/card", "#reopen")
    assert phone.page.locator("#closings").count() == 0
    phone.page.click("#reopen")
    phone.page.wait_for_selector("#close-round")
    (closing,) = round_of(phone, round_id)["closings"]
    assert closing["closed_at"] is None
    assert recent(closing["reopened_at"])
    expect(phone.page.locator("#closings")).to_contain_text("Finished at an unrecorded time. Reopened")
    phone.page.click("#close-round")
    phone.page.wait_for_selector("#reopen")
    phone.wait_sent()
    (listed,) = live_server.get(f"/api/players/{phone.player_id()}/rounds")["rounds"]
    assert listed["opened_again"]["between"] == [{"from": None, "to": closing["reopened_at"]}]


def test_a_round_that_was_closed_as_often_as_can_be_stays_closed(phone: Phone, live_server: Server) -> None:
    moment = "2026-05-01T09:30:00.000Z"
    closings = [{"closed_at": moment, "reopened_at": moment}] * 199 + [{"closed_at": moment, "reopened_at": None}]
    round_id = with_round(phone, live_server, f"Often {uuid4()}", ALL, closed=True, closings=closings)
    go(phone, f"round/{round_id}/card", "#reopen")
    phone.page.click("#reopen")
    expect(phone.page.locator("#alert")).to_contain_text("cannot be reopened")
    assert round_of(phone, round_id)["closed"] is True
