"""What --dataset does: players, squads and baselines by the names that a dataset holds, and its faults in one line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click
from click.core import ParameterSource

from server.commands import InputError, refused
from server.questions.question import Question
from server.records.known_names import known_names
from server.records.validation import InvalidError
from server.reports.summary import SummaryDocument, summary_document
from server.store.accounts import normalize
from server.store.players import Player

if TYPE_CHECKING:
    from server.files.season_dataset.reading import Dataset


@contextmanager
def dataset_at(folder: Path) -> Iterator[Dataset]:
    """The dataset in a folder. InputError for what is none, half of one or of another version."""
    from server.files.season_dataset.reading import NoDatasetError, open_dataset  # noqa: PLC0415 - brings Arrow

    try:
        yield open_dataset(folder)
    except NoDatasetError as error:
        raise InputError(f"--dataset: {error}") from error


def named_in(dataset: Dataset, name: str | None) -> Player:
    """The player of that name in the dataset; without a name the only one there is."""
    found = [player for player in dataset.players if name is None or player.name == name]
    if len(found) == 1:
        return found[0]
    known = known_names((player.name for player in dataset.players), name)
    if name is None:
        raise InputError(f"--player: name one player: {known}")
    if found:
        raise InputError(f"--player: {len(found)} players are called {name!r}; rename one first")
    raise InputError(f"--player: {name!r} is not in the dataset; there is {known}")


def squad_in(dataset: Dataset, squad: str | None, option: str = "squad") -> Sequence[Player]:
    """The players who shared with a squad when the dataset was written; all of them without one."""
    if squad is None:
        return dataset.players
    named = normalize(squad)
    found = [player for player in dataset.players if named in dataset.squads.get(player.player_id, ())]
    if not found:
        raise InputError(f"--{option}: nobody in the dataset shares with a squad {squad!r}")
    return found


def same_baseline(dataset: Dataset, baseline: str | None, option: str = "baseline") -> None:
    """Refuse another baseline than the dataset's: its values are there, and are not worked out again."""
    given = click.get_current_context().get_parameter_source(option) is not ParameterSource.DEFAULT
    about = dataset.baseline.about
    if given and baseline not in (None, about.id, f"{about.id}@{about.version}"):
        raise InputError(f"--{option}: the dataset was valued by {about.id} {about.version}, not by {baseline}")


def summaries_in(
    folder: Path,
    question: Question,
    player: str | None,
    squad: str | None,
    by: str,
    balls: str | None,
    *,
    several: bool,
) -> list[SummaryDocument]:
    """The summaries of a dataset, in the order of the players; one is worked out before the next is read."""
    with dataset_at(folder) as dataset:
        same_baseline(dataset, question.baseline)
        whose = squad_in(dataset, squad) if several else [named_in(dataset, player)]
        try:
            made = {
                chosen.player.player_id: summary_document(chosen, by, balls=balls)
                for chosen in dataset.chosen(whose, question)
            }
        except InvalidError as error:
            raise refused(error) from error
    return [made[one.player_id] for one in whose]
