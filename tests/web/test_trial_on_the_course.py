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


def test_a_duel_takes_one_tap_more_than_a_shot(phone: Phone, live_server: Server) -> None:
    """The other club from the same spot is one tap; where that ball lies is entered as the finish of any shot."""
    round_id, irons = at_a_round(phone, live_server, "Ash Duel", "practice")
    page = phone.page
    page.goto(f"{phone.address}/#/round/{round_id}/3")
    drawn = club_of_hole(irons.values(), round_id, 3)
    (other,) = set(irons.values()) - {drawn}
    phone.settled()
    if page.locator("#trial-club").get_attribute("aria-pressed") == "false":
        phone.tap("#trial-club")
    phone.hit()
    taps = phone.taps
    phone.settled()
    phone.tap(f"#duel-{other}")
    page.wait_for_selector("#ball-2[aria-pressed=true]")
    expect(page.locator(".shot")).to_have_count(1)
    expect(page.locator(f"#duel-{drawn}")).to_have_count(0)
    phone.tap("#lie-rough")
    phone.tap("#more")
    phone.settled()
    phone.tap("#lies-here")
    page.wait_for_selector("#ball-1[aria-pressed=true]")
    assert phone.taps - taps == 2 + 2, "two for where it lies, as after any shot; the duel and its end"
    expect(page.locator("#trial-line")).to_contain_text("1 duel in this round")
    duel = [record["body"] for record in phone.live("shot") if record["body"]["hole"] == 3]
    first, second = sorted(duel, key=lambda shot: shot["ball"])
    assert [(shot["ball"], shot["order"], shot["club_id"]) for shot in (first, second)] == [
        (1, 1, drawn),
        (2, 1, other),
    ]
    assert [(shot["lie"], shot["distance_yd"]) for shot in (first, second)] == [("tee", 400.0)] * 2
    assert (second["end_lie"], second["picked_up"], second["holed"]) == ("rough", True, False)
    phone.to_hole(4)
    page.click("#trial-club")
    phone.hit("#holed")  # no turning to the next hole while a duel is offered,
    expect(page.locator(".duel")).to_have_count(1)
    phone.to_hole(2)
    page.click("#lie-green")
    phone.hit("#holed")  # nor to one that has been begun
    expect(page.locator("#next")).to_have_text("Hole 3")
    expect(page.locator(".done-words")).to_have_text("Eagle")
    assert phone.errors == []


def test_of_two_clubs_on_trial_that_of_the_hole_is_guessed(phone: Phone, live_server: Server) -> None:
    """From 195 yd one of the two 4 irons is the guess: it is the hole's, so that alternating takes no tap more."""
    round_id, irons = at_a_round(phone, live_server, "Ash Guess", "practice")
    for hole in (3, 4, 5, 6):
        phone.page.goto(f"{phone.address}/#/round/{round_id}/{hole}")
        phone.wait_for_hole(hole)
        drawn = club_of_hole(irons.values(), round_id, hole)
        phone.hit()
        phone.tap("#lie-fairway")
        phone.type_distance(195)
        expect(phone.page.locator(f"#club-{drawn}")).to_have_attribute("aria-pressed", "true")
    assert phone.errors == []


@pytest.mark.parametrize(("kind", "trial"), [("competition", True), ("casual", True), ("practice", False)])
def test_no_club_is_named_elsewhere(phone: Phone, live_server: Server, kind: str, trial: bool) -> None:
    round_id, _ = at_a_round(phone, live_server, f"Ash {kind} {trial}", kind, trial=trial)
    phone.page.goto(f"{phone.address}/#/round/{round_id}/3")
    phone.page.wait_for_selector("#hit")
    expect(phone.page.locator("#trial-line")).to_have_count(0)
