"""The vectors shared with Python, through the browser's own modules."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from server.game.hole_conditions import HoleConditions
from tests.vectors.distance_cases import CASES, shots_of
from tests.web.phone import Server

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


@pytest.fixture(scope="module")
def page(module_page: Page) -> Page:
    """One page for all of them: they ask its modules, and leave nothing behind but databases of their own names."""
    return module_page


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


CONDITIONS = """async (cases) => {
  const { conditionsByHole } = await import('/js/game/hole-conditions.js');
  return cases.map(({ holes, recorded }) => Object.fromEntries(conditionsByHole(holes, recorded)));
}"""


def test_conditions_of_holes_agree_with_python(page: Any) -> None:
    cases = json.loads((VECTORS / "hole_conditions.json").read_text())["cases"]
    nothing = dict.fromkeys(HoleConditions.__annotations__)
    for case, found in zip(cases, page.evaluate(CONDITIONS, cases), strict=True):
        assert found == {hole: nothing | told for hole, told in case["found"].items()}, case["name"]


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


CARRIES = """async (cases) => {
  const { carryInRange, longestCarry } = await import('/js/game/carry.js');
  return cases.map(({shot, carry_yd}) => [longestCarry(shot), carryInRange({...shot, carry_yd})]);
}"""


def test_carries_agree_with_python(page: Any) -> None:
    cases = json.loads((VECTORS / "carries.json").read_text())["cases"]
    assert page.evaluate(CARRIES, cases) == [[case["longest"], case["sound"]] for case in cases]


PRACTICE = """async ({balls, totals}) => {
  const { ballFaults } = await import('/js/game/practice.js');
  const made = await import('/js/game/practice-totals.js');
  return [balls.map(({ball}) => ballFaults(ball)), totals.map((one) => made[one.of](one.balls))];
}"""


def test_practice_balls_and_their_totals_agree_with_python(page: Any) -> None:
    cases = json.loads((VECTORS / "practice.json").read_text())
    faults, totals = page.evaluate(PRACTICE, cases)
    assert faults == [case["faults"] for case in cases["balls"]]
    assert any(faults)
    for found, case in zip(totals, cases["totals"], strict=True):
        assert len(found) == len(case["rows"])
        for row, wanted in zip(found, case["rows"], strict=True):
            assert row.keys() == wanted.keys()
            for name, value in wanted.items():
                assert row[name] == (pytest.approx(value, abs=CLOSE) if isinstance(value, dict) else value), name


DUELS = """async () => {
  const { duelTurn } = await import('/js/game/practice.js');
  const balls = [];
  const turns = [];
  for (let order = 1; order <= 8; order += 1) {
    const { club_id, duel_id } = duelTurn(balls, ['a', 'b']);
    turns.push(club_id);
    balls.push({record_id: `${order}`, body: {session_id: 's', order, club_id, duel_id: duel_id ?? `pair ${order}`}});
  }
  const pairs = balls.map(({body}) => body.duel_id);
  balls.splice(6, 1); // the first ball of the last pair is deleted: the pair is made whole by the other club
  return [turns, pairs, duelTurn(balls, ['a', 'b'])];
}"""


def test_a_duel_turns_in_pairs_of_both_clubs(page: Any) -> None:
    turns, pairs, after = page.evaluate(DUELS)
    assert turns == ["a", "b", "b", "a", "a", "b", "b", "a"]
    assert pairs == [f"pair {first}" for first in (1, 3, 5, 7) for _ in range(2)]
    assert after == {"club_id": "b", "duel_id": "pair 7"}


SHAPE: dict[str, Any] = {
    "club": "driver",
    "shape": "fade",
    "against": "draw",
    "costs": 0.08,
    "low": 0.02,
    "high": 0.15,
    "chance": 0.99,
    "verdict": "suits a fade",
    "aim_yd": -10.0,
    "line": "the middle of the fairway",
    "miss_left_yd": -2.0,
    "miss_right_yd": 21.0,
}
SHAPE_WORDS = """async (shape) => {
  const { shapeWords } = await import('/js/views/plan-words.js');
  const { lengthsIn } = await import('/js/views/lengths.js');
  return ['yards', 'metres'].map((units) => shapeWords({shapes: [shape]}, lengthsIn(units))[0]);
}"""


def test_the_shape_that_suits_is_aimed_in_the_players_units(page: Any) -> None:
    yards, metres = page.evaluate(SHAPE_WORDS, SHAPE)
    said = "Driver: suits a fade: a draw costs +0.08 strokes (+0.02 to +0.15); a fade is better in 99 of 100."
    assert (
        yards
        == f"{said} Aim a fade 10 yd left of mid-fairway: eight in ten finish from 2 yd right to 21 yd right of that."
    )
    assert metres.endswith(
        "Aim a fade 9 m left of mid-fairway: eight in ten finish from 2 m right to 19 m right of that."
    )
    old = {
        name: value for name, value in SHAPE.items() if name not in ("aim_yd", "line", "miss_left_yd", "miss_right_yd")
    }
    assert page.evaluate(SHAPE_WORDS, old) == [said, said]


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


IN_PARTS = """async (cases) => {
  const { ask } = await import('/js/log/answers.js');
  const found = [];
  for (const { type, pieces } of cases) {
    const shares = [];
    const body = new ReadableStream({
      start(controller) {
        const bytes = new TextEncoder();
        for (const piece of pieces) controller.enqueue(bytes.encode(piece));
        controller.close();
      },
    });
    const fetcher = async () => new Response(body, { headers: { 'content-type': type } });
    try {
      const value = await ask(fetcher, '/api/x', {}, 5000, { done: (share) => shares.push(share) });
      found.push({ value, shares });
    } catch (error) {
      found.push({ kind: error.kind, status: error.status, message: error.message, shares });
    }
  }
  return found;
}"""
SEQUENCE = "application/json-seq"
CUT_OFF = {"kind": "foreign", "status": 0, "message": "the answer was cut off or garbled"}
GONE = {"problem": {"title": "Locked", "status": 423, "detail": "A competition round is open."}}


def test_answers_in_parts_are_read_however_they_are_cut(page: Any) -> None:
    """JSON text sequences, RFC 7464."""
    records = [{"done": 0.1}, {"done": 0.62}, {"answer": {"name": "Ä 7"}}]
    whole = "".join(f"\x1e{json.dumps(record, ensure_ascii=False)}\n" for record in records)
    cases = [
        {"type": SEQUENCE, "pieces": [whole]},
        {"type": SEQUENCE, "pieces": list(whole)},
        {"type": SEQUENCE, "pieces": [whole[:-1]]},
        {"type": SEQUENCE, "pieces": [whole[:30]]},
        {"type": SEQUENCE, "pieces": ["\x1e<html>\n"]},
        {"type": SEQUENCE, "pieces": []},
        {"type": SEQUENCE, "pieces": ['\x1e{"done": 0.5}\n', f"\x1e{json.dumps(GONE)}\n"]},
        {"type": "application/json", "pieces": ['{"name": "alone"}']},
    ]
    good = {"value": {"name": "Ä 7"}, "shares": [0.1, 0.62]}
    refused = {"kind": "refused", "status": 423, "message": "A competition round is open.", "shares": [0.5]}
    assert page.evaluate(IN_PARTS, cases) == [
        good,
        good,
        CUT_OFF | {"shares": [0.1, 0.62]},
        CUT_OFF | {"shares": [0.1]},
        CUT_OFF | {"shares": []},
        CUT_OFF | {"shares": []},
        refused,
        {"value": {"name": "alone"}, "shares": []},
    ]
