"""A new unit, described like another: only what differs is asked.

Dates, and what its kind marks as `own`, are of the one vehicle: they are asked, never copied.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from generator.desk.editing import Draft, Plain, UneditableError, Written, parse_path
from generator.desk.editing import Path as Keys
from generator.problems import Problems, RefusedError, one_of
from generator.read.fields import NAME
from generator.read.layers import layers_of, model_names
from generator.read.sources import read_sources
from generator.read.tree import parse_tree, read_source
from generator.read.units import own_keys, unit_names

_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_SHORTEST_SECRET = 5
"""A shorter private text, such as a number of keys, is found everywhere by chance."""


@dataclass(frozen=True, slots=True)
class Question:
    """Something that differs from unit to unit."""

    target: str
    """A dotted path, such as `private.vin`."""
    default: str
    """What to take without an answer; empty for nothing."""
    other: str
    """What the other unit has; empty where that is nobody's business."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """What a new unit is made after."""

    unit: str
    draft: str
    """The new description without what is asked."""
    questions: tuple[Question, ...]
    like: str


def pattern_for(root: Path, unit: str, like: str) -> Pattern:
    """Return what is to be asked to describe `unit` like the unit or model `like`.

    Raises:
        RefusedError: the name is bad or taken, or there is no such other.
        ProblemsFound: the other's file cannot be read.
    """
    models = model_names(root)
    units = unit_names(root)
    if not NAME.fullmatch(unit) or len(unit) > 60 or unit == "dealer":
        raise RefusedError(f"'{unit}' is no unit's name", "lower case, words joined by -")
    if unit in units | models:
        what = "model" if unit in models else "unit"
        raise RefusedError(f"there is a {what} '{unit}' already", "another name")
    if like not in units | models:
        raise RefusedError(f"no unit or model '{like}'", one_of(units | models, like))
    if like in units:
        return _like_unit(root, unit, like)
    return _like_model(root, unit, like, sorted(units))


def _like_unit(root: Path, unit: str, like: str) -> Pattern:
    draft = Draft(_read(root, f"units/{like}.yml"))
    own = [(keys, text) for keys, text in draft.texts() if keys[0] != "private"]
    named = own_keys(read_sources(root, only=()).library.kinds)
    its_own = [(keys, text) for keys, text in own if _DATE.fullmatch(text) or keys[-1] in named]
    private = draft.get(("private",))
    title = draft.get(("title",))
    questions = [
        Question("title", _own_title(str(title or ""), like, unit), str(title or "")),
        Question("delivered", "", ""),
        *(Question(f"private.{'.'.join(keys)}", "", "") for keys in _keys(private)),
        *(
            Question(".".join(keys), "", "" if keys[-1] == "serial" else text)
            for keys, text in its_own
            if keys != ("delivered",)
        ),
    ]
    for keys, _ in its_own:
        if keys != ("delivered",):
            draft.remove(keys)
    for key in ("private", "delivered"):
        if draft.get((key,)) is not None:
            draft.replace_entry(key, "")
    draft.remove(("film",))  # it shows the other
    for keys, text in own:
        if keys[0] == "translated" and keys[-1] == "title" and len(keys) == 3:
            draft.set(keys, _own_title(text, like, unit))
    draft.set(("unit",), unit)
    serials = [text for keys, text in its_own if keys[-1] == "serial"]
    draft.text = _without_secrets(draft.text, [*_secrets(private), *serials], like)
    return Pattern(unit, draft.text, tuple(questions), like)


def _like_model(root: Path, unit: str, like: str, units: Sequence[str]) -> Pattern:
    """Return the pattern of a model's next unit: what its other units keep private is asked."""
    model = Draft(_read(root, f"units/models/{like}.yml"))
    private = model.get(("private",))
    for other in units if private is None else ():
        text = _read(root, f"units/{other}.yml")
        if Draft(text).get(("based_on",)) == like:
            private = Draft(text).get(("private",))
            break
    title = str(model.get(("title",)) or "")
    heading = f"# {title}, as it comes.\nunit: {unit}\nbased_on: {like}\n"
    draft = f"{heading}title:\nprivate:\ndelivered:\n"
    questions = (
        Question("title", f"{title}, {unit}", title),
        Question("delivered", "", ""),
        *(Question(f"private.{'.'.join(keys)}", "", "") for keys in _keys(private)),
    )
    return Pattern(unit, draft, questions, like)


