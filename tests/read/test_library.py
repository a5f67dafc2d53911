"""The library as read: what content means, and what it may not ask."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from generator.problems import ProblemsFound
from generator.read.library import task_snippets
from generator.read.sources import Sources, read_sources
from generator.read.tasks import count_words

Write = Callable[[str, str], Path]

TASK = """---
title: Light the lamp
purpose: Light.
subject: {subject}
{front}minutes: 1
source: common practice, no source
---
{body}
"""


def told(root: Path) -> list[str]:
    """Return the error lines of a workspace."""
    with pytest.raises(ProblemsFound) as caught:
        read_sources(root)
    return [str(problem) for problem in caught.value.problems]


def test_counts(small: Sources) -> None:
    """Every file of the small library is read."""
    library = small.library
    counts = {
        "areas": len(library.areas),
        "kinds": len(library.kinds),
        "cautions": len(library.cautions),
        "tasks": len(library.tasks),
        "symptoms": len(library.symptoms),
        "routines": len(library.routines),
        "situations": len(library.situations),
        "interlocks": len(library.interlocks),
        "snippets": len(library.snippets),
        "labels": len(library.labels),
    }
    assert counts == {
        "areas": 6,
        "kinds": 7,
        "cautions": 5,
        "tasks": 12,
        "symptoms": 2,
        "routines": 2,
        "situations": 2,
        "interlocks": 6,
        "snippets": 1,
        "labels": 1,
    }


def test_task(small: Sources) -> None:
    """A task is known by its file name, belongs to its folder's area, and keeps its states."""
    task = small.library.tasks["heat-water-gas"]
    assert (task.area, task.place, [ref.written for ref in task.needs], task.minutes) == (
        "water",
        "subject.flue",
        ["gas-supply", "subject.water", "subject.flue"],
        3,
    )


def test_optional_role(small: Sources) -> None:
    """A question mark makes other equipment optional."""
    (role,) = small.library.tasks["fill-water"].roles
    assert (role.name, role.kind, role.optional) == ("boiler", "water-heater", True)


def test_snippets_of_a_task(small: Sources) -> None:
    """A task knows the snippets that it takes in."""
    assert task_snippets(small.library.tasks["heat-water-gas"], small.library) == (
        "wait-for-hot-water",
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Turn the tap on.", 4),
        ("Fill it with {{ subject.capacity_l }} litres.", 5),
        ("Fill it with {{ subject.a if subject.b else subject.c }} litres.", 5),
        ("Read [how to turn on the gas](task:turn-on-gas).", 7),
        ("Push and hold - for 10 s.", 6),
        ("", 0),
    ],
)
def test_words_of_a_step(text: str, words: int) -> None:
    """A value counts as one word, a link's address and a dash as none."""
    assert count_words(text) == words


@pytest.mark.parametrize(
    ("expression", "wrong"),
    [
        ("subject.__class__", "'subject' has no attribute '__class__'"),
        ("subject.bulb_w.__class__", None),
        ("open('/etc/passwd')", "unknown name 'open'"),
        ("self", "unknown name 'self'"),
        ("cycler", "unknown name 'cycler'"),
        ("lipsum.__globals__", "unknown name 'lipsum'"),
        ("range(999999999)", "unknown name 'range'"),
        ("subject.fitted_on and", "cannot be understood (unexpected ')')"),
    ],
)
def test_conditions_are_checked(
    workspace: Path, write: Write, expression: str, wrong: str | None
) -> None:
    """A condition may only name what it was given; the rest of Python is out of reach."""
    front = f'when: "{expression}"\n'
    write(
        "docs_src/tasks/living/light.md",
        TASK.format(subject="reading-lamp", front=front, body="1. Push the switch."),
    )
    if wrong is None:
        assert "light" in read_sources(workspace).library.tasks
    else:
        (line,) = told(workspace)
        assert line.startswith(f"docs_src/tasks/living/light.md:5:1: when: {wrong}; right: ")


@pytest.mark.parametrize(
    "body",
    [
        "1. Push {{ subject.bulb_w.__class__.__base__.__subclasses__() }}.",
        '1. Push {{ subject["__class__"] }}.',
        '1. Push {{ (subject|attr("__class__")) }}.',
        '1. Push {{ "".__class__.__mro__ }}.',
        '1. Push {{ "{0.__class__}".format(subject) }}.',
        "1. Push {{ [].append(1) }}.",
    ],
)
def test_hostile_text_gets_nothing(
    workspace: Path, write: Write, lockerleaf: Callable[..., str], body: str
) -> None:
    """A text that reaches for Python's insides is told as a slip of its author."""
    write(
        "docs_src/tasks/living/light.md", TASK.format(subject="reading-lamp", front="", body=body)
    )
    lines = lockerleaf("check").splitlines()
    assert lines[-1].endswith("nothing written")
    assert {line.split(": ")[0] for line in lines[:-1]} == {"docs_src/tasks/living/light.md:8:1"}


