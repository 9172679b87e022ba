"""Undo, and edits of any earlier shot: changed, put in, deleted, moved; an end and the next start stay one."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.web.audit import check_consistent
from tests.web.begun import begin_player
from tests.web.phone import Phone


@pytest.fixture
def playing(on_the_tee: Phone) -> Phone:
    """A phone with three shots on hole 1 of a new round: tee 400, fairway 150, green 20 ft."""
    phone = on_the_tee
    phone.hit()
    phone.type_distance(150)
    phone.hit()
    phone.type_distance(20)
    phone.hit()
    return phone


def shots(phone: Phone, hole: int = 1) -> list[tuple[int, str, float]]:
    """The live shots of a hole as (order, lie, yards), in order."""
    return sorted((body["order"], body["lie"], round(body["distance_yd"], 3)) for body in phone.shots_here(hole))


def sheet_of(phone: Phone, place: int) -> None:
    phone.page.locator(".shot").nth(place).click()
    phone.page.wait_for_selector("dialog")


def closed(phone: Phone) -> None:
    phone.page.wait_for_selector("dialog", state="detached")
    phone.page.wait_for_timeout(80)


PLAYED = [(1, "tee", 400), (2, "fairway", 150), (3, "green", 6.667)]


def test_undo_takes_back_one_step_after_another(playing: Phone) -> None:
    phone = playing
    assert shots(phone) == PLAYED
    for left in (2, 1, 0):
        phone.page.click("#undo")
        expect(phone.page.locator(".shot")).to_have_count(left)
    assert shots(phone) == []
    check_consistent(phone)
    phone.hit()
    assert shots(phone) == [(1, "tee", 400)]


def test_undo_survives_a_kill(playing: Phone) -> None:
    phone = playing
    address = phone.page.url.split("/", 3)[3]
    phone.kill()
    phone.open(address, ".shot")
    phone.page.click("#undo")
    expect(phone.page.locator(".shot")).to_have_count(2)
    assert shots(phone) == PLAYED[:2]


def test_undo_brings_back_what_an_edit_and_a_deletion_took(playing: Phone) -> None:
    phone = playing
    sheet_of(phone, 1)
    phone.page.fill("#edit-distance", "166")
    phone.page.click("#save-shot")
    closed(phone)
    assert shots(phone)[1] == (2, "fairway", 166)
    sheet_of(phone, 0)
    phone.page.click("#delete-shot")
    phone.tap_words("Delete", "dialog")
    expect(phone.page.locator(".shot")).to_have_count(2)
    assert shots(phone) == [(1, "tee", 166), (2, "green", 6.667)]
    phone.page.click("#undo")
    expect(phone.page.locator(".shot")).to_have_count(3)
    assert shots(phone) == [(1, "tee", 400), (2, "fairway", 166), (3, "green", 6.667)]
    phone.page.click("#undo")
    expect(phone.page.locator(".shot").nth(1)).to_contain_text("150 yd")
    assert shots(phone) == PLAYED


def test_undo_of_a_penalty_and_of_picking_up(playing: Phone) -> None:
    phone = playing
    phone.page.click("#more-actions")
    phone.page.click("#penalty-penalty_area")
    phone.page.click("#way-lateral")
    expect(phone.page.locator(".shot").nth(2)).to_contain_text("penalty area +1")
    phone.page.click("#undo")
    expect(phone.page.locator(".shot").nth(2)).not_to_contain_text("penalty")
    phone.page.click("#more-actions")
    phone.page.click("#pick-up")
    expect(phone.page.locator("#turned")).to_have_text("Hole 1: picked up, no score. Saved.")
    phone.page.click("#hole-1")
    expect(phone.page.locator(".done-words")).to_have_text("Picked up: no score")
    phone.page.click("#undo")
    expect(phone.page.locator("#hit")).to_be_visible()
    assert shots(phone) == PLAYED


def test_a_shot_put_in_moves_the_later_ones_down(playing: Phone) -> None:
    phone = playing
    sheet_of(phone, 2)
    phone.page.click("#insert-shot")
    expect(phone.page.locator(".shot")).to_have_count(4)
    sheet_of(phone, 2)
    phone.page.click("#edit-lie-sand")
    phone.page.fill("#edit-distance", "18")
    phone.page.click("#save-shot")
    closed(phone)
    assert shots(phone) == [(1, "tee", 400), (2, "fairway", 150), (3, "sand", 18), (4, "green", 6.667)]


def test_a_shot_moved_to_another_hole_begins_there_on_the_tee(playing: Phone) -> None:
    phone = playing
    sheet_of(phone, 2)
    phone.page.locator("dialog select").last.select_option("4")
    expect(phone.page.locator(".shot")).to_have_count(2)
    assert shots(phone) == PLAYED[:2]
    assert shots(phone, 4) == [(1, "tee", 6.667)]
    phone.page.click("#undo")
    phone.page.click("#hole-1")
    expect(phone.page.locator(".shot")).to_have_count(3)
    assert shots(phone) == PLAYED
    assert shots(phone, 4) == []


def test_the_end_of_a_shot_is_the_start_of_the_next(playing: Phone) -> None:
    phone = playing
    before = phone.page.locator(".shot-value").first.inner_text()
    sheet_of(phone, 0)
    expect(phone.page.locator("dialog")).to_contain_text("where the next shot starts: fairway 150 yd")
    phone.page.keyboard.press("Escape")
    closed(phone)
    sheet_of(phone, 1)
    phone.page.click("#edit-lie-recovery")
    phone.page.click("#save-shot")
    closed(phone)
    expect(phone.page.locator(".shot-value").first).not_to_have_text(before)
    assert not any(body.get("end_lie") for body in phone.shots_here())


def test_impossible_values_are_named_and_not_written(playing: Phone) -> None:
    phone = playing
    before = check_consistent(phone)
    sheet_of(phone, 1)
    phone.page.fill("#edit-distance", "900")
    phone.page.click("#save-shot")
    expect(phone.page.locator("#alert")).to_contain_text("above 0 and up to 700 yd")
    phone.page.keyboard.press("Escape")
    phone.tap_words("Discard")
    closed(phone)
    phone.page.evaluate("""async () => {
      const { editShot, NotAllowed } = await import('/js/game/hole-edits.js');
      const body = { hole: 1, ball: 1, lie: 'tee', distance_yd: 9 };
      const shot = (order) => ({ record_id: String(order), body: { ...body, order } });
      try {
        editShot([shot(1), shot(2)], '1', { holed: true });
      } catch (error) {
        if (error instanceof NotAllowed) return;
        throw error;
      }
      throw new Error('a shot in the middle was holed');
    }""")
    assert check_consistent(phone)["changes"] == before["changes"]


def test_details_of_a_shot_are_kept(playing: Phone) -> None:
    phone = playing
    sheet_of(phone, 1)
    for choice in ("planned-draw", "height-low", "actual-fade", "swing-part", "strike-toe"):
        phone.page.click(f"#{choice}")
    phone.page.fill("#edit-target", "145")
    phone.page.click("#right-more")
    phone.page.click("#long-less")
    phone.page.fill("dialog textarea", "into the wind")
    phone.page.fill("#edit-carry", "165")
    phone.page.click("#save-shot")
    expect(phone.page.locator("#alert")).to_contain_text("The carry is above 0 and up to 159 yd")
    phone.page.fill("#edit-carry", "140.5")
    phone.page.click("#save-shot")
    closed(phone)
    body = phone.shots_here()[1]
    kept = {"planned_shape": "draw", "planned_height": "low", "actual_shape": "fade", "swing": "part", "strike": "toe"}
    kept |= {"target_yd": 145, "carry_yd": 140.5}
    assert {name: body[name] for name in kept} == kept
    assert (body["right_yd"], body["long_yd"], body["note"]) == (1, -1, "into the wind")
    expect(phone.page.locator(".shot-told")).to_have_text("planned low draw, strike toe")
    sheet_of(phone, 1)
    for cleared in ("height-low", "planned-draw", "strike-toe"):
        phone.page.click(f"#{cleared}")
    phone.page.click("#save-shot")
    closed(phone)
    expect(phone.page.locator(".shot-told")).to_have_count(0)


def test_the_ball_is_named_with_the_round_and_the_next_round_has_it_already(phone: Phone) -> None:
    begin_player(phone)
    phone.page.click("#new-round")
    phone.page.fill("#ball-label", "  yellow Marigold ")
    phone.page.click("#start-round")
    phone.page.wait_for_selector("#hit")
    first = str(phone.page.evaluate("location.hash.split('/')[2]"))
    phone.page.goto(f"{phone.address}/#/")
    phone.page.click("#new-round")
    expect(phone.page.locator("#ball-label")).to_have_value("yellow Marigold")
    phone.page.fill("#ball-label", "")
    phone.page.click("#start-round")
    phone.page.wait_for_selector("#hit")
    labels = {round_["record_id"]: round_["body"]["ball_label"] for round_ in phone.live("round")}
    assert labels.pop(first) == "yellow Marigold"
    assert list(labels.values()) == [None]
    phone.page.goto(f"{phone.address}/#/round/{first}/card")
    expect(phone.page.locator(".card-line")).to_contain_text("ball: yellow Marigold")


def test_how_lengths_are_taken_goes_with_the_next_round_until_it_is_cleared(phone: Phone) -> None:
    begin_player(phone)
    for chosen in ("guessed", None):
        phone.page.goto(f"{phone.address}/#/")
        phone.page.click("#new-round")
        summary = phone.page.locator("summary", has_text="Conditions, lengths")
        expect(summary).to_have_text(
            "Conditions, lengths and note" if chosen else "Conditions, lengths (guessed) and note"
        )
        summary.click()
        phone.page.click("#lengths-taken-guessed")
        expect(phone.page.locator("#lengths-taken-guessed")).to_be_visible()
        phone.page.click("#start-round")
        phone.page.wait_for_selector("#hit")
    assert sorted(str(round_["body"]["lengths_taken"]) for round_ in phone.live("round")) == ["None", "guessed"]


def test_metres_are_entered_and_kept_exactly(phone: Phone) -> None:
    phone.open()
    phone.sign_up(units="metres")
    phone.start_round()
    phone.hit()
    phone.type_distance(137)
    expect(phone.page.locator("#distance")).to_contain_text("m")
    phone.hit()
    expect(phone.page.locator(".shot").nth(1)).to_contain_text("137 m")
    body = next(shot["body"] for shot in phone.live("shot") if shot["body"]["order"] == 2)
    assert body["distance_yd"] == 137 / 0.9144
    sheet_of(phone, 0)
    phone.page.fill("#edit-carry", "210")
    phone.page.click("#save-shot")
    closed(phone)
    body = next(shot["body"] for shot in phone.live("shot") if shot["body"]["order"] == 1)
    assert body["carry_yd"] == 210 / 0.9144


def test_leaving_a_shot_with_unsaved_edits_asks(playing: Phone) -> None:
    for leave in ("Escape", "Close", "beside"):
        leaving_asks(playing, leave)


def leaving_asks(phone: Phone, leave: str) -> None:
    """A sheet that is left this way."""
    page = phone.page
    before = check_consistent(phone)

    def go() -> None:
        if leave == "Escape":
            page.keyboard.press("Escape")
        elif leave == "Close":
            phone.tap_words("Close", "dialog")
        else:
            page.locator("dialog").first.dispatch_event("click")

    sheet_of(phone, 1)
    page.locator("#edit-distance").press_sequentially("7")
    go()
    phone.tap_words("Keep editing")
    expect(page.locator("dialog")).to_have_count(1)
    expect(page.locator("#edit-distance")).to_have_value("1507")
    go()
    phone.tap_words("Discard")
    expect(page.locator("dialog")).to_have_count(0)
    assert check_consistent(phone)["changes"] == before["changes"]
    sheet_of(phone, 1)
    go()
    expect(page.locator("dialog")).to_have_count(0)


def test_the_clubs_of_a_shot_stand_in_the_order_of_the_bag(playing: Phone) -> None:
    sheet_of(playing, 1)
    labels = playing.page.locator("dialog select").first.locator("option").all_inner_texts()
    assert labels[0] == "Driver"
    assert labels[-1] == "Putter"
    assert labels.index("4-iron") < labels.index("7-iron") < labels.index("PW")
