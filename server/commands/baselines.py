"""Commands on baselines: list, show, check, fit."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import click

from server.analysis.expected_strokes.baseline import DEFAULT_BASELINE, Baseline
from server.analysis.expected_strokes.curves import extend_all
from server.analysis.expected_strokes.files import check_table, find_baseline, read_baseline, shipped_ids
from server.analysis.expected_strokes.fit import TooFewShotsError
from server.analysis.expected_strokes.own_table import DATA, OwnTable
from server.commands import InputError, database, refused
from server.commands.dataset_answers import dataset_at, squad_in
from server.commands.options import DATASET, DAY, FilePlace, as_day
from server.commands.progress import progress
from server.commands.tables import aligned, counted
from server.game.lies import GREEN
from server.game.numbers import signed
from server.game.units import FEET_PER_YARD
from server.questions.competition_lock import refuse_locked
from server.questions.own_baselines import default_folder, own_file, own_ids
from server.questions.question import Span
from server.questions.valued_shots import baseline_by_id
from server.reports.fitted_baseline import EVERYONE, Fitted, OwnerError, fit_frames, fit_own, owners_of
from server.store.engine import reading


@click.group()
def baseline() -> None:
    """Baselines of expected strokes, shipped and your own."""


def _file(name: str) -> Path:
    """The file of a baseline. LookupError as `find_baseline`."""
    return own_file(default_folder(), name) or find_baseline(name)


@baseline.command("list")
def list_() -> None:
    """Name every baseline, with its version and source."""
    rows = []
    for name in [*shipped_ids(), *own_ids(default_folder())]:
        about = read_baseline(_file(name))
        rows.append([about.id, about.version, about.title])
    click.echo(aligned(["id", "version", "title"], rows))


@baseline.command()
@click.argument("name")
def show(name: str) -> None:
    """Print a baseline (an id or a file): what it is, its rows, and where its range ends."""
    try:
        about = read_baseline(_file(name))
    except (LookupError, ValueError) as error:
        raise refused(error) from error
    click.echo(f"{about.id} {about.version}: {about.title}\nsource: {about.source}\n")
    curves = extend_all(about.rows)
    for lie, (yards, expected) in about.rows.items():
        unit, factor = ("ft", FEET_PER_YARD) if lie == GREEN else ("yd", 1.0)
        curve = curves[lie]
        near, far = curve.printed_from * factor, curve.printed_to * factor
        cells = [f"{distance * factor:g} {value:.2f}" for distance, value in zip(yards, expected, strict=True)]
        click.echo(f"{lie} ({unit}, strokes), in the table {near:g} to {far:g} {unit}; estimated beyond:")
        click.echo("  " + ", ".join(cells))
        click.echo(f"  at the hole {curve.expected[0]:.2f}; beyond {signed(curve.slope_beyond / factor, 4)} a {unit}\n")


@baseline.command()
@click.argument("file", type=FilePlace(exists=True))
def check(file: Path) -> None:
    """Check a table of your own: CSV with lie, distance, unit, expected_strokes."""
    rows, faults = check_table(file.read_bytes())
    for fault in faults:
        click.echo(fault, err=True)
    if faults:
        raise InputError(f"{file.name}: {len(faults)} faults; it cannot be used as a baseline")
    count = sum(len(yards) for yards, _ in rows.values())
    click.echo(f"{file.name}: {count} rows for {', '.join(rows)}; it can be used as a baseline")


@baseline.command()
@click.option("--from", "whose", required=True, help="A player's name, a squad's name, or everyone.")
@click.option("--to", "file", type=FilePlace(), help="A file instead of the usual folder.")
@click.option("--id", "baseline_id", help="The name to give it. Default: made from the player's or squad's name.")
@click.option("--first", type=DAY, help="First day of the rounds, YYYY-MM-DD.")
@click.option("--last", type=DAY, help="Last day of the rounds, YYYY-MM-DD.")
@click.option("--on", default=DEFAULT_BASELINE, show_default=True, help="Id of the published baseline it starts from.")
@DATASET
def fit(
    whose: str,
    file: Path | None,
    baseline_id: str | None,
    first: datetime | None,
    last: datetime | None,
    on: str,
    dataset: Path | None,
) -> None:
    """Make a baseline from logged shots: the published table, adjusted by those shots."""
    if first and last and first > last:
        raise InputError(f"--first: {as_day(first)} is after --last {as_day(last)}")
    try:
        published = baseline_by_id(on)
        days = as_day(first), as_day(last)
        if dataset is not None:
            made = _exported(dataset, whose, published, *days)
        else:
            with database() as engine, reading(engine) as connection:
                owners = owners_of(connection, whose)
                refuse_locked(connection, owners)
                with progress("reading", len(owners), "players") as advance:
                    made = fit_own(connection, whose, owners, published, *days, progress=advance)
        table, path = made.table, made.write(_today(), baseline_id, file)
    except OwnerError as error:
        raise InputError(f"--from: {error}") from error
    except TooFewShotsError as error:
        raise InputError(f"--from: {whose}: {error}") from error
    except (LookupError, ValueError) as error:
        raise refused(error) from error
    except OSError as error:
        raise InputError(f"--to: {error}") from error
    click.echo(_learnt(table, on, path))


def _exported(folder: Path, whose: str, published: Baseline, first: date | None, last: date | None) -> Fitted:
    """The baseline of a dataset's rounds."""
    with dataset_at(folder) as found:
        named = [player for player in found.players if player.name == whose]
        if len(named) > 1:
            raise OwnerError(f"{len(named)} players are called {whose!r}; rename one first")
        owners = named or squad_in(found, None if whose == EVERYONE else whose, "from")
        valued = found.valued(owners, Span(first, last))
        return fit_frames(whose, ((player.player_id, shots) for player, shots in valued), published)


def _today() -> date:
    return datetime.now(UTC).date()


def _learnt(table: OwnTable, on: str, path: Path) -> str:
    """What became of it, by lie."""
    rows = []
    for lie, part in table.rows.groupby("lie", sort=False):
        unit, factor = ("ft", FEET_PER_YARD) if lie == GREEN else ("yd", 1.0)
        reported = part[part["known"].eq(DATA)]
        more = reported["expected"] - reported["published"]
        near, far = (f"{reported['distance_yd'].min() * factor:g}", f"{reported['distance_yd'].max() * factor:g}")
        reach = f"{near} to {far} {unit}" if len(reported) else "-"
        change = f"{signed(more.min(), 2)} to {signed(more.max(), 2)}" if len(reported) else "-"
        half = ((reported["high"] - reported["low"]) / 2).median()
        exact = f"{half:.2f}" if len(reported) else "-"
        rows.append([str(lie), f"{len(reported)} of {len(part)}", reach, change, exact])
    head = f"{counted(table.starts, 'shot')} on {counted(table.holes, 'finished hole')} in {table.rounds} rounds"
    titles = ["lie", "rows from data", "where", f"strokes more than {on}", "known to +-"]
    notes = (
        f"Away from data it is {on}; the column known shows what each row is based on.\n"
        f"written to {path} and {path.with_suffix('.toml').name}"
    )
    return "\n".join([head, "", aligned(titles, rows), "", notes])
