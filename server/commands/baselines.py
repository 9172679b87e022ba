"""Commands on baselines: list, show, check."""

from __future__ import annotations

from pathlib import Path

import click

from server.analysis.baseline_files import check_table, find_baseline, read_baseline, shipped_ids
from server.analysis.curves import extend_all
from server.commands import BadInput
from server.commands.tables import aligned
from server.game.lies import GREEN
from server.game.units import FEET_PER_YARD


@click.group()
def baseline() -> None:
    """Baselines of expected strokes: those shipped, and tables of your own."""


@baseline.command("list")
def list_() -> None:
    """Name every baseline, with its version and source."""
    rows = []
    for name in shipped_ids():
        about = read_baseline(find_baseline(name))
        rows.append([about.id, about.version, about.title])
    click.echo(aligned(["id", "version", "title"], rows))


@baseline.command()
@click.argument("name")
def show(name: str) -> None:
    """Print a baseline (an id or a file): what it is, its printed rows, and where its extension begins."""
    try:
        about = read_baseline(find_baseline(name))
    except (LookupError, ValueError) as error:
        raise BadInput(str(error.args[0] if error.args else error)) from error
    click.echo(f"{about.id} {about.version}: {about.title}\nsource: {about.source}\n")
    curves = extend_all(about.rows)
    for lie, (yards, expected) in about.rows.items():
        unit, factor = ("ft", FEET_PER_YARD) if lie == GREEN else ("yd", 1.0)
        curve = curves[lie]
        near, far = curve.printed_from * factor, curve.printed_to * factor
        cells = [f"{distance * factor:g} {value:.2f}" for distance, value in zip(yards, expected, strict=True)]
        click.echo(f"{lie} ({unit}, strokes), printed {near:g} to {far:g} {unit}; extended outside:")
        click.echo("  " + ", ".join(cells))
        click.echo(f"  at the hole {curve.expected[0]:.2f}; beyond {curve.slope_beyond / factor:+.4f} a {unit}\n")


@baseline.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
def check(file: Path) -> None:
    """Check a table of your own: CSV with lie, distance, unit, expected_strokes."""
    rows, faults = check_table(file.read_bytes())
    for fault in faults:
        click.echo(fault, err=True)
    if faults:
        raise BadInput(f"{file.name}: {len(faults)} faults; it cannot be used as a baseline")
    count = sum(len(yards) for yards, _ in rows.values())
    click.echo(f"{file.name}: {count} rows for {', '.join(rows)}; it can be used as a baseline")
