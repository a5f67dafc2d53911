"""The MkDocs plugin: a thin adapter that gives MkDocs the composed pages of one guide.

`mkdocs serve` and `mkdocs build` read the preview unit named in `units/dealer.yml` (or by the
plugin's option `unit`). `lockerleaf build` renders the same pages without MkDocs's own build.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from jinja2 import Environment
from markupsafe import Markup
from mkdocs.config import config_options
from mkdocs.config.base import Config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.plugins import BasePlugin
from mkdocs.structure.files import File, Files
from mkdocs.structure.pages import Page as MkDocsPage

from generator.compose.compose import Composed
from generator.compose.film import film_files
from generator.compose.guard import guard_of
from generator.compose.page import Page, fill_html, revision_of
from generator.compose.wording import Wording
from generator.fit.codes import mint_codes, with_entries
from generator.fit.fit import fit_unit, unit_symbols, wanted_codes
from generator.fit.guide import Guide
from generator.flow import finish_guides
from generator.problems import ProblemsFound
from generator.read.assets import Assets
from generator.read.layers import layers_of
from generator.read.pictures import shrink_picture
from generator.read.register import Entry
from generator.read.sources import Sources, read_sources
from generator.read.units import Unit

WORKER = "worker.js"
"""The offline worker's file in a guide's folder, which is then its scope."""


class _Options(Config):
    unit = config_options.Type(str, default="")


class LockerleafPlugin(BasePlugin[_Options]):
    """Adds a guide's pages in memory, gives the templates their frame, and fills in values."""

    _sources: Sources
    _composed: Composed
    _pages: dict[str, Page]

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Read and compose; leave out the theme's own pages."""
        self._read(config)
        self._pages = {page.uri: page for page in self._composed.pages}
        dress(config, _root_of(config))
        config.theme.static_templates.clear()
        config.nav = [{"Home": "index.md"}]
        return config

    def _read(self, config: MkDocsConfig) -> None:
        try:
            sources = read_sources(_root_of(config))
            name = self.config.unit or sources.stock.dealer.preview
            if name not in sources.stock.units:
                raise PluginError(
                    f"lockerleaf: no unit '{name}'; set `preview` in units/dealer.yml"
                )
            self._sources, self._composed = sources, preview_guide(sources, name)
        except ProblemsFound as found:
            raise PluginError(str(found)) from None

    def on_files(self, files: Files, *, config: MkDocsConfig) -> Files:
        """Give MkDocs the guide's pages and our assets, and nothing of the theme's."""
        others = other_files(self._composed, self._sources.assets)
        generated = [
            File.generated(config, page.uri, content=with_front_matter(page))
            for page in self._pages.values()
        ]
        # As bytes: the lines of a calendar file end in CR LF whatever the machine.
        generated += [
            File.generated(config, name, content=content) for name, content in others.items()
        ]
        return Files(generated)

    def on_env(self, env: Environment, *, config: MkDocsConfig, files: Files) -> Environment:
        """Give the templates the page frame and the wording."""
        # A preview is looked at while it changes; nothing of it is to be kept on a phone.
        give_frame(env, self._sources, worker="")
        return env

    def on_post_page(self, output: str, *, page: MkDocsPage, config: MkDocsConfig) -> str:
        """Fill in the unit's values, now that nothing can take them for markup."""
        composed = self._pages[page.file.src_uri]
        frame = {**self._composed.frame, "guard": guard_of(composed)}
        frame["own-revision"] = revision_of(composed)
        return fill_html(output, {**frame, **composed.values})


def _root_of(config: MkDocsConfig) -> Path:
    return Path(config.config_file_path or ".").resolve().parent


def dress(config: MkDocsConfig, root: Path) -> None:
    """Put our templates before the theme's, those of the workspace itself first."""
    ours = [str(folder) for folder in theme_folders(root)]
    config.theme.dirs = [*ours, *(one for one in config.theme.dirs if one not in ours)]


def theme_folders(root: Path) -> list[Path]:
    """Return the folders of our templates, each layer's."""
    layers = layers_of(root).roots
    return [layer / "site_assets" / "theme" for layer in layers]


def preview_guide(sources: Sources, name: str) -> Composed:
    """Return a unit's guide with codes for preview where the register has none yet."""
    register = with_entries(sources.register, preview_codes(sources, sources.stock.units[name]))
    return finish_guides(sources, register, [name])[0].composed


