"""A caddie enters a round on a phone of their own: both phones end with one card, and one round is all it has."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.web.account_people import account, confirm, sign_in
from tests.web.begun import begin_round
from tests.web.measures import faults_of
from tests.web.phone import Phone, Server
from tests.web.screens import go

FOREIGN = """async ([player, round_id, club_id]) => {
  const { Store } = await import('/js/log/store.js');
  const store = new Store();
  await store.start();
  const body = {round_id, hole: 1, ball: 1, order: 1, lie: 'tee', distance_yd: 300, club_id, holed: false};
  await store.write(player, null, () => ({edits: [{record_id: crypto.randomUUID(), kind: 'shot', body}], words: ''}));
}"""
"""Writes a shot of another round into the phone's own log, as no screen does."""


KEPT = """async ([records, chosen]) => {
  const { keepOnes } = await import('/js/game/hole-edits.js');
  const all = records.map(([record_id, order, holed, words]) =>
    ({record_id, body: {hole: 1, ball: 1, order, holed, note: words}}));
  const bodies = new Map(all.map(({record_id, body}) => [record_id, body]));
  for (const {record_id, body} of keepOnes(all, 1, 1, chosen))
    if (body === null) bodies.delete(record_id); else bodies.set(record_id, body);
  return [...bodies].map(([record_id, {order, holed, note}]) => [record_id, order, holed, note]).sort();
}"""
"""The shots of a ball, [id, order, holed, words] each, after those chosen were kept."""

TWICE = [
    ["a", 1, False, "both had it"],
    ["b", 2, False, "Robin's"],
    ["d", 2, False, "Casey's"],
    ["c", 3, False, "Casey's"],
    ["e", 3, True, "Robin's"],
    ["f", 4, True, "Casey's"],
]


NEEDS = """async ([known, answers]) => {
  const { Store } = await import('/js/log/store.js');
  const { CADDYING, caddyingOf, fetchNeeds } = await import('/js/log/caddying.js');
  const store = new Store();
  await store.start();
  await store.run(['settings'], 'readwrite', async (open) =>
    open.objectStore('settings').put({ name: CADDYING + 'p', value: { caddie_id: 'c', player_id: 'p', mark: known } }));
  const asked = [];
  for (const [mark, hole_maps] of answers) {
    const player = { name: 'Robin', plays: 'right', units: 'yards' };
    const course = { course_id: 'k', name: 'Ash', tees: [] };
    const needs = { mark, player, clubs: [], course, hole_maps, maps_left_out: [] };
    const headers = { 'content-type': 'application/json' };
    const fetcher = async () => new Response(JSON.stringify(needs), { headers });
    const fetched = await fetchNeeds(store, await caddyingOf(store, 'p'), mark, fetcher);
    asked.push([fetched, (await store.records('p', 'hole_map')).map((one) => one.body)]);
  }
  return asked;
}"""
"""Whether each answer of the server was fetched, and the maps that are kept after it."""


