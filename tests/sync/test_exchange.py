"""The exchange under faults: the machine of `tests/sync/machine.py`, 15 runs of 40 steps.

The long tier makes it 2,000 runs, with other seeds each time; the figures of both are printed (`-s`) and written to
`.artifacts/exchange.json`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path

import pytest
from freezegun import freeze_time
from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.sync import variants
from tests.sync.machine import Exchange, Tally
from tests.tiers import LONG, count

pytestmark = pytest.mark.simulation

STEPS = 40
RUNS = count(15, 2_000)
RUNS_TO_CATCH = 1_000
"""A broken variant is caught at the first run that meets its fault: within 10 from the seed beside it, when that was
chosen, often within 100 from any other. The long tier takes another each time."""
LOSS = ("lost", "the exchange never comes to rest")
HOLE = ("a cursor passed over changes", "lost", "changes are still queued")
GAPS = ("['player ",)
"""What `check_database` says of a log whose numbers have gaps; it names the player."""
ARTIFACTS = Path(__file__).parents[2] / ".artifacts"


def rules_of_the_run(runs: int, *, same: bool = True) -> settings:
    """Settings: the same runs each time, unless others are wanted."""
    return settings(
        max_examples=runs,
        stateful_step_count=STEPS,
        deadline=None,
        database=None,
        derandomize=same,
        phases=[Phase.generate],
        report_multiple_bugs=False,
        suppress_health_check=list(HealthCheck),
    )


def exchange_fails(machine: type[Exchange], first: int) -> str:
    """What a machine complains of, its runs begun from a seed; empty when all pass."""
    machine.tally = Tally()
    if not LONG:
        machine = seed(first)(machine)
    try:
        run_state_machine_as_test(machine, settings=rules_of_the_run(RUNS_TO_CATCH, same=False))
    except AssertionError as complaint:
        print(machine.__name__, machine.tally.runs, str(complaint).splitlines()[0][:100])
        return str(complaint).splitlines()[0]
    return ""


@pytest.fixture
def _clock() -> Iterator[None]:
    with freeze_time("2026-05-01 09:00:00") as clock:
        Exchange.clock = clock
        yield
        Exchange.clock = None


@pytest.mark.usefixtures("_clock")
def test_nothing_is_lost_doubled_or_different() -> None:
    tally = Exchange.tally = Tally()
    run_state_machine_as_test(Exchange, settings=rules_of_the_run(RUNS, same=not LONG))
    figures = {
        name: getattr(tally, name) for name in ("runs", "steps", "faults", "changes", "lost", "doubled", "diverged")
    }
    figures |= {"kinds": dict(tally.kinds)}
    ARTIFACTS.mkdir(exist_ok=True)
    (ARTIFACTS / "exchange.json").write_text(json.dumps(figures, indent=2))
    print(figures)
    assert tally.runs >= RUNS
    assert tally.steps > RUNS * STEPS / 2, "the runs were cut short"
    assert tally.changes > RUNS * 5, "too little was written"
    assert min(tally.kinds[kind] for kind in ("backup restored", "device wiped", "bad change", "push lost after")) > 0
    assert (tally.lost, tally.doubled, tally.diverged) == (0, 0, 0)


@pytest.mark.usefixtures("_clock")
@pytest.mark.parametrize(
    ("machine", "first", "complaints"),
    [
        (variants.RetiresOnSend, 0, LOSS),
        (variants.RetiresOnAcknowledgement, 7, LOSS),
        (variants.SavesCursorBeforePage, 3, HOLE),
        (variants.NumbersBeforeCommit, 3, HOLE + GAPS),
    ],
)
def test_a_broken_device_or_numbering_is_noticed(
    machine: type[Exchange], first: int, complaints: tuple[str, ...]
) -> None:
    assert exchange_fails(machine, first).startswith(complaints)


@pytest.mark.usefixtures("_clock")
@pytest.mark.parametrize(
    ("breakage", "first", "complaints"),
    [
        (variants.no_dedupe, 0, ("doubled", "a change that nobody", "changes are still queued")),
        (variants.unchecked_cursor, 5, LOSS + HOLE),
        (variants.loser_dropped, 0, LOSS + HOLE),
        (variants.tombstones_purged, 1, LOSS + HOLE),
    ],
)
def test_a_broken_server_is_noticed(
    breakage: Callable[[], AbstractContextManager[None]], first: int, complaints: tuple[str, ...]
) -> None:
    machine = type(breakage.__name__, (Exchange,), {})
    with breakage():
        assert exchange_fails(machine, first).startswith(complaints)
