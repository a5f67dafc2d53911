"""Pages as `mkdocs build` makes them, each distinct piece of text rendered once for a fleet.

A page is its frame around its content. The frame is the same for every page of one sort in one
folder, and the content falls into sections that many pages of many units share. Both are rendered
by what MkDocs itself would use, its Markdown and its theme's environment, and are kept with the
units' values still as tokens. A test holds every page equal to that of a plain `mkdocs build`.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import SimpleNamespace
from typing import TypeVar
from xml.etree.ElementTree import Element

from jinja2 import Environment
from markdown import Markdown
from markdown.treeprocessors import Treeprocessor
from markupsafe import escape
from mkdocs.config.defaults import MkDocsConfig

from generator.compose.compose import Composed
from generator.compose.guard import Guarded, guard_from, guarded_words
from generator.compose.page import (
    Page,
    Pattern,
    fill_pattern,
    mark_languages,
    name_tokens,
    number_tokens,
    own_values,
    revision_of,
    split_tokens,
)

REVISION = "revision"
"""The slot of a guide's own revision, which changes with every page; the first page has it."""

Slots = Mapping[str, str]
"""What a page brings into its frame, by name."""

Frame = tuple[str, ...]
"""What stands around a page's content: text and names of slots in turn, text first and last."""

MOST_PAGES = 3_000
"""Pages kept in memory, some 10 kB each with their values and as much without: those of a dozen
models. Units of one model come in a row."""

MOST_FRAMES = 500
"""Frames kept in memory, some 12 kB each. A guide in one language has a dozen, and shares them."""

MOST_PIECES = 50_000
"""Pieces of pages kept in memory, about 1 kB each. Sixty fits have some 20,000."""

_LIST = re.compile(r"(?<=\n\n)(?:- [^\n]+\n)+(?=\n(?!\n*(?:- | {4}))|\Z)")
"""Lists of one line an item, with an empty line above, and below it something else."""

_ITEM = ("<ul>\n", "\n</ul>")
"""What stands around the lines of a list."""

K = TypeVar("K")
V = TypeVar("V")

_TAG = re.compile(r"^<(/?)(?:section|div)\b[^\n]*$", re.MULTILINE)
_LEFT = ("content", "guard")
"""What goes into the frame of a page whose untranslated words are marked."""

_NAME = re.compile(r"[^/]+")
_SLOT = re.compile("\x00(title|description|content|guard|own-revision|revision|file)\x00")


@dataclass(frozen=True, slots=True)
class _Rendered:
    """A page's content with its values still as tokens, and what else follows from its text."""

    content: Pattern
    targets: frozenset[str]
    """The files that it leads to, as it says them."""
    guarded: Guarded


@dataclass(frozen=True, slots=True)
class _Filled:
    """What a page brings into its frame, with its values."""

    slots: Slots
    targets: frozenset[str]
    """The files that it leads to."""


@dataclass(frozen=True, slots=True)
class _Frame:
    """What the frame around a page's content follows from."""

    sort: str
    folder: str
    lang: str
    under: str
    notices: tuple[str, ...]
    versions: tuple[tuple[str, str, str], ...]
    """Language, title and folder of the page in other languages; the file's name is the same."""

    @staticmethod
    def of(page: Page, folder: str) -> _Frame:
        """Return the frame of a page.

        Links from it go up and down again, so only how deep a folder lies counts, unless it is
        named by a link to another language.
        """
        versions = tuple((v.lang, v.title, posixpath.dirname(v.uri)) for v in page.versions)
        if not versions:
            folder = _NAME.sub("-", folder)
        return _Frame(page.sort, folder, page.lang, page.under, page.notices, versions)


@dataclass(frozen=True, slots=True)
class HtmlPage:
    """A page of a guide as HTML."""

    path: str
    frame: Frame
    slots: Slots
    shared: bool
    """Whether the pages of alike units have the same in their slots."""

    @property
    def pieces(self) -> Sequence[str]:
        """Return what is the page, one after the other. Many pages have pieces in common."""
        pieces = list(self.frame)
        pieces[1::2] = [self.slots[name] for name in pieces[1::2]]
        return pieces


