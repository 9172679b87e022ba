"""Pictures of the command line: what they show is what the command says, and what cannot be drawn is named."""

from __future__ import annotations

import json
import os
import stat
import sys
from collections.abc import Callable
from itertools import combinations
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner, Result
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.text import Text

from server.__main__ import main
from server.commands import plots
from server.commands.plots import GAIN, INK, LOSS, WORDS_IN, Mark
from tests.made_once import copy_demo

Run = Callable[..., Result]
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Call a command on a database with the demo season."""
    copy_demo(tmp_path / "demo.sqlite")
    monkeypatch.setenv("PENCILBAG_DATABASE", f"sqlite:///{tmp_path / 'demo.sqlite'}")
    return lambda *words: CliRunner().invoke(main, [str(word) for word in words])


def texts(place: Path) -> list[str]:
    """All words of an SVG."""
    return ["".join(one.itertext()).strip() for one in ElementTree.parse(place).iter(f"{SVG}text")]


def test_a_summary_is_drawn_with_every_club_and_its_figure(run: Run, tmp_path: Path) -> None:
    place = tmp_path / "clubs.svg"
    plain, drawn = run("summary", "--json"), run("summary", "--json", "--plot", place)
    assert (drawn.exit_code, drawn.stdout) == (0, plain.stdout)
    assert f"written: {place}" in drawn.stderr
    document: dict[str, Any] = json.loads(plain.stdout)
    found = texts(place)
    assert [word for word in found if word in {row["club"] for row in document["rows"]}] == [
        row["club"] for row in document["rows"]
    ]
    for row in document["rows"]:
        assert f"{row['per_shot']:+.3f}  ({row['shots']} shots)" in found
    again = tmp_path / "again.svg"
    run("summary", "--plot", again)
    assert again.read_bytes() == place.read_bytes()


def test_months_carry_their_trend_and_a_trial_its_verdict(run: Run, tmp_path: Path) -> None:
    months, trial = tmp_path / "months.svg", tmp_path / "trial.png"
    assert run("summary", "--by", "month", "--plot", months).exit_code == 0
    document = json.loads(run("summary", "--by", "month", "--json").stdout)
    written = " ".join(texts(months))
    assert all(word in written for word in document["trend"]["words"].split())
    assert run("trial", "--a", "4 iron A", "--b", "4 iron B", "--plot", trial).exit_code == 0
    assert trial.read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("low", "high", "colour"),
    [(0.1, 0.4, GAIN), (-0.4, -0.1, LOSS), (-0.1, 0.4, INK), (0.0, 0.4, INK), (None, None, INK)],
)
def test_colour_only_where_the_interval_is_clear_of_zero(low: float | None, high: float | None, colour: str) -> None:
    assert Mark("driver", 0.2, low, high, "").colour == colour


def test_words_are_read_on_the_paper() -> None:
    """7:1 against the paper (WCAG 2.2, 1.4.6), by the formula of relative luminance."""

    def luminance(colour: str) -> float:
        parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
        linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    paper = luminance("#faf6ec")
    assert min((paper + 0.05) / (luminance(one) + 0.05) for one in WORDS_IN.values()) >= 7


def test_what_cannot_be_drawn_is_named(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    other = run("summary", "--plot", tmp_path / "clubs.jpeg")
    assert (other.exit_code, other.stdout) == (2, "")
    assert "--plot: 'clubs.jpeg' ends in none of .svg, .png" in other.stderr
    nowhere = run("summary", "--plot", tmp_path / "none" / "clubs.svg")
    assert (nowhere.exit_code, f"there is no folder {tmp_path / 'none'}" in nowhere.stderr) == (2, True)
    several = run("summary", "--everyone", "--plot", tmp_path / "clubs.svg")
    assert (several.exit_code, "--plot: draws one player" in several.stderr) == (2, True)
    empty = run("summary", "--from", "2030-01-01", "--plot", tmp_path / "clubs.svg")
    assert (empty.exit_code, "there is nothing to draw" in empty.stderr) == (2, True)
    monkeypatch.setitem(sys.modules, "matplotlib.figure", None)
    missing = run("summary", "--plot", tmp_path / "clubs.svg")
    assert (missing.exit_code, missing.stdout) == (2, "")
    assert "install it with .venv/bin/pip install -r server/requirements-plots.txt" in missing.stderr
    assert not (tmp_path / "clubs.svg").exists()


@pytest.fixture
def figures(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Every figure that is drawn."""
    drawn: list[Any] = []
    make = plots._figure

    def keep(picture: plots.Picture) -> Any:
        drawn.append(make(picture))
        return drawn[-1]

    monkeypatch.setattr(plots, "_figure", keep)
    return drawn


@pytest.mark.parametrize(
    "words",
    [
        ("summary", "--by", "setup"),
        ("trial", "--a", "driver@2026-01-01", "--b", "driver@2026-06-22"),
    ],
    ids=["setups", "trial of setups"],
)
def test_long_names_stay_in_the_picture_and_apart(
    run: Run, tmp_path: Path, figures: list[Any], words: tuple[str, ...]
) -> None:
    assert run(*words, "--plot", tmp_path / "drawn.png").exit_code == 0
    [figure] = figures
    renderer = RendererAgg(figure.bbox.width, figure.bbox.height, figure.dpi)
    shown = [one for one in figure.findobj(Text) if one.get_text().strip() and one.get_visible()]
    boxes = [(one.get_text(), one.get_window_extent(renderer)) for one in shown]
    paper = figure.bbox
    beyond = [
        text for text, box in boxes if box.x0 < paper.x0 or box.x1 > paper.x1 or box.y0 < paper.y0 or box.y1 > paper.y1
    ]
    assert beyond == []
    crossed = [(one, other) for (one, box), (other, there) in combinations(boxes, 2) if box.overlaps(there)]
    assert crossed == []


def test_a_picture_is_its_owners_alone(run: Run, tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        for name in ("clubs.svg", "clubs.PNG"):
            assert run("summary", "--plot", tmp_path / name).exit_code == 0
            assert stat.S_IMODE((tmp_path / name).stat().st_mode) == 0o600
    finally:
        os.umask(before)
