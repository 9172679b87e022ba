"""The shared cases of carries, on the server; for the browser see tests/web/test_vectors_in_browser.py."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from server.game.carry import longest_carry
from server.records.validation import InvalidError, load
from tests.records.made import body_of

CASES = json.loads((Path(__file__).parent / "carries.json").read_text(encoding="utf-8"))["cases"]


@pytest.mark.parametrize("case", CASES)
def test_a_carry_is_taken_up_to_the_length_of_the_shot(case: dict[str, Any]) -> None:
    assert longest_carry(case["shot"]) == pytest.approx(case["longest"], abs=1e-9)
    body = body_of("shot", **case["shot"], carry_yd=case["carry_yd"])
    if case["sound"]:
        assert load("shot", body)["carry_yd"] == case["carry_yd"]
        return
    with pytest.raises(InvalidError) as refused:
        load("shot", body)
    (fault,) = refused.value.faults
    assert (fault.field, fault.value) == ("carry_yd", repr(case["carry_yd"]))
    if case["shot"]["lie"] != "green" and 0 < case["carry_yd"] <= 400:
        assert f"{case['longest']:g} yd" in fault.message