class PageRenderer:
    """Renders the pages of guides, and keeps what it has rendered for the next guide."""

    def __init__(self, config: MkDocsConfig, environment: Environment) -> None:
        """Take MkDocs's configuration, and its theme's environment with our frame in it."""
        self._config = config
        self._template = environment.get_template("main.html")
        self._links = _Links()
        self._markdown = Markdown(
            extensions=config["markdown_extensions"], extension_configs=config["mdx_configs"] or {}
        )
        self._markdown.treeprocessors.register(self._links, "guide_links", 0)
        self._frames: dict[_Frame, tuple[Pattern, ...]] = {}
        self._filled: dict[tuple[object, ...], _Filled] = {}
        self._pages: dict[str, _Rendered] = {}
        self._pieces: dict[str, tuple[str, frozenset[str]]] = {}

    def render_guide(self, composed: Composed, others: Collection[str] = ()) -> Iterator[HtmlPage]:
        """Yield each page of a guide; `others` are pages that it has beside the composed ones.

        Raises:
            LookupError: A link leads nowhere; that is a mistake of ours, not of an author.
        """
        uris = {*others, *(page.uri for page in composed.pages)}
        shared_uris = {page.uri for page in composed.equipment.pages}
        shared = {name: str(escape(value)) for name, value in composed.frame.items()}
        source = composed.frame["source"]
        frames: dict[tuple[object, ...], Frame] = {}
        for page in composed.pages:
            folder = posixpath.dirname(page.uri)
            key = _Frame.of(page, folder)
            own = {name: str(escape(page.values[name])) for name in shared if name in page.values}
            # In a further language the unit's title, say, is the page's own value.
            framed = (key, *own.values())
            if framed not in frames:
                values = {**shared, **own}
                frames[framed] = tuple(fill_pattern(part, values) for part in self._frame(key))
            share = page.uri.removeprefix(page.under) in shared_uris
            filled = self._fill(folder, page, source, share=share)
            if astray := filled.targets - uris:
                raise LookupError(f"{page.uri} leads to {min(astray)}, which is not in its guide")
            frame, slots = frames[framed], filled.slots
            if page.lang:
                frame = _marked_frame(frame, slots, source)
                slots = {name: slots[name] for name in _LEFT}
            if REVISION in frame:
                slots = {**slots, REVISION: shared[REVISION]}
            yield HtmlPage(f"{page.uri.removesuffix('.md')}.html", frame, slots, share)

    def _fill(self, folder: str, page: Page, source: str, *, share: bool) -> _Filled:
        """Return what a page brings into its frame; `source` is the language of what is not in its.

        With `share` the same text and values are filled in once; other pages are one unit's own.
        """
        told = (page.uri, page.lang, page.title, page.description, page.text)
        of_unit = tuple(own_values(page))
        # Text that is markup already equals text that is not, yet goes in otherwise.
        key = (*told, *of_unit, *(type(value) for _, value in of_unit))
        known = self._filled.get(key)
        if known is None:
            values = {name: str(escape(value)) for name, value in of_unit}
            rendered = self._page(page.text)
            slots = {
                "title": fill_pattern(split_tokens(str(escape(page.title))), values),
                "description": fill_pattern(split_tokens(str(escape(page.description))), values),
                "own-revision": revision_of(page),
                **({"file": posixpath.basename(page.uri).removesuffix(".md")} if page.lang else {}),
                "guard": guard_from(rendered.guarded, page.values),
                "content": fill_pattern(rendered.content, values),
            }
            if page.lang:
                slots["content"] = mark_languages(slots["content"], source)
            to = (posixpath.join(folder, target) for target in rendered.targets)
            known = _Filled(slots, frozenset(map(posixpath.normpath, to)))
            if share:
                _keep(self._filled, key, known, MOST_PAGES)
        return known

    def _frame(self, key: _Frame) -> tuple[Pattern, ...]:
        """Return a frame: patterns of text and names of slots in turn."""
        if key not in self._frames:
            meta: dict[str, object] = {
                "sort": key.sort,
                "title": "\x00title\x00",
                "description": "\x00description\x00",
            }
            if key.lang:
                meta |= {"lang": key.lang, "under": key.under, "notices": key.notices}
                meta["versions"] = [
                    (lang, title, posixpath.join(folder, "\x00file\x00.md"))
                    for lang, title, folder in key.versions
                ]
            page = SimpleNamespace(
                meta=meta, content="\x00content\x00", url=posixpath.join(key.folder, "page.html")
            )
            html = self._template.render(page=page, config=self._config, base_url="")
            for slot in ("guard", "own-revision", REVISION):
                html = html.replace(f"⟦{slot}⟧", f"\x00{slot}\x00")
            parts = tuple(
                split_tokens(part) if index % 2 == 0 else (part,)
                for index, part in enumerate(_SLOT.split(html))
            )
            _keep(self._frames, key, parts, MOST_FRAMES)
        return self._frames[key]

    def _page(self, text: str) -> _Rendered:
        """Return a page's content, put together from its pieces."""
        known = self._pages.get(text)
        if known is None:
            pieces = [self._piece(piece) for piece in _pieces(text)]
            known = _Rendered(
                split_tokens("\n".join(html for html, _ in pieces if html)),
                frozenset(target for _, targets in pieces for target in targets),
                guarded_words(text),
            )
            _keep(self._pages, text, known, MOST_PAGES)
        return known

    def _piece(self, text: str) -> tuple[str, frozenset[str]]:
        """Return a piece as HTML with tokens, and the links that it holds.

        Lists are rendered apart, line by line: they differ from page to page and from unit to unit
        by some of their lines.
        """
        lists = [found for found in _LIST.finditer(text) if not _goes_on(text[: found.start()])]
        skeleton, at = "", 0
        for found in lists:
            skeleton += f"{text[at : found.start()]}- \x01\n"
            at = found.end()
        html, targets = self._markup(skeleton + text[at:])
        for found in lists:
            items = [self._markup(line) for line in found[0].rstrip("\n").split("\n")]
            inner = "\n".join(item[len(_ITEM[0]) : -len(_ITEM[1])] for item, _ in items)
            html = html.replace("<li>\x01</li>", inner, 1)
            targets = targets.union(*(leads for _, leads in items))
        return html, targets

    def _markup(self, text: str) -> tuple[str, frozenset[str]]:
        """Return Markdown as HTML, and the links that it holds.

        It is remembered with its tokens numbered anew: which number a value has in its page
        depends on what else the page says.
        """
        plain, names = number_tokens(text)
        known = self._pieces.get(plain)
        if known is None:
            self._links.targets.clear()
            html = self._markdown.reset().convert(plain)
            known = (html, frozenset(self._links.targets))
            _keep(self._pieces, plain, known, MOST_PIECES)
        html, targets = known
        return (name_tokens(html, names) if names else html), targets


