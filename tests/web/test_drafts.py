"""What is being entered outlives a reload, a killed tab and a look at another screen; it goes when it is saved, thrown
away, or its player leaves the phone."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests import tiers
from tests.web.account_people import a_coach, confirm, house, sign_in
from tests.web.audit import check_consistent
from tests.web.begun import begin_player, begin_round
from tests.web.phone import Phone, Server

LENGTHS = [301, 302, 165, *(304 + hole for hole in range(15))]
"""The third is a par 3: no pair of par and length is so unusual that saving asks."""
WAYS_AWAY = ["reload", "kill", "elsewhere"]
FORMS = ["course", "shot entered", "round set up", "round changed", "club", "shot changed", "map"]


def ways_of(form: str) -> list[str]:
    """The ways away from a form and back that are tried: all in the long tier, else one, for the next form the next."""
    return WAYS_AWAY if tiers.LONG else [WAYS_AWAY[FORMS.index(form) % len(WAYS_AWAY)]]


@pytest.fixture
def at_home(phone: Phone) -> Phone:
    begin_player(phone)
    return phone


@pytest.fixture
def playing(phone: Phone) -> Phone:
    begin_round(phone, shots=1)
    return phone


def drafts(phone: Phone) -> list[str]:
    """What the database holds, without the player's id."""
    return sorted(row["key"].split(" ", 1)[1] for row in phone.all_of("drafts"))


def kept(phone: Phone, holds: Callable[[list[Any]], bool]) -> None:
    """Until the database holds it: a thumb's next tap comes later than that."""
    until = time.monotonic() + 10
    while not holds([row["value"] for row in phone.all_of("drafts")]):
        assert time.monotonic() < until, phone.all_of("drafts")
        phone.page.wait_for_timeout(40)


def gone(phone: Phone) -> None:
    kept(phone, lambda values: values == [])


def there(phone: Phone, hash_: str, wait: str) -> Page:
    """A screen of the app, by its address."""
    phone.page.evaluate("(hash) => { location.hash = hash; }", hash_)
    phone.page.wait_for_selector(wait)
    return phone.page


def leave(phone: Phone, way: str, hash_: str, wait: str) -> Page:
    """Away from a form, and back to it."""
    if way == "reload":
        phone.page.reload()
    elif way == "kill":
        phone.kill()
        phone.open(hash_, "h1")
    else:
        there(phone, "#/courses", "#new-course")
        there(phone, hash_, wait)
    phone.page.wait_for_selector(wait)
    return phone.page


def throw_away(phone: Phone, button: str = "#throw-away") -> None:
    phone.page.click(button)
    phone.tap_words("Discard", "dialog")
    phone.page.wait_for_selector(button, state="detached")


@pytest.mark.parametrize("way", ways_of("course"))
def test_a_course_half_typed_is_there_again(at_home: Phone, way: str) -> None:
    page = there(at_home, "#/courses/new", "#course-name")
    page.fill("#course-name", "Heron Marsh (invented)")
    page.fill("#pars", "443")
    for hole, length in enumerate(LENGTHS, start=1):
        page.fill(f"#length-{hole}", str(length))
    kept(at_home, lambda values: bool(values) and values[0]["tees"][0]["holes"][17]["length_yd"] == LENGTHS[17])
    page = leave(at_home, way, "#/courses/new", "#course-name")
    assert page.input_value("#course-name") == "Heron Marsh (invented)"
    assert [page.input_value(f"#length-{hole}") for hole in range(1, 19)] == [str(length) for length in LENGTHS]
    assert page.get_attribute("#par-3-3", "aria-pressed") == "true"
    page.click("#save-course")
    page.wait_for_selector("h1 >> text=Courses")
    assert drafts(at_home) == []
    (course,) = at_home.live("course")[-1:]
    assert [hole["length_yd"] for hole in course["body"]["tees"][0]["holes"]] == LENGTHS
    page = there(at_home, "#/courses/new", "#course-name")
    assert page.input_value("#course-name") == ""
    assert page.locator("#throw-away").count() == 0


def test_the_last_keystroke_before_a_reload_is_kept(at_home: Phone) -> None:
    page = there(at_home, "#/courses/new", "#course-name")
    page.locator("#course-name").press_sequentially("Otter Pool")
    page.reload()
    page.wait_for_selector("#course-name")
    assert page.input_value("#course-name") == "Otter Pool"


def test_back_keeps_what_was_typed_and_throwing_it_away_asks(at_home: Phone) -> None:
    page = there(at_home, "#/courses/new", "#course-name")
    page.fill("#course-name", "Otter Pool (invented)")
    at_home.tap_words("Back")
    page.wait_for_selector("#new-course")
    page.click("#new-course")
    assert page.input_value("#course-name") == "Otter Pool (invented)"
    page.click("#throw-away")
    at_home.tap_words("Keep it", "dialog")
    assert page.input_value("#course-name") == "Otter Pool (invented)"
    throw_away(at_home)
    assert page.input_value("#course-name") == ""
    assert drafts(at_home) == []


