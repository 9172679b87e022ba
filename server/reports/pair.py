"""Two players side by side, as a document for people and programs."""

from __future__ import annotations

from typing import Annotated, TypedDict

from server.analysis.evidence.adjusted_spans import TwoRates
from server.analysis.evidence.intervals import checked_level
from server.analysis.evidence.pair import A_BETTER, B_BETTER, CANNOT_SAY, NOT_SEPARATED, pair_parts
from server.analysis.evidence.rows import PairPart
from server.analysis.expected_strokes.baseline import Baseline
from server.questions.question import Span
from server.questions.squads import Member
from server.reports.against import part_words
from server.reports.heading import BaselineNamed


class OfThePair(TypedDict):
    """One of two players."""

    player_id: str
    name: str
    rounds: Annotated[int, "that count and have a course"]
    courses: int


class PairDocument(TypedDict):
    """Two players side by side. Strokes for 18 holes, unrounded."""

    a: OfThePair
    b: OfThePair
    baseline: BaselineNamed
    level: Annotated[float, "chance that an interval contains the true figure"]
    shared_courses: Annotated[list[str], "played by both"]
    parts: Annotated[list[PairPart], "all strokes, then the categories where both count in the same ones"]
    words: str


def pair_document(a: Member, b: Member, baseline: Baseline, level: float, span: Span) -> PairDocument:
    """Two players side by side over the rounds of a span. ValueError for a level outside its range, or a player who is
    locked."""
    checked_level(level)
    if a.tally is None or b.tally is None:
        raise ValueError("a, b: one of them is locked")
    chosen = tuple(one.chosen(span.first, span.last, span.kinds) for one in (a.tally, b.tally))
    both = TwoRates(a.tally.rates(chosen[0])[0], b.tally.rates(chosen[1])[0])
    parts = pair_parts(a.tally, b.tally, (chosen[0], chosen[1]), level)
    sides: list[OfThePair] = [
        {
            "player_id": one.player.player_id,
            "name": one.player.name,
            "rounds": int(rates.strokes.size),
            "courses": len(rates.names),
        }
        for one, rates in zip((a, b), both, strict=True)
    ]
    return {
        "a": sides[0],
        "b": sides[1],
        "baseline": {"id": baseline.id, "version": baseline.version},
        "level": level,
        "shared_courses": sorted(both.shared),
        "parts": parts,
        "words": _words(sides, parts, both.shared),
    }


def _words(sides: list[OfThePair], parts: list[PairPart], shared: list[str]) -> str:
    """Who is better in what, where that is clear."""
    if all(one["verdict"] == CANNOT_SAY for one in parts):
        return f"No result: {parts[0]['lacking']}."
    sentences = []
    for side, verdict in zip(sides, (A_BETTER, B_BETTER), strict=True):
        won = [part_words(one["part"]) for one in parts if one["verdict"] == verdict]
        if won:
            sentences.append(f"{side['name']} is better: {', '.join(won)}.")
    unclear = [part_words(one["part"]) for one in parts if one["verdict"] == NOT_SEPARATED]
    if len(unclear) == len(parts):
        sentences.append("Neither is clearly better in anything.")
    elif unclear:
        sentences.append(f"Neither is clearly better: {', '.join(unclear)}.")
    if not shared:
        sentences.append("No course was played by both, so how much courses may differ is in the intervals.")
    return " ".join(sentences)
