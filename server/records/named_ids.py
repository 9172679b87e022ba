"""Ids that follow from a name: version 5 UUIDs (RFC 9562, section 5.5), as `uuid.uuid5` gives them, sooner."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Final

import numpy as np

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


_HYPHENS: Final = (8, 13, 18, 23)
_DIGITS: Final = [place for place in range(36) if place not in _HYPHENS]


def named_ids(namespaces: Iterable[bytes], names: Iterable[str]) -> list[str]:
    """`named_id` of very many, sooner: each of the names in its own namespace; as many as the shorter of both has.

    >>> named_ids([bytes_of("6f1b5a52-3c0e-5a0f-9d5e-0d2f6c1f7a11")], ["player|Wren"])
    ['6b5d4b38-3f77-5b9e-8f57-7245b17bce5b']
    """
    sha1, pairs = hashlib.sha1, zip(namespaces, names, strict=False)
    found = [sha1(space + name.encode(), usedforsecurity=False).digest()[:16] for space, name in pairs]
    octets = np.frombuffer(bytearray().join(found), np.uint8).reshape(-1, 16)
    octets[:, 6] = octets[:, 6] & 0x0F | 0x50
    octets[:, 8] = octets[:, 8] & 0x3F | 0x80
    written = np.full((len(octets), 36), ord("-"), np.uint8)
    written[:, _DIGITS] = np.frombuffer(octets.tobytes().hex().encode(), np.uint8).reshape(-1, 32)
    words = written.tobytes().decode()
    return [words[begin : begin + 36] for begin in range(0, len(words), 36)]
