"""What the register keeps of printed stickers, and what is printed anew."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pypdf
import pytest

from generator.render.printed import SHORT_CHARACTERS, SHORT_VERSION
from generator.render.qr import make_symbol

Lockerleaf = Callable[..., str]
Change = Callable[[str, str, str], None]
SMALL_CODES = ["M9S3", "M9S3-461", "M9S3-Q3E", "M9S3-D2T", "M9S3-5VH", "M9S3-T40", "M9S3-F5K"]


def register_lines(workspace: Path) -> list[str]:
    """Return the register's lines."""
    return (workspace / "units" / "register.csv").read_text("utf-8").splitlines()


def words(workspace: Path, name: str) -> str:
    """Return the text of a printed sheet."""
    reader = pypdf.PdfReader(workspace / "print" / "sm-1" / name)
    return "".join(page.extract_text() for page in reader.pages)


def test_marked_and_then_only_what_is_new(
    workspace: Path, lockerleaf: Lockerleaf, change: Change
) -> None:
    """All are printed and marked; then nothing is new; then what got another title or caution."""
    before = register_lines(workspace)
    told = lockerleaf("stickers", "sm-1", "--mark-printed")
    assert told == (
        "print/sm-1/stickers.pdf\n8 marked as printed in units/register.csv; commit it\n"
    )
    lines = register_lines(workspace)
    assert lines[: len(before)] == before
    today = date.today().isoformat()
    marked = lines[len(before) :]
    assert len(marked) == 8
    assert marked[0].startswith(f'M9S3,sm-1,unit,,printed,{today},"at small.example/guides, face ')
    assert lockerleaf("stickers", "sm-1", "--only-new") == "sm-1: nothing new to print\n"
    change("units/models/small-2.yml", "title: Bed,", "title: Long bed,")
    change("units/models/small-2.yml", "up_m: 0.6, caution: scald}", "up_m: 0.6}")
    assert lockerleaf("stickers", "sm-1", "--only-new") == "print/sm-1/stickers-new.pdf\n"
    sheet = words(workspace, "stickers-new.pdf")
    assert [code for code in [*SMALL_CODES, "M9S3-V3Z"] if code in sheet.replace("\n", " ")] == [
        "M9S3",
        "M9S3-T40",
        "M9S3-V3Z",
    ]
    assert register_lines(workspace) == lines


def test_a_mark_by_hand_counts(workspace: Path, lockerleaf: Lockerleaf) -> None:
    """Somebody's own line that a sticker is printed is enough; a retired one is not printed."""
    with (workspace / "units" / "register.csv").open("a") as file:
        file.write("M9S3-461,sm-1,place,gas-locker,printed,2026-06-01,by hand\n")
    lockerleaf("stickers", "sm-1", "--only-new")
    sheet = words(workspace, "stickers-new.pdf")
    assert "M9S3-461" not in sheet
    assert "M9S3-3SS" not in sheet
    assert "M9S3-Q3E" in sheet


def test_stickers_that_point_to_an_old_address(
    workspace: Path, lockerleaf: Lockerleaf, change: Change
) -> None:
    """A changed base address is told with how many stickers are out, and makes them new again."""
    lockerleaf("stickers", "sm-1", "--mark-printed")
    assert "still point" not in lockerleaf("check")
    change("units/dealer.yml", "https://small.example/guides", "https://new.example")
    assert (
        "units/dealer.yml:4: 8 printed stickers still point to small.example/guides; right: keep "
        "that address leading here, or print them anew with lockerleaf stickers --only-new"
    ) in lockerleaf("check").splitlines()
    assert lockerleaf("stickers", "--only-new", "--mark-printed").splitlines()[1] == (
        "8 marked as printed in units/register.csv; commit it"
    )
    assert "still point" not in lockerleaf("check")


def test_what_a_long_address_costs(workspace: Path, lockerleaf: Lockerleaf, change: Change) -> None:
    """`check` says the version and module of a long address, and how short it would have to be."""
    (line,) = [line for line in lockerleaf("check").splitlines() if "version" in line]
    assert line == (
        "units/dealer.yml:4: the address makes symbols of version 3-Q, with modules of 1.19 mm on "
        "a4-6-of-90x90; right: at most 11 characters after https:// would give version 2-Q and "
        "1.35 mm, read from farther"
    )
    change("units/dealer.yml", "https://small.example/guides", "https://abcd.exampl")
    assert "version" not in lockerleaf("check")
    change("units/dealer.yml", "https://abcd.exampl", "https://abcde.exampl")
    assert "version 3-Q" in lockerleaf("check")


def test_capacity() -> None:
    """29 alphanumeric characters at level Q are version 2, one more is 3 (ISO/IEC 18004, 7)."""
    versions = [make_symbol("A" * n).version for n in (SHORT_CHARACTERS, SHORT_CHARACTERS + 1)]
    assert versions == [SHORT_VERSION, SHORT_VERSION + 1]


@pytest.mark.parametrize("address", ["https://" + "long-name." * 20 + "example"])
def test_an_address_that_fits_no_label_is_told_by_check(
    lockerleaf: Lockerleaf, change: Change, address: str
) -> None:
    """A host too long for the label is told before anything is printed."""
    change("units/dealer.yml", "https://small.example/guides", address)
    assert lockerleaf("check").startswith("docs_src/labels/a4-6-of-90x90.yml:1:1: label: leaves ")
    assert lockerleaf("stickers").endswith("1 problem; nothing written\n")
