"""What a workspace holds, as digests: enough to know what changed, without reading any of it.

A guide depends on its unit's own files and register lines, on the texts of its tasks with their
snippets, and on all else: the rest of the library, the dealer, the assets, this program. A text
is apart because it changes no more than the words of the guides that have it.
"""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

from generator.read.layers import layers_of, name_of
from generator.read.units import unit_names

_LIBRARIES = ("jinja2", "markdown", "markupsafe", "mkdocs", "mkdocs-material", "pillow", "pyyaml")
_PAPER_LIBRARIES = ("font-source-sans-pro", "pypdf", "qrcode", "typst")
_PROGRAM = Path(__file__).resolve().parent.parent


@dataclass(frozen=True, slots=True)
class Survey:
    """Digests of a workspace."""

    common: str
    """Of what every guide depends on."""
    texts: Mapping[str, str]
    """Of the bodies of tasks, and of snippets, by file below the workspace."""
    register: Mapping[str, str]
    """Of the register's lines, by unit."""
    units: Mapping[str, str]
    """Of the files under `units/`, by file below the workspace."""
    names: frozenset[str]
    """All units."""

    @property
    def library(self) -> str:
        """Return a digest of what is read for every guide, the texts included."""
        told = (self.common, *(f"{text}\0{self.texts[text]}" for text in sorted(self.texts)))
        return hashlib.sha256("\0".join(told).encode()).hexdigest()

    def of_guide(self, unit: str, files: Iterable[str], texts: Iterable[str] = ()) -> str:
        """Return a digest of what a unit's guide depends on.

        Args:
            unit: The unit's name.
            files: The files that it was read from.
            texts: The texts that its guide holds; without them, of all else.
        """
        told = [self.common, self.register.get(unit, "")]
        told += [f"{file}\0{self.units.get(file, '')}" for file in files]
        told += [f"{text}\0{self.texts.get(text, '')}" for text in texts]
        return hashlib.sha256("\0".join(told).encode()).hexdigest()


def survey_workspace(root: Path) -> Survey:
    """Return the digests of the workspace `root`. Nothing in it is understood, only hashed."""
    common = hashlib.sha256()
    texts: dict[str, str] = {}
    for name, made_of in _program():
        common.update(f"{name}\0{made_of}\0".encode())
    for shown, path in _files(root):
        content = path.read_bytes()
        if shown.startswith("docs_src/snippets/"):
            texts[shown] = hashlib.sha256(content).hexdigest()
            content = b""
        elif shown.startswith("docs_src/tasks/") and shown.endswith(".md"):
            front, body = _apart(content)
            texts[shown] = hashlib.sha256(body).hexdigest()
            content = front
        common.update(f"{shown}\0{hashlib.sha256(content).hexdigest()}\0".encode())
    return Survey(common.hexdigest(), texts, register_lines(root), _units(root), unit_names(root))


def _program() -> Iterator[tuple[str, str]]:
    """Yield what this program is made of: its own files, and what it stands on."""
    yield "python", platform.python_version()
    for library in (*_LIBRARIES, *_PAPER_LIBRARIES):
        yield library, version(library)
    for path in sorted(_PROGRAM.rglob("*.py")):
        yield path.relative_to(_PROGRAM).as_posix(), _of_file(path)


def _files(root: Path) -> Iterator[tuple[str, Path]]:
    """Yield the files that every guide may depend on, by name, in an order that stays."""
    layers = layers_of(root)
    for name in ("mkdocs.yml", "units/dealer.yml"):
        yield name, root / name
    for folder in ("docs_src", "site_assets", "units/notices"):
        for path in layers.files(folder, "**/*"):
            if path.is_file() and not path.name.startswith("."):
                yield name_of(layers.shown(path)), path


def _units(root: Path) -> dict[str, str]:
    """Return a digest of each unit, model and photograph.

    A photograph is large, and there may be thousands: its size and time stand for its content.
    """
    layers = layers_of(root)
    models = layers.files("units/models", "*.yml")
    digests = {name_of(layers.shown(path)): _of_file(path) for path in models}
    for path in (root / "units").rglob("*"):
        if path.suffix == ".yml":
            digests[path.relative_to(root).as_posix()] = _of_file(path)
        elif path.is_file() and path.name != "register.csv":
            status = path.stat()
            told = f"{status.st_size} {status.st_mtime_ns}"
            digests[path.relative_to(root).as_posix()] = told
    return digests


def _apart(content: bytes) -> tuple[bytes, bytes]:
    """Return a task's front matter and its body; all is front matter where there is no such."""
    lines = content.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")
    marks = [number for number, line in enumerate(lines) if line.strip() == b"---"]
    if len(marks) < 2 or marks[0] != 0:
        return content, b""
    return b"\n".join(lines[: marks[1]]), b"\n".join(lines[marks[1] :])


def register_lines(root: Path) -> dict[str, str]:
    """Return a digest of each unit's register lines; neither codes nor units hold a comma."""
    digests: dict[str, hashlib._Hash] = {}
    path = root / "units" / "register.csv"
    for line in path.read_bytes().splitlines() if path.exists() else ():
        unit = line.split(b",", 2)[1].decode("utf-8", "replace") if b"," in line else ""
        digests.setdefault(unit, hashlib.sha256()).update(line + b"\n")
    return {unit: digest.hexdigest() for unit, digest in digests.items()}


def _of_file(path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return "none"