def preview_codes(sources: Sources, unit: Unit, like: Guide | None = None) -> tuple[Entry, ...]:
    """Return codes for what of a unit has none yet. They are for looking at, and never printed.

    `like` is the guide of a unit that is equipped alike.
    """
    lines = sources.register.of_unit(unit.name)
    guide = fit_unit(sources.library, unit, sources.stock.dealer, lines, like)
    wanted, symbols = {unit.name: wanted_codes(guide)}, unit_symbols(sources.stock.dealer)
    return mint_codes(sources.register, wanted, "preview", _counting_chooser(), None, symbols)


def _counting_chooser() -> Any:
    """Return a chooser that is the same in every preview: these codes are never printed."""
    count = 0

    def choose(below: int) -> int:
        nonlocal count
        count += 1
        return int.from_bytes(hashlib.sha256(str(count).encode()).digest()[:4], "big") % below

    return choose


def with_front_matter(page: Page) -> str:
    """Return a page's Markdown with its front matter, as MkDocs reads it. JSON is YAML."""
    front: dict[str, object] = {
        "title": page.title,
        "description": page.description,
        "sort": page.sort,
    }
    if page.lang:
        front |= {
            "lang": page.lang,
            "under": page.under,
            "notices": page.notices,
            "versions": [[one.lang, one.title, one.uri] for one in page.versions],
        }
    lines = "".join(
        f"{key}: {json.dumps(value, ensure_ascii=False)}\n" for key, value in front.items()
    )
    return f"---\n{lines}---\n\n{page.text}"


def asset_files(assets: Assets) -> dict[str, str]:
    """Return our files of a guide by path; the name tells the content, so it may be kept."""

    def hashed(stem: str, suffix: str, content: str) -> str:
        return f"assets/{stem}.{hashlib.sha256(content.encode()).hexdigest()[:8]}.{suffix}"

    icon = assets.mark.replace("currentColor", "#0b4f54")
    return {
        hashed("guide", "js", assets.script): assets.script,
        hashed("mark", "svg", icon): icon,
        hashed("search", "js", assets.search): assets.search,
        hashed("routine", "js", assets.routine): assets.routine,
        hashed("numbers", "js", assets.numbers): assets.numbers,
    }


def other_files(composed: Composed, assets: Assets) -> dict[str, bytes]:
    """Return the files of a guide that are no pages: ours, photographs, the calendar, the film."""
    files = {name: content.encode() for name, content in asset_files(assets).items()}
    for spot in composed.guide.places:
        if spot.picture:
            files[f"pictures/{spot.picture.name}"] = shrink_picture(spot.picture)
    files |= {path: text.encode() for path, text in composed.documents.items()}
    return files | film_files(composed.guide)


def give_frame(environment: Environment, sources: Sources, worker: str = WORKER) -> None:
    """Give the theme's templates the page frame and the wording, of further languages too."""
    wording = sources.library.wording
    environment.globals["frame"] = {**page_frame(sources.assets, wording), "worker": worker}
    environment.globals["say"] = Wording(wording)
    environment.globals["says"] = {
        name: Wording(language.library.wording) for name, language in sources.languages.items()
    }


def page_frame(assets: Assets, wording: Mapping[str, str]) -> dict[str, object]:
    """Return what every page's template shows around the page."""
    script, icon, search, routine, numbers = asset_files(assets)
    styles = " ".join(_style_source(style) for style in (assets.style, assets.number_style))
    return {
        "lang": wording.get("lang", "en"),
        "style": Markup(assets.style),  # noqa: S704 - our own style sheet
        "number_style": Markup(assets.number_style),  # noqa: S704 - as above
        "mark": Markup(assets.mark),  # noqa: S704 - our own drawing
        "script": script,
        "icon": icon,
        "search": search,
        "routine": routine,
        "numbers": numbers,
        "policy": (
            f"default-src 'none'; img-src 'self' data:; style-src {styles}; "
            "script-src 'self'; connect-src 'self'; manifest-src 'self'; base-uri 'none'; "
            "form-action 'none'"
        ),
    }


def _style_source(style: str) -> str:
    """Return how a content policy names one style sheet within a page."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()}'"
