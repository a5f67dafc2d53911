"""The guide without signal: whole after one visit, then replaced whole and never in silence."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import html5lib
import pytest
from playwright.sync_api import Browser, expect
from site_checks import copy_workspace, lockerleaf, parse_html

from browser.conftest import Site
from browser.offline_support import (
    FOLDER,
    Signal,
    build_small,
    phone,
    served,
    until,
    wait_for_version,
    wait_until_kept,
)
from generator.compose.guard import guard_of
from generator.compose.page import Page
from generator.flow import finish_guides
from generator.read.sources import Sources
from generator.render.offline import keeping
from generator.render.packs import TEXTS, Pack, PackStart, pack_common, pack_own
from generator.render.site import SiteRenderer

pytestmark = pytest.mark.slow

UNIT = "M9S3"
"""The small unit's code, as its register has it."""
EMPTY = f"{UNIT}/task/empty-cassette.html"
FOR_MACHINES = re.compile(r'<script type="application/ld\+json">.*?</script>', re.DOTALL)
CHANGE = ("Pull the cassette out.", "Pull the cassette out slowly.")


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the small workspace as built."""
    return build_small(tmp_path_factory.mktemp("small") / "workspace")


@pytest.fixture(scope="module")
def changed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the small workspace as built after one step was changed."""
    return build_small(tmp_path_factory.mktemp("changed") / "workspace", empty_cassette=CHANGE)


@pytest.fixture
def signal(built: Path, tmp_path: Path) -> Iterator[Signal]:
    """Serve the small guide."""
    with served(tmp_path, built) as server:
        yield server


def test_every_page_of_a_demo_unit_opens_without_signal(
    demo: Sources, chromium: Browser, tmp_path: Path
) -> None:
    """After one visit through one sticker, each page and each sticker's address opens, whole."""
    workspace = copy_workspace(demo.root, tmp_path / "workspace")
    lockerleaf(workspace, "build", demo.stock.dealer.preview)
    public = workspace / "public"
    (folder,) = [path.parent for path in public.glob("????/worker.js")]
    files = sorted(folder.rglob("*.html"))
    landings = [path for path in files if path.name == "index.html" and path.parent != folder]
    assert len(files) > 100
    assert len(landings) > 10
    with (
        served(tmp_path / "server", public) as server,
        phone(chromium) as (context, complaints),
    ):
        page = context.new_page()
        page.goto(server.address(landings[0].parent.relative_to(public).as_posix() + "/"))
        wait_until_kept(page)
        server.stop()
        for file in files:
            told = parse_html(file)
            page.goto(
                server.address(file.relative_to(public).as_posix()), wait_until="domcontentloaded"
            )
            assert " ".join(page.locator("h1").inner_text().split()) == told.title
            if told.sort == "task" and page.locator(".steps > ol > li").count():
                assert page.locator(".tick").count() > 0
        for file in landings:
            code = file.parent.relative_to(public).as_posix()
            for address in (f"{code}/", code):
                page.goto(server.address(address), wait_until="domcontentloaded")
                assert page.url == server.address(f"{code}/")
                assert page.locator("h1").inner_text() == parse_html(file).title
        page.goto(server.address(f"{folder.name}/"))
        expect(page.locator(".kept")).to_have_text(demo.library.wording["kept"])
        page.goto(server.address(f"{folder.name}/no/such/page.html"))
        assert page.url == server.address(f"{folder.name}/")
        assert complaints == []
        stored = page.evaluate("navigator.storage.estimate().then((all) => all.usage)")
        assert stored < 1_500_000


