"""The shared cases of practice balls, on the server; for the browser see tests/web/test_vectors_in_browser.py."""

from __future__ import annotations

import json
from typing import Any

import pytest

from server.records.validation import InvalidError, load
from tests.vectors.make_practice import FILE, cases

CASES = json.loads(FILE.read_text(encoding="utf-8"))


def test_the_file_is_what_the_maker_makes() -> None:
    assert json.loads(json.dumps(cases())) == CASES, "run `python -m tests.vectors.make_practice`"


@pytest.mark.parametrize("case", CASES["balls"], ids=str)
def test_a_ball_is_taken_or_its_field_is_named(case: dict[str, Any]) -> None:
    if not case["faults"]:
        taken = load("practice_ball", case["ball"])
        assert {name: taken[name] for name in case["ball"]} == case["ball"]
        return
    with pytest.raises(InvalidError) as refused:
        load("practice_ball", case["ball"])
    assert sorted(fault.field for fault in refused.value.faults) == case["faults"]
