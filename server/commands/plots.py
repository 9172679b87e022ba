"""Pictures of what a command says: `--plot FILE.svg` or `FILE.png`, drawn with matplotlib, which serving does not need.

The look is that of the screens: graphite on off-white paper, labels beside what they name, colour only for what is
clear of zero.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import accumulate
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import click

from server.commands import InputError
from server.commands.options import FilePlace
from server.commands.tables import counted, signed, wrapped
from server.store.private_files import open_private

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from server.reports.ranks import SquadRanks
    from server.reports.summary import SummaryDocument
    from server.reports.trial_rows import TrialDocument

ENDINGS: Final = (".svg", ".png")
REQUIREMENTS: Final = "server/requirements-plots.txt"

PAPER: Final = "#faf6ec"
INK: Final = "#26241f"
SOFT_INK: Final = "#4b473d"
GAIN: Final = "#2b66c4"
LOSS: Final = "#d06a00"
WORDS_IN: Final = {INK: INK, GAIN: "#0d3f8f", LOSS: "#7d3c00"}
"""As in web/css/paper.css; words are darker than the lines that they speak of, to be read on the paper."""

_WIDTH_IN: Final = 8.0
_ROW_IN: Final = 0.36
_LINE_IN: Final = 0.17
_AROUND_IN: Final = 1.7
_DPI: Final = 150
_WORDS_WIDE: Final = 88
_TITLE_WIDE: Final = 76
_LABEL_WIDE: Final = 26
_AXIS_WIDE: Final = 60
"""Characters that fit: under the rows, over them, to their left, at the axis. Longer words go on in a further line."""


class Mark(NamedTuple):
    """One row of a picture: a value in strokes with its interval, None where there are too few to say; `beside` goes
    to its right."""

    label: str
    value: float
    low: float | None
    high: float | None
    beside: str

    @property
    def colour(self) -> str:
        """Blue or orange where the interval is clear of zero, else ink."""
        if self.low is None or self.high is None or self.low <= 0 <= self.high:
            return INK
        return GAIN if self.low > 0 else LOSS


class Picture(NamedTuple):
    """What is drawn: rows from above, the words over and under them, what the axis is."""

    title: str
    axis: str
    marks: list[Mark]
    words: Sequence[str] = ()


def plotted(command: Callable[..., None]) -> Callable[..., None]:
    """The option `--plot`, given to the command as `plot`."""
    return click.option(
        "--plot", type=FilePlace(), callback=_checked, help="Also a picture: a file that ends in .svg or .png."
    )(command)


def _checked(_context: click.Context, _parameter: click.Parameter, place: Path | None) -> Path | None:
    if place is None:
        return None
    if place.suffix.lower() not in ENDINGS:
        raise InputError(f"--plot: {place.name!r} ends in none of {', '.join(ENDINGS)}")
    if not place.parent.is_dir():
        raise InputError(f"--plot: there is no folder {place.parent}")
    _library()
    return place


def _library() -> Callable[..., Figure]:
    """The class of a figure. Raises InputError where matplotlib is not installed."""
    try:
        from matplotlib.figure import Figure  # noqa: PLC0415 - only where a picture is asked for
    except ImportError as error:
        words = f"--plot: pictures need matplotlib; install it with .venv/bin/pip install -r {REQUIREMENTS}"
        raise InputError(words) from error
    return Figure


def draw(picture: Picture, place: Path) -> None:
    """Write a picture. Raises InputError when there is nothing to draw, or the file cannot be written."""
    if not picture.marks:
        raise InputError("--plot: there is nothing to draw")
    import matplotlib as mpl  # noqa: PLC0415

    # text stays text in an SVG; without a date and with stated ids the same picture is the same to the byte
    look: dict[Any, Any] = {
        "font.family": "serif",
        "axes.unicode_minus": False,
        "svg.fonttype": "none",
        "svg.hashsalt": "pencilbag",
    }
    with mpl.rc_context(look):
        figure = _figure(picture)
        about = {"Date": None} if place.suffix.lower() == ".svg" else {}
        try:
            with open_private(place, "wb") as file:
                figure.savefig(file, format=place.suffix[1:].lower(), dpi=_DPI, metadata=about)
        except OSError as error:
            raise InputError(f"--plot: {place} cannot be written to: {error.strerror}") from error
    click.echo(f"written: {place}", err=True)


def _figure(picture: Picture) -> Figure:
    words = [line for one in picture.words for line in wrapped(one, _WORDS_WIDE)]
    title, axis = wrapped(picture.title, _TITLE_WIDE), wrapped(picture.axis, _AXIS_WIDE)
    marks = [mark._replace(label="\n".join(wrapped(mark.label, _LABEL_WIDE))) for mark in picture.marks]
    rows = [max(_ROW_IN, _LINE_IN * (1 + mark.label.count("\n")) + 0.06) for mark in marks]
    over, under = 0.2 * (len(title) - 1), 0.2 * len(words) + _LINE_IN * (len(axis) - 1)
    height = _AROUND_IN + sum(rows) + over + under
    figure = _library()(figsize=(_WIDTH_IN, height), facecolor=PAPER)
    below, above = (0.75 + under) / height, 1 - (0.6 + over) / height
    axes = figure.add_axes((0.27, below, 0.52, above - below), facecolor=PAPER)
    for line, text in enumerate(title):
        at = 1 - (0.32 + 0.2 * line) / height
        figure.text(0.02, at, text, color=INK, fontsize=11, va="center", parse_math=False)
    for line, text in enumerate(words):
        at = (0.16 + 0.2 * (len(words) - 1 - line)) / height
        figure.text(0.02, at, text, color=SOFT_INK, fontsize=9, va="center", parse_math=False)
    _rows(axes, marks, [row / _ROW_IN for row in rows])
    axes.set_xlabel("\n".join(axis), color=SOFT_INK, fontsize=9, parse_math=False)
    return figure


def _rows(axes: Any, marks: Sequence[Mark], heights: Sequence[float]) -> None:
    """`heights` of the rows, 1 where the label is one line or two."""
    axes.axvline(0, color=SOFT_INK, linewidth=0.8)
    places = [end - height / 2 - 0.5 for end, height in zip(accumulate(heights), heights, strict=True)]
    for place, mark in zip(places, marks, strict=True):
        if mark.low is not None and mark.high is not None:
            axes.plot([mark.low, mark.high], [place, place], color=mark.colour, linewidth=2, solid_capstyle="round")
        filled = mark.colour if mark.low is not None else PAPER
        axes.plot(
            [mark.value], [place], "o", markersize=6, color=INK, markerfacecolor=filled, markeredgecolor=mark.colour
        )
        label = {"transform": axes.get_yaxis_transform(), "va": "center", "fontsize": 9, "parse_math": False}
        axes.text(-0.03, place, mark.label, ha="right", color=INK, **label)
        axes.text(1.03, place, mark.beside, ha="left", color=WORDS_IN[mark.colour], **label)
    axes.set_ylim(sum(heights) - 0.4, -0.6)
    axes.set_yticks([])
    axes.margins(x=0.08)
    axes.tick_params(axis="x", colors=SOFT_INK, labelsize=8)
    for side in ("left", "right", "top"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_color(SOFT_INK)


def _against(document: SummaryDocument | SquadRanks | TrialDocument) -> str:
    return f"against {document['baseline']['id']} {document['baseline']['version']}"


def summary_picture(document: SummaryDocument) -> Picture:
    """Strokes gained a shot by group, in the order of the table: best first, months as they came."""
    by = document["by"]
    marks = []
    for row in document["rows"]:
        if (value := row["per_shot"]) is not None:
            beside = f"{signed(value, 3)}  ({counted(row['shots'], 'shot')})"
            name = str(row.get(by)).replace("_", " ")
            marks.append(Mark(name, value, row["per_shot_low"], row["per_shot_high"], beside))
    words = [f"Lines: {100 * document['level']:g} % intervals; an open ring has too few shots for one."]
    if document["trend"]:
        words.append(document["trend"]["words"])
    title = f"{document['player']}: strokes gained by {by}, {_against(document)}"
    return Picture(title, "strokes gained a shot; 0 is the baseline", marks, words)


def squad_picture(document: SquadRanks) -> Picture:
    """The squad in order, beside its mean."""
    marks = [
        Mark(
            row["name"],
            row["beside_squad"],
            row["low"],
            row["high"],
            f"{signed(row['beside_squad'], 1)}  ({counted(row['rounds'], 'round')})",
        )
        for row in document["players"]
    ]
    title = f"Squad by {document['by'].replace('_', ' ')}, {_against(document)}"
    axis = "strokes gained a round compared with the squad; 0 is its mean"
    return Picture(title, axis, marks, [f"Lines: {100 * document['level']:g} % intervals.", document["words"]])


def trial_picture(document: TrialDocument) -> Picture:
    """The difference of a trial, at one check and at every check."""
    a, b = document["a"]["name"], document["b"]["name"]
    found = document["difference"]
    marks = []
    if found is not None:
        level, value = 100 * document["level"], found["per_shot"]
        marks = [
            Mark(f"{level:g} % interval", value, found["low"], found["high"], signed(value, 3)),
            Mark(f"{50 + level / 2:g} % at every check", value, found["always_low"], found["always_high"], ""),
        ]
    title = f"{document['player']}: {a} against {b}, {_against(document)}"
    axis = f"strokes gained a shot with {a} rather than {b}"
    return Picture(title, axis, marks, [document["verdict"]["words"]])
