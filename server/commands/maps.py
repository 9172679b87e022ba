"""Commands on maps of holes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Final

import click

from server.commands import InputError, database, named_player, refused
from server.commands.options import FilePlace, OneOf, WholeNumber
from server.commands.plans import course_id_of
from server.commands.tables import counted
from server.files.map_export import EARTH, FRAMES, YARDS, NoMapsError, frame_of, maps_as_geojson
from server.files.map_import import LARGEST_FILE, import_maps, read_geojson
from server.game.geojson_maps import MapError
from server.store.engine import reading
from server.store.hole_maps import course_by_id, hole_map_bodies
from server.store.private_files import write_private

MOST_FAULTS_SHOWN: Final = 50


@click.group("map")
def map_() -> None:
    """Import and export maps of holes."""


@map_.command("import")
@click.argument("file", type=FilePlace(exists=True))
@click.option("--player", help="Whose course; may be left out while there is one player.")
@click.option("--course", help="The course by its name; may be left out while there is one.")
@click.option("--hole", type=WholeNumber(1, 36), help="The hole of the whole file, when the file does not name it.")
def map_import(file: Path, player: str | None, course: str | None, hole: int | None) -> None:
    """Read GeoJSON in WGS84 with OpenStreetMap's golf tags: every hole of FILE or none."""
    size = file.stat().st_size
    if size > LARGEST_FILE:
        raise InputError(f"{file.name}: the file has {size / 1e6:.0f} MB; the most is {LARGEST_FILE / 1e6:.0f} MB")
    try:
        with database() as engine:
            with reading(engine) as connection:
                owner = named_player(connection, player)
                course_id = course_id_of(connection, owner, course)
            done = import_maps(engine, owner, course_id, read_geojson(file.read_bytes()), hole)
    except MapError as error:
        for fault in error.faults[:MOST_FAULTS_SHOWN]:
            click.echo(fault, err=True)
        first = error.faults[0] if len(error.faults) == 1 else f"{len(error.faults)} faults"
        raise InputError(f"{file.name}: {first}; nothing was stored") from error
    for note in done.notes:
        click.echo(note, err=True)
    holes = ", ".join(str(number) for number in done.holes)
    news = f"stored {counted(done.stored, 'new or changed map')}" if done.stored else "nothing new"
    click.echo(f"{counted(len(done.holes), 'hole')} read ({holes}); {news}")


@map_.command("export")
@click.argument("file", type=FilePlace())
@click.option("--player", help="Whose course; may be left out while there is one player.")
@click.option("--course", help="The course by its name; may be left out while there is one.")
@click.option("--hole", type=WholeNumber(1, 36), help="One hole; default: all mapped holes.")
@click.option("--frame", type=OneOf(FRAMES), default=EARTH, show_default=True, help="WGS84, or yards from the tee.")
def map_export(file: Path, player: str | None, course: str | None, hole: int | None, frame: str) -> None:
    """Write the maps of a course to FILE as GeoJSON; `map import` restores those in WGS84."""
    with database() as engine, reading(engine) as connection:
        owner = named_player(connection, player)
        course_id = course_id_of(connection, owner, course)
        known = course_by_id(connection, owner.player_id, course_id)
        bodies = hole_map_bodies(connection, owner.player_id, course_id)
    try:
        made = maps_as_geojson(known[0] if known else "the course", bodies, frame, hole)
    except NoMapsError as error:
        raise refused(error) from error
    for note in made["notes"]:
        click.echo(note, err=True)
    lines = ",\n".join(json.dumps(one, separators=(",", ":")) for one in made["features"])
    about = {name: value for name, value in made.items() if name not in ("notes", "features")}
    try:
        write_private(file, f'{json.dumps(about)[:-1]}, "features": [\n{lines}\n]}}\n')
    except OSError as error:
        raise InputError(f"{file}: {error.strerror}") from error
    holes = sorted(bodies) if hole is None else [hole]
    written = [number for number in holes if frame == YARDS or frame_of(bodies[number])]
    click.echo(f"{counted(len(written), 'hole')} written to {file}")
