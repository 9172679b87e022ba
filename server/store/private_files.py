"""Files and folders that only their owner may read, whatever the umask: the database, backups, exports, fitted
baselines.

Folders that were there before stay as they are: they may be shared on purpose. A file is made 0600 before its first
byte is written, so that nobody opens it in between.
"""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from pathlib import Path
from typing import IO, Any, Final

FILE_MODE: Final = 0o600
FOLDER_MODE: Final = 0o700
OTHERS: Final = stat.S_IRWXG | stat.S_IRWXO
"""What group and others may do."""


def make_folder(path: Path) -> None:
    """Make a folder, and those above it that are missing, for their owner alone. Raises OSError."""
    missing = [folder for folder in (path, *path.parents) if not folder.exists()]
    for folder in reversed(missing):
        with suppress(FileExistsError):
            folder.mkdir(FOLDER_MODE)
            folder.chmod(FOLDER_MODE)


def open_private(path: Path, mode: str, **options: Any) -> IO[Any]:
    """`open`, for writing: the file, made now or there before, is its owner's alone. Raises OSError."""
    return open(path, mode, opener=_opener, **options)


def _opener(path: str, flags: int) -> int:
    handle = os.open(path, flags, FILE_MODE)
    try:
        found = os.fstat(handle)
        if stat.S_ISREG(found.st_mode) and found.st_uid == os.geteuid():
            os.fchmod(handle, FILE_MODE)
    except BaseException:
        os.close(handle)
        raise
    return handle


def write_private(path: Path, text: str) -> None:
    """Write a text file with line feeds, for its owner alone. Raises OSError."""
    with open_private(path, "w", encoding="utf-8", newline="\n") as file:
        file.write(text)


def close_to_others(path: Path) -> None:
    """Take a file or folder that is there away from group and others; another owner's stays as it is."""
    with suppress(FileNotFoundError, PermissionError):
        mode = stat.S_IMODE(path.stat().st_mode)
        if mode & OTHERS:
            path.chmod(mode & ~OTHERS)


SIDE_FILES: Final = ("-wal", "-shm", "-journal", ".serving")
"""What lies beside SQLite's file: its own, and the mark of a running server. SQLite gives those it makes the mode of
the database."""


def prepare_database_file(path: Path, *, own_folder: bool = False) -> None:
    """Before SQLite opens a file: its folder is there, and the file and what lies beside it are the owner's alone.
    When the file cannot be made, SQLite says so as it opens it. `own_folder`: nothing else of the owner's lies in it,
    so that it is closed to others too."""
    make_folder(path.parent)
    if own_folder:
        close_to_others(path.parent)
    with suppress(OSError):
        if not path.exists():
            open_private(path, "ab").close()
    beside = [path.with_name(path.name + ending) for ending in SIDE_FILES]
    for one in (path, *beside):
        close_to_others(one)
    _open_for_writing(path, beside)


def _open_for_writing(path: Path, beside: list[Path]) -> None:
    """Beside a file that was read-only SQLite leaves read-only files, which would keep it so when it no longer is."""
    if not os.access(path, os.W_OK):
        return
    for one in beside:
        with suppress(OSError):
            mode = stat.S_IMODE(one.stat().st_mode)
            if not mode & stat.S_IWUSR:
                one.chmod(mode | stat.S_IWUSR)


def to_disk(path: Path) -> None:
    """Wait until a file, or the names in a folder, are on the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
