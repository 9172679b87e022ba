"""Two screens that ask for the same plan at once share one request, on one page of the app's own modules."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page

SHARED = """async () => {
  const { inFlight } = await import('/js/views/in-flight.js');
  const sent = [];
  const send = (all) => new Promise((resolve, reject) => sent.push({ all, resolve, reject }));
  const heard = { a: [], b: [] };
  const waiter = (name) => {
    const stop = new AbortController();
    return { stop, waiting: { done: (share) => heard[name].push(share), stopped: stop.signal } };
  };
  const kind = (promise) => promise.then((value) => value, (error) => error.kind ?? error.message);
  const [a, b] = [waiter('a'), waiter('b')];
  const first = kind(inFlight('/plan?hole=1', a.waiting, send));
  const second = kind(inFlight('/plan?hole=1', b.waiting, send));
  const other = kind(inFlight('/plan?hole=2', undefined, send));
  const asked = sent.length;
  sent[0].all.done(0.5);
  a.stop.abort();
  const stopped = await first;
  const goesOn = !sent[0].all.stopped.aborted;
  sent[0].all.done(0.75);
  sent[0].resolve('plan of 1');
  sent[1].resolve('plan of 2');
  const answers = [await second, await other];
  const later = kind(inFlight('/plan?hole=1', undefined, send));
  const askedAnew = sent.length;
  sent[2].reject(new Error('away'));
  const failed = await later;
  const c = waiter('a');
  const alone = kind(inFlight('/plan?hole=1', c.waiting, send));
  c.stop.abort();
  const gone = kind(inFlight('/plan?hole=1', c.waiting, send));
  return {
    asked, stopped, goesOn, answers, heard, askedAnew, failed,
    alone: await alone, ended: sent[3].all.stopped.aborted, gone: await gone, sent: sent.length,
  };
}"""


@pytest.fixture(scope="module")
def page(module_page: Page) -> Page:
    """One page for both: they ask its modules, and leave nothing behind."""
    return module_page


def test_one_request_serves_all_who_ask_at_once_and_ends_with_the_last(page: Any) -> None:
    found = page.evaluate(SHARED)
    assert found["asked"] == 2, "one request a path"
    assert found["stopped"] == "stopped"
    assert found["goesOn"], "another still waits"
    assert found["answers"] == ["plan of 1", "plan of 2"]
    assert found["heard"] == {"a": [0.5], "b": [0.5, 0.75]}
    assert found["askedAnew"] == 3, "what is answered is asked anew"
    assert found["failed"] == "away"
    assert found["alone"] == "stopped"
    assert found["ended"], "nobody waits any more"
    assert found["gone"] == "stopped"
    assert found["sent"] == 4, "who has stopped asks nothing"


ASKED_TWICE = """async (paths) => {
  const { askEach } = await import('/js/views/asking.js');
  const session = { store: null };
  const fetched = [];
  const real = globalThis.fetch;
  let go;
  const gate = new Promise((resolve) => { go = resolve; });
  globalThis.fetch = async (path) => {
    fetched.push(path);
    await gate;
    return new Response('{"answer": 1}', { headers: { 'content-type': 'application/json' } });
  };
  try {
    const both = [askEach(session, '', paths), askEach(session, '', paths)];
    await new Promise((resolve) => setTimeout(resolve));
    go();
    const answers = await Promise.all(both);
    return { fetched, answers: answers.map((one) => one.map(({ value, at }) => [value.answer, at])) };
  } finally {
    globalThis.fetch = real;
  }
}"""


def test_two_screens_ask_for_a_plan_once_and_for_other_evidence_each(page: Any) -> None:
    paths = ["/api/players/p/tee-plan?hole=1", "/api/players/p/summary"]
    found = page.evaluate(ASKED_TWICE, paths)
    assert sorted(found["fetched"]) == sorted([paths[0], paths[1], paths[1]])
    (plan, _), (plan_again, _) = found["answers"]
    assert plan == plan_again, "the same answer, as old as its request"
    assert plan[0] == 1
