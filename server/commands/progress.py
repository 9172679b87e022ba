"""Progress of long commands: a bar on stderr where somebody watches a terminal, nothing in pipes."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager


@contextmanager
def progress(label: str, total: int | None = None, unit: str = "steps") -> Iterator[Callable[[int], None]]:
    """A bar that the function given moves on by so many steps. `total`: None where nobody knows how many there are."""
    if not sys.stderr.isatty():
        yield lambda _steps: None
        return
    from tqdm import tqdm  # noqa: PLC0415 - only where it is seen

    with tqdm(total=total, desc=label, unit=f" {unit}", leave=False, file=sys.stderr) as bar:

        def advance(steps: int) -> None:
            bar.update(steps)

        yield advance


@contextmanager
def stages() -> Iterator[Callable[[str, int, int | None], None]]:
    """A bar for each stage of a command: it is given the stage ("checking rows"), by how many that has moved on, and of
    how many."""
    with ExitStack() as stack:
        bar: Callable[[int], None] = lambda _steps: None  # noqa: E731
        shown = ""

        def tell(stage: str, steps: int, total: int | None) -> None:
            nonlocal bar, shown
            if stage != shown:
                stack.close()
                label, _, unit = stage.rpartition(" ")
                bar, shown = stack.enter_context(progress(label, total, unit)), stage
            bar(steps)

        yield tell


SHARES = 1000


@contextmanager
def share_done(label: str) -> Iterator[Callable[[float], None]]:
    """A bar that is given the share of the work that is done."""
    done = 0
    with progress(label, SHARES, "parts of 1000") as advance:

        def tell(share: float) -> None:
            nonlocal done
            now = max(done, int(share * SHARES))
            advance(now - done)
            done = now

        yield tell
