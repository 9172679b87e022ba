"""A baseline asked for by id, or by id and version: a season is reported again with the numbers it was reported with.

A baseline keeps its id when its values change and takes a new version; the older one can stay beside it as a file of
another name whose TOML has the same `id`. "ID@VERSION" finds it there, and is refused when it is not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Final

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.files import shipped_ids
from server.questions.own_baselines import default_folder, own_ids
from server.questions.valued_shots import baseline_by_id

MARK: Final = "@"


class OtherVersionError(LookupError):
    """The baseline is there, in another version than the one that was asked for."""


def versioned_baseline(asked: str, known: Sequence[str], read: Callable[[str], Baseline]) -> Baseline:
    """The baseline "ID" or "ID@VERSION", of the files `known` that `read` reads. LookupError when there is none;
    OtherVersionError, when it has another version, names those that are there."""
    if asked in known:
        return read(asked)
    name, mark, version = asked.rpartition(MARK)
    versions = list(_of_id(name, known, read)) if mark else []
    for found in versions:
        if found.version == version:
            return found
    if versions:
        there = ", ".join(found.version for found in versions)
        raise OtherVersionError(f"baseline: {name} is here in version {there}, not in {version}: its values may differ")
    raise LookupError(f"baseline: {asked!r} is not one of {', '.join(known)}")


def _of_id(name: str, known: Sequence[str], read: Callable[[str], Baseline]) -> Iterator[Baseline]:
    for file in known:
        try:
            found = read(file)
        except ValueError:
            # a file of somebody's own that cannot be used is nobody's older version
            continue
        if found.id == name:
            yield found


def baseline_or_file(asked: str) -> Baseline:
    """As `versioned_baseline` among shipped and own baselines, or the file at a path. LookupError or ValueError as
    `baseline_by_id`."""
    try:
        return versioned_baseline(asked, [*shipped_ids(), *own_ids(default_folder())], baseline_by_id)
    except OtherVersionError:
        raise
    except LookupError:
        return baseline_by_id(asked)