def test_snippet_is_checked_with_its_task(workspace: Path, write: Write) -> None:
    """A snippet that asks what its task's subject does not have is told at the snippet."""
    write(
        "docs_src/tasks/living/light.md",
        TASK.format(subject="reading-lamp", front="", body='{% include "wait-for-hot-water" %}'),
    )
    assert told(workspace) == [
        "docs_src/snippets/wait-for-hot-water.md:2:1: (text): 'subject' has no attribute "
        "'capacity_l'; right: one of bulb_w, fitted_on, id, kind, title"
    ]


@pytest.mark.parametrize(
    ("path", "name"),
    [
        ("docs_src/tasks/living/Light_It.md", "Light_It.md"),
        ("docs_src/kinds/Lamp.yml", "Lamp.yml"),
        ("docs_src/snippets/a b.md", "a b.md"),
    ],
)
def test_file_names(workspace: Path, write: Write, path: str, name: str) -> None:
    """A name that could not stand in a link is refused as a file name."""
    write(path, "x")
    suffix = Path(name).suffix
    assert told(workspace) == [
        f"{path}:1:1: (file): is named '{name}'; "
        f"right: lower case, words joined by -, then {suffix}"
    ]


@pytest.mark.parametrize(
    "path",
    ["docs_src/kinds/lamp.yml", "docs_src/tasks/living/light.md", "docs_src/snippets/note.md"],
)
def test_link_out_of_the_library(workspace: Path, tmp_path: Path, path: str) -> None:
    """A file that is a link to elsewhere is refused before it is read."""
    secret = tmp_path / "secret"
    secret.write_text("password: hunter2\n", "utf-8")
    (workspace / path).symlink_to(secret)
    assert told(workspace) == [f"{path}:1:1: (file): leads out of the library; right: a plain file"]


def test_too_many_steps(workspace: Path, write: Write) -> None:
    """A procedure of more than sixty steps is several tasks."""
    body = "\n".join(f"{number}. Push." for number in range(1, 62))
    write(
        "docs_src/tasks/living/light.md", TASK.format(subject="reading-lamp", front="", body=body)
    )
    assert told(workspace) == [
        "docs_src/tasks/living/light.md:8:1: (text): has 61 steps; "
        "right: at most 60: split the task"
    ]


@pytest.mark.parametrize("missing", ["areas.yml", "vehicle.yml", "situations.yml"])
def test_missing_file(workspace: Path, missing: str) -> None:
    """A library file that is not there is told by its name."""
    (workspace / "docs_src" / missing).unlink()
    assert (
        f"docs_src/{missing}:1:1: (file): cannot be read (No such file or directory); "
        "right: a file that can be opened"
    ) in told(workspace)


def test_missing_phrase(workspace: Path, lockerleaf: Callable[..., str]) -> None:
    """A phrase of the guide that the wording lacks is told by its key."""
    path = workspace / "docs_src" / "wording" / "en.yml"
    kept = [line for line in path.read_text("utf-8").splitlines() if "steps_heading" not in line]
    path.write_text("\n".join(kept) + "\n", "utf-8")
    assert lockerleaf("check") == (
        "docs_src/wording/en.yml:1:1: steps_heading: missing; right: a phrase for this key\n"
        "1 problem; nothing written\n"
    )


def test_gaps_between_library_and_units(
    workspace: Path, write: Write, lockerleaf: Callable[..., str]
) -> None:
    """`check` tells what nobody explains, what nothing uses and what can never be."""
    write("docs_src/snippets/never-used.md", "1. Wait.\n")
    write(
        "docs_src/cautions/living.yml",
        "glare:\n  word: notice\n  hazard: Glare.\n  consequence: Tears.\n"
        "  avoidance: Look away.\n  sticker: Look away.\n  source: common practice, no source\n",
    )
    write(
        "docs_src/tasks/living/light.md",
        TASK.format(
            subject="gas-cylinder", front="when: subject.gas == 'methane'\n", body="1. Push."
        ),
    )
    write(
        "units/sm-2.yml",
        "unit: sm-2\nbased_on: small-2\ntitle: Two\nplaces:\n"
        "  roof: {title: Roof, wall: roof, along_m: 1}\n"
        "  shelf: {title: Shelf, wall: inside, along_m: 1}\n"
        "fitted:\n  - {id: shelf, kind: shelf, place: shelf}\n",
    )
    write(
        "docs_src/kinds/shelf.yml",
        "kind: shelf\ntitle: Shelf\narea: living\nabout: Holds books.\n",
    )
    told = [line for line in lockerleaf("check").splitlines() if line.count(":") > 1]
    told = [line for line in told if not line.startswith("units/dealer.yml")]
    assert [line for line in told if "proven" not in line and "library:" not in line] == [
        "units/sm-2.yml:8: sm-2: no task explains shelf (shelf)",
        "units/sm-2.yml:5: sm-2: nothing is fitted at roof",
        "units/sm-2.yml:6: sm-2: no task is done at shelf, so it gets no sticker",
        "docs_src/tasks/living/light.md:1: can never match: no gas-cylinder can meet "
        "'subject.gas == 'methane''",
        "docs_src/snippets/never-used.md:1: snippet 'never-used' is never used",
        "docs_src/cautions/living.yml:1: caution 'glare' is never used",
    ]
