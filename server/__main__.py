"""`python -m server COMMAND`."""

import click

from server import VERSION
from server.commands.lazily import LazyCommands
from server.commands.options import PlainGroup

COMMANDS = LazyCommands(
    {
        "serve": ("serving", "serve"),
        "demo": ("seasons", "demo"),
        "import": ("seasons", "import_"),
        "import-practice": ("practice", "import_practice_"),
        "summary": ("summaries", "summary"),
        "trial": ("evidence", "trial"),
        "level": ("levels", "level_"),
        "squad": ("squads", "squad"),
        "against": ("squads", "against"),
        "pair": ("squads", "pair"),
        "holes": ("squads", "holes"),
        "patterns": ("plans", "patterns_"),
        "strikes": ("strikes", "strikes"),
        "distances": ("plans", "distances_"),
        "putting": ("putting", "putting"),
        "part-swings": ("putting", "part_swings_"),
        "practice": ("practice", "practice_"),
        "practice-targets": ("practice", "practice_targets_"),
        "priorities": ("putting", "priorities_"),
        "plan": ("plans", "plan_"),
        "course-bag": ("course_bags", "course_bag_"),
        "round-ahead": ("rounds_ahead", "round_ahead"),
        "map": ("maps", "map_"),
        "export": ("exporting", "export"),
        "verify": ("verifying", "verify_"),
        "dictionary": ("exporting", "dictionary_"),
        "baseline": ("baselines", "baseline"),
        "backup": ("upkeep", "backup"),
        "restore": ("upkeep", "restore"),
        "check": ("upkeep", "check"),
        "migrate": ("upkeep", "migrate_"),
        "partition-log": ("upkeep", "partition_log_"),
        "account": ("accounts", "account"),
        "token": ("accounts", "token"),
    }
)


@click.group(cls=PlainGroup, commands=COMMANDS)
@click.version_option(VERSION, prog_name="Pencilbag")
def main() -> None:
    """Pencilbag: log shots on the course, see strokes gained by club and by category."""


if __name__ == "__main__":
    main(prog_name="python -m server")