def test_change_is_shown_at_once_and_told_of(
    signal: Signal, changed: Path, chromium: Browser
) -> None:
    """The first page with signal is the new one; it says that it changed until someone has read."""
    with phone(chromium) as (context, complaints):
        page = context.new_page()
        page.goto(signal.address(f"{UNIT}/"))
        before = wait_until_kept(page)
        left_open = context.new_page()
        left_open.goto(signal.address(EMPTY))
        signal.publish(changed)
        signal.asked.clear()

        page.goto(signal.address(EMPTY))
        expect(page.locator(".steps")).to_contain_text(CHANGE[1])
        expect(page.get_by_role("alert")).to_contain_text("This page has changed since")
        # The same page in another tab, opened before, says that it is old.
        expect(left_open.get_by_role("alert")).to_contain_text("out of date", timeout=60_000)
        wait_for_version(page, before)

        signal.stop()
        page.reload()
        expect(page.locator(".steps")).to_contain_text(CHANGE[1])
        expect(page.get_by_role("alert")).to_be_visible()
        page.goto(signal.address(f"{UNIT}/task/turn-on-gas.html"))
        assert page.get_by_role("alert").count() == 0
        page.goto(signal.address(EMPTY))
        page.get_by_role("button", name="I have read them").click()
        assert page.get_by_role("alert").count() == 0
        page.reload()
        assert page.get_by_role("alert").count() == 0
        left_open.get_by_role("button", name="Show the new page").click()
        expect(left_open.locator(".steps")).to_contain_text(CHANGE[1])
        assert complaints == []


def test_of_the_packs_only_that_with_the_change_is_fetched(
    signal: Signal, tmp_path: Path, chromium: Browser
) -> None:
    """The other one is taken over; without signal both are there, and so is the new revision."""
    later = build_small(
        tmp_path / "later", turn_off_gas=("Close the valve", "Slowly close the valve")
    )
    with phone(chromium) as (context, complaints):
        page = context.new_page()
        page.goto(signal.address(f"{UNIT}/"))
        before = wait_until_kept(page)
        old = page.locator("footer p").last.inner_text()
        signal.publish(later)
        signal.asked.clear()
        page.goto(signal.address(f"{UNIT}/task/turn-on-gas.html"))
        wait_for_version(page, before)
        assert sum("/pack." in path for path in signal.asked) == 1, signal.asked
        signal.stop()
        page.goto(signal.address(f"{UNIT}/task/turn-off-gas.html"))
        expect(page.locator(".steps")).to_contain_text("Slowly close the valve")
        page.goto(signal.address(f"{UNIT}/"))
        now = page.locator("footer p").last.inner_text()
        assert now != old
        assert now in (later / UNIT / "index.html").read_text("utf-8")
        assert complaints == []


def test_what_is_new_is_marked(signal: Signal, tmp_path: Path, chromium: Browser) -> None:
    """A step put in and one with another outcome are marked; what only moved down is not.

    So it is on a page that was never opened before, for the guide was kept as a whole.
    """
    later = build_small(
        tmp_path / "later",
        empty_cassette=(
            "Pull the cassette out.",
            "Put gloves on.\n2. Pull the cassette out.\n   Then: It is heavy.",
        ),
    )
    with phone(chromium) as (context, complaints):
        page = context.new_page()
        page.goto(signal.address(f"{UNIT}/"))
        wait_until_kept(page)
        until(page, f"Boolean(localStorage.getItem('guards:/{FOLDER}/{UNIT}/'))")
        page.goto(signal.address(EMPTY))
        before = page.locator(".do").all_inner_texts()
        assert page.locator(".new").count() == 0
        signal.publish(later)
        page.goto(signal.address(EMPTY))
        expect(page.get_by_role("alert")).to_contain_text("What is new is marked.")
        marked = [text.rstrip() for text in page.locator(".fresh").all_inner_texts()]
        assert [text.partition("\n")[0] for text in marked] == [
            "Put gloves on. NEW",
            "Pull the cassette out. NEW",
        ]
        after = page.locator(".do:not(.fresh)").all_inner_texts()
        assert after == [text for text in before if "Pull the cassette" not in text]
        page.get_by_role("button", name="I have read them").click()
        expect(page.locator(".new")).to_have_count(2)
        page.reload()
        expect(page.locator(".steps")).to_be_visible()
        assert page.locator(".new").count() == 0
        assert complaints == []


def test_the_worker_tells_every_file_as_it_was_published(site: Site, chromium: Browser) -> None:
    """Its own script, in a page, puts each page and text of each guide of the demo together."""
    with phone(chromium) as (context, _):
        page = context.new_page()
        for worker in site.public.glob("*/worker.js"):
            guide = worker.parent
            page.goto(site.address(guide / "index.html"))
            told: dict[str, str] = page.evaluate(f"""(async () => {{
              {worker.read_text("utf-8")}
              const all = await pack();
              const names = [...Object.keys(all.own.pages), ...Object.keys(all.own.files)];
              return Object.fromEntries(names.map((name) => [name, textOf(all, name)]));
            }})()""")
            texts = {
                path.relative_to(guide).as_posix(): path.read_bytes().decode()
                for path in guide.rglob("*")
                if path.suffix in TEXTS and path != worker
            }
            assert told.keys() == texts.keys()
            for name, text in told.items():
                assert text == FOR_MACHINES.sub("", texts[name]), f"{guide.name}/{name}"


