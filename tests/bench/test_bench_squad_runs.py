"""The bench of squads runs, on a handful of players; its times are not asserted."""

from __future__ import annotations

import pytest

from tests.bench.bench_squad import QUESTIONS, main
from tests.tiers import count, some


def test_the_bench_measures_every_question_that_it_is_asked(capsys: pytest.CaptureFixture[str]) -> None:
    """The last by default; each is put by a process of its own, which takes longest here."""
    asked = some(QUESTIONS, -1)
    given = [word for question in asked for word in ("--question", question)]
    assert main(["--players", str(count(6, 8)), "--rounds", str(count(6, 12)), *given]) == 0
    said = capsys.readouterr().out
    assert "shots." in said
    for words in QUESTIONS:
        for name in ("cold", "tallies", "answer", "greatest memory, MB"):
            assert (f"| {words}, {name} | " in said) == (words in asked)
