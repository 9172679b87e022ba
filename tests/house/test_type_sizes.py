"""Four sizes of type, set in one place: every rule of the styles takes one of them."""

from __future__ import annotations

import re
from pathlib import Path

CSS = Path(__file__).resolve().parents[2] / "web" / "css"
SIZES = {"small", "text", "head", "figure"}
SET = re.compile(r"--size-(\w+):\s*([\d.]+)(rem|pt);")
RULE = re.compile(r"(?<![-\w])font(-size)?:\s*([^;}]+)")
OF_A_FONT_FILE = re.compile(r"@font-face \{[^}]*\}")
ROOT_SIZE = "100%/1.4 var(--sans)"
"""The reader's own size, of which all others are shares."""


def sheets() -> dict[str, str]:
    found = {path.name: OF_A_FONT_FILE.sub("", path.read_text(encoding="utf-8")) for path in CSS.glob("*.css")}
    assert len(found) > 4
    return found


def test_the_sizes_are_set_once_for_the_screen_and_grow_with_the_readers_text() -> None:
    named = {name: unit for name, _, unit in SET.findall(sheets()["paper.css"])}
    assert named == dict.fromkeys(SIZES, "rem")
    elsewhere = {name: {unit for _, _, unit in SET.findall(text)} for name, text in sheets().items()}
    assert {name: units for name, units in elsewhere.items() if name != "paper.css" and units - {"pt"}} == {}


def test_every_rule_takes_one_of_the_four() -> None:
    rules = [(name, value.strip()) for name, text in sheets().items() for _, value in RULE.findall(text)]
    assert len(rules) > 60
    used = [(name, value, re.findall(r"var\(--size-(\w+)\)", value)) for name, value in rules]
    free = [(name, value) for name, value, sizes in used if not sizes and value not in ("inherit", ROOT_SIZE)]
    assert free == []
    assert {size for _, _, sizes in used for size in sizes} == SIZES
