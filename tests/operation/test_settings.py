"""Settings: one table, one reader, and a guide that says the same."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from server.operation.settings import PREFIX, SETTINGS, SettingError, environment, number, text

PROJECT = Path(__file__).resolve().parents[2]
READER = PROJECT / "server" / "operation" / "settings.py"
OTHER_PROGRAMS = {PROJECT / "server" / "store" / "backup.py"}
"""It hands its environment on to PostgreSQL's own programs."""
OTHER_LIBRARIES = {PROJECT / "server" / "__init__.py"}
"""It sets what numpy's OpenBLAS reads, and no setting of ours."""


def readers_of_the_environment() -> set[Path]:
    found = set()
    for path in (PROJECT / "server").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = ("environ", "getenv", "from_prefixed_env")
            if (
                isinstance(node, ast.Attribute)
                and node.attr in names
                and ast.unparse(node.value) in ("os", "app.config")
            ):
                found.add(path)
    return found


def test_one_module_reads_the_environment() -> None:
    assert readers_of_the_environment() == {READER} | OTHER_PROGRAMS | OTHER_LIBRARIES


def test_the_environment_is_asked_before_the_default(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in SETTINGS:
        monkeypatch.delenv(PREFIX + name, raising=False)
    assert environment() == {}
    assert (text("LOG"), number("WORKERS")) == ("plain", 2.0)
    monkeypatch.setenv("PENCILBAG_WORKERS", "5")
    monkeypatch.setenv("PENCILBAG_LOG", "")
    assert (text("LOG"), number("WORKERS")) == ("plain", 5.0)
    assert number("WORKERS", "7") == 7.0


@pytest.mark.parametrize("setting", [one.name for one in SETTINGS.values() if one.is_number])
def test_a_number_outside_its_range_is_named_with_value_and_range(
    monkeypatch: pytest.MonkeyPatch, setting: str
) -> None:
    about = SETTINGS[setting]
    for value in ("many", "-1", f"{about.high + 1:g}"):
        monkeypatch.setenv(PREFIX + setting, value)
        with pytest.raises(SettingError, match=rf"^{PREFIX}{setting}: .*{value}.*{about.low:g} to {about.high:g}"):
            number(setting)
