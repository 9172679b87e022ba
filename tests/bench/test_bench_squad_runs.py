"""The bench of squads runs, on a handful of players; its times are not asserted."""

from __future__ import annotations

import pytest

from tests.bench.bench_squad import QUESTIONS, main
from tests.tiers import count


def test_the_bench_measures_every_question(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--players", str(count(6, 8)), "--rounds", str(count(6, 12))]) == 0
    said = capsys.readouterr().out
    assert "shots." in said
    for words in QUESTIONS:
        for name in ("cold", "tallies", "answer", "greatest memory, MB"):
            assert f"| {words}, {name} | " in said
