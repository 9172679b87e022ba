"""Commands that are imported when they are called: each brings libraries that the others do not need."""

from __future__ import annotations

import atexit
import gc
from collections.abc import Iterator, MutableMapping
from importlib import import_module

import click

from server.commands.examples import add_examples
from server.store.collecting import uncollected

# While pandas and SQLAlchemy load, and again as the process ends, the collector of garbage would walk through half a
# million of their objects, which live as long as the process: a quarter of what `summary` costs.
atexit.register(gc.freeze)


class LazyCommands(MutableMapping[str, click.Command]):
    """Commands by name; `places` names for each its module below server.commands and the command there."""

    def __init__(self, places: dict[str, tuple[str, str]]) -> None:
        self.places = places
        self.loaded: dict[str, click.Command] = {}

    def __getitem__(self, name: str) -> click.Command:
        if name not in self.loaded:
            module, attribute = self.places[name]
            with uncollected():
                command = getattr(import_module(f"server.commands.{module}"), attribute)
                gc.freeze()
            self.loaded[name] = add_examples(name, command)
        return self.loaded[name]

    def __setitem__(self, name: str, command: click.Command) -> None:
        self.places[name] = (command.callback.__module__ if command.callback else "", name)
        self.loaded[name] = command

    def __delitem__(self, name: str) -> None:
        del self.places[name]
        self.loaded.pop(name, None)

    def __iter__(self) -> Iterator[str]:
        return iter(self.places)

    def __len__(self) -> int:
        return len(self.places)
