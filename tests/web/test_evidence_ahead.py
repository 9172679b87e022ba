"""After an exchange the phone keeps the default answer of every view of its own player, so that one that was never
opened is there without a network."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest
from playwright.sync_api import Page, Response, Route, expect

from tests.web.evidence_pages import change_of, demo_player, push, to_view
from tests.web.phone import ANSWER, Phone, Server

VIEWS = [
    "overview",
    "compare",
    "trial",
    "putting",
    "patterns",
    "distances",
    "priorities",
    "report",
    "plan",
    "round-plan",
]
HOLES = 18
MOST_BYTES = 3_000_000

ASKED_BY_VIEWS = """async () => {
  const { MODULES } = await import('/js/views/screen.js');
  const { defaultPaths } = await import('/js/views/default-paths.js');
  const asked = ['/api/players/p', '/api/players/p/choices'];
  for (const view of Object.keys(MODULES)) {
    const { needed, wished = [] } = (await MODULES[view]()).paths({player: 'p', filters: {}});
    asked.push(...needed, ...wished);
  }
  return [[...new Set(asked)].sort(), defaultPaths('p').sort()];
}"""

LOOK = """async ([moment, answers, more]) => {
  const { Store } = await import('/js/log/store.js');
  const { takePage } = await import('/js/log/outbox.js');
  const { aheadKept, cachedLock, lockAnswers, putAhead } = await import('/js/log/cache.js');
  const { keepEvidence } = await import(`/js/views/keeping.js?${crypto.randomUUID()}`);
  const store = new Store(`ahead ${moment}`);
  await store.start();
  if (!more.again) {
    const body = {played_on: '2026-05-01', kind: 'practice', holes: [], bag: [], closed: true};
    const edit = {record_id: crypto.randomUUID(), kind: 'round', body};
    if (!more.noRound) await store.write('p', null, () => ({edits: [edit], words: ''}));
  }
  await takePage(store, 'p', [], more.cursor ?? 'first');
  const asked = [];
  let under = 0;
  const lockingRound = async () => more.lock ?? null;
  const session = {store, playerId: 'p', keeping: null, schedule: {running: null}, lockingRound};
  const before = [fetch, Date.now, location.hash];
  if (more.hash) history.replaceState(null, '', more.hash);
  if (more.later) Date.now = () => before[1]() + more.later;
  globalThis.fetch = async (address, { signal }) => {
    asked.push(under ? `${address} beside another` : address.replace('/api/players/p', ''));
    under += 1;
    await new Promise((go) => setTimeout(go, 1));
    under -= 1;
    if (more.exchangeAt === asked.length) { session.keeping.abort(); signal.throwIfAborted(); }
    const { status = 200, value = {courses: []} } = answers[asked.length - 1] ?? answers.at(-1) ?? {};
    const type = status === 200 ? 'application/json' : 'application/problem+json';
    const headers = {'content-type': type, 'retry-after': '1'};
    return new Response(JSON.stringify(status === 200 ? value : {status, detail: 'Said so.'}), {status, headers});
  };
  try {
    await keepEvidence(session);
    await keepEvidence(session);
  } finally {
    [globalThis.fetch, Date.now] = before;
    history.replaceState(null, '', before[2] || '#/');
  }
  const kept = await aheadKept(store);
  return {asked, kept: kept.length, marks: [...new Set(kept.map((one) => one.mark))],
    size: kept.reduce((sum, one) => sum + one.size, 0), lock: await cachedLock(store, 'p')};
}"""
"""Two looks, one after the other, of a phone whose server answers with these, the last of them again and again."""

DEFAULTS = 15


def look(page: Page, name: str, answers: list[dict[str, Any]], **more: Any) -> dict[str, Any]:
    """What a phone asked and kept; `name`: of its database."""
    return dict(page.evaluate(LOOK, [name, answers, more]))


def test_the_default_answer_of_every_view_is_among_those_kept(module_page: Page) -> None:
    asked, listed = module_page.evaluate(ASKED_BY_VIEWS)
    assert listed == asked
    assert len(listed) == DEFAULTS


def test_one_look_asks_for_each_answer_once_and_the_next_for_none(module_page: Page) -> None:
    found = look(module_page, "once", [])
    assert len(found["asked"]) == len(set(found["asked"])) == found["kept"] == DEFAULTS
    assert not [path for path in found["asked"] if "beside another" in path]
    assert found["marks"] == ["first"]
    assert look(module_page, "once", [], again=True)["asked"] == []
    assert look(module_page, "once", [], again=True, cursor="second")["asked"] == [], "asked a moment ago"
    later = look(module_page, "once", [], again=True, cursor="second", later=16 * 60_000)
    assert (len(later["asked"]), later["marks"]) == (DEFAULTS, ["second"])


@pytest.mark.parametrize(
    ("name", "answers", "more", "asked"),
    [
        ("a busy server is left alone", [{}, {"status": 503}], {}, 3),
        ("who may not read asks no more", [{"status": 401}], {}, 2),
        ("what the server refuses is passed over", [{"status": 404}], {}, DEFAULTS),
        ("an exchange goes first", [], {"exchangeAt": 3}, 3 + DEFAULTS - 2),
        ("nothing on a hole", [], {"hash": "#/round/r/3"}, 0),
        ("nothing in a competition round", [], {"lock": {"record_id": "r"}}, 0),
        ("nothing without a round", [], {"noRound": True}, 0),
    ],
)
def test_when_a_phone_asks_for_less(
    module_page: Page, name: str, answers: list[dict[str, Any]], more: dict[str, Any], asked: int
) -> None:
    assert len(look(module_page, name, answers, **more)["asked"]) == asked


def test_a_lock_that_the_server_knows_of_ends_the_look_and_hides_what_is_kept(module_page: Page) -> None:
    found = look(module_page, "locked", [{}, {}, {"status": 423}])
    assert found["lock"] == "Said so."
    assert found["kept"] == 2


def test_what_is_kept_has_a_size_and_no_answer_of_the_same_look_makes_room_for_another(module_page: Page) -> None:
    large = {"value": {"courses": [], "words": "x" * 400_000}}
    found = look(module_page, "large", [large])
    assert found["size"] <= MOST_BYTES
    assert found["kept"] == MOST_BYTES // 400_000
    outgoing = """async ([path, size, began]) => {
      const { outgoing } = await import('/js/views/keeping.js');
      const kept = ['a', 'b', 'c'].map((path, place) => [path, {path, at: `2026-05-0${place + 1}`, size: 1_000_000}]);
      return outgoing(new Map(kept), path, size, began);
    }"""
    assert module_page.evaluate(outgoing, ["d", 900_000, "2026-06-01"]) == ["a"]
    assert module_page.evaluate(outgoing, ["d", 1_100_000, "2026-06-01"]) == ["a", "b"]
    assert module_page.evaluate(outgoing, ["a", 1_000_000, "2026-06-01"]) == []
    assert module_page.evaluate(outgoing, ["d", 1_000_000, "2026-05-01"]) is None
    assert module_page.evaluate(outgoing, ["d", 4_000_000, "2026-06-01"]) is None


AHEAD_KEPT = f"""async ([least, since]) => {{
  {ANSWER}
  for (let turn = 0; turn < 600; turn += 1) {{
    const database = await answer(indexedDB.open('pencilbag'));
    const index = database.transaction('answers').objectStore('answers').index('shelf_at');
    const kept = await answer(index.count(IDBKeyRange.bound(['ahead', since], ['ahead', '\\uffff'])));
    database.close();
    if (kept >= least) return;
    await new Promise((go) => setTimeout(go, 100));
  }}
  throw new Error('they are not kept');
}}"""
"""Until so many answers are kept that the server gave since then."""


def plans_of_one(server: Server, page: Page) -> None:
    """The plan of the first hole answers for all of them, so that the test need not wait for eighteen."""
    course = server.get(f"/api/players/{demo_player(server)}/plans")["courses"][0]
    query = f"course_id={course['course_id']}&tees={course['latest_tees']}&hole=1"
    plan = server.get(f"/api/players/{demo_player(server)}/tee-plan?{query}")

    def give(route: Route) -> None:
        route.fulfill(json=plan)

    page.context.route("**/tee-plan?**", give)


@pytest.mark.service_worker
def test_views_never_opened_are_there_without_a_network(make_phone: Any, own_short: Server) -> None:
    phone: Phone = make_phone(own_short, "2026-12-01T08:00:00Z", timezone_id="UTC")
    player = demo_player(own_short)
    page = phone.open(wait=f"#player-{player}")
    plans_of_one(own_short, page)
    answered: Counter[str] = Counter()

    def count(response: Response) -> None:
        if "/api/" in response.url and "/changes" not in response.url and response.url.count("/") > 4:
            answered[response.url.split("/api/")[1]] += 1

    page.on("response", count)
    page.click(f"#player-{player}")
    page.wait_for_selector("#new-round")
    page.evaluate(AHEAD_KEPT, [DEFAULTS + HOLES, ""])
    answers = {path: own_short.get(f"/api/{path}") for path in answered if "tee-plan" not in path}
    phone.wait_for_whole_app()
    phone.go_offline()
    phone.context.unroute("**/tee-plan?**")  # which would answer without a network too
    phone.set_time("2026-12-01T09:00:00Z")
    page.reload()
    page.wait_for_selector("#new-round")
    for view in VIEWS:
        to_view(page, own_short, view)
        expect(page.locator(".notice.as-of"), view).to_contain_text("as of 1 Dec, 08:00")
        expect(page.locator(".failed"), view).to_have_count(0)
    expect(page.locator(".round-plan tbody tr")).to_have_count(HOLES)
    expect(page.locator(".plan-age")).to_contain_text("Planned on 1 Dec, 08:00")

    to_view(page, own_short, "overview?by=lie&course=Blottingham+Heath")
    expect(page.locator("#nearest p")).to_have_text(
        "Not stored on this device: this grouping, this course. Showing the closest stored answer."
    )
    expect(page.locator(".evidence-table").first.locator("caption")).to_contain_text("Strokes gained by club")
    to_view(page, own_short, "patterns?club=7+iron")
    expect(page.locator("#nearest p")).to_contain_text("this club")
    to_view(page, own_short, "plan?hole=1&blows=10&blows_from=90")
    expect(page.locator("#nearest p")).to_contain_text("these settings")
    expect(page.locator("#plan-best")).to_be_visible()
    to_view(page, own_short, "round-plan?ahead=true")
    expect(page.locator(".plan-age")).to_contain_text("Not stored on this device: your own next shots.")

    page.goto(f"{own_short.address}/#/")
    held = next(change["body"] for change in own_short.log(player) if change["kind"] == "round")
    body = {"played_on": "2026-11-30", "kind": "practice", "holes": held["holes"], "bag": held["bag"], "closed": True}
    push(own_short, [change_of(player, "round", body)])

    def answer_again(route: Route) -> None:
        """As the server did before: what it makes of one round more is tried elsewhere, and takes it long."""
        path = route.request.url.split("/api/")[1]
        if path in answers:
            route.fulfill(json=answers[path])
        else:
            route.fallback()

    page.context.route("**/api/**", answer_again)
    page.goto("about:blank")  # the page that is left would begin to ask as soon as the network is there
    phone.context.set_offline(False)
    page.goto(f"{own_short.address}/#/")
    page.evaluate(AHEAD_KEPT, [DEFAULTS, "2026-12-01T09:00"])
    phone.wait_sent()
    asked = {path: count for path, count in answered.items() if "baselines/" not in path and path != "me"}
    plans = {path for path in asked if "tee-plan" in path}
    assert len(plans) == HOLES
    assert {asked[path] for path in plans} == {1}, "a plan stands for half a day"
    others = {path.removeprefix(f"players/{player}"): count for path, count in asked.items() if path not in plans}
    assert set(others.values()) == {2}, others
    assert phone.errors == []
