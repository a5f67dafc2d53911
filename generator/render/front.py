"""Pages outside the guides: the front page, the missing page, and "this unit has left us"."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from generator.compose.wording import Wording
from generator.plugin import page_frame, theme_folders
from generator.read.assets import Assets
from generator.read.layers import layers_of
from generator.read.units import Dealer


def render_front(
    root: Path,
    assets: Assets,
    wording: Mapping[str, str],
    dealer: Dealer,
    departed: Iterable[str],
) -> dict[str, str]:
    """Return files of the site's top, by path.

    `departed` are codes of units that the dealer no longer has; each keeps a page with the
    dealer's telephone, so that no sticker ever leads nowhere.
    """
    environment = Environment(
        loader=FileSystemLoader(theme_folders(root)),
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    template = environment.get_template("front.html")
    say = Wording(wording)
    frame = page_frame(assets, wording)
    script = layers_of(root).find("site_assets/front.js").read_text("utf-8")
    dial = "tel:" + "".join(c for c in dealer.telephone if c in "+0123456789")

    def page(sort: str, up: str = "") -> str:
        return template.render(sort=sort, say=say, frame=frame, dealer=dealer, dial=dial, up=up)

    files = {
        "index.html": page("front"),
        "404.html": page("missing"),
        "assets/front.js": script,
    }
    for code in departed:
        unit, _, spot = code.partition("-")
        path = f"{unit}/{spot}/index.html" if spot else f"{unit}/index.html"
        files[path] = page("left", "../" * (2 if spot else 1))
    return files
