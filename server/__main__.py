"""`python -m server COMMAND`."""

import click

from server.commands.baselines import baseline
from server.commands.seasons import demo, export, import_, summary
from server.commands.serving import serve
from server.commands.upkeep import backup, check, restore


@click.group()
def main() -> None:
    """Pencilbag: log shots on the course, see strokes gained by club and by category."""


for command in (serve, demo, import_, summary, export, baseline, backup, restore, check):
    main.add_command(command)

if __name__ == "__main__":
    main(prog_name="python -m server")
