"""`python -m server COMMAND`."""

import click

from server.commands.accounts import account, token
from server.commands.baselines import baseline
from server.commands.evidence import trial
from server.commands.maps import map_
from server.commands.plans import distances_, patterns_, plan_
from server.commands.seasons import demo, export, import_, summary
from server.commands.serving import serve
from server.commands.upkeep import backup, check, restore


@click.group()
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
    plan_,
    map_,
    export,
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
