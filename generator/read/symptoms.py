"""Symptoms: what a customer notices, and the questions that lead from it to a task or a stop."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from generator.problems import Mark, Problems, one_of
from generator.read.expressions import Expression, read_expression
from generator.read.fields import Field, Record, read_record
from generator.read.kinds import Kind
from generator.read.tasks import Role, known_names, read_roles
from generator.read.tree import Table

_ANSWER_FIELDS = (
    Field(name="do", type="text", help="What to do, in short sentences"),
    Field(name="task", type="names", help="A task to go to; of a list, the first that is there"),
    Field(name="symptom", type="names", help="A symptom to go to"),
    Field(name="stop", type="yes-no", help="Stop here and call"),
)
_SYMPTOM_FIELDS = (
    Field(name="title", type="text", help="What the customer notices", required=True),
    Field(name="area", type="name", help="The area that it belongs to", required=True),
    Field(name="subject", type="name", help="The kind it is about, or vehicle", required=True),
    Field(name="when", type="text", help="A condition"),
    Field(name="with", type="pairs", help="Other equipment by a name of yours"),
    Field(name="said", type="texts", help="How a customer says it"),
    Field(name="cautions", type="names", help="Cautions to show first"),
    Field(name="expects", type="names", help="Tasks whose needs should be met for it to work"),
    Field(
        name="checks",
        type="tables",
        help="Questions in the order of likelihood and effort",
        required=True,
        fields=(
            Field(name="ask", type="text", help="A question for yes or no", required=True),
            Field(name="when", type="text", help="A condition"),
            Field(name="if_yes", type="table", help="What yes leads to", fields=_ANSWER_FIELDS),
            Field(name="if_no", type="table", help="What no leads to", fields=_ANSWER_FIELDS),
        ),
    ),
    Field(name="ends", type="text", help="What to do when nothing helped", required=True),
    Field(name="source", type="text", help="Where the facts are from", required=True),
    Field(name="doubt", type="text", help="What is not sure"),
)


@dataclass(frozen=True, slots=True)
class Answer:
    """What an answer leads to."""

    do: str
    tasks: tuple[str, ...]
    symptoms: tuple[str, ...]
    stop: bool
    at: Mark


@dataclass(frozen=True, slots=True)
class Check:
    """A question for yes or no; an answer that is None leads on to the next question."""

    ask: str
    when: Expression | None
    yes: Answer | None
    no: Answer | None
    at: Mark


@dataclass(frozen=True, slots=True)
class Symptom:
    """Something that a customer notices."""

    name: str
    area: str
    title: str
    subject: str
    when: Expression | None
    roles: tuple[Role, ...]
    said: tuple[str, ...]
    cautions: tuple[str, ...]
    expects: tuple[str, ...]
    checks: tuple[Check, ...]
    ends: str
    source: str
    doubt: str
    at: Mark


def read_symptom(
    table: Table, name: str, kinds: Mapping[str, Kind], problems: Problems
) -> Symptom | None:
    """Return the symptom of a file, or None if it has no known subject."""
    record = read_record(table, _SYMPTOM_FIELDS, problems)
    subject = record.text("subject")
    if subject not in kinds:
        if record.has("subject"):
            problems.add(
                record.mark("subject"), "subject", f"is '{subject}'", one_of(kinds, subject)
            )
        return None
    roles = read_roles(record, kinds, problems)
    known = known_names({"subject": subject} | {role.name: role.kind for role in roles}, kinds)

    def condition(of: Record, key: str) -> Expression | None:
        return read_expression(of.text("when"), of.mark("when"), key, known, problems)

    return Symptom(
        name=name,
        area=record.text("area"),
        title=record.text("title"),
        subject=subject,
        when=condition(record, "when"),
        roles=roles,
        said=record.texts("said"),
        cautions=record.texts("cautions"),
        expects=record.texts("expects"),
        checks=tuple(
            Check(
                ask=check.text("ask"),
                when=condition(check, f"checks[{index}].when"),
                yes=_read_answer(check, "if_yes"),
                no=_read_answer(check, "if_no"),
                at=check.at,
            )
            for index, check in enumerate(record.tables("checks"))
        ),
        ends=record.text("ends"),
        source=record.text("source"),
        doubt=record.text("doubt"),
        at=record.at,
    )


def _read_answer(check: Record, key: str) -> Answer | None:
    if not check.has(key):
        return None
    answer = check.table(key)
    return Answer(
        do=answer.text("do"),
        tasks=answer.texts("task"),
        symptoms=answer.texts("symptom"),
        stop=answer.flag("stop"),
        at=answer.at,
    )