@pytest.mark.parametrize("fault", ["cut", "spoil"])
def test_interrupted_update_keeps_the_old_whole(
    signal: Signal, changed: Path, chromium: Browser, fault: str
) -> None:
    """A new version that does not come whole changes nothing; the next visit fetches it again."""
    with phone(chromium) as (context, _):
        page = context.new_page()
        page.goto(signal.address(f"{UNIT}/"))
        before = wait_until_kept(page)
        setattr(signal, fault, True)
        signal.asked.clear()
        signal.publish(changed)
        page.goto(signal.address(f"{UNIT}/all.html"))
        page.wait_for_timeout(1500)
        assert any("/pack." in path for path in signal.asked)
        assert wait_until_kept(page) == before

        signal.stop()
        for file in sorted(changed.glob(f"{UNIT}/**/*.html")):
            response = page.goto(signal.address(file.relative_to(changed).as_posix()))
            assert response
            assert response.ok
        page.goto(signal.address(EMPTY))
        expect(page.locator(".steps")).to_contain_text(CHANGE[0])

        setattr(signal, fault, False)
        signal.start()
        page.goto(signal.address(f"{UNIT}/all.html"))
        wait_for_version(page, before)
        signal.stop()
        page.goto(signal.address(EMPTY))
        expect(page.locator(".steps")).to_contain_text(CHANGE[1])


@pytest.mark.parametrize("fault", ["cut", "spoil"])
def test_interrupted_first_fetch_is_tried_again(
    signal: Signal, chromium: Browser, fault: str
) -> None:
    """A first pack that does not come whole is not kept; the next visit keeps it."""
    setattr(signal, fault, True)
    with phone(chromium) as (context, _):
        page = context.new_page()
        page.goto(signal.address(f"{UNIT}/"))
        page.wait_for_timeout(1500)
        assert page.locator(".kept").inner_text() == ""
        assert page.evaluate("navigator.serviceWorker.controller") is None
        setattr(signal, fault, False)
        page.reload()
        wait_until_kept(page)
        expect(page.locator(".kept")).to_contain_text("Kept on this phone")


def test_what_came_whole_is_not_fetched_again(signal: Signal, chromium: Browser) -> None:
    """A signal that broke off after one of the packs costs no more than the other."""
    first = (signal.root / FOLDER / UNIT / "worker.js").read_text("utf-8").partition("\n")[0]
    common, own = re.findall(r"pack\.[0-9a-f]+\.bin", first)
    with phone(chromium) as (context, _):
        page = context.new_page()
        signal.lost = common
        page.goto(signal.address(f"{UNIT}/"))
        stored = """async () => {
          let count = 0;
          for (const name of await caches.keys()) {
            count += (await (await caches.open(name)).keys()).length;
          }
          return count;
        }"""
        until(page, f"({stored})().then((count) => count === 1)")
        signal.lost = ""
        signal.asked.clear()
        page.goto(signal.address(f"{UNIT}/"))
        wait_until_kept(page)
        asked = [path.rpartition("/")[2] for path in signal.asked]
        assert common in asked
        assert own not in asked


def test_kept_page_is_shown_when_the_network_is_too_slow(signal: Signal, chromium: Browser) -> None:
    """A signal that carries nothing costs seconds once, and then less."""
    with phone(chromium) as (context, complaints):
        page = context.new_page()
        page.goto(signal.address(f"{UNIT}/"))
        wait_until_kept(page)
        signal.slow = 30
        took = "performance.getEntriesByType('navigation')[0].responseEnd"
        page.goto(signal.address(EMPTY), wait_until="domcontentloaded")
        assert 2500 < page.evaluate(took) < 6000
        page.goto(signal.address(f"{UNIT}/all.html"), wait_until="domcontentloaded")
        assert page.evaluate(took) < 2000
        signal.slow = 0
        assert complaints == []


