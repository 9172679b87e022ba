"""Clubs on trial on the play screen: the hole's club in practice rounds, and never in a competition."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from server.game.alternation import club_of_hole
from tests.records.made import Season, default_clubs, par_four
from tests.web.phone import Phone, Server


def at_a_round(phone: Phone, server: Server, name: str, kind: str, *, trial: bool = True) -> tuple[str, dict[str, str]]:
    """A phone at a round whose first hole is played, with two 4 irons in the bag; the round's id and the irons' ids."""
    made = Season(name)
    clubs = default_clubs(made)
    irons = {label: made.club(label, "iron", on_trial=trial) for label in ("4 iron A", "4 iron B")}
    bag = [*clubs.values(), *irons.values()]
    round_id = made.round("one", dict.fromkeys(range(1, 19), (4, 400.0)), kind=kind, bag=bag)
    par_four(made, round_id, clubs, 1)
    made.shot(round_id, 2, 1, "tee", 400.0, irons["4 iron B"])
    server.post(f"/api/players/{made.player_id}/changes", {"device_id": "phone", "changes": made.changes})
    phone.open()
    phone.page.click(f"#player-{made.player_id}")
    phone.page.wait_for_selector(".go-on, #new-round")
    return round_id, irons


def test_each_hole_of_a_practice_round_names_the_club_that_was_drawn(phone: Phone, live_server: Server) -> None:
    round_id, irons = at_a_round(phone, live_server, "Ash Trial", "practice")
    for hole in (3, 4, 5, 6):
        phone.page.goto(f"{phone.address}/#/round/{round_id}/{hole}")
        drawn = club_of_hole(irons.values(), round_id, hole)
        (label,) = [label for label, club_id in irons.items() if club_id == drawn]
        line = phone.page.locator("#trial-line")
        expect(line).to_have_text(f"Trial, this hole: {label} shots so far: 4 iron A 0, 4 iron B 1")
    assert phone.errors == []


@pytest.mark.parametrize(("kind", "trial"), [("competition", True), ("casual", True), ("practice", False)])
def test_no_club_is_named_elsewhere(phone: Phone, live_server: Server, kind: str, trial: bool) -> None:
    round_id, _ = at_a_round(phone, live_server, f"Ash {kind} {trial}", kind, trial=trial)
    phone.page.goto(f"{phone.address}/#/round/{round_id}/3")
    phone.page.wait_for_selector("#hit")
    expect(phone.page.locator("#trial-line")).to_have_count(0)
