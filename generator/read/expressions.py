"""Jinja2 in content: conditions and texts over named equipment, in a sandbox.

A text may only name what it was given, and only attributes that the kind declares; both are
checked when the library is read, so that a slip is told once and not unit by unit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache, lru_cache
from typing import Any, NoReturn

import jinja2
from jinja2 import meta, nodes
from jinja2.sandbox import ImmutableSandboxedEnvironment

from generator.problems import Mark, Problem, Problems, ProblemsFound, one_of

TOKEN_OPEN, TOKEN_CLOSE = "⟦", "⟧"


class Unstated(jinja2.Undefined):
    """An attribute that a unit does not give: false in a condition, an error in a text."""

    def __contains__(self, item: object) -> bool:
        """Return False: nothing is among values that are not given."""
        return False

    def __eq__(self, other: object) -> bool:
        """Return False: a value that is not given equals none."""
        return isinstance(other, jinja2.Undefined)

    def __hash__(self) -> int:
        """Return the same for all, as all are equal."""
        return hash(Unstated)

    def __str__(self) -> str:
        """Refuse to be written."""
        self._fail()

    def __iter__(self) -> Iterator[Any]:
        """Refuse to be listed."""
        self._fail()

    def __len__(self) -> int:
        """Refuse to be counted."""
        self._fail()

    def _fail(self) -> NoReturn:
        raise jinja2.UndefinedError(f"{self._undefined_name}")


class Facts:
    """What a condition or text may see of a fitting or of the unit, by attribute name."""

    __slots__ = ("_facts",)

    def __init__(self, facts: Mapping[str, Any]) -> None:
        """Keep the facts by name."""
        self._facts = facts

    def __getattr__(self, name: str) -> Any:
        """Return a fact."""
        try:
            return self._facts[name]
        except KeyError:
            raise AttributeError(name) from None


class StatedDay:
    """A day that a unit states, as content sees it: to be written out, or asked for.

    Nothing else may follow from it, so that units that differ by a day alone are equipped alike.
    """

    __slots__ = ("_day",)

    def __init__(self, day: date) -> None:
        """Keep the day where no text can get at it."""
        self._day = day

    def _refuse(self, *_: object) -> NoReturn:
        raise TypeError("a day can be told, and not compared")

    __eq__ = __lt__ = __le__ = __gt__ = __ge__ = _refuse
    __hash__ = None  # type: ignore[assignment]

    def __str__(self) -> str:
        """Refuse: only what a page writes out is told as people say it."""
        self._refuse()


def day_of(stated: StatedDay) -> date:
    """Return the day, to be told."""
    return stated._day


def environment(
    snippets: Mapping[str, str], finalize: Callable[..., Any] | None = None
) -> ImmutableSandboxedEnvironment:
    """Return the sandbox in which content is evaluated.

    `finalize` is applied to every value that a text writes out, never to the text itself.
    """
    sandbox = ImmutableSandboxedEnvironment(
        undefined=Unstated,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        loader=jinja2.DictLoader(dict(snippets)),
        finalize=finalize,
        autoescape=False,
    )
    sandbox.globals.clear()  # a text may name what it was given, and not Jinja2's own functions
    return sandbox


@lru_cache(maxsize=4_000)
def compile_text(
    text: str, snippets: frozenset[tuple[str, str]], finalize: Callable[..., Any] | None = None
) -> jinja2.Template:
    """Return a text as a template: compiling it takes far longer than deciding it for a unit.

    Raises:
        jinja2.TemplateError: It is none.
    """
    return environment(dict(snippets), finalize).from_string(text)


_SYNTAX = environment({})


@cache
def _compiled(source: str) -> Callable[..., Any]:
    """Return a condition ready to be asked; a library has a few hundred, asked for every unit."""
    return _SYNTAX.compile_expression(source, undefined_to_none=False)


@dataclass(frozen=True, slots=True)
class Expression:
    """A condition, as written, that has been found well formed."""

    source: str
    at: Mark

    @property
    def template(self) -> str:
        """Return it as a text that writes out whether it is true."""
        return "{{ (" + self.source + ") }}"

    def holds(self, names: Mapping[str, Any]) -> bool:
        """Return whether the condition is true over these names.

        Raises:
            ProblemsFound: it cannot be worked out over them.
        """
        try:
            return bool(_compiled(self.source)(**names))
        except (jinja2.TemplateError, TypeError, ValueError, ArithmeticError) as error:
            wrong = f"'{self.source}' cannot be worked out ({error})"
            right = "a condition that suits every unit it is asked of"
            raise ProblemsFound([Problem(self.at, "when", wrong, right)]) from None


def read_expression(
    source: str, at: Mark, key: str, roles: Mapping[str, frozenset[str]], problems: Problems
) -> Expression | None:
    """Return the condition, or None after noting what is wrong with it.

    `roles` gives each name that may be used and the attributes that it has.
    """
    if not source:
        return None
    expression = Expression(source, at)
    template = expression.template
    if not check_template(template, at, key, roles, {}, problems, lines_move=False):
        return None
    return expression


def check_template(
    text: str,
    at: Mark,
    key: str,
    roles: Mapping[str, frozenset[str]],
    snippets: Mapping[str, str],
    problems: Problems,
    *,
    lines_move: bool = True,
) -> bool:
    """Note every slip in a template that shows without a unit; return whether there was none.

    `at` is the position of its first line. Checked: syntax, names, attributes, included snippets.
    """

    def mark(line: int) -> Mark:
        return Mark(at.path, at.line + line - 1, 1) if lines_move else at

    right = "a Jinja2 expression such as subject.capacity_l"
    try:
        tree = _SYNTAX.parse(text)
        undeclared = meta.find_undeclared_variables(tree)
    except jinja2.TemplateSyntaxError as error:  # a filter that does not exist is one, too
        problems.add(mark(error.lineno), key, f"cannot be understood ({error.message})", right)
        return False
    except RecursionError:
        problems.add(at, key, "has brackets in brackets without end", right)
        return False
    before = len(problems.found)
    undeclared |= {"self"} & {name.name for name in tree.find_all(nodes.Name)}
    for name in sorted(undeclared - set(roles)):
        used = next((n.lineno for n in tree.find_all(nodes.Name) if n.name == name), 1)
        problems.add(mark(used), key, f"unknown name '{name}'", one_of(roles, name))
    for attribute in tree.find_all(nodes.Getattr):
        owner = attribute.node
        if isinstance(owner, nodes.Name) and owner.name in roles:
            known = roles[owner.name]
            if attribute.attr not in known:
                problems.add(
                    mark(attribute.lineno),
                    key,
                    f"'{owner.name}' has no attribute '{attribute.attr}'",
                    one_of(known, attribute.attr),
                )
    for include in tree.find_all(nodes.Include):
        wanted = include.template
        snippet = str(wanted.value) if isinstance(wanted, nodes.Const) else ""
        if snippet not in snippets:
            problems.add(
                mark(include.lineno), key, f"no snippet '{snippet}'", one_of(snippets, snippet)
            )
    return len(problems.found) == before


@dataclass(frozen=True, slots=True)
class AskedKind:
    """A kind of equipment that a text or condition asks for, as `has("hob", energy="gas")` does."""

    name: str
    """Empty where it is not told by its name."""
    facts: Mapping[str, Any]
    """What must be so of one fitting of that kind, by attribute."""
    line: int
    """Of the text, from 1."""


def asked_kinds(text: str) -> Iterator[AskedKind]:
    """Yield the kinds that a well-formed template asks for."""
    if "has(" not in text:
        return
    for call in _SYNTAX.parse(text).find_all(nodes.Call):
        if isinstance(call.node, nodes.Name) and call.node.name == "has":
            told = [arg.value for arg in call.args if isinstance(arg, nodes.Const)]
            facts = {
                key.key: key.value.value if isinstance(key.value, nodes.Const) else None
                for key in call.kwargs
            }
            name = str(told[0]) if len(call.args) == len(told) == 1 else ""
            yield AskedKind(name, facts, call.lineno)


@lru_cache(maxsize=4_000)
def included_snippets(text: str) -> tuple[str, ...]:
    """Return the names of the snippets that a well-formed template takes in."""
    tree = _SYNTAX.parse(text)
    return tuple(
        include.template.value
        for include in tree.find_all(nodes.Include)
        if isinstance(include.template, nodes.Const)
    )
