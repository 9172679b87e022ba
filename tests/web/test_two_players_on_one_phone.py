"""Two players on one phone: what a record names is looked up among the records of its own player alone."""

from __future__ import annotations

from playwright.sync_api import expect

from tests.web.phone import Phone
from tests.web.screens import go

NAMED = """async ([mine, theirs]) => {
  const { Store } = await import('/js/log/store.js');
  const store = new Store();
  await store.start();
  const put = (player, kind, body) => {
    const record_id = crypto.randomUUID();
    return store.write(player, null, () => ({edits: [{record_id, kind, body}], words: ''})).then(() => record_id);
  };
  const course = await put(theirs, 'course', {name: 'Gorsebury Links', tees: []});
  const holes = [{number: 1, par: 4, length_yd: 400}];
  const round = {played_on: '2026-05-01', kind: 'practice', course_id: course, holes, bag: [], closed: true};
  const round_id = await put(mine, 'round', round);
  const club_id = await put(theirs, 'club', {label: 'Gorsebury iron', sort: 'iron'});
  const shot = {round_id, hole: 1, ball: 1, order: 1, lie: 'tee', distance_yd: 400, club_id, holed: true};
  await put(theirs, 'shot', shot);
  return {course, club_id, round_id};
}"""

UNDO = """async ([mine, theirs]) => {
  const { Store } = await import('/js/log/store.js');
  const store = new Store('undo of two');
  await store.start();
  const put = (player, words) => store.write(player, null, () => (
    {edits: [{record_id: crypto.randomUUID(), kind: 'club', body: {label: words, sort: 'iron'}}], words}));
  await put(mine, 'mine');
  await put(theirs, 'theirs');
  return [(await store.undo(mine, null))?.words, (await store.undo(mine, null)) ?? null];
}"""


def test_a_round_shows_no_other_players_course_club_or_shot(phone: Phone) -> None:
    page = phone.open()
    theirs = phone.sign_up("Hollis Marl")
    go(phone, "players", "#create-player")
    mine = phone.sign_up("Wren Quillfeather")
    made = page.evaluate(NAMED, [mine, theirs])
    go(phone, f"round/{made['round_id']}/card", "#reopen")
    expect(page.locator("main")).not_to_contain_text("Gorsebury")
    expect(page.locator("main")).to_contain_text("No hole finished yet")
    for address in (f"courses/{made['course']}", f"bag/{made['club_id']}"):
        go(phone, address, "h1")
        expect(page.locator("h1")).to_have_text("This screen cannot be shown")
        expect(page.locator("main")).not_to_contain_text("Gorsebury")


def test_undo_takes_back_nothing_of_another_player(phone: Phone) -> None:
    page = phone.open()
    assert page.evaluate(UNDO, ["mine", "theirs"]) == ["mine", None]