def test_what_is_typed_stays_when_the_shot_before_comes_back_from_the_server(phone: Phone) -> None:
    """The server hands a shot back in its own order of fields: it is the same shot."""
    begin_round(phone)
    phone.wait_sent()
    phone.go_offline()
    phone.hit()
    phone.type_distance(137)
    phone.context.set_offline(False)
    phone.page.evaluate("dispatchEvent(new Event('online'))")
    phone.wait_sent()
    for _ in range(2):
        expect(phone.page.locator("#distance .number")).to_have_text("137")
        phone.page.reload()
        phone.page.wait_for_selector("#hit")


@pytest.mark.parametrize("way", [*ways_of("shot entered"), "card"])
def test_the_shot_being_entered_is_there_again(playing: Phone, way: str) -> None:
    page = playing.page
    page.click("#lie-rough")
    playing.type_distance(137)
    page.locator('.entry .clubs [aria-pressed="false"]').first.click()
    club = page.locator('.entry .clubs [aria-pressed="true"]').inner_text()
    kept(playing, lambda values: bool(values) and values[0]["draft"]["typed"] == "137")
    hash_ = page.evaluate("location.hash")
    if way == "card":
        page.click("text=Card")
        page.click("#go-on")
    else:
        leave(playing, way, hash_, "#hit")
    page = playing.page
    expect(page.locator("#distance .number")).to_have_text("137")
    assert page.get_attribute("#lie-rough", "aria-pressed") == "true"
    assert page.locator('.entry .clubs [aria-pressed="true"]').inner_text() == club
    playing.hit()
    gone(playing)
    bodies = sorted((shot["body"] for shot in playing.live("shot")), key=lambda body: body["order"])
    assert (bodies[1]["lie"], bodies[1]["distance_yd"]) == ("rough", 137)


def test_a_guess_that_nobody_touched_is_no_draft(playing: Phone) -> None:
    playing.page.click("text=Card")
    playing.page.wait_for_selector(".card")
    assert drafts(playing) == []


def test_an_extra_ball_is_still_the_one_being_entered(playing: Phone) -> None:
    page = playing.page
    playing.settled()
    page.click("#more-actions")
    page.click("#extra-same")
    page.wait_for_selector("#ball-2[aria-pressed=true]")
    kept(playing, lambda values: bool(values) and values[0]["ball"] == 2)
    page.reload()
    page.wait_for_selector("#ball-2[aria-pressed=true]")


@pytest.mark.parametrize("way", ways_of("round set up"))
def test_a_round_being_set_up_is_there_again(at_home: Phone, way: str) -> None:
    page = there(at_home, "#/new", "#start-round")
    page.click("#kind-competition")
    page.click("text=Conditions, lengths")
    page.locator("#wind_mph").press_sequentially("12")
    page.locator("#round-note").press_sequentially("frost until ten")
    kept(at_home, lambda values: bool(values) and values[0]["note"] == "frost until ten")
    page = leave(at_home, way, "#/new", "#start-round")
    assert page.get_attribute("#kind-competition", "aria-pressed") == "true"
    assert (page.input_value("#wind_mph"), page.input_value("#round-note")) == ("12", "frost until ten")
    page.click("#start-round")
    page.wait_for_selector("#hit")
    assert [key for key in drafts(at_home) if key.startswith("new")] == []
    (round_,) = at_home.live("round")
    assert (round_["body"]["kind"], round_["body"]["wind_mph"], round_["body"]["note"]) == (
        "competition",
        12,
        "frost until ten",
    )
    assert "entered_on" not in round_["body"]


@pytest.mark.parametrize("way", ways_of("round changed"))
def test_a_round_being_changed_is_there_again(playing: Phone, way: str) -> None:
    round_id = playing.page.evaluate("location.hash.split('/')[2]")
    page = there(playing, f"#/round/{round_id}/setup", "#save-round")
    page.click("text=Conditions, lengths")
    page.locator("#temperature_c").press_sequentially("-3")
    kept(playing, lambda values: any(value.get("temperature_c") == -3 for value in values))
    page = leave(playing, way, f"#/round/{round_id}/setup", "#save-round")
    assert page.input_value("#temperature_c") == "-3"
    page.click("#save-round")
    page.wait_for_selector(".card")
    assert drafts(playing) == []
    assert playing.live("round")[0]["body"]["temperature_c"] == -3