@pytest.mark.parametrize("status", [404, 503])
def test_kept_page_is_shown_when_the_server_has_none(
    signal: Signal, chromium: Browser, status: int
) -> None:
    """A host that has lost the guide does not take it from the phone."""
    with phone(chromium) as (context, _):
        page = context.new_page()
        page.goto(signal.address(f"{UNIT}/"))
        wait_until_kept(page)
        signal.refuse = status
        page.goto(signal.address(EMPTY))
        expect(page.locator(".steps")).to_contain_text(CHANGE[0])


def test_guides_side_by_side_keep_out_of_each_other(signal: Signal, chromium: Browser) -> None:
    """Two guides on one origin are kept each by its own worker; neither drops the other."""
    shutil.copytree(signal.root / FOLDER / UNIT, signal.root / "elsewhere" / "spare")
    with phone(chromium) as (context, complaints):
        page = context.new_page()
        page.goto(signal.address(f"{UNIT}/"))
        wait_until_kept(page)
        other = signal.address("").replace(FOLDER, "elsewhere/spare")
        page.goto(other)
        wait_until_kept(page, versions=2)
        signal.stop()
        for address in (signal.address(EMPTY), f"{other}task/turn-on-gas.html"):
            page.goto(address)
            assert page.locator(".tick").count() > 0
        assert complaints == []


def test_pictures_follow_and_those_that_lack_are_fetched_later(
    signal: Signal, chromium: Browser
) -> None:
    """Pictures come when the words are kept; one that failed comes on the next visit."""
    folder = signal.root / FOLDER / UNIT
    _, worker = (folder / "worker.js").read_text("utf-8").split("\n", 1)
    for path in (folder / "worker.js", *folder.glob("pack.*")):
        path.unlink()
    names = [f"assets/{number}.webp" for number in range(6)]
    for name in names:
        (folder / name).write_bytes(name.encode())
    held = (path for path in folder.rglob("*") if path.is_file())
    files = {path.relative_to(folder).as_posix(): path.read_bytes() for path in held}
    common, own = Pack.of(pack_common({})), Pack.of(pack_own((), files, PackStart(())))
    for name, content in keeping(common, own, "", worker).files.items():
        (folder / name).write_bytes(content)
    (folder / names[3]).rename(folder / "gone")
    read = "(name) => fetch(name).then((answer) => answer.text(), () => '')"
    with phone(chromium) as (context, _):
        page = context.new_page()
        page.goto(signal.address(f"{UNIT}/"))
        wait_until_kept(page)
        page.goto(signal.address(f"{UNIT}/all.html"))
        page.wait_for_timeout(1000)
        (folder / "gone").rename(folder / names[3])
        page.goto(signal.address(f"{UNIT}/"))
        page.wait_for_timeout(1000)
        signal.stop()
        assert [page.evaluate(read, name) for name in names] == names


def test_guide_from_a_folder_needs_no_worker(built: Path, chromium: Browser) -> None:
    """Opened from files, all but the worker works, and nothing complains."""
    with phone(chromium) as (context, complaints):
        page = context.new_page()
        page.goto((built / EMPTY).as_uri())
        page.locator(".tick").first.click()
        page.reload()
        assert page.locator(".tick").first.get_attribute("aria-pressed") == "true"
        page.goto((built / UNIT / "search.html").as_uri())
        page.fill("#find", "loo")
        expect(page.locator(".found")).to_contain_text("Cassette toilet")
        page.goto((built / UNIT / "index.html").as_uri())
        expect(page.locator(".recent")).to_contain_text("Empty the cassette")
        assert complaints == []


