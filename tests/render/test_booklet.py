"""The booklet, read back by programs that had no part in making it."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pypdf
import pypdfium2
import pytest

from generator.compose.print_guide import print_guide
from generator.compose.printed import PrintedGuide, PrintedTask
from generator.compose.runs import Block, Run, read_blocks, read_runs
from generator.flow import Finished
from generator.read.sources import Sources
from generator.render.booklet import plan_booklet
from generator.render.fold import MOST_SHEETS, fold_booklet, fold_order, fold_sections
from render.printing import (
    Paper,
    accessibility_faults,
    bare,
    context_of,
    drawn_sizes,
    finish,
    unembedded_fonts,
)

SEE = re.compile(r"(?:see )?page (\d+)")


@dataclass(frozen=True)
class Booklet:
    """A unit's guide, what was to be printed of it, and what was printed."""

    done: Finished
    printed: PrintedGuide
    paper: Paper
    large: Paper

    @property
    def tasks(self) -> list[PrintedTask]:
        """All tasks, in the order in which they are printed."""
        return [
            *self.printed.emergencies,
            *(task for area in self.printed.areas for task in area.tasks),
        ]


@pytest.fixture(scope="module")
def booklet(demo: Sources) -> Booklet:
    """Return the preview unit's booklet."""
    done = finish(demo, demo.stock.dealer.preview)
    templates = demo.root / "site_assets" / "print"

    def paper(*, large: bool) -> Paper:
        return Paper(plan_booklet(context_of(demo, done), "r1", templates, large=large).pdf())

    printed = print_guide(context_of(demo, done))
    return Booklet(done, printed, paper(large=False), paper(large=True))


def test_runs_take_markdown_apart() -> None:
    """Strong, emphasis and links become runs; links nest; what is escaped is text."""
    find = {("task", "light-hob"): "task/light-hob.md"}.get
    runs = read_runs(
        r"Read **all** of *it*, then [light the **hob**](task:light-hob) \*now\*.",
        {},
        lambda sort, name: find((sort, name)),
    )
    assert runs == (
        Run("Read "),
        Run("all", strong=True),
        Run(" of "),
        Run("it", emphasis=True),
        Run(", then "),
        Run("light the ", target="task/light-hob.md"),
        Run("hob", strong=True, target="task/light-hob.md"),
        Run(" *now*."),
    )


def test_values_are_never_markdown() -> None:
    """A value that looks like Markdown, like a token or like a quotation stays as it is."""
    hostile = '**x** [y](task:z) ⟦2⟧ "q"'
    runs = read_runs("Put ⟦1⟧ in.", {"1": hostile, "2": "no"}, lambda sort, name: None)
    assert runs == (Run(f"Put {hostile} in."),)


def test_blocks_keep_paragraphs_and_bullets() -> None:
    """Paragraphs and lists come out in order, a bullet's second line with its first."""
    text = "One\nline.\n\n- A.\n- B\n  goes on.\n\nTwo."
    assert read_blocks(text, {}, lambda sort, name: None) == (
        Block(False, ((Run("One line."),),)),
        Block(True, ((Run("A."),), (Run("B goes on."),))),
        Block(False, ((Run("Two."),),)),
    )


def test_quotation_marks_are_those_of_print() -> None:
    """Straight marks of the library become curled ones."""
    (run,) = read_runs('Follow "No flame" in the maker\'s book.', {}, lambda sort, name: None)
    assert run.text == "Follow \u201cNo flame\u201d in the maker\u2019s book."


@pytest.mark.slow
def test_it_is_a_booklet_of_a5_sheets(booklet: Booklet) -> None:
    """Every page is A5, and their number makes whole folded sheets."""
    count = len(booklet.paper.reader.pages)
    assert {booklet.paper.size_mm(n) for n in range(count)} == {(148, 210)}
    assert count % 4 == 0


@pytest.mark.slow
def test_it_is_accessible_and_whole(booklet: Booklet) -> None:
    """Tagged as PDF/UA-1 asks, sound to qpdf, every font within."""
    for paper in (booklet.paper, booklet.large):
        assert accessibility_faults(paper.pdf) == []
        assert unembedded_fonts(paper.pdf) == []