def _marked_frame(frame: Frame, slots: Slots, source: str) -> Frame:
    """Return a frame in which what is not translated is marked, in what goes into it, too.

    What is left to go in is marked already, or needs no mark.
    """
    parts = list(frame)
    parts[1::2] = [
        f"\x00{name}\x00" if name in (*_LEFT, REVISION) else slots[name] for name in parts[1::2]
    ]
    return tuple(_SLOT.split(mark_languages("".join(parts), source)))


def _goes_on(above: str) -> bool:
    """Return whether a list under this text would be part of one that stands in it."""
    last = above.rstrip("\n").rsplit("\n", 1)[-1]
    return last.startswith(("- ", "    ")) or last[:1].isdigit()


def _keep(kept: dict[K, V], key: K, value: V, most: int) -> None:
    """Remember a value; the oldest is forgotten where there are too many."""
    if len(kept) >= most:
        del kept[next(iter(kept))]
    kept[key] = value


def _pieces(text: str) -> Iterator[str]:
    """Yield a page's Markdown in pieces that may be rendered each on its own.

    A block at the margin ends where its closing tag stands at the margin; blocks within it of the
    same sort are told from it by being counted.
    """
    at = 0
    for start, end in _blocks(text):
        if text[at:start].strip():
            yield text[at:start]
        yield text[start:end]
        at = end
    if text[at:].strip():
        yield text[at:]


def _blocks(text: str) -> Iterator[tuple[int, int]]:
    """Yield where each outermost block starts and ends."""
    depth, start = 0, 0
    for tag in _TAG.finditer(text):
        if tag[1]:
            depth -= 1
            if depth == 0:
                yield start, tag.end()
        else:
            if depth == 0:
                start = tag.start()
            depth += 1


class _Links(Treeprocessor):
    """Turns links between Markdown files into links between pages, as MkDocs does."""

    def __init__(self) -> None:
        super().__init__()
        self.targets: set[str] = set()

    def run(self, root: Element) -> None:
        for element in root.iter("a"):
            path, mark, anchor = element.get("href", "").partition("#")
            if path.endswith(".md"):
                self.targets.add(path)
                element.set("href", f"{path.removesuffix('.md')}.html{mark}{anchor}")
