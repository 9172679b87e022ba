"""Random legal rounds as rows of a shots table, and what their scores must be."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from server.game.lies import LIES

OFF_THE_GREEN = [lie for lie in LIES if lie not in ("green", "tee")]
REASONS = ["out_of_bounds", "lost", "penalty_area", "unplayable", "other"]
CLUBS = ["driver", "5 wood", "8 iron", "56 wedge", "putter"]


def tenths(low: float, high: float) -> st.SearchStrategy[float]:
    """Lengths with one decimal, as people write them."""
    return st.integers(round(low * 10), round(high * 10)).map(lambda number: number / 10)


@st.composite
def places(draw: st.DrawFn) -> dict[str, Any]:
    """A lie with a distance in any unit."""
    unit = draw(st.sampled_from(["yd", "ft", "m"]))
    factor = {"yd": 1.0, "ft": 3.0, "m": 0.9144}[unit]
    if draw(st.booleans()):
        lie, distance = "green", draw(tenths(0.1, 49 * factor))
    else:
        lie, distance = draw(st.sampled_from(OFF_THE_GREEN)), draw(tenths(0.5, 600 * factor))
    return {"lie": lie, "distance": distance, "unit": unit}


@st.composite
def balls(draw: st.DrawFn, ball: int, length: float) -> list[dict[str, Any]]:
    """The shots of one ball: from the tee to the hole, or picked up on the way with or without an end."""
    count = draw(st.integers(1, 6))
    shots: list[dict[str, Any]] = []
    here: dict[str, Any] = {"lie": "tee", "distance": length, "unit": "yd"}
    for number in range(1, count + 1):
        shot = {"ball": ball, "shot": number, "club": draw(st.sampled_from(CLUBS))} | here
        if draw(st.integers(0, 9)) == 0:
            shot |= {"penalty_strokes": draw(st.sampled_from([1, 2])), "penalty_reason": draw(st.sampled_from(REASONS))}
        again = shot.get("penalty_reason") in ("out_of_bounds", "lost") and shot["penalty_strokes"] == 1
        here = here if again else draw(places())
        shot |= draw(st.sampled_from([{}, {}, {"swing": "part"}, {"planned_shape": "draw", "actual_shape": "fade"}]))
        shot |= draw(
            st.sampled_from(
                [
                    {},
                    {},
                    {"right_yd": -3.5, "long_yd": 12.25, "target_yd": 180, "carry_yd": 171.5},
                    {"strike": "toe", "planned_height": "low"},
                ]
            )
        )
        if shot["lie"] == "green":
            shot.pop("carry_yd", None)  # a putt has no carry
        shot |= draw(
            st.sampled_from(
                [{}, {}, {"note": 'into the "wind", two\nclubs more'}, {"note": "Ä=1+1"}, {"note": "'=1;-2"}]
            )
        )
        shots.append(shot)
    last = shots[-1]
    ended = draw(st.sampled_from(["holed", "holed", "holed", "picked up", "end"]))
    if ended == "holed":
        last["holed"] = "yes"
    elif ended == "picked up":
        last["holed"] = "no"
    else:
        last |= {f"end_{name}": cell for name, cell in draw(places()).items()}
        last["holed"] = draw(st.sampled_from(["", "no"]))
    return shots


@st.composite
def rounds(draw: st.DrawFn) -> list[dict[str, Any]]:
    """The rows of one legal round, shuffled."""
    kind = draw(st.sampled_from(["practice", "casual", "competition"]))
    common = {
        "player": "Wren Quillfeather",
        "played_on": draw(st.dates()).isoformat(),
        "kind": kind,
        "course": draw(st.sampled_from(["", "Blottingham Heath"])),
        "tees": draw(st.sampled_from(["", "middle"])),
        "ball_label": draw(st.sampled_from(["", "yellow Marigold", "=1"])),
        "lengths_taken": draw(st.sampled_from(["", "guessed", "position"])),
    }
    common["played_on"] = "2026" + common["played_on"][4:] if common["played_on"][5:] != "02-29" else "2026-03-01"
    rows = []
    for hole in draw(st.lists(st.integers(1, 36), min_size=1, max_size=3, unique=True)):
        par, length = draw(st.integers(3, 6)), draw(tenths(80, 650))
        about = common | {"hole": hole, "par": par, "length_yd": length}
        extra = draw(st.integers(1, 3)) if kind == "practice" else draw(st.integers(1, 2))
        for ball in range(1, extra + 1):
            provisional = {"provisional": "yes"} if ball > 1 and (kind != "practice" or draw(st.booleans())) else {}
            rows += [about | shot | provisional for shot in draw(balls(ball, length))]
    return list(draw(st.permutations(rows)))
