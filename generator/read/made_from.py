"""What each translation was made from: a digest of its source, so that a change is noticed.

The digests stand in `docs_src/languages/<language>/made_from.yml`, one line each, written by
`lockerleaf translated` once somebody has compared a translation with its source.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping

from generator.read.kinds import Kind
from generator.read.library import Caution, Library, Routine
from generator.read.symptoms import Symptom
from generator.read.tasks import Task

DIGITS = 8

HEADING = (
    "# What each translation was made from. Written by `lockerleaf translated`, not by hand.\n"
)


def digest_of(*texts: str) -> str:
    """Return a digest of what a translation is made from."""
    return hashlib.sha256("\x1f".join(texts).encode()).hexdigest()[:DIGITS]


def source_digests(library: Library, pictures: Mapping[str, str]) -> dict[str, str]:
    """Return the digest of every text that can be translated, by `sort/name`.

    `pictures` are the text alternatives of drawings, by name.
    """
    flat: dict[str, Mapping[str, str]] = {
        "area": library.areas,
        "wording": {key: text for key, text in library.wording.items() if key != "lang"},
        "snippet": library.snippets,
        "situation": {name: one.title for name, one in library.situations.items()},
        "drawing": pictures,
    }
    digests = {
        f"{sort}/{name}": digest_of(text)
        for sort, texts in flat.items()
        for name, text in texts.items()
    }
    digests |= {f"task/{name}": _task(one) for name, one in library.tasks.items()}
    digests |= {f"caution/{name}": _caution(one) for name, one in library.cautions.items()}
    digests |= {f"kind/{name}": _kind(one) for name, one in library.kinds.items()}
    digests |= {f"symptom/{name}": _symptom(one) for name, one in library.symptoms.items()}
    return digests | {f"routine/{name}": _routine(one) for name, one in library.routines.items()}


def written(digests: Mapping[str, str]) -> str:
    """Return the file that keeps these digests."""
    return HEADING + "".join(f'{name}: "{digest}"\n' for name, digest in sorted(digests.items()))


def _task(task: Task) -> str:
    return digest_of(task.title, task.purpose, task.licensed, *task.tools, task.body)


def _caution(one: Caution) -> str:
    return digest_of(one.word, one.hazard, one.consequence, one.avoidance, one.sticker)


def _kind(kind: Kind) -> str:
    texts: list[str] = [kind.title, kind.about]
    for field in kind.attributes:
        texts += [field.name, field.help, *field.choices]
    for state in kind.states.values():
        texts += [state.name, *_flat(state.says.items())]
    return digest_of(*texts)


def _flat(pairs: Iterable[tuple[str, str]]) -> list[str]:
    return [text for pair in pairs for text in pair]


def _symptom(symptom: Symptom) -> str:
    texts = [symptom.title, symptom.ends]
    for check in symptom.checks:
        texts.append(check.ask)
        texts += [answer.do for answer in (check.yes, check.no) if answer]
    return digest_of(*texts)


def _routine(routine: Routine) -> str:
    return digest_of(routine.title, routine.purpose, *(way.title for way in routine.any))
