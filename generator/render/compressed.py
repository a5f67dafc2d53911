"""A guide's texts compressed beforehand, for servers that send such files as they are."""

from __future__ import annotations

import gzip
from collections.abc import Callable, Mapping, Sequence
from pathlib import PurePosixPath

from generator.render.packs import TEXTS

COMPRESSIONS = ("gzip", "brotli")

ENDINGS = ("gz", "br")
"""What stands behind the names of such files."""

_LEAST_BYTES = 1_000
"""Below that, the heads of an answer weigh more than what is saved."""


def brotli_is_there() -> bool:
    """Return whether this machine can compress with brotli."""
    try:
        import brotli  # noqa: F401
    except ImportError:
        return False
    return True


def compressed_files(files: Mapping[str, bytes], compressions: Sequence[str]) -> dict[str, bytes]:
    """Return further files, such as `index.html.gz`, for those that become smaller by it."""
    more: dict[str, bytes] = {}
    for compression in compressions:
        suffix, compress = _COMPRESSORS[compression]
        for name, content in files.items():
            if PurePosixPath(name).suffix not in TEXTS or len(content) < _LEAST_BYTES:
                continue
            packed = compress(content)
            if len(packed) < len(content):
                more[f"{name}.{suffix}"] = packed
    return more


def _gzip(content: bytes) -> bytes:
    return gzip.compress(content, compresslevel=6, mtime=0)


def _brotli(content: bytes) -> bytes:
    import brotli

    return bytes(brotli.compress(content, mode=brotli.MODE_TEXT, quality=6))


_COMPRESSORS: Mapping[str, tuple[str, Callable[[bytes], bytes]]] = {
    "gzip": (ENDINGS[0], _gzip),
    "brotli": (ENDINGS[1], _brotli),
}
