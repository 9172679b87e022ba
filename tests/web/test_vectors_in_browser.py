"""The vectors shared with Python, through the browser's own modules."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.vectors.distance_cases import CASES, shots_of
from tests.web.phone import Phone, Server

VECTORS = Path(__file__).resolve().parents[1] / "vectors"
CLOSE = 1e-9
"""Both sides do the same few additions and multiplications on doubles: only rounding may differ."""

VALUE = """async ({baseline, cases}) => {
  const { attribute } = await import('/js/game/valuation.js');
  const { categoryScheme } = await import('/js/game/categories.js');
  const { holeScore } = await import('/js/game/score.js');
  const { total } = await import('/js/game/summaries.js');
  return cases.map(({par, shots}) => {
    const given = shots.map((shot) => ({round_id: 'r', hole: 1, ...shot}));
    const value = (name) => attribute(given, () => par, baseline, categoryScheme(name));
    const [four, three] = ['four_part', 'three_part'].map(value);
    const valued = given.map((shot, i) => ({record_id: String(i), shot, value: four[i]}));
    const score = holeScore(given, {number: 1, par, length_yd: 400});
    return {four, three, score: score.state === 'holed' ? score.strokes : null, total: total(valued)};
  });
}"""

FOLD = """async (cases) => {
  const { fold } = await import('/js/log/fold.js');
  return cases.map(({changes}) => [changes, [...changes].reverse()].map((list) => {
    const found = fold(list);
    const leaves = found.leaves.map((leaf) => leaf.change_id);
    return {leaves, head: found.head.change_id, deleted: found.deleted, speaks: found.speaks?.change_id ?? null};
  }));
}"""


@pytest.fixture
def page(phone: Phone) -> Any:
    return phone.open()


def test_valuation_agrees_with_python(page: Any, live_server: Server) -> None:
    cases = json.loads((VECTORS / "valuation.json").read_text())["cases"]
    baseline = live_server.get("/api/baselines/tour")
    found = page.evaluate(VALUE, {"baseline": baseline, "cases": cases})
    assert len(found) == len(cases) > 50
    for case, result in zip(cases, found, strict=True):
        for place, wanted in enumerate(case["expected"]):
            value = result["four"][place]
            where = f"{case['name']}, shot {place + 1}"
            assert value["category"] == wanted["category_four_part"], where
            assert result["three"][place]["category"] == wanted["category_three_part"], where
            for name in ("basis", "end_lie"):
                assert value[name] == wanted[name], f"{where}: {name}"
            for name in ("expected_before", "expected_after", "strokes_gained", "end_distance_yd"):
                same(value[name], wanted[name], f"{where}: {name}")
        assert result["score"] == case["score"], case["name"]
        if case["strokes_gained_of_record"] is not None and not result["total"]["unvalued"]:
            same(result["total"]["strokes_gained"], case["strokes_gained_of_record"], case["name"])


def same(found: float | None, wanted: float | None, where: str) -> None:
    if wanted is None or found is None:
        assert found == wanted, f"{where}: {found} instead of {wanted}"
    else:
        assert abs(found - wanted) <= CLOSE, f"{where}: {found} instead of {wanted}"


def test_fold_agrees_with_python(page: Any) -> None:
    cases = json.loads((VECTORS / "fold.json").read_text())["cases"]
    found = page.evaluate(FOLD, cases)
    for case, orders in zip(cases, found, strict=True):
        for result in orders:
            assert result == {name: case[name] for name in ("leaves", "head", "deleted", "speaks")}, case["name"]


KEPT = """async (cases) => {
  const { Store } = await import('/js/log/store.js');
  const { takePage } = await import('/js/log/outbox.js');
  const store = new Store('vectors of the fold');
  const kept = [];
  for (const [number, { changes }] of cases.entries()) {
    for (const order of [changes, [...changes].reverse()]) {
      const of = `${number} ${kept.length} `;
      const named = order.map((one) => ({
        ...one, record_id: of, kind: 'club',
        change_id: of + one.change_id, parents: one.parents.map((id) => of + id)}));
      await takePage(store, 'player', named, null);
      kept.push((await store.record('player', of)).body);
    }
  }
  return kept;
}"""


def test_the_phone_shows_the_body_of_what_speaks(page: Any) -> None:
    cases = json.loads((VECTORS / "fold.json").read_text())["cases"]
    found = page.evaluate(KEPT, cases)
    wanted = [None if case["speaks"] is None else {"name": case["speaks"]} for case in cases for _ in range(2)]
    assert found == wanted


ROUNDS = """async (given) => {
  const { isWhole, openedAgain } = await import('/js/game/closings.js');
  const { isUnusual } = await import('/js/game/hole-lengths.js');
  const { ballsLeftOpen } = await import('/js/game/order-of-play.js');
  return {
    left_open: given.left_open.map(({shots}) => ballsLeftOpen(shots)),
    unusual: given.unusual.map(({par, length_yd}) => isUnusual(par, length_yd)),
    whole: given.whole.map(({defined, begun, holed, meant}) => isWhole(defined, begun, holed, meant)),
    opened_again: given.opened_again.map(({closed, closings}) => openedAgain(closed, closings)),
  };
}"""


def test_rules_of_whole_rounds_agree_with_python(page: Any) -> None:
    given = json.loads((VECTORS / "rounds.json").read_text())
    found = page.evaluate(ROUNDS, given)
    answers = {"left_open": "places", "unusual": "unusual", "whole": "whole", "opened_again": "between"}
    for part, answer in answers.items():
        assert len(found[part]) > 5
        assert found[part] == [case[answer] for case in given[part]], part


ALTERNATION = """async (cases) => {
  const { clubOfHole } = await import('/js/game/alternation.js');
  const holes = Array.from({ length: 18 }, (_, place) => place + 1);
  return cases.map(({ clubs, round_id: round }) => holes.map((hole) => clubOfHole(clubs, round, hole)));
}"""


def test_the_club_of_each_hole_agrees_with_python(page: Any) -> None:
    cases = json.loads((VECTORS / "alternation.json").read_text())["cases"]
    assert page.evaluate(ALTERNATION, cases) == [case["holes"] for case in cases]


LOCKS = """async (cases) => {
  const { Store } = await import('/js/log/store.js');
  const { takePage } = await import('/js/log/outbox.js');
  const { lockingRound } = await import('/js/log/competition.js');
  const store = new Store('vectors of the lock');
  const found = [];
  for (const [number, { changes }] of cases.entries()) {
    for (const order of [changes, [...changes].reverse()]) {
      const of = `${number} ${found.length} `;
      const player = `player ${of}`;
      const named = order.map((one) => ({
        ...one, record_id: of + one.of, kind: one.of, change_id: of + one.change_id,
        body: one.of === 'round' || one.op === 'delete' ? one.body : {round_id: `${of}round`},
        parents: one.parents.map((id) => of + id)}));
      await takePage(store, player, named, null);
      const locking = await lockingRound(store, player);
      if (locking && locking.record_id !== `${of}round`) throw new Error('another round');
      found.push(locking !== null);
    }
  }
  return found;
}"""


def test_the_phone_locks_as_the_server_does(page: Any) -> None:
    cases = json.loads((VECTORS / "competition_lock.json").read_text())["cases"]
    found = page.evaluate(LOCKS, cases)
    assert found[::2] == found[1::2] == [case["locked"] for case in cases]
    assert {case["name"]: locked for case, locked in zip(cases, found[::2], strict=True)} == {
        case["name"]: case["locked"] for case in cases
    }


MAP = """async (cases) => {
  const { faultWords, formFaults, mapFromForm } = await import('/js/game/map-form.js');
  return cases.map(({form}) => {
    const faults = formFaults(form).map(faultWords);
    return faults.length ? {faults} : {features: mapFromForm(form)};
  });
}"""


def test_maps_of_holes_agree_with_python(page: Any) -> None:
    cases = json.loads((VECTORS / "hole_maps.json").read_text())["cases"]
    found = page.evaluate(MAP, cases)
    assert len(found) == len(cases) > 20
    for case, result in zip(cases, found, strict=True):
        wanted = {name: case[name] for name in ("features", "faults") if name in case}
        assert result == wanted, case["name"]


NUMBERS = """async (cases) => {
  const { plain, signed } = await import('/js/game/numbers.js');
  const { gained } = await import('/js/ui/words.js');
  const ascii = (words) => words.replace('−', '-');
  return cases.map(({value, digits}) => [plain(value, digits), signed(value, digits), gained(value)].map(ascii));
}"""


def test_numbers_in_words_agree_with_python(page: Any) -> None:
    cases = json.loads((VECTORS / "numbers.json").read_text())["cases"]
    found = page.evaluate(NUMBERS, cases)
    assert [words[:2] for words in found] == [[case["plain"], case["signed"]] for case in cases]
    two = [(words[2], case["signed"]) for words, case in zip(found, cases, strict=True) if case["digits"] == 2]
    assert len(two) > 3
    assert all(screen == wanted for screen, wanted in two)


DISTANCES = """async (cases) => {
  const { fullSwings, stockDistances } = await import('/js/game/distances.js');
  return cases.map((shots) => {
    const labels = [...new Set(shots.map((shot) => shot.club_id))];
    const clubs = labels.map((label) => ({record_id: label, body: {label, sort: 'iron'}}));
    return [...stockDistances(clubs, fullSwings(shots))].map(([club, stock]) => ({club, ...stock}));
  });
}"""


def test_club_distances_agree_with_python(page: Any) -> None:
    found = page.evaluate(DISTANCES, [shots_of(case) for case in CASES])
    for case, clubs in zip(CASES, found, strict=True):
        counts = {one["club"]: one["swings"] for one in clubs if one["swings"]}
        assert counts == {club: row["swings"] for club, row in case["expected"].items()}, case["name"]
        own = {one["club"]: one["yards"] for one in clubs if one["own"]}
        wanted = {club: row["yards"] for club, row in case["expected"].items() if row["swings"] >= 3}
        assert own == pytest.approx(wanted, abs=CLOSE), case["name"]
