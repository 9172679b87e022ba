"""One or two examples of every command, as its help shows them. Each is tried by the tests."""

from __future__ import annotations

from typing import Final

import click

PROGRAM: Final = "python -m server"

EXAMPLES: Final[dict[str, tuple[str, ...]]] = {
    "serve": ("serve", "serve --port 8080"),
    "demo": ("demo --if-empty", "demo --squad"),
    "import": (
        "import demo_rounds/worked_hole.csv --dry-run",
        'import demo_rounds/season_2026.csv --player "Wren Quillfeather"',
    ),
    "import-practice": ('import-practice demo_rounds/range_session.csv --player "Wren Quillfeather" --dry-run',),
    "summary": ('summary --player "Wren Quillfeather" --by category', "summary --everyone --from 2026-06-01 --json"),
    "trial": (
        'trial --a "4 iron A" --b "4 iron B"',
        'trial --a driver@2026-06-22 --b driver@2026-01-01 --player "Wren Quillfeather"',
        'trial --a "ball:yellow Marigold" --b "ball:white Curlew"',
    ),
    "level": ("level", "level --from 2026-06-01 --json"),
    "squad": ("squad", "squad --by putting --from 2026-06-01"),
    "against": ("against", "against --reference field --json"),
    "pair": ('pair --player "Wren Quillfeather" --other "Ash Thimble"',),
    "holes": ("holes", 'holes --course "Blottingham Heath" --player "Wren Quillfeather"'),
    "strikes": ("strikes", 'strikes --club driver --player "Wren Quillfeather"'),
    "patterns": ("patterns --split shape", 'patterns --club driver --player "Wren Quillfeather"'),
    "distances": ("distances", "distances --temperature 8 --altitude 1200"),
    "putting": ("putting", "putting --from 2026-06-01"),
    "part-swings": ('part-swings --club "54 wedge"',),
    "practice": ("practice", 'practice --club driver --player "Wren Quillfeather"'),
    "practice-targets": ("practice-targets --seed 7 --count 12",),
    "priorities": ("priorities", "priorities --kind competition"),
    "plan": ("plan --hole 3", "plan > round.txt"),
    "course-bag": ("course-bag --hole 16", "course-bag --longer 10 --json"),
    "round-ahead": ("round-ahead --first-hole 12 --last-hole 12",),
    "map import": ("map import demo_rounds/hole_maps.geojson",),
    "map export": ("map export maps.geojson",),
    "export": ("export --season 2026 --to tables", "export --season 2026 --to tables --format all --package"),
    "verify": ("verify tables",),
    "dictionary": ("dictionary > dictionary.md",),
    "baseline list": ("baseline list",),
    "baseline show": ("baseline show tour",),
    "baseline check": ("baseline check baselines/tour_2012_off_green.csv",),
    "baseline fit": ('baseline fit --from "Wren Quillfeather"', "baseline fit --from everyone --first 2026-01-01"),
    "backup": ("backup pencilbag-2026-10-11.sqlite",),
    "restore": ("restore pencilbag-2026-10-11.sqlite",),
    "check": ("check", "check --rebuild"),
    "migrate": ("migrate --check", "migrate"),
    "partition-log": ("partition-log --parts 16 --dry-run", "partition-log --parts 16"),
    "account add": ('account add robin --role player --player "Wren Quillfeather"', "account add ash --role coach"),
    "account list": ("account list",),
    "account squads": ("account squads ash juniors",),
    "account password": ("account password robin",),
    "account end": ("account end robin",),
    "account join": ("account join robin",),
    "token add": ("token add robin --label laptop --scope read_own --days 30",),
    "token list": ("token list robin",),
    "token end": ("token end robin 7",),
}


def add_examples(name: str, command: click.Command) -> click.Command:
    """The command, its help ended by its examples; of a group each of its commands."""
    if isinstance(command, click.Group):
        for below, one in command.commands.items():
            add_examples(f"{name} {below}", one)
    elif lines := EXAMPLES.get(name):
        words = "\n".join(f"  {PROGRAM} {line}" for line in lines)
        command.epilog = f"\b\nExamples:\n{words}"
    return command
