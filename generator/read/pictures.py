"""A dealer's photographs: checked when they are read, made small and bare when they are shown.

A photograph as a camera wrote it may tell where and by whom it was taken. Nothing of that goes
on: what is shown is drawn anew from the pixels alone.
"""

from __future__ import annotations

import hashlib
import io
import re
import warnings
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from PIL import Image, ImageOps

from generator.problems import Mark, Problems
from generator.read.fields import Field, Record

LARGEST_PICTURE_BYTES = 25_000_000
LONGEST_SIDE_PX = 1_200
MOST_PIXELS = 100_000_000
"""A larger picture than any camera of the trade makes is a mistake or an attack."""

MOST_CALLOUTS = 9
"""More numbers than that cover what they point to; a second place would be clearer."""
LONGEST_CALLOUT = 80

CALLOUT_FIELDS = (
    Field(
        name="at",
        type="texts",
        help="How far from its left edge, then from its top, as parts of the whole",
        required=True,
    ),
    Field(name="says", type="text", help="What is there", required=True),
)

_PART = re.compile(r"0(\.[0-9]{1,4})?|1(\.0{1,4})?")

_ORIENTATION = 0x0112
_ON_ITS_SIDE = (5, 6, 7, 8)
"""Exif 2.3, tag 274: the values that turn a picture by a quarter."""

_FORMATS = ("JPEG", "PNG", "WEBP")


@dataclass(frozen=True, slots=True)
class Picture:
    """A photograph of a place. `width` and `height` are those at which it is shown, in pixels."""

    path: Path
    name: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Callout:
    """What is to be seen at a point of a picture; `across` and `down` are parts of the whole."""

    across: float
    down: float
    says: str


def read_callouts(
    rows: tuple[Record, ...], at: Mark, key: str, problems: Problems, *, pictured: bool
) -> tuple[Callout, ...]:
    """Return the points that are numbered on a picture, noting those that cannot be shown."""
    if rows and not pictured:
        problems.add(at, key, "has no picture to stand on", "the picture of this place, too")
    if len(rows) > MOST_CALLOUTS:
        problems.add(at, key, f"has {len(rows)} entries", f"at most {MOST_CALLOUTS}")
    callouts = []
    for index, row in enumerate(rows):
        given, says = row.texts("at"), row.text("says")
        point = [float(part) for part in given if _PART.fullmatch(part)]
        if row.has("at") and not len(point) == len(given) == 2:
            problems.add(
                row.mark("at"),
                f"{key}[{index}].at",
                f"is {', '.join(given) or 'empty'}",
                "[0.4, 0.6]: from its left edge and from its top, as parts from 0 to 1",
            )
        elif len(says) > LONGEST_CALLOUT:
            problems.add(
                row.mark("says"),
                f"{key}[{index}].says",
                f"has {len(says)} characters",
                f"at most {LONGEST_CALLOUT}, as on a label",
            )
        elif len(point) == 2:
            callouts.append(Callout(point[0], point[1], says))
    return tuple(callouts)


def read_picture(
    picture: str, at: Mark, key: str, root: Path, problems: Problems
) -> Picture | None:
    """Return a photograph in `units/pictures/`, or None after noting why it cannot be shown."""
    try:
        return _look_at(picture, (root / "units" / "pictures").resolve())
    except _RefusedError as error:
        problems.add(at, key, error.wrong, error.right)
        return None


def _look_at(picture: str, folder: Path) -> Picture:
    path = (folder / picture).resolve()
    given = PurePosixPath(picture)
    climbs = "\\" in picture or ".." in given.parts or given.is_absolute()
    inside = "a file in units/pictures/"
    if climbs or not path.is_relative_to(folder):
        raise _RefusedError(f"'{picture}' leads out of its folder", inside)
    if given.suffix.lower() not in (".jpg", ".jpeg", ".png", ".webp"):
        raise _RefusedError(f"'{picture}' is no picture", "a .jpg, .png or .webp file")
    if not path.is_file():
        raise _RefusedError(f"no file '{picture}'", inside)
    if path.stat().st_size > LARGEST_PICTURE_BYTES:
        size = f"'{picture}' has {path.stat().st_size / 1e6:.0f} MB"
        raise _RefusedError(size, f"at most {LARGEST_PICTURE_BYTES / 1e6:.0f} MB")
    content = path.read_bytes()
    with _open(content, picture) as image:
        turned = image.getexif().get(_ORIENTATION, 1) in _ON_ITS_SIDE
        width, height = image.size[::-1] if turned else image.size
        image.draft("RGB", (160, 160))  # reads a JPEG to its end, at an eighth of the work
        image.load()
    scale = min(1.0, LONGEST_SIDE_PX / max(width, height))
    shown = (max(1, round(width * scale)), max(1, round(height * scale)))
    return Picture(path, f"{hashlib.sha256(content).hexdigest()[:12]}.webp", *shown)


def shrink_picture(picture: Picture) -> bytes:
    """Return a photograph as WebP at the size at which it is shown, without any metadata."""
    with _open(picture.path.read_bytes(), picture.path.name) as image:
        upright = ImageOps.exif_transpose(image).convert("RGB")
        small = upright.resize((picture.width, picture.height), Image.Resampling.LANCZOS)
    bare = Image.new("RGB", small.size)
    bare.paste(small)
    written = io.BytesIO()
    bare.save(written, "WEBP", quality=72, method=6)
    return written.getvalue()


class _RefusedError(Exception):
    """Why a picture cannot be shown, and what would be right."""

    def __init__(self, wrong: str, right: str = "a whole picture of a usual size") -> None:
        super().__init__(wrong)
        self.wrong = wrong
        self.right = right


class _open:  # noqa: N801 - used like the built-in
    """Open a picture, turning all that Pillow can say against it into `_RefusedError`."""

    def __init__(self, content: bytes, picture: str) -> None:
        self.content = content
        self.picture = picture

    def __enter__(self) -> Image.Image:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            try:
                self.image = Image.open(io.BytesIO(self.content), formats=_FORMATS)
            except Exception as error:
                wrong = f"'{self.picture}' is broken or of another format"
                raise _RefusedError(wrong) from error
        width, height = self.image.size
        if width * height > MOST_PIXELS:
            raise _RefusedError(f"'{self.picture}' has {width} x {height} pixels")
        return self.image

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        self.image.close()
        if isinstance(error, OSError | SyntaxError | ValueError | EOFError):
            raise _RefusedError(f"'{self.picture}' is broken") from error
