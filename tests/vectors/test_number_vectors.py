"""The shared cases of numbers in words, on the server; for the browser see tests/web/test_vectors_in_browser.py."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from server.commands import tables
from server.game.numbers import plain, signed

CASES = json.loads((Path(__file__).parent / "numbers.json").read_text(encoding="utf-8"))["cases"]


@pytest.mark.parametrize("case", CASES, ids=[f"{case['value']} to {case['digits']}" for case in CASES])
def test_a_rounded_zero_has_no_sign(case: dict[str, Any]) -> None:
    assert plain(case["value"], case["digits"]) == case["plain"]
    assert signed(case["value"], case["digits"]) == case["signed"]
    assert tables.signed(case["value"], case["digits"]) == case["signed"]


def test_a_missing_number_is_a_dash_in_a_table() -> None:
    assert tables.signed(None, 2) == "-"


def test_no_module_formats_a_sign_of_its_own() -> None:
    server = Path(__file__).resolve().parents[2] / "server"
    own = [str(file) for file in server.rglob("*.py") if re.search(r":\+[.\d{]", file.read_text(encoding="utf-8"))]
    assert not own
