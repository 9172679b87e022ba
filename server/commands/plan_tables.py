"""Patterns, distances and plans as tables for the terminal and the printed page."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Final

from server.analysis.patterns.rows import FigureRow, Misses, PlannedShape
from server.analysis.patterns.shapes import CANNOT_TELL
from server.analysis.plan.choice import CALLED
from server.analysis.plan.rows import OptionRow, ShapeRow
from server.analysis.plan.tee_plan import TO_THE_FAIRWAY
from server.commands.tables import aligned, counted, signed
from server.game.numbers import plain
from server.game.practice import PRACTICE
from server.reports.patterns import DistancesDocument, PatternsDocument
from server.reports.plan_rows import PlanDocument

WIDTH: Final = 118
SHORT_LINES: Final = {TO_THE_FAIRWAY: "mid-fairway"}

BEST_IN: Final = (
    "best in: of 100 patterns that fit the shots, each club aimed anew, in how many it expects the fewest "
    "strokes; a club is called better when it is so in 97.5 of 100 and by over 0.05 strokes"
)


def of_100(chance: float) -> str:
    """A chance as a count of 100; what is not quite all or nothing never reads so.

    >>> of_100(0.62), of_100(0.997), of_100(0.001), of_100(1.0)
    ('62 of 100', 'over 99 of 100', 'under 1 of 100', '100 of 100')
    """
    if 0 < chance < 0.005:
        return "under 1 of 100"
    return "over 99 of 100" if 0.995 < chance < 1 else f"{plain(100 * chance, 0)} of 100"


def _figure(figure: FigureRow, digits: int, factor: float = 1.0) -> str:
    """A value with its interval in brackets, or a dash."""
    value, low, high = figure["value"], figure["low"], figure["high"]
    if value is None:
        return "-"
    words = plain(value * factor, digits)
    return (
        words
        if low is None or high is None
        else f"{words} ({plain(low * factor, digits)}-{plain(high * factor, digits)})"
    )


def _signed(figure: FigureRow, digits: int) -> str:
    """A value with its sign and, where there is one, the half width of its interval."""
    words, low, high = signed(figure["value"], digits), figure["low"], figure["high"]
    return words if low is None or high is None else f"{words} +- {(high - low) / 2:.{digits}f}"


def _wrapped(notes: list[str]) -> list[str]:
    """Notes no wider than a page."""
    return [textwrap.fill(note, WIDTH, subsequent_indent="  ") if note else "" for note in notes]


def patterns_table(document: PatternsDocument) -> str:
    """Patterns and shapes, the warnings below."""
    if document["empty"]:
        return f"{document['player']}: {document['empty']}"
    titles = ["club", "shots", "right", "spread", "long", "spread", "short %", "left %", "playable %"]
    rows, notes = [], []
    for row in document["patterns"]:
        name = f"{row['club']}, {row['swing']}" + (f", {row['group']}" if row["group"] else "")
        shares = row["shares"]
        rows.append(
            [
                name,
                str(row["shots"]),
                _signed(row["right"]["centre"], 1),
                _figure(row["right"]["spread"], 0),
                _signed(row["long"]["centre"], 1),
                _figure(row["long"]["spread"], 0),
                *(_figure(share, 0, 100) for share in (shares["short"], shares["left"], shares["playable"])),
            ]
        )
        notes += [f"{name}: {warning}" for warning in row["warnings"]]
    title = f"{document['player']}: finishes against the target in yards, right and long positive; in brackets 90 %"
    parts = [title, "", aligned(titles, rows), ""]
    if document["shapes"]:
        parts += [_shapes_table(document["shapes"]), ""]
        notes.append("? = not clear yet: the interval of a missed side crosses the limit of 10 %.")
    return "\n".join([*parts, *_wrapped([*notes, "", document["caution"]])])


def _shapes_table(shapes: Sequence[PlannedShape]) -> str:
    titles = ["planned", "shots", "came %", "other way %", "miss left %", "miss right %", "", "strokes gained"]
    rows = [
        [
            f"{row['club']}, {row['planned']}",
            str(row["shots"]),
            _figure(row["came"], 0, 100),
            "-" if row["other_way"] is None else _figure(row["other_way"], 0, 100),
            _figure(row["misses"]["left"], 0, 100),
            _figure(row["misses"]["right"], 0, 100),
            _miss_word(row["misses"]),
            _signed(row["strokes_gained"], 3),
        ]
        for row in shapes
    ]
    return aligned(titles, rows)


def _miss_word(misses: Misses) -> str:
    word = str(misses["word"])
    return word if misses["sure"] or word == CANNOT_TELL else f"{word}?"


def distances_table(document: DistancesDocument) -> str:
    """The ladder, each club with the step to the next one below."""
    if document["empty"]:
        return f"{document['player']}: {document['empty']}"
    steps = {step["longer"]: step for step in document["steps"]}
    rows = []
    for club in document["clubs"]:
        step = steps.get(club["club"])
        flag = "" if step is None else step["flag"] + ("" if step["sure"] else "?")
        rows.append(
            [
                club["club"],
                f"{club['practice_balls']} practice" if club["practice_balls"] else str(club["shots"]),
                _figure(club["median"], 0),
                _between(club["middle_half"]),
                _between(club["tenth_to_ninetieth"]),
                "-" if step is None else _figure(step["gap_yd"], 0),
                "-" if step is None else _percent(step["overlap"]["value"]),
                flag,
            ]
        )
    shots = "balls" if document["source"] == PRACTICE else "shots"
    titles = ["club", shots, "median yd", "middle half", "10th to 90th", "to the next", "overlap %", ""]
    settings = document["settings"]
    notes = [
        f"flags: a gap over {settings['gap_yd']:g} yd, an overlap (chance that the shorter club goes further on the "
        f"same day) over {settings['overlap']:.0%}; ? = not sure yet",
        "distances are to where the ball came to rest, mishits counted",
    ]
    if document["air"]:
        air = document["air"]
        notes.append(f"corrected for the air by a factor of {air['factor']:.3f}; {air['caution']}")
    else:
        notes.append(f"not corrected for the air; {document['caution']}")
    title = f"{document['player']}: full swings from tee, fairway and fringe; in brackets 90 %"
    return "\n".join([title, "", aligned(titles, rows), "", *_wrapped(notes)])


def _percent(share: float | None) -> str:
    return "-" if share is None else plain(100 * share, 0)


def _between(pair: list[float] | None) -> str:
    return "-" if pair is None else f"{plain(pair[0], 0)} to {plain(pair[1], 0)}"


def _aim(row: OptionRow | ShapeRow) -> str:
    """Where an option is aimed, in words."""
    yards = row["aim_yd"]
    line = SHORT_LINES.get(row["line"], row["line"])
    return line if abs(yards) < 0.5 else f"{plain(abs(yards), 0)} yd {'right' if yards > 0 else 'left'} of {line}"


def plan_table(document: PlanDocument) -> str:
    """The plan of one shot in full."""
    hole = document["hole"]
    rows = [
        [
            row["name"],
            _aim(row),
            plain(row["reach_yd"], 0),
            f"{row['expected']:.2f}",
            f"{row['low']:.2f} to {row['high']:.2f}" if row["low"] is not None and row["high"] is not None else "-",
            of_100(row["chance_best"]),
            *(plain(100 * row["shares"][name], 0) for name in ("fairway", "green", "trouble")),
            str(row["shots"]),
        ]
        for row in document["options"]
    ]
    titles = ["club", "aim", "yd", "expected", "90 %", "best in", "fairway %", "green %", "trouble %", "shots"]
    title = (
        f"{document['player']}: {document['course']}, hole {hole['number']}, par {hole['par']}, from the "
        f"{document['lie']}, {plain(document['to_hole_yd'], 0)} yd; {document['baseline']['id']} expects "
        f"{document['baseline']['expected']:.2f}"
    )
    notes = [_verdict(document), *shape_lines(document), *_ahead(document), *_carries(document)]
    if day := document["day"]:
        notes.append(f"calculated with {day['words']}; {day['caution']}")
    notes += [f"left out: {entry['name']}: {entry['reason']}" for entry in document["left_out"]]
    notes += _shared_notes(document["options"])
    if document["options"]:
        notes.append(BEST_IN)
    return "\n".join([title, "", aligned(titles, rows), "", *_wrapped([*notes, "", document["caution"]])])


def _ahead(document: PlanDocument) -> list[str]:
    """What the best shot leaves, and the plan that does not look ahead where it differs."""
    seen = document["ahead"]
    if seen is None:
        return []
    found = list(seen["words"])
    one = seen["one_step"]
    if one is not None and not seen["agree"]:
        costs = (
            "" if one["costs"] is None else f", which costs {signed(one['costs'], 2)} strokes with your own next shots"
        )
        found.append(f"one shot at a time, by {document['baseline']['id']}: {one['name']}{costs}")
    return found


CARRIES_SHOWN: Final = 3
HAZARDS: Final = {"water": "water", "sand": "sand", "out_of_bounds": "out of bounds"}


def _carries(document: PlanDocument) -> list[str]:
    """What the first options have to carry on their line of aim, one line for each."""
    found = []
    for row in document["options"][:CARRIES_SHOWN]:
        for one in row["carries"]:
            found.append(
                f"{row['name']}, carry {plain(row['flight']['carry_yd'], 0)} yd: {HAZARDS[one['kind']]} from "
                f"{plain(one['from_yd'], 0)} to {plain(one['to_yd'], 0)} yd, {plain(100 * one['over'], 0)} % land "
                f"beyond it, {plain(100 * one['short'], 0)} % stay short"
            )
    return found


def _shared_notes(options: Sequence[OptionRow]) -> list[str]:
    """Each note once, with the options that it speaks of."""
    spoken: dict[str, list[str]] = {}
    for row in options:
        for note in row["notes"]:
            spoken.setdefault(note, []).append(row["name"])
    return [f"{'all' if len(names) == len(options) else ', '.join(names)}: {note}" for note, names in spoken.items()]


def _verdict(document: PlanDocument) -> str:
    second = document["second"]
    if second is None:
        return str(document["verdict"])
    return (
        f"{document['verdict']}: {second['name']} costs {signed(second['costs'], 2)} strokes "
        f"({signed(second['low'], 2)} to {signed(second['high'], 2)}); the first is better in "
        f"{of_100(second['chance_best_is_better'])}"
    )


def shape_lines(document: PlanDocument) -> list[str]:
    """Which planned shape suits the shot, and where it is aimed, a line for each club with several."""
    return [
        f"{row['club']}: {row['verdict']}: {CALLED[row['against']]} costs {signed(row['costs'], 2)} strokes "
        f"({signed(row['low'], 2)} to {signed(row['high'], 2)}); {CALLED[row['shape']]} is "
        f"better in {of_100(row['chance'])}. Aim {CALLED[row['shape']]} {_at(row)}: eight in ten finish from "
        f"{_beside(-row['miss_left_yd'])} to {_beside(row['miss_right_yd'])} of that"
        for row in document["shapes"]
    ]


def _at(row: ShapeRow) -> str:
    return f"at {_aim(row)}" if abs(row["aim_yd"]) < 0.5 else _aim(row)


def _beside(right_yd: float) -> str:
    return f"{plain(abs(right_yd), 0)} yd {'right' if right_yd > 0 else 'left'}"


def plan_page(documents: Sequence[PlanDocument]) -> str:
    """One page for the round: the best plan of each hole, what the next-best costs, the cautions."""
    rows = []
    for document in documents:
        hole, options, second = document["hole"], document["options"], document["second"]
        head = [str(hole["number"]), str(hole["par"]), plain(hole["length_yd"], 0)]
        if not options:
            rows.append([*head, "-", str(document["verdict"]), "-", "-", "-", "-"])
            continue
        best = options[0]
        other = "-"
        if second is not None:
            same = "no real difference" if document["verdict"] == "no real difference" else signed(second["costs"], 2)
            other = f"{second['name']}: {same}"
        rows.append(
            [
                *head,
                best["name"],
                _aim(best),
                f"{best['expected']:.2f}",
                plain(100 * best["shares"]["fairway" if hole["par"] > 3 else "green"], 0),
                plain(100 * best["shares"]["trouble"], 0),
                other,
            ]
        )
    titles = ["hole", "par", "yd", "club", "aim", "expected", "hit %", "trouble %", "next best"]
    first = documents[0]
    total = sum(document["options"][0]["expected"] for document in documents if document["options"])
    against = first["baseline"]["id"]
    rest = "the shots after the first are your own" if first["ahead"] else f"the rest is played as {against} does"
    title = f"{first['player']}: plan of the tee shots, {first['course']}, {first['tees']} tees, against {against}"
    notes = [
        f"{counted(len(documents), 'hole')}, expected {total:.1f} strokes with these tee shots, if {rest}",
        "hit: fairway on par 4 and 5, green on par 3; trouble: sand, trees, water, out of bounds",
    ]
    return "\n".join([title, "", aligned(titles, rows), "", *_wrapped([*notes, "", first["caution"]])])
