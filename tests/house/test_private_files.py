"""Whatever the server writes to disk goes through the one module that closes it to others."""

from __future__ import annotations

import ast
import re
from pathlib import Path

SERVER = Path(__file__).resolve().parents[2] / "server"
WRITERS = {"write_text", "write_bytes", "mkdir", "makedirs", "touch", "copyfile", "NamedTemporaryFile"}
WRITING = re.compile(r"[wax]|r\+")
SCRATCH = {"server/store/backup.py": ["write_text"]}
"""Files in a `TemporaryDirectory`, which is the owner's alone."""


def writes(tree: ast.AST) -> list[str]:
    """The calls in a module that make a file or a folder."""
    found = []
    for call in (node for node in ast.walk(tree) if isinstance(node, ast.Call)):
        name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
        given = [*call.args, *(word.value for word in call.keywords)]
        modes = [str(one.value) for one in given if isinstance(one, ast.Constant)]
        opened = name == "open" and any(map(WRITING.match, modes))
        if name in WRITERS or opened:
            found.append(name)
    return found


def test_nothing_else_makes_files_or_folders() -> None:
    paths = {path.relative_to(SERVER.parent).as_posix(): path for path in sorted(SERVER.rglob("*.py"))}
    del paths["server/store/private_files.py"]
    found = {name: writes(ast.parse(path.read_text(encoding="utf-8"))) for name, path in paths.items()}
    assert {name: calls for name, calls in found.items() if calls} == SCRATCH


def test_the_look_for_writes_finds_them() -> None:
    for words in ("path.open('wb')", "open(path, mode='a')", "path.write_text(x)", "folder.mkdir()"):
        assert writes(ast.parse(words)), words
    assert writes(ast.parse("path.open('rb'); open(path); path.read_text()")) == []
