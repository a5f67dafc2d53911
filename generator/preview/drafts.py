"""A unit's description in the making: begun, changed by the form, looked at, and kept.

The text is the one truth: what the form changes is put into it where it belongs, and all else in
it, comments included, stays as it is. It is kept only if nobody else has changed the file.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from difflib import SequenceMatcher
from pathlib import Path

from generator.checks import Remark
from generator.desk.editing import Draft, UneditableError, Written
from generator.desk.new_unit import pattern_for
from generator.desk.writing import Write, write_all
from generator.flow import Memory
from generator.preview.watch import check_unit_guide
from generator.problems import Problem, Problems, ProblemsFound, RefusedError
from generator.read.fields import NAME
from generator.read.layers import model_names
from generator.read.sources import Sources, check_unit
from generator.read.tree import parse_tree, read_source
from generator.read.units import read_stock

LARGEST_DRAFT_BYTES = 200_000
"""No description of a unit comes near this."""
MOST_EDITS = 100
_KEY = re.compile(r"[A-Za-z0-9]([A-Za-z0-9_ -]{0,58}[A-Za-z0-9])?")
_LONGEST_VALUE = 2_000
_BY_HAND = "write it into the text by hand"
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class Loaded:
    """A unit's file as it was read: the text with plain line ends, and a digest of its bytes."""

    text: str
    digest: str
    """Empty where there is no file."""


@dataclass(frozen=True, slots=True)
class Judged:
    """What is to be said of a draft."""

    problems: tuple[Problem, ...]
    """Those of reading it; while there is one, it is not kept."""
    proof: tuple[Problem, ...]
    """Those of its guide."""
    remarks: tuple[Remark, ...]


class ConflictError(Exception):
    """Somebody else has changed or made the file since it was read."""

    def __init__(self, theirs: Loaded, who: str) -> None:
        """Keep the file as it is now, and what is known of who wrote it."""
        self.theirs = theirs
        self.who = who
        super().__init__(who)


def is_unit_name(name: str) -> bool:
    """Return whether a unit may be called so."""
    return bool(NAME.fullmatch(name)) and len(name) <= 60 and name not in ("dealer", "new")


def unit_file(root: Path, unit: str) -> Path:
    """Return the file of a unit: a plain one, right below `units/`.

    Raises:
        RefusedError: no unit may be called so, or a link leads elsewhere.
    """
    if not is_unit_name(unit):
        raise RefusedError(f"'{unit:.60}' is no unit's name", "lower case, words joined by -")
    path = root / "units" / f"{unit}.yml"
    if path.parent.is_symlink() or path.is_symlink() or (path.exists() and not path.is_file()):
        raise RefusedError(f"units/{unit}.yml is a link, not a file", "a plain file in units/")
    if unit in model_names(root):
        raise RefusedError(f"there is a model '{unit}' already", "another name")
    return path


def load(root: Path, unit: str) -> Loaded | None:
    """Return a unit's description; None where it has none yet.

    Raises:
        RefusedError: as `unit_file` does, or it is too large.
        ProblemsFound: it cannot be read as text.
    """
    path = unit_file(root, unit)
    if not path.exists():
        return None
    problems = Problems()
    text = read_source(path, f"units/{unit}.yml", problems, largest_bytes=LARGEST_DRAFT_BYTES)
    problems.stop_if_any()
    assert text is not None
    return Loaded(text, _digest(path.read_bytes()))


def begin(root: Path, unit: str, like: str) -> Loaded:
    """Return the description of a new unit that is like another unit or model, so far.

    Raises:
        RefusedError: the name is bad or taken, or there is no such other.
        ProblemsFound: the other's file cannot be read.
    """
    unit_file(root, unit)
    pattern = pattern_for(root, unit, like)
    draft = Draft(pattern.draft)
    private: dict[str, Written] = {}
    for question in pattern.questions:
        keys = tuple(question.target.split("."))
        if keys[0] == "private" and len(keys) == 2:
            private[keys[1]] = question.default
        elif question.default:
            draft.set(keys, question.default)
    if private:
        draft.set(("private",), private)
    for key in ("title", "private", "delivered"):
        if draft.get((key,)) == "":
            draft.remove((key,))
    return Loaded(draft.text, "")


def edit(unit: str, text: str, edits: Sequence[Mapping[str, object]]) -> str:
    """Return a description with what the form changed put into it.

    Each edit is one of `{set: [key, …], to: text or texts}`, `{clear: [key, …]}`,
    `{drop: [key, …, id]}` (an entry of a list), `{leave: name}` and `{keep: name}` (of what the
    model has).

    Raises:
        ProblemsFound: the text cannot be read as it is.
        RefusedError: an edit has no place in it, or none at all.
    """
    if len(edits) > MOST_EDITS:
        raise RefusedError(f"{len(edits)} changes at once", f"at most {MOST_EDITS}")
    problems = Problems()
    if edits:
        parse_tree(text, f"units/{unit}.yml", problems)
    problems.stop_if_any()
    draft = Draft(text)
    for one in edits:
        try:
            _apply(draft, one)
        except UneditableError as error:
            raise RefusedError(str(error), _BY_HAND) from error
    if edits:
        parse_tree(draft.text, f"units/{unit}.yml", problems)
    if problems.found:
        raise RefusedError("this text has too unusual a shape for the form", _BY_HAND)
    return draft.text


def _apply(draft: Draft, one: Mapping[str, object]) -> None:
    match one:
        case {"set": path, "to": str() | list() as value}:
            keys, written = _path(path), _value(value)
            if written:
                draft.set(keys, written)
            else:
                draft.remove(keys)
        case {"clear": path}:
            draft.remove(_path(path))
        case {"drop": path}:
            draft.remove_item(_path(path))
        case {"leave": str() as name} if NAME.fullmatch(name):
            draft.add_items(("without",), [name])
        case {"keep": str() as name}:
            draft.remove_text(("without",), name)
        case _:
            raise RefusedError("a change that is none", "what the form sends")