class Two:
    """Robin, who plays and has an account, and Casey, who enters for Robin and has none."""

    def __init__(self, make_phone: Any, server: Server, kind: str) -> None:
        self.server, self.robin, self.casey = server, make_phone(server), make_phone(server)
        self.round_id = begin_round(self.robin, kind)
        self.player_id = self.robin.player_id()
        self.hits(self.robin)
        self.robin.wait_sent()
        account(server, "robin", "player", self.player_id)
        sign_in(self.robin, "robin")
        self.robin.page.wait_for_selector("#new-round")

    def invites(self) -> str:
        """Robin makes an invitation on the card; its link."""
        go(self.robin, f"round/{self.round_id}/card", "#invite-caddie")
        self.robin.page.click("#invite-caddie")
        link = self.robin.page.locator("#caddie-link").input_value()
        self.robin.page.keyboard.press("Escape")
        self.robin.page.wait_for_selector("dialog", state="detached")
        return link

    def comes(self, link: str) -> None:
        """Casey opens the link and gives a name."""
        if not self.casey.pages:
            self.casey.open(f"#{link.split('#')[1]}", "#caddie-name")
        go(self.casey, link.split("#/")[1], "#caddie-name")
        self.casey.page.fill("#caddie-name", "Casey")
        self.casey.page.click("#take-up")
        self.casey.page.wait_for_selector("#stop-entering")

    def plays(self, phone: Phone) -> None:
        go(phone, f"round/{self.round_id}/1", ".hole-head")

    def hits(self, phone: Phone, button: str = "#hit") -> None:
        """A shot with the first club of the bag: in a competition the app guesses none."""
        phone.page.locator(".clubs .choice").first.click()
        if button == "#holed":
            phone.hole_out()
        else:
            phone.hit()

    def exchanges(self, phone: Phone) -> None:
        """The phone asks the server now, as it does when it comes to the front."""
        go(phone, "saving", "#send-now")
        phone.page.click("#send-now")
        phone.wait_sent()

    def shots(self, phone: Phone) -> list[tuple[str, int, bool]]:
        """The live shots of the round as a phone has them."""
        live = [record for record in phone.live("shot") if record["body"]["round_id"] == self.round_id]
        found = [(one["record_id"], one["body"]["order"], one["body"]["holed"]) for one in live]
        return sorted(found, key=lambda shot: (shot[1], shot[0]))


@pytest.fixture
def two(make_phone: Any, own_server: Server) -> Two:
    return Two(make_phone, own_server, "competition")


def test_a_caddies_maps_keep_their_place_on_the_earth(module_page: Page) -> None:
    frame = {"lon": -1.5, "lat": 52.0, "turned_deg": 40}
    old = {"record_id": "m", "hole": 1, "features": []}
    kept = {"course_id": "k", "hole": 1, "features": []}
    answers = [("7", [old]), ("7", [old]), ("framed 7", [old | {"frame": frame, "news": 1}]), ("framed 7", [])]
    found = module_page.evaluate(NEEDS, ["7", answers])
    assert found == [
        [True, [kept | {"frame": None}]],  # what an app from before fetched under this mark had no place
        [False, [kept | {"frame": None}]],
        [True, [kept | {"frame": frame}]],
        [False, [kept | {"frame": frame}]],
    ]


def test_two_phones_enter_one_round_and_end_with_one_card(two: Two) -> None:
    robin, casey = two.robin, two.casey
    two.comes(two.invites())
    assert faults_of(casey.page, "caddie start", "phone") == []
    expect(casey.page.locator("h1")).to_have_text("You enter for Robin Vale")
    expect(casey.page.locator("#advice")).to_contain_text("Local rules and the Committee decide")
    casey.page.click("#go-on")
    casey.page.wait_for_selector("#hit")
    expect(casey.page.locator("#entering")).to_have_text("You enter for Robin Vale.")
    assert casey.shots_shown() == 1
    two.hits(casey)
    casey.wait_sent()
    two.exchanges(robin)
    go(robin, f"round/{two.round_id}/card", "#caddies li")
    expect(robin.page.locator("#caddies")).to_contain_text("Casey enters this round too")
    two.plays(robin)
    expect(robin.page.locator("#entering")).to_have_text("Casey enters this round too.")
    assert robin.shots_shown() == 2

    for phone in (robin, casey):
        two.plays(phone)
        phone.go_offline()
        two.hits(phone)
    two.hits(casey, "#holed")
    for phone in (robin, casey):
        phone.context.set_offline(False)
        two.exchanges(phone)
    two.exchanges(robin)
    assert two.shots(robin) == two.shots(casey)
    assert [order for _, order, _ in two.shots(robin)] == [1, 2, 3, 3, 4]

    go(casey, f"round/{two.round_id}/card", "#entered-twice")
    assert faults_of(casey.page, "caddie card", "phone") == []
    expect(casey.page.locator("main")).to_contain_text("No hole finished yet")
    assert casey.page.locator("#close-round, #delete-round, #invite-caddie").count() == 0
    two.plays(robin)
    expect(robin.page.locator("#entered-twice")).to_contain_text("The same shots: keep those of Casey (1 shot)")
    robin.page.click("#keep-1")
    expect(robin.page.locator("#entered-twice")).to_have_count(0)
    two.exchanges(robin)
    two.exchanges(casey)
    assert two.shots(robin) == two.shots(casey)
    assert [(order, holed) for _, order, holed in two.shots(casey)] == [(1, False), (2, False), (3, False), (4, True)]
    go(casey, f"round/{two.round_id}/card", "#to-caddying")
    expect(casey.page.locator(".big-score")).to_contain_text("4")
    go(casey, f"evidence/{two.player_id}", "#stop-entering")
    assert robin.errors == casey.errors == []


