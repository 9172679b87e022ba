"""`python -m server COMMAND`."""

import click

from server.commands.accounts import account, token
from server.commands.baselines import baseline
from server.commands.evidence import trial
from server.commands.exporting import dictionary_, export
from server.commands.maps import map_
from server.commands.options import PlainGroup
from server.commands.plans import distances_, patterns_, plan_
from server.commands.putting import part_swings_, priorities_, putting
from server.commands.seasons import demo, import_, summary
from server.commands.serving import serve
from server.commands.upkeep import backup, check, restore


@click.group(cls=PlainGroup)
def main() -> None:
    """Pencilbag: log shots on the course, see strokes gained by club and by category."""


for command in (
    serve,
    demo,
    import_,
    summary,
    trial,
    patterns_,
    distances_,
    putting,
    part_swings_,
    priorities_,
    plan_,
    map_,
    export,
    dictionary_,
    baseline,
    backup,
    restore,
    check,
    account,
    token,
):
    main.add_command(command)

if __name__ == "__main__":
    main(prog_name="python -m server")