def _path(given: object) -> tuple[str, ...]:
    keys = tuple(given) if isinstance(given, list) else ()
    if not 1 <= len(keys) <= 5 or not all(isinstance(k, str) and _KEY.fullmatch(k) for k in keys):
        raise RefusedError("a key that is none", "letters and figures, joined by - or _")
    if keys[0] == "unit":
        raise RefusedError("a unit keeps its name", "a new unit like this one")
    return keys


def _value(given: str | list[object]) -> str | list[str]:
    texts = [given] if isinstance(given, str) else given
    cleaned = []
    for text in texts:
        tidy = " ".join(text.split()) if isinstance(text, str) else ""
        if not isinstance(text, str) or len(text) > _LONGEST_VALUE or not tidy.isprintable():
            right = f"a text of at most {_LONGEST_VALUE} letters, figures and signs"
            raise RefusedError("a value that is none", right)
        cleaned.append(tidy)
    return cleaned[0] if isinstance(given, str) else [text for text in cleaned if text]


def judge(sources: Sources, unit: str, text: str, memory: Memory | None = None) -> Judged:
    """Return what is wrong with a draft and, given a memory, with the guide it would make.

    Reading takes a twentieth of a second; making the guide and proving it takes one or two.
    """
    problems = Problems()
    stock = read_stock(sources.root, sources.library.kinds, problems, [unit], {unit: text})
    for read in stock.units.values():
        check_unit(read, sources.library, sources.languages, problems)
    told = ProblemsFound(problems.found).problems
    if told or memory is None:
        return Judged(told, (), ())
    found = check_unit_guide(sources, stock.units[unit], memory)
    return Judged((), found.problems, found.remarks)


def keep(root: Path, unit: str, text: str, digest: str) -> Loaded:
    """Write a unit's description, and return it as it stands.

    Args:
        root: The workspace.
        unit: The unit's name.
        text: Its whole description, which was found good.
        digest: What the file was when it was loaded; empty where there was none.

    Raises:
        ConflictError: it is not that any more.
        RefusedError: as `unit_file` does, or the text is too large.
        OSError: the machine refuses.
    """
    path = unit_file(root, unit)
    before = path.read_bytes() if path.exists() else None
    if digest != ("" if before is None else _digest(before)):
        raise ConflictError(load(root, unit) or Loaded("", ""), _who(path))
    after = _encoded(text, before or b"")
    if after != before:
        try:
            write_all([Write(path, before, after)])
        except RefusedError:
            raise ConflictError(load(root, unit) or Loaded("", ""), _who(path)) from None
    return Loaded(text, _digest(after))


def _encoded(text: str, before: bytes) -> bytes:
    """Return a text as bytes with the line ends and the mark that the file has."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if text and not text.endswith("\n"):
        text += "\n"
    if b"\r\n" in before:
        text = text.replace("\n", "\r\n")
    raw = text.encode()
    if len(raw) > LARGEST_DRAFT_BYTES:
        right = f"at most {LARGEST_DRAFT_BYTES:,}"
        raise RefusedError(f"the description has {len(raw):,} bytes", right)
    return (_BYTE_ORDER_MARK if before.startswith(_BYTE_ORDER_MARK) else b"") + raw


def _who(path: Path) -> str:
    """Return when a file was changed and, where the machine knows, by whom."""
    try:
        told = f"changed at {datetime.fromtimestamp(path.stat().st_mtime):%H:%M on %Y-%m-%d}"
    except FileNotFoundError:
        return "removed"
    try:
        return f"{told} by {path.owner()}"
    except (KeyError, NotImplementedError, OSError):
        return told


def difference(
    before: str, after: str, hide: Callable[[str], str] = str
) -> tuple[tuple[str, str], ...]:
    """Return the lines in which two texts differ, with those around them.

    Each is a sort (`same`, `gone`, `new` or `gap`) and its text, as `hide` leaves it: that must
    keep the lines apart as they are.
    """
    old, new = before.split("\n"), after.split("\n")
    old_shown, new_shown = hide(before).split("\n"), hide(after).split("\n")
    told: list[tuple[str, str]] = []
    for group in SequenceMatcher(None, old, new, autojunk=False).get_grouped_opcodes(2):
        told.append(("gap", ""))
        for tag, a, b, c, d in group:
            if tag == "equal":
                told += [("same", line) for line in old_shown[a:b]]
            else:
                told += [("gone", line) for line in old_shown[a:b]]
                told += [("new", line) for line in new_shown[c:d]]
    return tuple(told)


def join(base: str, mine: str, theirs: str) -> str | None:
    """Return a text with the changes of two people; None where both changed the same lines."""
    old = base.splitlines(keepends=True)
    changes = sorted({*_changes(old, mine), *_changes(old, theirs)})
    joined: list[str] = []
    at = -1
    for start, end, lines in changes:
        if start <= at:  # also where they only touch: such lines may belong together
            return None
        joined += [*old[max(at, 0) : start], *lines]
        at = end
    return "".join([*joined, *old[max(at, 0) :]])


def _changes(old: list[str], text: str) -> list[tuple[int, int, tuple[str, ...]]]:
    """Return from which line to which an old text is replaced, and by what."""
    new = text.splitlines(keepends=True)
    matcher = SequenceMatcher(None, old, new, autojunk=False)
    return [(a, b, tuple(new[c:d])) for tag, a, b, c, d in matcher.get_opcodes() if tag != "equal"]


def _digest(raw: bytes) -> str:
    return hashlib.sha256(raw).hexdigest()
