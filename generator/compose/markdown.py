"""Small pieces of Markdown that pages are put together from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from markupsafe import Markup

from generator.compose.page import Values
from generator.compose.wording import Wording
from generator.read.library import Caution

Signs = Mapping[str, str]
"""Sign drawings (SVG) by file name without suffix; `general` and `notice` are always there."""


def paragraph(text: str, *classes: str) -> str:
    """Return a paragraph with classes."""
    marks = " ".join(f".{name}" for name in classes)
    return f"{text}\n{{: {marks} }}\n" if classes else f"{text}\n"


def section(name: str, heading: str, content: str) -> str:
    """Return a section with a heading, or nothing where there is no content."""
    if not content.strip():
        return ""
    return (
        f'<section class="{name}" markdown="1">\n\n## {heading} {{: #{name} }}\n\n'
        f"{content.strip()}\n\n</section>\n\n"
    )


def block(name: str, content: str) -> str:
    """Return a block without a heading, or nothing where there is no content."""
    if not content.strip():
        return ""
    return f'<div class="{name}" markdown="1">\n\n{content.strip()}\n\n</div>\n\n'


def listing(lines: Iterable[str]) -> str:
    """Return a bulleted list."""
    return "".join(f"- {line}\n" for line in lines)


def link(words: str, target: str) -> str:
    """Return a link."""
    return f"[{words}]({target})"


def choose_sign(caution: Caution, signs: Signs) -> str:
    """Return the drawing (SVG) for a caution."""
    return signs[sign_name(caution, signs)]


def sign_name(caution: Caution, signs: Signs) -> str:
    """Return the name of the drawing for a caution.

    A notice tells of no injury, so it never shows an alert triangle (ANSI Z535.4, 4.14).
    """
    sign = caution.sign.lower()
    if sign in signs and not (caution.word == "notice" and sign.startswith("w")):
        return sign
    return "notice" if caution.word == "notice" else "general"


def sign_of(caution: Caution, signs: Signs) -> Markup:
    """Return the drawing that goes with a caution, for a page."""
    drawing = choose_sign(caution, signs)
    return Markup(  # noqa: S704 - our own drawing
        drawing.strip().replace("<svg", '<svg class="sign" aria-hidden="true"', 1)
    )


def caution_block(caution: Caution, signs: Signs, values: Values, wording: Wording) -> str:
    """Return a caution in full: signal word, hazard, consequence, avoidance."""
    return (
        f'<div class="mind {caution.word}" role="note" markdown="1">\n\n'
        f"{values.token(sign_of(caution, signs))} **{wording(caution.word)}**\n{{: .word }}\n\n"
        f"**{caution.hazard}** {caution.consequence}\n\n"
        f"{caution.avoidance}\n{{: .avoid }}\n\n</div>\n\n"
    )


def caution_line(caution: Caution, signs: Signs, values: Values, wording: Wording) -> str:
    """Return a caution as one paragraph, to stand before the step that it guards."""
    return paragraph(
        f"{values.token(sign_of(caution, signs))} **{wording(caution.word)}:** "
        f"{caution.hazard} {caution.consequence} **{caution.avoidance}**",
        "mind",
        caution.word,
    )


def step_item(number: int, text: str) -> str:
    """Return one item of a list of steps that has no more than its command."""
    return f"{f'{number}.'.ljust(4)}{text}\n    {{: .do }}\n\n"


def lone_item(item: str) -> str:
    """Return the item of a list that has no other, so that its text is a paragraph all the same.

    Markdown makes paragraphs of items only where an empty line stands between them.
    """
    return f"{item[:4]}\n\n    {item[4:]}"
