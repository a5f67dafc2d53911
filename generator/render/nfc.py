"""The record of a short-range radio tag that opens a sticker's page.

NFC Forum, NFC Data Exchange Format 1.0 and URI Record Type Definition 1.0: one short record of the
well-known type U, whose first byte stands for the beginning of the address.
"""

from __future__ import annotations

_HTTPS = 0x04
"""`https://` (URI Record Type Definition 1.0, table 3)."""

_ONLY_SHORT_WELL_KNOWN = 0xD1
"""First and last record of its message, short, of a well-known type (NDEF 1.0, 3.2)."""

_LONGEST = 255
"""Bytes in a short record's payload."""


def ndef_message(address: str) -> bytes:
    """Return the message to write to a tag, for an address as it stands in a symbol.

    Scheme and host are written small, as telephones show them; what follows is kept.

    Raises:
        ValueError: the address is not https, or too long for a short record.
    """
    scheme, _, rest = address.partition("://")
    host, slash, path = rest.partition("/")
    payload = bytes([_HTTPS]) + (host.lower() + slash + path).encode("ascii")
    if scheme.lower() != "https" or len(payload) > _LONGEST:
        raise ValueError(f"no short https address: {address}")
    return bytes([_ONLY_SHORT_WELL_KNOWN, 1, len(payload)]) + b"U" + payload
