"""What people read is in the words of golfers, coaches and analysts: the list stands in DEVELOPERS.md."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parents[2]
GUIDE = PROJECT / "DEVELOPERS.md"
GUIDES = sorted({*PROJECT.glob("README.md"), *PROJECT.glob("*/README.md"), *PROJECT.glob("server/*/README.md")})
SCREENS = sorted((PROJECT / "web" / "js").rglob("*.js"))
PAGES = (PROJECT / "web" / "index.html", PROJECT / "web" / "manifest.webmanifest")
ROOMS = ("commands", "reports", "api", "files", "records", "game", "questions", "analysis", "store", "operation")
HEADING = re.compile(r"^#+ Words$", re.MULTILINE)

_TOKEN = re.compile(
    r"(?P<comment>//[^\n]*|/\*.*?\*/)"
    r"|(?P<single>'(?:\\.|[^'\\\n])*')"
    r'|(?P<double>"(?:\\.|[^"\\\n])*")'
    r"|(?P<tick>`)"
    r"|(?P<name>[A-Za-z_$][\w$]*|\d[\w.]*)"
    r"|(?P<space>\s+)"
    r"|(?P<other>.)",
    re.DOTALL,
)
_REGEX = re.compile(r"/(?![/*])(?:\\.|\[(?:\\.|[^\]\\\n])*\]|[^/\\\[\n])+/[a-z]*")
_BEFORE_A_REGEX = frozenset({"return", "case", "typeof", "in", "of"})


def not_used() -> dict[str, str]:
    """Each phrase of the list that is not used, with the one used in its place."""
    table = HEADING.split(GUIDE.read_text(encoding="utf-8"), maxsplit=1)[1].split("\n#", 1)[0]
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines() if line.startswith("|")
    ]
    return {phrase.strip(): used for used, phrases in rows[2:] for phrase in phrases.split(";")}


def script_strings(source: str) -> Iterator[tuple[int, str]]:
    """Line and text of each string and template of a script, comments and regular expressions left out."""
    yield from _script(source, 0, 1, closing=False)[0]


def _script(source: str, at: int, line: int, *, closing: bool) -> tuple[list[tuple[int, str]], int, int]:
    """The strings from `at` on, up to the brace that closes a template's hole (`closing`) or the end."""
    found: list[tuple[int, str]] = []
    depth, before = 0, ""
    while at < len(source):
        if source[at] == "/" and (regex := _REGEX.match(source, at)) and _may_begin_regex(before):
            at, before = regex.end(), ")"
            continue
        token = _TOKEN.match(source, at)
        assert token is not None
        kind, text = token.lastgroup, token.group()
        if kind == "tick":
            more, at, line = _template(source, at + 1, line)
            found += more
            before = ")"
            continue
        if kind in ("single", "double"):
            found.append((line, text[1:-1]))
        depth += {"{": 1, "}": -1}.get(text, 0)
        at, line = token.end(), line + text.count("\n")
        if closing and depth < 0:
            break
        if kind not in ("space", "comment"):
            before = text
    return found, at, line


def _may_begin_regex(before: str) -> bool:
    """A slash divides after a value, and begins a regular expression after anything else."""
    return before in _BEFORE_A_REGEX or not before or not (before[-1].isalnum() or before[-1] in "_$)]}'\"")


def _template(source: str, at: int, line: int) -> tuple[list[tuple[int, str]], int, int]:
    """The words of a template whose backtick was read, a blank for each hole, and the strings in its holes."""
    words, begun, found = "", line, []
    while source[at] != "`":
        if source.startswith("${", at):
            more, at, line = _script(source, at + 2, line, closing=True)
            found += more
            words += "…"
            continue
        size = 2 if source[at] == "\\" else 1
        words += source[at : at + size]
        line += source[at : at + size].count("\n")
        at += size
    return [(begun, words), *found], at + 1, line


def program_strings(source: str) -> Iterator[tuple[int, str]]:
    """Line and text of each string of a module, holes of f-strings as one mark; docstrings of commands are help texts,
    all others are left out."""
    tree = ast.parse(source)
    silent: set[int] = set()
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        for place, one in enumerate(body if isinstance(body, list) else []):
            if isinstance(one, ast.Expr) and isinstance(one.value, ast.Constant):
                help_text = place == 0 and any(
                    "command" in ast.unparse(by) for by in getattr(node, "decorator_list", [])
                )
                silent |= set() if help_text else {id(one.value)}
        if isinstance(node, ast.JoinedStr):
            silent |= {id(value) for value in node.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            parts = [str(value.value) if isinstance(value, ast.Constant) else "…" for value in node.values]
            yield node.lineno, "".join(parts)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in silent:
            yield node.lineno, node.value


def texts() -> Iterator[tuple[str, str]]:
    """Everything people read, with its place."""
    for path in SCREENS:
        for line, words in script_strings(path.read_text(encoding="utf-8")):
            yield f"{path.relative_to(PROJECT)}:{line}", words
    for room in ROOMS:
        for path in sorted((PROJECT / "server" / room).rglob("*.py")):
            for line, words in program_strings(path.read_text(encoding="utf-8")):
                yield f"{path.relative_to(PROJECT)}:{line}", words
    for path in (*GUIDES, *PAGES):
        yield str(path.relative_to(PROJECT)), " ".join(path.read_text(encoding="utf-8").split())


def faults(said: Iterator[tuple[str, str]], phrases: dict[str, str]) -> list[str]:
    """Where a phrase that is not used is said, and what is used instead."""
    patterns = [(re.compile(rf"(?<!\w){re.escape(phrase)}(?!\w)", re.IGNORECASE), phrase) for phrase in phrases]
    return [
        f"{place}: “{phrase}”, used is “{phrases[phrase]}”"
        for place, words in said
        for pattern, phrase in patterns
        if pattern.search(words)
    ]


def test_the_list_is_read() -> None:
    phrases = not_used()
    assert len(phrases) > 50
    assert phrases["good lies"] == "tee, fairway and fringe"
    assert not faults(((used, used) for used in phrases.values()), phrases)


def test_nothing_that_people_read_uses_a_phrase_that_is_not_used() -> None:
    assert faults(texts(), not_used()) == []


SCRIPT = r"""
// What the shots say: a comment
const pattern = /the shots' say/g, half = width / 2; /* Take away */
h('p', null, "it's", `Go on: hole ${next ? `in ${'Take away'}` : 1}
 after`, 'don\'t');
"""


def test_strings_of_a_script_are_found_and_comments_are_not() -> None:
    assert {line for line, _ in script_strings(SCRIPT)} == {4, 5}
    assert [words for _, words in script_strings(SCRIPT)] == [
        "p", "it's", "Go on: hole …\n after", "in …", "Take away", "don\\'t",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ('"""Take away."""\nsay = f"a guess of {size} yd"\n', ["a guess of … yd"]),
        ('@group.command\ndef end() -> None:\n    """Take away."""\n', ["Take away."]),
        ('def end() -> None:\n    """Take away."""\n    raise ValueError("far " "out")\n', ["far out"]),
    ],
)
def test_strings_of_a_module_are_found(source: str, found: list[str]) -> None:
    assert [words for _, words in program_strings(source)] == found


@pytest.mark.parametrize("phrase", ["What the shots say", "somebody NEW", "good lies\ntogether"])
def test_a_phrase_that_comes_back_is_named(phrase: str) -> None:
    said = iter([("a.js:1", " ".join(f"Look: {phrase}.".split()))])
    assert len(faults(said, not_used())) == 1
