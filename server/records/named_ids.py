"""Ids that follow from a name: version 5 UUIDs (RFC 9562, section 5.5), as `uuid.uuid5` gives them, sooner."""

from __future__ import annotations

import hashlib
from typing import Final

_VARIANT: Final = {digit: "89ab"[int(digit, 16) & 3] for digit in "0123456789abcdef"}


def bytes_of(written: str) -> bytes:
    """The 16 bytes of an id that is written with its hyphens."""
    return bytes.fromhex(written.replace("-", ""))


def named_id(namespace: bytes, name: str) -> str:
    """The id of `name` in a namespace (`bytes_of` its id).

    >>> named_id(bytes_of("6f1b5a52-3c0e-5a0f-9d5e-0d2f6c1f7a11"), "player|Wren")
    '6b5d4b38-3f77-5b9e-8f57-7245b17bce5b'
    """
    digits = hashlib.sha1(namespace + name.encode(), usedforsecurity=False).hexdigest()
    return f"{digits[:8]}-{digits[8:12]}-5{digits[13:16]}-{_VARIANT[digits[16]]}{digits[17:20]}-{digits[20:32]}"
