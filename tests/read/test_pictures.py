"""A dealer's photographs: what is shown of them, and what is refused."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import pytest
from PIL import Image

from generator.problems import Mark, Problems
from generator.read.pictures import Picture, read_picture, shrink_picture

AT = Mark("units/a.yml", 3, 5)


def put(root: Path, name: str, content: bytes) -> None:
    """Put a file into the pictures of a workspace."""
    path = root / "units" / "pictures" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)


def told(root: Path, name: str) -> list[str]:
    """Return what is told of a picture that is refused."""
    problems = Problems()
    assert read_picture(name, AT, "picture", root, problems) is None
    return [str(problem) for problem in problems.found]


def photograph(width: int, height: int) -> bytes:
    """Return a photograph that a camera turned on its side, with metadata that tells a secret."""
    image = Image.effect_noise((width, height), 40).convert("RGB")
    exif = Image.Exif()
    exif[0x010E] = "taken at the home of a buyer"
    exif[0x0112] = 6
    written = io.BytesIO()
    image.save(written, "JPEG", exif=exif)
    return written.getvalue()


def test_photograph_is_upright_small_and_bare(tmp_path: Path) -> None:
    """A photograph is turned upright, made small, and none of its metadata goes on."""
    put(tmp_path, "locker.jpg", photograph(1500, 1000))
    problems = Problems()
    picture = read_picture("locker.jpg", AT, "picture", tmp_path, problems)
    assert problems.found == []
    assert isinstance(picture, Picture)
    assert (picture.width, picture.height) == (800, 1200)
    shown = shrink_picture(picture)
    assert b"buyer" not in shown
    with Image.open(io.BytesIO(shown)) as image:
        assert image.format == "WEBP"
        assert image.size == (800, 1200)
        assert dict(image.getexif()) == {}
    assert shown == shrink_picture(picture)


def test_small_photograph_is_not_enlarged(tmp_path: Path) -> None:
    """A small photograph keeps its size."""
    put(tmp_path, "locker.jpg", photograph(300, 200))
    picture = read_picture("locker.jpg", AT, "picture", tmp_path, Problems())
    assert isinstance(picture, Picture)
    assert (picture.width, picture.height) == (200, 300)


@pytest.mark.parametrize("name", ["../secret.jpg", "/etc/secret.jpg", "a/../../b.jpg", "a\\b.jpg"])
def test_path_that_climbs_out_is_refused(tmp_path: Path, name: str) -> None:
    """A path out of the pictures' folder is one clear line, whether or not the file is there."""
    put(tmp_path, "x.jpg", b"")
    (tmp_path / "units" / "secret.jpg").write_bytes(photograph(30, 20))
    assert told(tmp_path, name) == [
        f"units/a.yml:3:5: picture: '{name}' leads out of its folder; "
        "right: a file in units/pictures/"
    ]


def test_link_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    """A symbolic link is followed, and refused where it leads out."""
    put(tmp_path, "x.jpg", b"")
    (tmp_path / "secret.jpg").write_bytes(photograph(30, 20))
    (tmp_path / "units" / "pictures" / "link.jpg").symlink_to(tmp_path / "secret.jpg")
    assert "leads out of its folder" in told(tmp_path, "link.jpg")[0]


def test_broken_and_disguised_files_are_refused(tmp_path: Path) -> None:
    """A file cut short, and one that is no picture at all, are one clear line each."""
    put(tmp_path, "cut.jpg", photograph(300, 200)[:2000])
    put(tmp_path, "text.png", b"<svg onload=alert(1)>")
    put(tmp_path, "page.gif", b"GIF89a")
    assert "'cut.jpg' is broken" in told(tmp_path, "cut.jpg")[0]
    assert told(tmp_path, "text.png") == [
        "units/a.yml:3:5: picture: 'text.png' is broken or of another format; "
        "right: a whole picture of a usual size"
    ]
    assert "is no picture" in told(tmp_path, "page.gif")[0]
    assert "no file" in told(tmp_path, "absent.jpg")[0]


def test_picture_bomb_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    """A tiny file that claims sixty thousand pixels a side is refused by its header."""

    def chunk(name: bytes, body: bytes) -> bytes:
        check = zlib.crc32(name + body)
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", check)

    header = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    bomb = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")
    put(tmp_path, "bomb.png", bomb)
    line = told(tmp_path, "bomb.png")[0]
    assert line.startswith("units/a.yml:3:5: picture: 'bomb.png' ")
    assert line.endswith("right: a whole picture of a usual size")
