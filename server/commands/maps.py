"""Commands on maps of holes."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import click

from server.commands import BadInput, database, named_player
from server.commands.plans import course_id_of
from server.commands.tables import counted
from server.game.geojson_maps import BadMap
from server.season.map_import import LARGEST_FILE, import_maps, read_geojson
from server.store.engine import reading

MOST_FAULTS_SHOWN: Final = 50


@click.group("map")
def map_() -> None:
    """Maps of holes."""


@map_.command("import")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--player", help="Whose course; may be left out while there is one player.")
@click.option("--course", help="The course by its name; may be left out while there is one.")
@click.option("--hole", type=click.IntRange(1, 36), help="The hole that the whole file shows, when it does not say.")
def map_import(file: Path, player: str | None, course: str | None, hole: int | None) -> None:
    """Read GeoJSON in WGS84 with OpenStreetMap's golf tags: every hole of FILE or none."""
    size = file.stat().st_size
    if size > LARGEST_FILE:
        raise BadInput(f"{file.name}: the file has {size / 1e6:.0f} MB; the most is {LARGEST_FILE / 1e6:.0f} MB")
    try:
        with database() as engine:
            with reading(engine) as connection:
                owner = named_player(connection, player)
                course_id = course_id_of(connection, owner, course)
            done = import_maps(engine, owner, course_id, read_geojson(file.read_bytes()), hole)
    except BadMap as error:
        for fault in error.faults[:MOST_FAULTS_SHOWN]:
            click.echo(fault, err=True)
        first = error.faults[0] if len(error.faults) == 1 else f"{len(error.faults)} faults"
        raise BadInput(f"{file.name}: {first}; nothing was stored") from error
    for note in done.notes:
        click.echo(note, err=True)
    holes = ", ".join(str(number) for number in done.holes)
    news = f"stored {counted(done.stored, 'new or changed map')}" if done.stored else "nothing new"
    click.echo(f"{counted(len(done.holes), 'hole')} read ({holes}); {news}")