@pytest.mark.parametrize("way", ways_of("club"))
def test_a_club_and_its_setup_are_there_again(at_home: Phone, way: str) -> None:
    page = there(at_home, "#/bag/new", "#club-label")
    page.fill("#club-label", "Driving iron")
    page.fill("#club-loft", "18")
    kept(at_home, lambda values: bool(values) and values[0]["loft_deg"] == 18)
    page = leave(at_home, way, "#/bag/new", "#club-label")
    assert (page.input_value("#club-label"), page.input_value("#club-loft")) == ("Driving iron", "18")
    page.click("#save-club")
    page.wait_for_selector("#setup-note")
    assert drafts(at_home) == []
    hash_ = page.evaluate("location.hash")
    page.fill("#setup-note", "one degree weaker")
    kept(at_home, lambda values: bool(values) and values[0]["note"] == "one degree weaker")
    page = leave(at_home, way, hash_, "#setup-note")
    assert page.input_value("#setup-note") == "one degree weaker"
    throw_away(at_home, "#throw-setup-away")
    assert page.input_value("#setup-note") == ""
    page.fill("#setup-note", "two degrees weaker")
    page.click("#add-setup")
    expect(page.locator("#said")).to_have_text("Setup saved")
    assert drafts(at_home) == []
    assert [setup["body"]["note"] for setup in at_home.live("setup")] == ["two degrees weaker"]


@pytest.mark.parametrize("way", ways_of("shot changed"))
def test_a_shot_being_changed_is_there_again(playing: Phone, way: str) -> None:
    page = playing.page
    page.locator(".shot").first.click()
    page.click("#strike-toe")
    page.locator("dialog textarea").press_sequentially("into the wind")
    kept(playing, lambda values: any(value.get("note") == "into the wind" for value in values))
    hash_ = page.evaluate("location.hash")
    page = leave(playing, way, hash_, ".shot")
    page.locator(".shot").first.click()
    expect(page.locator("dialog")).to_contain_text("Changed before and not saved yet")
    assert page.locator("dialog textarea").input_value() == "into the wind"
    page.click("#save-shot")
    page.wait_for_selector("dialog", state="detached")
    expect(page.locator("#said")).to_contain_text("Shot 1 changed")
    assert drafts(playing) == []
    body = playing.live("shot")[0]["body"]
    assert (body["strike"], body["note"]) == ("toe", "into the wind")


def test_a_draft_of_a_shot_goes_with_the_shot(playing: Phone) -> None:
    page = playing.page
    page.locator(".shot").first.click()
    page.locator("dialog textarea").press_sequentially("thin")
    kept(playing, lambda values: any(value.get("note") == "thin" for value in values))
    page.click("#delete-shot")
    playing.tap_words("Delete", "dialog")
    expect(page.locator(".shot")).to_have_count(0)
    gone(playing)


@pytest.mark.parametrize("way", ways_of("map"))
def test_a_map_being_entered_is_there_again(at_home: Phone, way: str) -> None:
    page = there(at_home, "#/courses/new", "#course-name")
    page.fill("#course-name", "Heron Marsh (invented)")
    for hole in range(1, 19):
        page.fill(f"#length-{hole}", "380")
    page.click("#save-course")
    page.wait_for_selector("h1 >> text=Courses")
    course = at_home.live("course")[-1]["record_id"]
    hash_ = f"#/courses/{course}/map/1"
    page = there(at_home, hash_, "#map-depth")
    page.fill("#map-depth", "31")
    page.click("#add-left")
    page.fill("#map-begins-1", "22")
    kept(
        at_home,
        lambda values: (
            bool(values) and bool(values[0]["entry"]["trouble"]) and values[0]["entry"]["trouble"][0]["begins_yd"] == 22
        ),
    )
    page = leave(at_home, way, hash_, "#map-depth")
    assert (page.input_value("#map-depth"), page.input_value("#map-begins-1")) == ("31", "22")
    throw_away(at_home)
    assert page.input_value("#map-depth") == ""
    assert drafts(at_home) == []


def test_a_record_that_changed_meanwhile_is_not_overwritten_unasked(playing: Phone) -> None:
    """What was begun on one version and saved after another came is a version of its own."""
    page = playing.page
    page.locator(".shot").first.click()
    page.locator("dialog textarea").press_sequentially("here")
    kept(playing, lambda values: any(value.get("note") == "here" for value in values))
    hash_ = page.evaluate("location.hash")
    playing.kill()
    page = playing.open(hash_, ".shot")
    page.evaluate(
        """async () => {
          const { Store } = await import('/js/log/store.js');
          const store = new Store();
          await store.start();
          const playerId = await store.setting('player_id');
          const round = location.hash.split('/')[2];
          await store.write(playerId, round, ([shot]) => ({
            edits: [{ record_id: shot.record_id, kind: 'shot', body: { ...shot.body, strike: 'heel' } }],
            words: 'elsewhere',
          }));
        }"""
    )
    page.reload()
    page.locator(".shot").first.click()
    page.click("#save-shot")
    expect(page.locator(".notice").first).to_contain_text("Two devices changed the same entry")
    (shot,) = [record for record in playing.all_of("records") if record["kind"] == "shot"]
    assert (shot["conflict"], len(shot["leaves"])) == (1, 2)
    leaves = [change["body"] for change in playing.all_of("changes") if change["change_id"] in shot["leaves"]]
    assert sorted(body.get("note") or "" for body in leaves) == ["", "here"]
    assert drafts(playing) == []