def test_what_is_ended_is_kept_and_let_in_again_and_another_round_never(two: Two) -> None:
    robin, casey = two.robin, two.casey
    two.comes(two.invites())
    two.plays(casey)
    casey.go_offline()
    two.hits(casey)
    two.hits(casey, "#holed")
    two.exchanges(robin)
    go(robin, f"round/{two.round_id}/card", "#caddies li")
    robin.page.get_by_role("button", name="End access for Casey").click()
    confirm(robin, "End it")
    expect(robin.page.locator("#caddies li")).to_have_count(0)
    casey.context.set_offline(False)
    go(casey, "saving", "#send-now")
    casey.page.click("#send-now")
    expect(casey.page.locator("#saving")).to_have_text("saved here, 2 not accepted")
    go(casey, "", "#entering-ended")
    expect(casey.page.locator("#entering-ended")).to_contain_text(
        "Entering for Robin Vale has ended: the invitation was withdrawn."
    )
    expect(casey.page.locator("#not-let-in")).to_contain_text("2 changes are on this phone only")
    assert faults_of(casey.page, "caddie ended", "phone") == []

    two.comes(two.invites())
    casey.wait_sent()
    two.exchanges(robin)
    assert two.shots(robin) == two.shots(casey)
    assert len(two.shots(robin)) == 3

    other = "7d4b6a55-7a7d-4a39-9a52-0f9d1d5b3c11"
    club = casey.live("club")[0]["record_id"]
    casey.page.evaluate(FOREIGN, [two.player_id, other, club])
    go(casey, "saving", "#send-now")
    casey.page.click("#send-now")
    expect(casey.page.locator("main")).to_contain_text("is another round (the shots of this round")
    two.exchanges(robin)
    assert [one for one in robin.live("shot") if one["body"]["round_id"] == other] == []

    erase = {"name": "Robin Vale", "meant": "erase everything"}
    robin.page.evaluate(
        """([path, body]) => fetch(path, {method: 'POST', headers: {'content-type': 'application/json'},
            body: JSON.stringify(body)}).then(({ok, status}) => { if (!ok) throw new Error(status); })""",
        [f"/api/players/{two.player_id}/erasure", erase],
    )
    casey.page.click("#send-now")
    casey.page.wait_for_selector("#new-name")
    expect(casey.page.locator("#alert")).to_contain_text("Robin Vale was erased on the server")
    assert casey.all_of("changes", "outbox", "records", "drafts") == [[], [], [], []]
    assert casey.errors == []


@pytest.mark.parametrize(
    ("chosen", "kept"),
    [
        (["d", "c"], [TWICE[0], ["b", 2, False, "Casey's"], TWICE[3], TWICE[5]]),
        (["b", "e"], [TWICE[0], TWICE[1], ["c", 3, True, "Robin's"]]),
        (["a"], TWICE),
        ([], TWICE),
    ],
)
def test_of_shots_entered_twice_those_of_one_phone_stand(module_page: Page, chosen: list[str], kept: list[Any]) -> None:
    assert module_page.evaluate(KEPT, [TWICE, chosen]) == sorted(kept)


def test_two_phones_that_choose_differently_leave_each_shot_a_record(module_page: Page) -> None:
    """Whatever each chooses, both leave one record of each number, and the same one."""
    ours = module_page.evaluate(KEPT, [TWICE, ["d", "c"]])
    theirs = module_page.evaluate(KEPT, [TWICE, ["b", "e"]])
    alike = {(record, order) for record, order, *_ in ours} & {(record, order) for record, order, *_ in theirs}
    assert {order for _, order in alike} == {1, 2, 3}
