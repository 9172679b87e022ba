"""Two folders that change places at once, so that a reader finds the old one or the new one, and always one."""

from __future__ import annotations

import ctypes
import os
from pathlib import Path
from typing import Final

_AT_CWD: Final = -100
_EXCHANGE: Final = 2
"""RENAME_EXCHANGE of Linux, renameat2(2)."""


def swap(new: Path, old: Path) -> None:
    """Let two folders of one file system change places. Raises OSError; then nothing has changed."""
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.renameat2(_AT_CWD, os.fsencode(new), _AT_CWD, os.fsencode(old), _EXCHANGE) != 0:
        code = ctypes.get_errno()
        raise OSError(
            code, f"{os.strerror(code)}: folders cannot change places here; take another file system", str(old)
        )