@pytest.mark.slow
def test_everything_of_the_guide_is_in_it(booklet: Booklet) -> None:
    """Every task, step, symptom, place, fitting and routine is printed."""
    guide = booklet.done.guide
    wanted = [task.title for task in guide.tasks]
    wanted += [symptom.title for symptom in guide.symptoms]
    wanted += [spot.title for spot in guide.places]
    wanted += [fitting.title for fitting in guide.fittings.values()]
    wanted += [routine.title for routine in guide.routines]
    wanted += [*guide.place_codes.values(), guide.dealer.telephone, guide.dealer.emergency]
    for number in booklet.printed.numbers:
        wanted.append(number.title)
        for figure in number.figures:
            wanted += [figure.sources, *(run.text for run in figure.title)]
            for piece in figure.pieces:
                cells = (*piece.items, *(cell for row in piece.rows for cell in row))
                wanted += ["".join(run.text for run in cell) for cell in cells]
    # A reference within a command is followed by its page, so run by run.
    wanted += [run.text for task in booklet.tasks for step in task.steps for run in step.command]
    assert [words for words in wanted if bare(words) not in booklet.paper.text] == []
    assert len(booklet.tasks) == len(guide.tasks)


@pytest.mark.slow
def test_every_number_of_the_guide_is_in_it(booklet: Booklet) -> None:
    """Each page of numbers is in the booklet with its answers, tables and sources."""
    pages = [page for page in booklet.done.composed.pages if page.sort == "number"]
    printed = {number.anchor: number for number in booklet.printed.numbers}
    assert sorted(printed) == sorted(page.uri for page in pages)
    for page in pages:
        pieces = [piece for figure in printed[page.uri].figures for piece in figure.pieces]
        # What is folded away on the screen, and what the forms ask for, is not for paper.
        shown = re.sub(r"<details.*?</details>", "", page.text, flags=re.DOTALL)
        answers = shown.count("{: .answer }")
        assert sum(piece.kind == "answer" for piece in pieces) == answers, page.uri
        tables = len(re.findall(r"^\| --- |^\|(?= --- \|)", shown, re.MULTILINE))
        assert sum(piece.kind == "table" for piece in pieces) == tables, page.uri
        said = "".join(run.text for piece in pieces for item in piece.items for run in item)
        assert not re.search(r"[⟦⟧|]|\]\(|\{:", said), page.uri
    assert any(figure.sources for number in printed.values() for figure in number.figures)


@pytest.mark.slow
def test_bookmarks_lead_to_their_pages(booklet: Booklet) -> None:
    """Chapters and all their pages are bookmarked, each at the page that shows its title."""
    marks = booklet.paper.bookmarks()
    named = {bare(title) for title, _ in marks}
    assert {bare(task.title) for task in booklet.tasks} <= {
        title[: len(title)] for title in named
    } | {bare(f"{task.title} {task.which}") for task in booklet.tasks if task.which}
    wrong = [title for title, page in marks if bare(title) not in bare(booklet.paper.pages[page])]
    assert wrong == []


@pytest.mark.slow
def test_see_page_says_where_the_link_leads(booklet: Booklet) -> None:
    """Each printed page number is that of the page to which its own link leads."""
    seen = 0
    for text, page in booklet.paper.links():
        match = SEE.search(" ".join(text.split()))
        if match and page is not None:
            assert int(match[1]) == page + 1, text
            seen += 1
    assert seen > 500


@pytest.mark.slow
def test_references_lead_to_the_titles_they_name(booklet: Booklet) -> None:
    """What a task says to read is found on the page whose number stands beside it."""
    pages = dict(booklet.paper.bookmarks())
    by_anchor = {task.anchor: task for task in booklet.tasks}
    checked = 0
    for task in booklet.tasks:
        for need in task.before:
            for way in need.ways:
                named = f"{way.title} {way.which}".strip()
                page = pages.get(named)
                assert page is not None, named
                assert bare(f"{named} (see page {page + 1})") in booklet.paper.text
                assert way.anchor in by_anchor
                checked += 1
    assert checked > 50