def test_erasing_the_player_erases_the_drafts(playing: Phone) -> None:
    page = there(playing, "#/courses/new", "#course-name")
    page.fill("#course-name", "Heron Marsh (invented)")
    kept(playing, lambda values: any(value.get("name") == "Heron Marsh (invented)" for value in values))
    page.evaluate(
        """async () => {
          const { Store } = await import('/js/log/store.js');
          const { erasePlayer } = await import('/js/log/erasing.js');
          const store = new Store();
          await store.start();
          await erasePlayer(store, await store.setting('player_id'));
        }"""
    )
    assert drafts(playing) == []
    page.fill("#course-name", "Heron Marsh again")
    page.wait_for_timeout(500)  # long enough for a write that must not come
    assert drafts(playing) == []


def test_a_full_phone_still_lets_a_form_be_filled_in(at_home: Phone) -> None:
    """What cannot be kept is still on the screen, and can be saved once there is room."""
    page = there(at_home, "#/courses/new", "#course-name")
    page.evaluate(
        """() => {
          const put = IDBObjectStore.prototype.put;
          IDBObjectStore.prototype.put = function (...row) {
            if (this.name === 'drafts') throw new DOMException('full', 'QuotaExceededError');
            return put.apply(this, row);
          };
        }"""
    )
    page.fill("#course-name", "Otter Pool (invented)")
    for hole in range(1, 19):
        page.fill(f"#length-{hole}", "380")
    page.click("#save-course")
    page.wait_for_selector("h1 >> text=Courses")
    assert at_home.live("course")[-1]["body"]["name"] == "Otter Pool (invented)"
    check_consistent(at_home)
    assert at_home.errors == []


def test_signing_out_erases_the_drafts(make_phone: Any, own_server: Server) -> None:
    """Whoever takes the phone next finds nothing of what was begun."""
    phone, _ = house(make_phone, own_server)
    page = there(phone, "#/courses/new", "#course-name")
    page.fill("#course-name", "Heron Marsh (invented)")
    kept(phone, lambda values: bool(values) and values[0]["name"] == "Heron Marsh (invented)")
    there(phone, "#/account", "#sign-out")
    page.click("#sign-out")
    confirm(phone, "Sign out")
    expect(page.locator("#who")).to_have_text("Nobody is signed in on this device.")
    assert drafts(phone) == []
    sign_in(phone, "robin")
    phone.wait_sent()
    page = there(phone, "#/courses/new", "#course-name")
    assert page.input_value("#course-name") == ""


def test_a_note_half_written_is_there_again(make_phone: Any, own_server: Server) -> None:
    player, _ = house(make_phone, own_server)
    player_id = player.player_id()
    there(player, "#/sharing", "#invite")
    player.page.click("#by-name")
    player.page.fill("#share-reader", "cara")
    player.page.click("#share-with-reader")
    player.page.wait_for_selector("#readers")
    coach = a_coach(make_phone, own_server)
    page = there(coach, f"#/notes/{player_id}", "#note-words")
    subject = page.locator("#note-about option").last.get_attribute("value")
    assert subject is not None
    page.select_option("#note-about", subject)
    page.locator("#note-words").press_sequentially("Look at the tempo")
    kept(coach, lambda values: bool(values) and values[0]["words"] == "Look at the tempo")
    page.reload()
    page.wait_for_selector("#note-words")
    assert (page.input_value("#note-words"), page.input_value("#note-about")) == ("Look at the tempo", subject)
    page.click("#leave-note")
    expect(page.locator("#said")).to_have_text("Note saved")
    expect(page.locator("#note-words")).to_have_value("")
    assert drafts(coach) == []


def test_keystrokes_of_which_none_was_written_are_kept(at_home: Phone) -> None:
    """The page goes before the database has answered once."""
    page = there(at_home, "#/courses/new", "#course-name")
    page.evaluate(
        """() => {
          const name = document.getElementById('course-name');
          name.value = 'Otter Pool';
          name.dispatchEvent(new Event('input', {bubbles: true}));
          location.reload();
        }"""
    )
    page.wait_for_selector("#course-name")
    expect(page.locator("#course-name")).to_have_value("Otter Pool")
    assert page.evaluate("Object.keys(localStorage)") == []
