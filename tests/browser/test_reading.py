"""The reader's way: from the sticker to the steps, on a phone, in both schemes, without scripts."""

from __future__ import annotations

import csv
import io
import unicodedata
from urllib.parse import urlsplit

import pypdf
import pypdfium2
import pytest
import zxingcpp
from playwright.sync_api import expect

from browser.conftest import Reader, Site, Windows
from generator.read.sources import Sources

pytestmark = pytest.mark.slow

SCHEMES = ("light", "dark")


def decoded_addresses(site: Site, unit: str) -> list[str]:
    """Return what a phone reads from each sticker on a unit's printed sheets, once each."""
    document = pypdfium2.PdfDocument(site.workspace / "print" / unit / "stickers.pdf")
    found = []
    for page in document:
        picture = page.render(scale=300 / 72, grayscale=True).to_numpy().squeeze()
        found += [code.text for code in zxingcpp.read_barcodes(picture)]
    document.close()
    assert len(found) == len(set(found)) > 0
    return found


def targets(site: Site) -> dict[str, tuple[str, str, str]]:
    """Return unit, sort and target of each code, from the register as plain CSV."""
    with (site.workspace / "units" / "register.csv").open(encoding="utf-8", newline="") as file:
        return {
            row["code"]: (row["unit"], row["sort"], row["target"]) for row in csv.DictReader(file)
        }


def follow(reader: Reader, site: Site, address: str) -> None:
    """Open the page of a decoded address; the host stands for the dealer's."""
    answer = reader.page.goto(site.origin + urlsplit(address).path)
    assert answer is not None
    assert answer.status == 200
    assert answer.request.redirected_from is None


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without scripts"])
@pytest.mark.parametrize("scheme", SCHEMES)
def test_a_sticker_leads_to_its_place(
    site: Site, windows: Windows, demo: Sources, scheme: str, scripts: bool
) -> None:
    """Every printed sticker, decoded and followed, shows its own place, or its place's one task.

    No redirection costs a round trip on the way.
    """
    reader = windows.open(scheme, java_script_enabled=scripts)
    by_code = targets(site)
    for name, unit in demo.stock.units.items():
        for address in decoded_addresses(site, name):
            follow(reader, site, address)
            code = "-".join(urlsplit(address).path.strip("/").split("/"))
            owner, sort, target = by_code[code]
            assert owner == name
            heading = reader.page.locator("h1").inner_text()
            if sort == "unit":
                assert heading == unit.title
                continue
            title = unit.places[target].title
            if reader.page.locator("body.task").count():
                assert reader.page.locator(".facts a").inner_text() == title
                expect(reader.page.locator(".steps li").first).to_be_visible()
            else:
                assert heading == title
                expect(reader.page.locator(".choices a").first).to_be_visible()


def test_schemes_differ_and_follow_the_reader(site: Site, windows: Windows) -> None:
    """The reader's colour scheme decides the ground, dark at night and light by day."""
    shades = {}
    for scheme in SCHEMES:
        page = windows.open(scheme).page
        page.goto(site.address(site.kinds["task"]))
        colour = page.evaluate("getComputedStyle(document.body).backgroundColor")
        shades[scheme] = sum(int(part) for part in colour[4:-1].split(",")) / 3
    assert shades["dark"] < 60 < 200 < shades["light"]


def test_ticks_are_kept_until_cleared(site: Site, windows: Windows) -> None:
    """A ticked step stays ticked after a reload, for this page only, until all are cleared."""
    reader = windows.open()
    page, address = reader.page, site.address(site.kinds["task"])
    page.goto(address)
    ticks = page.locator(".tick")
    assert ticks.count() == page.locator(".steps > ol > li").count() > 2
    ticks.nth(0).click()
    ticks.nth(2).click()
    page.reload()
    pressed = [ticks.nth(n).get_attribute("aria-pressed") for n in range(3)]
    assert pressed == ["true", "false", "true"]
    ticks.nth(2).click()
    page.reload()
    assert ticks.nth(2).get_attribute("aria-pressed") == "false"
    page.goto(site.address(site.kinds["routine"]))
    assert page.locator(".tick[aria-pressed=true]").count() == 0
    page.goto(address)
    page.get_by_role("button", name="Clear all ticks").click()
    assert page.locator(".tick[aria-pressed=true]").count() == 0
    page.reload()
    assert page.locator(".tick[aria-pressed=true]").count() == 0


