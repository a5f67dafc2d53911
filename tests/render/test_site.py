"""The built demo, page by page, as independent programs see it."""

from __future__ import annotations

import csv
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pypdf
import pytest
import yaml
from site_checks import (
    Parsed,
    broken_links,
    copy_workspace,
    lockerleaf,
    outside_addresses,
    parse_html,
    parse_site,
)

from generator.fit.codes import SYMBOLS
from generator.read.sources import Sources

pytestmark = pytest.mark.slow

VNU = "vnu-jar@24.10.17"
"""The Nu Html Checker. Newer packages hold no jar but fetch it."""

# OASIS DITA 1.3, 2.2.4.2 (task): prereq, context, steps, result, tasktroubleshooting, postreq. Our
# page names them before, (text), work, result, trouble, after.
DITA_ORDER = ("before", "work", "result", "trouble", "after")


def register_rows(workspace: Path) -> list[dict[str, str]]:
    """Return the register as plain CSV."""
    with (workspace / "units" / "register.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def landing(public: Path, code: str) -> Path:
    """Return the file that a web server shows at a code's address."""
    return public.joinpath(*code.split("-"), "index.html")


def tree_bytes(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def unit_code(workspace: Path, unit: str) -> str:
    """Return a unit's code."""
    (code,) = [
        row["code"]
        for row in register_rows(workspace)
        if (row["unit"], row["sort"]) == (unit, "unit")
    ]
    return code


def edit(path: Path, old: str, new: str) -> None:
    """Replace a text that must be there."""
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")


def test_pages_are_valid_for_an_independent_parser(pages: dict[Path, Parsed]) -> None:
    """The parser html5lib finds no parse error (WHATWG HTML, 13.2.2) in any page."""
    assert len(pages) > 100
    assert {str(path): page.errors for path, page in pages.items() if page.errors} == {}


def test_the_independent_parser_tells_errors(tmp_path: Path, pages: dict[Path, Parsed]) -> None:
    """A page with one tag left out is told, so that the check above can fail."""
    page = next(iter(pages))
    spoiled = tmp_path / "spoiled.html"
    spoiled.write_text(page.read_text("utf-8").replace("</main>", "", 1), "utf-8")
    assert parse_html(spoiled).errors


def test_pages_are_valid_for_the_nu_checker(built: Path, request: pytest.FixtureRequest) -> None:
    """The Nu Html Checker has nothing to say about any page, where Java can run it."""
    jar = nu_checker(request.config.cache.mkdir("vnu"))
    if jar is None:
        pytest.skip(f"no Java, or npm could not fetch {VNU}")
    done = subprocess.run(
        ["java", "-jar", str(jar), "--skip-non-html", "--format", "gnu", str(built / "public")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stderr == ""
    assert done.returncode == 0


def nu_checker(cache: Path) -> Path | None:
    """Return the Nu Html Checker's jar, fetched once, or None where that cannot be."""
    jar = cache / "package" / "build" / "dist" / "vnu.jar"
    npm = shutil.which("npm")
    if not jar.exists() and npm and shutil.which("java"):
        done = subprocess.run(
            [npm, "pack", "--silent", VNU], cwd=cache, capture_output=True, text=True, check=False
        )
        if done.returncode == 0:
            shutil.unpack_archive(cache / done.stdout.split()[-1], cache, "gztar")
    return jar if jar.exists() and shutil.which("java") else None


def test_every_link_leads_somewhere(built: Path, pages: dict[Path, Parsed]) -> None:
    """Every href and src is relative and leads to a file, every fragment to an element."""
    assert sum(len(page.links) for page in pages.values()) > 1000
    assert list(broken_links(built / "public", pages)) == []


def test_every_page_can_be_reached_or_is_a_landing_page(
    built: Path, pages: dict[Path, Parsed]
) -> None:
    """Following links from a guide's home reaches every page of it that no code leads to."""
    public = built / "public"
    landings = {landing(public, row["code"]) for row in register_rows(built)}
    # A sticker's page leads to itself in the guide's other languages.
    languages = [folder.name for folder in (built / "docs_src" / "languages").iterdir()]
    landings |= {
        path.parents[1] / language / path.parent.name / path.name
        for path in landings
        for language in languages
    }
    for home in sorted(path for path in public.glob("????/index.html")):
        reached, waiting = {home}, [home]
        while waiting:
            page = waiting.pop()
            for link in pages[page].links:
                target = (page.parent / link.partition("#")[0]).resolve()
                if target in pages and target not in reached:
                    reached.add(target)
                    waiting.append(target)
        guide = {path for path in pages if home.parent in path.parents}
        # A sticker's page in a further language is where the one in the first language links to.
        own = {path for path in landings if home.parent in path.parents}
        there = {
            home.parent / folder.name / path.relative_to(home.parent)
            for folder in home.parent.glob("[a-z][a-z]")
            for path in own
        }
        assert guide - reached - landings - there == set()


def test_identifiers_are_unique(pages: dict[Path, Parsed]) -> None:
    """No page names two elements alike (WHATWG HTML, 3.2.6)."""
    for path, page in pages.items():
        twice = [name for name, count in Counter(page.ids).items() if count > 1]
        assert twice == [], path


def test_no_file_names_another_origin(built: Path) -> None:
    """No built file holds an address of another host, so none can be asked for anything.

    A feed is read away from its site, so it tells its own address whole.
    """
    own = re.compile(r"[\w/]+/notices\.xml: https://wdl\.example/")
    found = [told for told in outside_addresses(built / "public") if not own.match(told)]
    assert found == []


def test_private_fields_and_paths_stay_home(built: Path) -> None:
    """No text of any unit's private fields, and no path of this machine, is in what was built."""
    secrets = {str(built).encode(), str(Path.home()).encode() + b"/"}
    for path in (built / "units").glob("*.yml"):
        private = (yaml.safe_load(path.read_text("utf-8")) or {}).get("private", {})
        secrets |= {str(value).encode() for value in private.values() if len(str(value)) > 4}
    assert len(secrets) > 4
    for folder in ("public", "print"):
        for name, content in tree_bytes(built / folder).items():
            found = [secret for secret in secrets if secret in content]
            assert found == [], name
    for path in (built / "print").rglob("*.pdf"):
        reader = pypdf.PdfReader(path)
        words = " ".join(page.extract_text() for page in reader.pages) + str(reader.metadata)
        assert [secret for secret in secrets if secret.decode() in words] == []


def test_only_web_files_are_published(built: Path) -> None:
    """A published tree holds pages, scripts and drawings, and nothing hidden or left over."""
    names = [path for path in (built / "public").rglob("*") if path.is_file()]
    assert {path.suffix for path in names} <= {
        ".html", ".js", ".svg", ".webp", ".bin", ".ics", ".xml",
    }  # fmt: skip
    assert [path for path in names if path.name.startswith(".")] == []
    assert [path for path in (built / "public").iterdir() if path.name.startswith(".")] == []


def test_every_code_of_the_register_lands(built: Path, pages: dict[Path, Parsed]) -> None:
    """Each registered code's address shows its place or its one task, by the unit's own words."""
    rows = register_rows(built)
    assert len(rows) > 30
    for row in rows:
        page = pages[landing(built / "public", row["code"])]
        assert page.title, row
        if row["sort"] == "place":
            place_page = built / "public" / row["code"][:4] / "place" / f"{row['target']}.html"
            place = pages[place_page]
            tasks = [link for link in place.links if link.startswith("../task/")]
            if len(set(tasks)) == 1:
                task_page = (place_page.parent / tasks[0]).resolve()
                assert (page.sort, page.title) == ("task", pages[task_page].title)
            else:
                assert (page.sort, page.title) == ("place", place.title)


def test_place_titles_are_the_units_own(
    built: Path, pages: dict[Path, Parsed], demo: Sources
) -> None:
    """A place's page is headed by the title in the unit's description."""
    for name, unit in demo.stock.units.items():
        folder = built / "public" / unit_code(built, name) / "place"
        shown = {path.stem: pages[path].title for path in folder.glob("*.html")}
        assert shown
        assert shown == {place: unit.places[place].title for place in shown}


def test_task_pages_keep_the_order_of_dita(pages: dict[Path, Parsed]) -> None:
    """Each task page has its sections in the order of OASIS DITA's task; cautions come first."""
    tasks = [page for page in pages.values() if page.sort == "task"]
    assert len(tasks) > 100
    for page in tasks:
        # Work that is not for an owner may have no steps, and says for whom it is.
        licensed = 'class="licensed"' in page.path.read_text("utf-8")
        assert "work" in page.sections or licensed, page.path
        found = [name for name in page.sections if name in DITA_ORDER]
        assert found == [name for name in DITA_ORDER if name in found], page.path
        if "cautions" in page.sections:
            assert next(name for name in page.sections if name != "notice") == "cautions"


def test_no_token_is_left_unfilled(pages: dict[Path, Parsed]) -> None:
    """No page shows a token, a template's braces or an unresolved link."""
    for path, page in pages.items():
        for sign in ("⟦", "⟧", "{{", "{%", "{:", "](task:", "](symptom:"):
            assert sign not in page.text, path


def test_codes_and_folders_never_collide(built: Path) -> None:
    """No name of a guide differs from another only in case, and no lower-case one can be a code.

    The same tree must work on disks that do not tell cases apart.
    """
    public = built / "public"
    for folder in [public, *(path for path in public.rglob("*") if path.is_dir())]:
        names = [path.name.casefold() for path in folder.iterdir()]
        assert len(names) == len(set(names)), folder
    for guide in (path for path in public.iterdir() if path.is_dir()):
        for path in guide.iterdir():
            could_be_code = len(path.name) == 3 and set(path.name.upper()) <= set(SYMBOLS)
            assert path.name.isupper() or path.name.isdigit() or not could_be_code
    assert len("assets") != 4  # a unit's code has four symbols


def test_two_builds_are_byte_identical(built: Path, tmp_path: Path) -> None:
    """Another folder, process count and hash seed give the same bytes."""
    again = copy_workspace(built, tmp_path / "again")
    lockerleaf(again, "build", "--jobs", "1", seed="4711")
    assert tree_bytes(again / "public") == tree_bytes(built / "public")
    assert tree_bytes(again / "print") == tree_bytes(built / "print")
    assert register_rows(again) == register_rows(built)


def test_plain_mkdocs_gives_the_same_pages(built: Path, tmp_path: Path, demo: Sources) -> None:
    """What `mkdocs build` makes of the preview unit is, byte for byte, its guide of the fleet.

    But for what keeps a guide without signal, and its due dates: a preview names no worker.
    """
    out = tmp_path / "preview"
    done = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--strict", "-q", "-d", str(out)],
        cwd=built,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    guide = tree_bytes(built / "public" / unit_code(built, demo.stock.dealer.preview))
    worker = re.compile(rb'data-worker="[^"]*"')
    preview = {name: worker.sub(b"", content) for name, content in tree_bytes(out).items()}
    assert preview == {
        name: worker.sub(b"", content) for name, content in guide.items() if name in preview
    }
    assert {Path(name).suffix for name in guide.keys() - preview.keys()} <= {".js", ".bin", ".ics"}


def test_one_unit_alone_is_the_same_as_in_the_fleet(built: Path, demo: Sources) -> None:
    """Building one unit by name gives the bytes that it has in the fleet."""
    name = demo.stock.dealer.preview
    lockerleaf(built, "build", name, "--out", "alone")
    code = unit_code(built, name)
    assert tree_bytes(built / "alone" / code) == tree_bytes(built / "public" / code)


def test_codes_of_a_renamed_place_still_land(built: Path, tmp_path: Path) -> None:
    """After a place is renamed, its old sticker leads to the unit's home, which says so."""
    renamed = copy_workspace(built, tmp_path / "renamed")
    edit(renamed / "units" / "lt-2107.yml", "mover-switch", "mover-flap")
    rows = [row for row in register_rows(built) if row["target"] == "mover-switch"]
    assert rows
    lockerleaf(renamed, "build", "lt-2107")
    for row in rows:
        page = parse_html(landing(renamed / "public", row["code"]))
        assert page.sort == "home"
        assert "The place of this sticker is not in this guide any more." in page.text
    added = [row for row in register_rows(renamed) if row["target"] == "mover-flap"]
    assert [row["sort"] for row in added] == ["place"]
    assert not {row["code"] for row in added} & {row["code"] for row in register_rows(built)}
    public = renamed / "public"
    assert list(broken_links(public, parse_site(public))) == []


def test_codes_of_a_removed_unit_lead_to_the_dealer(built: Path, tmp_path: Path) -> None:
    """After a unit is sold on, all its codes lead to a page with the dealer's telephone."""
    fewer = copy_workspace(built, tmp_path / "fewer")
    shutil.copytree(built / "public", fewer / "public")
    rows = [row for row in register_rows(built) if row["unit"] == "lt-2118"]
    assert len(rows) > 5
    (fewer / "units" / "lt-2118.yml").unlink()
    lockerleaf(fewer, "build")
    for row in rows:
        page = parse_html(landing(fewer / "public", row["code"]))
        assert (page.sort, page.title) == ("left", "This vehicle has left us")
        assert any(link.startswith("tel:+44") for link in page.links)
    assert register_rows(fewer) == register_rows(built)
    public = fewer / "public"
    left = {path for path in (public / unit_code(built, "lt-2118")).rglob("*") if path.is_file()}
    assert left == {landing(public, row["code"]) for row in rows}
    assert list(broken_links(public, parse_site(public))) == []


def test_killed_builds_leave_whole_guides_and_the_next_tidies_up(
    built: Path, tmp_path: Path
) -> None:
    """A build killed at random moments never leaves a guide half, and the next leaves no litter."""
    shaken = copy_workspace(built, tmp_path / "shaken")
    shutil.copytree(built / "public", shaken / "public")
    edit(shaken / "units" / "dealer.yml", "9:00 to 17:30", "9:00 to 18:00")
    before = {path.name: tree_bytes(path) for path in (built / "public").glob("[0-9A-Z]???")}
    moments = random.Random(2118)
    for _ in range(5):
        build = subprocess.Popen(
            [sys.executable, "-m", "generator", "build"],
            cwd=shaken,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        time.sleep(moments.uniform(0.5, 6))
        if build.poll() is None:
            os.killpg(build.pid, signal.SIGKILL)
        build.wait()
        for name, files in before.items():
            folder = shaken / "public" / name
            if not folder.exists():
                folder = shaken / "public" / f".old-{name}"
            now = tree_bytes(folder)
            hours = {b"18:00" in content for path, content in now.items() if path.endswith("html")}
            assert set(now) == set(files)
            assert len(hours) == 1
    lockerleaf(shaken, "build")
    assert [path for path in (shaken / "public").iterdir() if path.name.startswith(".")] == []
    fresh = copy_workspace(shaken, tmp_path / "fresh")
    lockerleaf(fresh, "build")
    assert tree_bytes(shaken / "public") == tree_bytes(fresh / "public")
