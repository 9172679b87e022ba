"""A baseline asked for by id, or by id and version: a season is told again with the numbers it was reported with.

A baseline keeps its id when its values change and takes a new version; the older one can stay beside it as a file of
another name whose TOML has the same `id`. "ID@VERSION" finds it there, and is refused when it is not.
"""

from __future__ import annotations

from typing import Final

from server.analysis.baseline_files import shipped_ids
from server.analysis.expected_strokes import Baseline
from server.season.valued import baseline_by_id

MARK: Final = "@"


class OtherVersion(LookupError):
    """The baseline is there, in another version than the one that was asked for."""


def shipped_baseline(asked: str) -> Baseline:
    """The shipped baseline "ID" or "ID@VERSION". LookupError when there is none; OtherVersion, when it has another
    version, names those that are there."""
    known = shipped_ids()
    if asked in known:
        return baseline_by_id(asked)
    name, mark, version = asked.rpartition(MARK)
    versions = [found for found in map(baseline_by_id, known) if mark and found.id == name]
    for found in versions:
        if found.version == version:
            return found
    if versions:
        there = ", ".join(found.version for found in versions)
        raise OtherVersion(f"baseline: {name} is here in version {there}, not in {version}: its values may differ")
    raise LookupError(f"baseline: {asked!r} is not one of {', '.join(known)}")


def baseline_or_file(asked: str) -> Baseline:
    """As `shipped_baseline`, or a file of one's own. LookupError or ValueError as `load_baseline`."""
    try:
        return shipped_baseline(asked)
    except OtherVersion:
        raise
    except LookupError:
        return baseline_by_id(asked)