def test_every_step_is_read_without_scripts(site: Site, windows: Windows) -> None:
    """With JavaScript off, a task page shows all its words and no dead control."""
    plain = windows.open(java_script_enabled=False).page
    scripted = windows.open().page
    for page in (plain, scripted):
        page.goto(site.address(site.kinds["task"]))
    assert plain.locator("button").count() == 0
    steps = plain.locator(".steps > ol > li")
    assert steps.all_inner_texts() == scripted.locator(".steps > ol > li").all_inner_texts()
    assert all(step.is_visible() for step in steps.all())


def test_keyboard_alone_reaches_the_first_step(site: Site, windows: Windows) -> None:
    """The skip link passes the header; Tab comes to the first tick, Enter and Space work it.

    Whatever has the focus shows an outline.
    """
    page = windows.open().page
    page.goto(site.address(site.kinds["task"]))
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    focusable = page.locator("a, button, summary, input").count()
    for _ in range(focusable):
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.closest('header')") is None
        assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
        if page.evaluate("document.activeElement.className") == "tick":
            break
    first = page.locator(".tick").first
    expect(first).to_be_focused()
    page.keyboard.press("Enter")
    assert first.get_attribute("aria-pressed") == "true"
    page.keyboard.press("Space")
    assert first.get_attribute("aria-pressed") == "false"


def test_home_leads_to_a_task_by_keyboard_alone(site: Site, windows: Windows) -> None:
    """From the home page, Tab and Enter open a routine, and from there its first task."""
    page = windows.open().page
    page.goto(site.address(site.kinds["home"]))
    for part in ("/routine/", "/task/"):
        for _ in range(200):
            page.keyboard.press("Tab")
            if part in (page.evaluate("document.activeElement.href || ''") or ""):
                break
        page.keyboard.press("Enter")
        page.wait_for_url(f"**{part}*")


def test_a_typed_code_opens_its_page(site: Site, windows: Windows) -> None:
    """On the front page a code, typed carelessly, opens its page; a slip is told."""
    page = windows.open().page
    code = next(
        code for code, (_, sort, _) in targets(site).items() if sort == "place" and "0" in code
    )
    page.goto(f"{site.origin}/index.html")
    page.get_by_label("Code on the sticker").fill(code[:-1] + ("2" if code[-1] != "2" else "3"))
    page.keyboard.press("Enter")
    expect(page.locator("#answer")).to_contain_text("That is no code of ours")
    careless = code.lower().replace("0", "o").replace("-", " ")
    page.get_by_label("Code on the sticker").fill(careless)
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/{code.replace('-', '/')}/**")
    assert page.locator("h1").inner_text()


def test_one_unit_opens_from_a_folder_of_files(site: Site, windows: Windows) -> None:
    """Opened from a phone's files, pages show, links work and ticks are kept."""
    reader = windows.open()
    task = site.kinds["task"]
    guide = task.parents[1]
    reader.page.goto((guide / "index.html").as_uri())
    reader.page.locator(".choices a").first.click()
    reader.page.wait_for_url("**/routine/*.html")
    reader.page.goto(task.as_uri())
    reader.page.locator(".tick").first.click()
    reader.page.reload()
    assert reader.page.locator(".tick").first.get_attribute("aria-pressed") == "true"


@pytest.mark.parametrize("wanted", ["task", "routine", "symptom", "place", "home", "kit", "list"])
def test_print_leaves_nothing_out(site: Site, windows: Windows, wanted: str) -> None:
    """Printed on A4, a page holds every word of its text, and all of it inside the paper."""
    page = windows.open("dark").page
    page.goto(site.address(site.kinds[wanted]))
    page.emulate_media(media="print")
    shown = page.locator("main").inner_text().lower().split()
    pdf = page.pdf(format="A4")
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    words = "".join(sheet.extract_text() for sheet in reader.pages)
    printed = "".join(unicodedata.normalize("NFKC", words).lower().split())  # ligatures apart
    assert [word for word in shown if word not in printed] == []
    document = pypdfium2.PdfDocument(pdf)
    for sheet in document:
        width, height = sheet.get_size()
        text = sheet.get_textpage()
        for index in range(text.count_chars()):
            if text.get_text_range(index, 1).strip():
                left, bottom, right, top = text.get_charbox(index)
                assert 0 <= left <= right <= width
                assert 0 <= bottom <= top <= height
        text.close()
    document.close()