def test_pages_read_last_stand_on_the_home_page(signal: Signal, chromium: Browser) -> None:
    """The newest comes first, each once, also when read through its sticker."""
    with phone(chromium) as (context, complaints):
        page = context.new_page()
        page.goto(signal.address(f"{UNIT}/"))
        assert page.locator(".recent").count() == 0
        for name in ("turn-on-gas", "empty-cassette", "turn-on-gas"):
            page.goto(signal.address(f"{UNIT}/task/{name}.html"))
        page.goto(signal.address(f"{UNIT}/"))
        assert page.locator(".recent a").all_inner_texts() == [
            "Turn on the gas",
            "Empty the cassette",
        ]
        page.locator(".recent a").first.click()
        assert page.url == signal.address(f"{UNIT}/task/turn-on-gas.html")
        assert complaints == []


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("Wear gloves.", "Wear thick gloves.", True),
        ("Pull it out.", "Pull it out slowly.", True),
        ("The valve is shut.", "The valve is open.", True),
        ("⟦1⟧ litres", "⟦2⟧ litres", True),
        ("A gas engineer", "Anyone", True),
        ("A clean toilet.", "A cleaner toilet.", False),
        ("(b.md)", "(c.md)", False),
        ("Other tasks", "More tasks", False),
    ],
)
def test_guard_is_what_must_be_read_again(old: str, new: str, told: bool) -> None:
    """A change in a caution, a need, a step or its value is told; one elsewhere is not."""
    text = """# Empty it\n\nA clean toilet.\n{: .purpose }\n
A gas engineer\n{: .licensed }\n
<section class="cautions" markdown="1">\n<div class="mind caution">\nWear gloves.\n</div>
</section>\n
<section class="before" markdown="1">\n- The valve is shut. How: [Shut it](b.md)\n</section>\n
<section class="work" markdown="1">\n1. Pull it out. It holds ⟦1⟧ litres.\n</section>\n
<section class="also" markdown="1">\nOther tasks\n</section>\n"""

    def guard(words: str) -> str:
        values = {"1": "18", "2": "20"}
        page = Page(uri="a.md", title="", sort="task", text=words, description="", values=values)
        return guard_of(page)

    assert old in text
    assert (guard(text) != guard(text.replace(old, new))) == told


def test_pieces_of_a_guard_are_the_cautions_and_steps_in_order(demo: Sources) -> None:
    """As many as a browser finds `.mind` and `.do` on each page, and equal ones are alike."""
    (done,) = finish_guides(demo, demo.register, [demo.stock.dealer.preview])
    rendered = SiteRenderer(demo).render(done.composed).files
    shared: dict[str, set[str]] = {}
    for page in done.composed.pages:
        tree = html5lib.parse(
            rendered[f"{page.uri.removesuffix('.md')}.html"], namespaceHTMLElements=False
        )
        parts = [
            element
            for element in tree.find("body/main").iter()
            if {"mind", "do"} & set((element.get("class") or "").split())
        ]
        guard = tree.find("body").get("data-guard", "")
        pieces = re.findall(".{3}", guard.partition("-")[2])
        if not guard:
            continue
        assert len(pieces) == len(parts), page.uri
        for element, piece in zip(parts, pieces, strict=True):
            if "mind" in (element.get("class") or "").split():
                words = " ".join("".join(element.itertext()).split())
                shared.setdefault(f"{element.tag} {words}", set()).add(piece)
    assert len(shared) > 20
    assert {words for words, pieces in shared.items() if len(pieces) > 1} == set()


@pytest.mark.parametrize(
    ("old", "new", "changed"),
    [
        ("Pull it out.", "Pull it out slowly.", [1]),
        ("It drips.", "It pours.", [1]),
        ("Wear gloves.", "Wear thick gloves.", [0]),
        ("⟦1⟧ litres", "⟦2⟧ litres", [2]),
        ("2.  ", "3.  ", []),
        ("(b.md)", "(c.md)", []),
    ],
)
def test_piece_changes_with_its_own_words(old: str, new: str, changed: list[int]) -> None:
    """A step's digest covers what stands below it and its values, not its number."""
    text = """<section class="work" markdown="1">\n\n<div class="mind caution" markdown="1">\n
Wear gloves.\n{: .avoid }\n\n</div>\n\n1.  Pull it out.\n    {: .do }\n\n    **Then** It drips.
    {: .then }\n\n2.  [Pour](b.md) ⟦1⟧ litres out.\n    {: .do }\n\n</section>\n"""

    def pieces(words: str) -> list[str]:
        values = {"1": "18", "2": "20"}
        page = Page(uri="a.md", title="", sort="task", text=words, description="", values=values)
        return re.findall(".{3}", guard_of(page).partition("-")[2])

    assert old in text
    before, after = pieces(text), pieces(text.replace(old, new))
    assert len(before) == len(after) == 3
    assert [at for at in range(3) if before[at] != after[at]] == changed
