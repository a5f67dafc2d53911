"""Where a workspace's files stand: its own first, then those of the library that it stands on.

A workspace with `library: packaged` in its `lockerleaf.yml` needs none of the library's files. One
that it has at the same path replaces the packaged one, a new one adds to it; so an update of this
program brings new content, and nothing has to be merged.
"""

from __future__ import annotations

import hashlib
import shutil
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from generator.problems import Problems, RefusedError
from generator.read.fields import Field, read_record
from generator.read.tree import parse_tree, read_source

SETTINGS = "lockerleaf.yml"
LAYERED = ("docs_src", "site_assets", "units/models")
"""Folders of which a layer may have a part. Units, and all else, are the workspace's own."""

_PROGRAM = Path(__file__).resolve().parent.parent
_FIELDS = (
    Field(
        name="library",
        type="choice",
        choices=("packaged",),
        required=True,
        help="The library that this workspace stands on",
    ),
)


def packaged() -> Path:
    """Return the library that comes with this program: beside it where it runs from its sources.

    Raises:
        RefusedError: the program was installed without it.
    """
    for folder in (_PROGRAM / "library", _PROGRAM.parent):
        if (folder / "docs_src" / "vehicle.yml").is_file():
            return folder
    raise RefusedError("this Lockerleaf came without its library", "install it again, whole")


@dataclass(frozen=True, slots=True)
class Layers:
    """Folders, the first of which that has a file is where the file is taken from."""

    roots: tuple[Path, ...]

    def find(self, name: str) -> Path:
        """Return where a file stands; where no layer has it, where the workspace would."""
        paths = [root / name for root in self._having(name)]
        return next((path for path in paths if path.is_file()), paths[0])

    def files(self, folder: str, pattern: str) -> list[Path]:
        """Return the files that match in a folder, each from the first layer that has it."""
        found: dict[PurePosixPath, Path] = {}
        for root in reversed(self._having(folder)):
            base = root / folder
            found |= {PurePosixPath(path.relative_to(base)): path for path in base.glob(pattern)}
        return [found[name] for name in sorted(found)]

    def folders(self, folder: str) -> list[str]:
        """Return the names of the folders in a folder, of all layers."""
        bases = [root / folder for root in self._having(folder) if (root / folder).is_dir()]
        return sorted({path.name for base in bases for path in base.iterdir() if path.is_dir()})

    def whole(self, folder: str) -> Path:
        """Return a folder of its own that holds the files of all layers, for tools that need one.

        Where only one layer has any, it is that layer's.
        """
        having = [root for root in self.roots if (root / folder).is_dir()]
        if len(having) < 2:
            return (having or self.roots)[0] / folder
        files = [path for path in self.files(folder, "**/*") if path.is_file()]
        told = "\0".join(
            f"{path}\0{hashlib.sha256(path.read_bytes()).hexdigest()}" for path in files
        )
        digest = hashlib.sha256(told.encode()).hexdigest()[:12]
        to = self.roots[0] / ".cache" / f"{folder.replace('/', '-')}-{digest}"
        for path in files:
            target = to / self._within(path, folder)
            target.parent.mkdir(parents=True, exist_ok=True)
            if not target.is_file() or target.read_bytes() != path.read_bytes():
                shutil.copyfile(path, target)
        return to

    def shown(self, path: Path) -> str:
        """Return a path as the author knows it: below the workspace, else where it really is."""
        root = self.roots[0]
        return (path.relative_to(root) if path.is_relative_to(root) else path).as_posix()

    def is_inside(self, path: Path, folder: str) -> bool:
        """Return whether a file really stands in a folder of one of the layers."""
        real = path.resolve()
        return any(real.is_relative_to((root / folder).resolve()) for root in self.roots)

    def _having(self, name: str) -> tuple[Path, ...]:
        """Return the layers that may have a part of it."""
        layered = any(name == one or name.startswith(f"{one}/") for one in LAYERED)
        return self.roots if layered else self.roots[:1]

    def _within(self, path: Path, folder: str) -> Path:
        (root, *_) = [root for root in self.roots if path.is_relative_to(root / folder)]
        return path.relative_to(root / folder)


def name_of(shown: str) -> str:
    """Return the name of a file below whichever layer it stands in, from its path as shown."""
    if not PurePosixPath(shown).is_absolute() and ":" not in shown:
        return shown
    return shown.removeprefix(f"{packaged().as_posix()}/")


def layers_of(root: Path) -> Layers:
    """Return the layers of a workspace.

    Raises:
        ProblemsFound: its settings cannot be read.
        RefusedError: it stands on a library that this program came without.
    """
    path = root / SETTINGS
    if not path.is_file():
        return Layers((root,))
    problems = Problems()
    text = read_source(path, SETTINGS, problems)
    table = parse_tree(text, SETTINGS, problems) if text is not None else None
    if table is not None:
        read_record(table, _FIELDS, problems)
    problems.stop_if_any()
    base = packaged()
    return Layers((root,) if base == root.resolve() else (root, base))


def model_names(root: Path) -> frozenset[str]:
    """Return the names of all models that a workspace's units may be based on."""
    return frozenset(path.stem for path in layers_of(root).files("units/models", "*.yml"))