@pytest.mark.slow
def test_a_caution_stands_before_its_step(booklet: Booklet) -> None:
    """The whole of a step's caution is printed right before the step, in reading order."""
    checked = 0
    for task in booklet.tasks:
        for number, step in enumerate(task.steps, 1):
            if len(step.cautions) == 1:
                (it,) = step.cautions
                parts = (it.hazard, it.consequence, it.avoidance, (Run(str(number)),), step.command)
                wanted = bare(
                    it.word + "".join("".join(run.text for run in runs) for runs in parts)
                )
                assert wanted in booklet.paper.text, f"{task.title}, step {number}"
                checked += 1
    assert checked > 20


@pytest.mark.slow
def test_emergency_pages_are_inside_the_front_cover(booklet: Booklet) -> None:
    """Page 2 has the number to call and every emergency; the contents come after their pages."""
    second = bare(booklet.paper.pages[1])
    assert all(bare(task.title) in second for task in booklet.printed.emergencies)
    pages = dict(booklet.paper.bookmarks())
    first = pages[booklet.printed.emergencies[0].title]
    assert first == 1
    contents = next(n for n, text in enumerate(booklet.paper.pages) if text.startswith("Contents"))
    assert all(pages[task.title] < contents for task in booklet.printed.emergencies)
    assert pages[booklet.printed.routines[0].title] > contents


@pytest.mark.slow
def test_no_heading_ends_a_page(booklet: Booklet) -> None:
    """No title and no section heading is the last line above the foot of a page."""
    say = booklet.done.composed.frame
    titles = {bare(task.title) for task in booklet.tasks}
    titles |= {bare(words) for words in ("Mind this first", "Before you start", "Do this")}
    lonely = []
    for number, text in enumerate(booklet.paper.pages[1:], 2):
        lines = [
            bare(line)
            for line in text.splitlines()
            if line.strip() and say["unit"] not in line and line.strip() != str(number)
        ]
        if lines and lines[-1] in titles:
            lonely.append(number)
    contents = {n for n, t in enumerate(booklet.paper.pages, 1) if "Contents" in t.splitlines()[0]}
    assert set(lonely) <= contents


@pytest.mark.slow
def test_private_texts_stay_private(booklet: Booklet, demo: Sources) -> None:
    """No private value of the unit is in the booklet, nor in its metadata."""
    private = demo.stock.units[booklet.done.guide.unit.name].private
    long_enough = [text for text in private if len(text) > 3]
    assert long_enough
    for text in long_enough:
        assert bare(text) not in booklet.paper.text
        assert text.encode() not in booklet.paper.pdf
    assert set(booklet.paper.reader.metadata) <= {"/Title", "/Author", "/Creator"}


@pytest.mark.slow
def test_large_print_is_large(booklet: Booklet) -> None:
    """A4; most of the text is 16 point or more, and none of it is under 12."""
    assert booklet.large.size_mm(0) == (210, 297)
    number = dict(booklet.large.bookmarks())[booklet.tasks[-1].title]
    sizes = drawn_sizes(booklet.large.reader.pages[number])
    big = sum(count for size, count in sizes.items() if size >= 15)
    assert big > 0.7 * sum(sizes.values())
    assert min(sizes) >= 12


@pytest.mark.slow
def test_reprint_is_byte_identical(booklet: Booklet, demo: Sources) -> None:
    """The same guide gives the same bytes: no date, no random identifier."""
    templates = demo.root / "site_assets" / "print"
    again = plan_booklet(context_of(demo, booklet.done), "r1", templates)
    assert again.pdf() == booklet.paper.pdf
    assert again.digest() == plan_booklet(context_of(demo, booklet.done), "r1", templates).digest()
    assert again.digest() != plan_booklet(context_of(demo, booklet.done), "r2", templates).digest()


@pytest.mark.slow
def test_texts_are_no_markup(
    workspace: Path, change: Callable[[str, str, str], None], lockerleaf: Callable[..., str]
) -> None:
    """What would be markup of the engine, of Markdown or of SVG is printed as it is written."""
    hostile = "#panic() *Gas* $x$ <b>_y_</b> @z \\ [q](task:turn-on-gas)"
    change("units/models/small-2.yml", "title: Gas locker", f"title: '{hostile}'")
    told = lockerleaf("booklet", "sm-1")
    assert told == "print/sm-1/booklet.pdf\n"
    paper = Paper((workspace / "print" / "sm-1" / "booklet.pdf").read_bytes())
    assert any(hostile in " ".join(text.split()) for text in paper.pages)


