"""`python -m server COMMAND`."""

import click

from server import VERSION
from server.commands.lazily import LazyCommands
from server.commands.options import SectionedGroup

SECTIONS = {
    "Play and practice": {
        "serve": ("serving", "serve"),
        "demo": ("seasons", "demo"),
        "import": ("seasons", "import_"),
        "import-practice": ("practice", "import_practice_"),
        "map": ("maps", "map_"),
    },
    "Where strokes go": {
        "summary": ("summaries", "summary"),
        "level": ("levels", "level_"),
        "priorities": ("putting", "priorities_"),
        "putting": ("putting", "putting"),
        "part-swings": ("putting", "part_swings_"),
        "practice": ("practice", "practice_"),
        "practice-targets": ("practice", "practice_targets_"),
    },
    "Clubs": {
        "trial": ("evidence", "trial"),
        "distances": ("plans", "distances_"),
        "patterns": ("plans", "patterns_"),
        "strikes": ("strikes", "strikes"),
        "course-bag": ("course_bags", "course_bag_"),
    },
    "Before a round": {
        "plan": ("plans", "plan_"),
        "round-ahead": ("rounds_ahead", "round_ahead"),
    },
    "Several players": {
        "squad": ("squads", "squad"),
        "against": ("squads", "against"),
        "pair": ("squads", "pair"),
        "holes": ("squads", "holes"),
    },
    "Season tables and baselines": {
        "export": ("exporting", "export"),
        "verify": ("verifying", "verify_"),
        "dictionary": ("exporting", "dictionary_"),
        "baseline": ("baselines", "baseline"),
    },
    "Running a server": {
        "account": ("accounts", "account"),
        "token": ("accounts", "token"),
        "backup": ("upkeep", "backup"),
        "restore": ("upkeep", "restore"),
        "check": ("upkeep", "check"),
        "migrate": ("upkeep", "migrate_"),
        "partition-log": ("upkeep", "partition_log_"),
    },
}
"""The commands as --help lists them, each with its module below server.commands and its name there."""
COMMANDS = LazyCommands({name: place for section in SECTIONS.values() for name, place in section.items()})


@click.group(cls=SectionedGroup, commands=COMMANDS, sections=SECTIONS)
@click.version_option(VERSION, prog_name="Pencilbag")
def main() -> None:
    """Pencilbag: log shots on the course, see strokes gained by club and by category."""


if __name__ == "__main__":
    main(prog_name="python -m server")