def describe(root: Path, pattern: Pattern, answers: Mapping[str, str]) -> str:
    """Return the text of the new unit's file, read and found good.

    Args:
        root: The workspace.
        pattern: What it is made after.
        answers: Values by dotted path; what is not among the questions is set as well.

    Raises:
        RefusedError: an answer has no place in a unit's description.
        ProblemsFound: what the description then says is wrong.
    """
    draft = Draft(pattern.draft)
    given = {q.target: answers.get(q.target, q.default) for q in pattern.questions} | dict(answers)
    private = {
        parse_path(target)[1:]: text
        for target, text in given.items()
        if target.startswith("private.") and text
    }
    try:
        for target, text in given.items():
            if text and not target.startswith("private"):
                draft.set(parse_path(target), _listed(text))
        if private:
            _set_private(draft, private)
        for key in ("title", "private", "delivered"):
            if draft.get((key,)) == "":
                draft.remove((key,))
    except UneditableError as error:
        raise RefusedError(
            str(error), "a key such as private.vin or fitted.heater.mains_w"
        ) from error
    read_sources(root, only=[pattern.unit], drafts={pattern.unit: draft.text})
    return draft.text


def _set_private(draft: Draft, private: Mapping[Keys, str]) -> None:
    table: dict[str, Written] = {}
    for keys, text in private.items():
        inner = table
        for key in keys[:-1]:
            deeper = inner.setdefault(key, {})
            if not isinstance(deeper, dict):
                raise UneditableError(f"'private.{'.'.join(keys)}' lies below a value")
            inner = deeper
        inner[keys[-1]] = text
    draft.set(("private",), table)


def _read(root: Path, shown: str) -> str:
    """Return the text of a description that `parse_tree` accepts."""
    problems, layers = Problems(), layers_of(root)
    path = layers.find(shown)
    shown = layers.shown(path)
    text = read_source(path, shown, problems)
    if text is not None:
        parse_tree(text, shown, problems)
    problems.stop_if_any()
    return text or ""


def _own_title(title: str, like: str, unit: str) -> str:
    """Return a title with the other's number in it replaced by one's own, if it has one."""
    theirs: list[str] = re.findall(r"[0-9]+", like)
    own: list[str] = re.findall(r"[0-9]+", unit)
    if theirs and own and theirs[-1] in title:
        before, _, after = title.rpartition(theirs[-1])
        return f"{before}{own[-1]}{after}"
    return f"{title.partition(',')[0]}, {unit}"


def _listed(text: str) -> str | list[str]:
    """Return a value as given on a command line: `[a, b]` is a list."""
    if text.startswith("[") and text.endswith("]"):
        return [item.strip() for item in text[1:-1].split(",") if item.strip()]
    return text


def _keys(private: Plain | None) -> Iterator[Keys]:
    """Yield the path of each private value."""
    for key, value in private.items() if isinstance(private, dict) else ():
        if isinstance(value, dict):
            yield from ((key, *inner) for inner in _keys(value))
        else:
            yield (key,)


def _secrets(private: Plain | None) -> Iterator[str]:
    if isinstance(private, dict):
        for value in private.values():
            yield from _secrets(value)
    elif isinstance(private, list):
        for value in private:
            yield from _secrets(value)
    elif private:
        yield private


def _without_secrets(text: str, private: Iterable[str], like: str) -> str:
    """Return the text without comment lines that repeat what the other keeps private."""
    secrets = [secret for secret in private if len(secret) >= _SHORTEST_SECRET]
    lines = []
    for line in text.split("\n"):
        if any(secret in line for secret in secrets):
            if line.lstrip().startswith("#"):
                continue
            wrong = f"{like} repeats a private value in its '{line.split(':')[0].strip()}'"
            raise RefusedError(wrong, "keep it below private: alone")
        lines.append(line)
    return "\n".join(lines)
