"""Names and attributes of a service, as DNS-based service discovery wants them (RFC 6763, RFC 6335)."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping

SERVICE = "cornerword"
"""Our own service name (RFC 6335, section 5.1); the underscore before it is not part of it."""
TYPE = f"_{SERVICE}._tcp.local."
"""The type to announce and to browse for on the local link (RFC 6763, section 7; RFC 6762, section 3)."""

MOST_SERVICE = 15
"""characters of a service name: RFC 6335, section 5.1."""
MOST_INSTANCE = 63
"""bytes of an instance name, one DNS label: RFC 6763, section 4.1.1."""
MOST_KEY = 9
"""characters of a TXT key: "SHOULD be no more than nine", RFC 6763, section 6.4."""
MOST_STRING = 255
"""bytes of one `key=value` of a TXT record: RFC 6763, section 6.1."""
MOST_RECORD = 400
"""bytes of a whole TXT record: what still fits a DNS message of 512 bytes, RFC 6763, section 6.2."""
ROOM_TO_RENAME = 4
"""bytes of an instance name that are left for the `-2` of one that is taken."""

_SERVICE = re.compile(r"(?=.*[A-Za-z])[A-Za-z0-9]+(?:-[A-Za-z0-9]+)*", re.ASCII)


def is_service_name(name: str) -> bool:
    """Whether it is a service name: 1 to 15 letters, digits and hyphens, with a letter, no hyphen at an end, no two
    hyphens in a row (RFC 6335, section 5.1)."""
    return len(name) <= MOST_SERVICE and _SERVICE.fullmatch(name) is not None


def is_instance_name(name: str) -> bool:
    """Whether it is an instance name: 1 to 63 bytes of UTF-8, normalised (RFC 5198, section 3), without control
    characters; spaces, dots and all else may be in it (RFC 6763, section 4.1.1)."""
    try:
        size = len(name.encode())
    except UnicodeEncodeError:
        return False
    return 1 <= size <= MOST_INSTANCE and unicodedata.is_normalized("NFC", name) and not _has_control(name)


def instance_name(text: str, otherwise: str = SERVICE) -> str:
    """`text` made an instance name: control characters left out, normalised, and cut between two characters with room
    for a renaming; `otherwise` where nothing is left."""
    cleaned = text.encode(errors="ignore").decode()
    cleaned = unicodedata.normalize("NFC", "".join(one for one in cleaned if not _has_control(one)))
    cut = cleaned.strip().encode()[: MOST_INSTANCE - ROOM_TO_RENAME].decode(errors="ignore").strip()
    return cut or otherwise


def checked_txt(pairs: Mapping[str, str]) -> dict[str, str]:
    """The attributes of a service, in the order given. ValueError where a key or a size is out of bounds.

    Keys: 1 to 9 printable ASCII characters without "=", told apart without regard to case (RFC 6763, section 6.4).
    """
    size, seen = 0, set()
    for key, value in pairs.items():
        if not 1 <= len(key) <= MOST_KEY or "=" in key or not all(0x20 <= ord(one) <= 0x7E for one in key):
            raise ValueError(f"{key!r} is no key of a TXT record")
        if key.lower() in seen:
            raise ValueError(f"{key!r} is there twice")
        seen.add(key.lower())
        length = len(f"{key}={value}".encode())
        if length > MOST_STRING:
            raise ValueError(f"{key!r} has {length} bytes: {MOST_STRING} at most")
        size += 1 + length
    if size > MOST_RECORD:
        raise ValueError(f"the TXT record has {size} bytes: {MOST_RECORD} at most")
    return dict(pairs)


def _has_control(text: str) -> bool:
    return any(ord(one) < 0x20 or ord(one) == 0x7F for one in text)