@pytest.mark.parametrize("pages", [4, 8, 40, 44, 84, 120, 251])
def test_folded_sheets_read_in_order(pages: int) -> None:
    """Sheets folded section by section, and the sections put together, give 1, 2, 3 and on."""
    sides = iter(fold_order(pages))
    read: list[int | None] = []
    for sheets in fold_sections(pages):
        assert sheets <= MOST_SHEETS
        left_half: list[int | None] = []
        right_half: list[int | None] = []
        for _ in range(sheets):
            front, back = next(sides), next(sides)
            left_half += [front[1], back[0]]
            right_half = [back[1], front[0], *right_half]
        read += left_half + right_half
    assert next(sides, None) is None
    assert [page for page in read if page is not None] == list(range(1, pages + 1))
    assert read[-(-pages // 4) * 4 :] == []


@pytest.mark.slow
def test_fold_version_has_two_pages_on_a_side(booklet: Booklet) -> None:
    """Two A5 pages side by side; each half has the text of the page that the order gives."""
    folded = Paper(fold_booklet(booklet.paper.pdf))
    count = len(booklet.paper.reader.pages)
    order = fold_order(count)
    assert len(folded.reader.pages) == len(order) == count // 2
    assert {folded.size_mm(n) for n in range(len(order))} == {(296, 210)}
    assert unembedded_fonts(folded.pdf) == []
    document = pypdfium2.PdfDocument(folded.pdf)
    width, height = document[0].get_size()
    for number, (left, right) in enumerate(order):
        text = document[number].get_textpage()
        for page, from_x in ((left, 0.0), (right, width / 2)):
            assert page is not None
            shown = text.get_text_bounded(from_x, 0, from_x + width / 2, height)
            assert bare(shown) == bare(booklet.paper.pages[page - 1])
    document.close()


@pytest.mark.slow
def test_fold_keeps_what_every_page_draws(booklet: Booklet) -> None:
    """Each half of a sheet is, dot for dot, the page itself."""
    folded = fold_booklet(booklet.paper.pdf)
    sheets, pages = pypdfium2.PdfDocument(folded), pypdfium2.PdfDocument(booklet.paper.pdf)
    for number, (left, right) in list(enumerate(fold_order(len(pages))))[:6]:
        sheet = sheets[number].render(scale=1, grayscale=True).to_numpy().squeeze()
        for page, start in ((left, 0), (right, sheet.shape[1] // 2)):
            alone = pages[page - 1].render(scale=1, grayscale=True).to_numpy().squeeze()
            half = sheet[: alone.shape[0], start : start + alone.shape[1]]
            alone = alone[: half.shape[0], : half.shape[1]]
            assert abs(half.astype(int) - alone).mean() < 12
    sheets.close()
    pages.close()


@pytest.mark.slow
def test_command_writes_each_variant(workspace: Path, lockerleaf: Callable[..., str]) -> None:
    """Each option has a file of its own, and folding says how many sheets go together."""
    assert lockerleaf("booklet", "sm-1", "--large") == "print/sm-1/booklet-large.pdf\n"
    told = lockerleaf("booklet", "sm-1", "--fold")
    assert re.fullmatch(
        r"print/sm-1/booklet-fold\.pdf: fold \d sections?, of \d+(, \d+)* sheets?\n", told
    )
    reader = pypdf.PdfReader(workspace / "print" / "sm-1" / "booklet-fold.pdf")
    assert reader.metadata is not None
    assert reader.metadata.title == "Small 2, stock 1"


def test_an_unknown_unit_is_one_line(lockerleaf: Callable[..., str]) -> None:
    """A unit that is not there is told in one line."""
    assert lockerleaf("booklet", "sm-2") == "Error: no unit 'sm-2'; right: did you mean sm-1?\n"
