"""Every regular expression of the server and of the front end, found in the source, and inputs made to hurt it."""

from __future__ import annotations

import ast
import importlib
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
USES = {"compile", "search", "match", "fullmatch", "sub", "subn", "split", "findall", "finditer"}

_COMMENT = re.compile(r"/\*.*?\*/|(?<![:'\"\\])//[^\n]*", re.DOTALL)
_PART = r"\\.|\[(?:\\.|[^\]\\\n])*\]"
_LITERAL = re.compile(
    rf"(?<=[(=,:?&|!;\[{{])\s*/((?:{_PART}|[^/\\\n\[*])(?:{_PART}|[^/\\\n\[])*)/([dgimsuvy]*)(?=[.,;)\]}}\s])"
)


def of_the_server() -> Iterator[tuple[str, re.Pattern[str]]]:
    """Place and pattern of every call of `re` below server/."""
    for path in sorted((ROOT / "server").rglob("*.py")):
        source = path.read_text(encoding="utf-8")
        # most modules have none, and each process of tests looks here as it collects
        for node in ast.walk(ast.parse(source)) if re.search(r"\bre\b", source) else ():
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Attribute)
                and isinstance(node.func.value, ast.Name)
                and (node.func.value.id, node.func.attr in USES) == ("re", True)
            ):
                yield f"{path.relative_to(ROOT)}:{node.lineno}", _evaluated(path, node)


def _evaluated(path: Path, call: ast.Call) -> re.Pattern[str]:
    """The pattern as the module makes it; migrations are not modules, but write theirs out."""
    words = ast.unparse(call.args[0])
    flags = next((ast.unparse(one.value) for one in call.keywords if one.arg == "flags"), "0")
    if call.func.attr == "compile" and len(call.args) > 1:  # type: ignore[attr-defined]
        flags = ast.unparse(call.args[1])
    names: dict[str, object] = {"re": re, "table": "round"}
    if "migrations" not in path.parts:
        names |= vars(importlib.import_module(".".join(path.relative_to(ROOT).with_suffix("").parts)))
    found = eval(words, names)
    return re.compile(found, eval(flags, {"re": re}))


def of_the_front_end() -> Iterator[tuple[str, str, str]]:
    """Place, pattern and flags of every literal below web/."""
    for path in sorted((ROOT / "web").rglob("*.js")):
        words = _COMMENT.sub(lambda found: re.sub(r"[^\n]", " ", found[0]), path.read_text(encoding="utf-8"))
        for found in _LITERAL.finditer(words):
            line = words.count("\n", 0, found.start(1)) + 1
            yield f"{path.relative_to(ROOT)}:{line}", found[1], found[2]


def pumps(pattern: str) -> list[tuple[str, str, str]]:
    """Head, part that is repeated, tail: each letter of the pattern, its words, and what most patterns treat apart."""
    plain = re.sub(r"\\[dDwWsSbB]|[\[\](){}?*+|^$\\]", " ", pattern)
    words = [word for word in re.split(r"\s{2,}", plain) if word.strip()]
    letters = sorted(set(re.sub(r"\\.", "", pattern)) - set("[](){}?*+|^$\\"))
    parts = [
        *letters,
        *words,
        " ",
        "1",
        "a",
        "\n",
        "'",
        "- ",
        " a",
        "(",
        "a,",
        ", 2026-01-01 ",
        "2026-01-01",
        ", as it was",
        "over 1 to 2 ",
    ]
    heads = ["", words[0] if words else "a"]
    return [(head, part, tail) for head in heads for part in parts for tail in ("", "\n!", " abc")]
