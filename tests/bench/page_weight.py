"""Print the bytes that must arrive before a page shows, beside the same page on stock Material.

Counted are the HTML and whatever holds up the first paint (HTML standard: style sheets, and
scripts in the head that are neither deferred nor asynchronous), each compressed with gzip at
level 9 as a web server would send it; headers and pictures are not counted.

    python tests/bench/page_weight.py [WORKSPACE]
"""

from __future__ import annotations

import gzip
import subprocess
import sys
import tempfile
from pathlib import Path

import html5lib

sys.path.insert(0, str(Path(__file__).parents[1]))

from site_checks import copy_workspace, lockerleaf, one_of_each_kind, parse_site

from bench.stock import composed_guides, workspace_named, write_stock
from generator.read.sources import read_sources


def needed_first(page: Path) -> list[Path]:
    """Return the page and the files that hold up its first paint."""
    tree = html5lib.parse(page.read_bytes(), namespaceHTMLElements=False)
    files = [page]
    for element in tree.find("head").iter():
        if element.tag == "link" and element.get("rel") == "stylesheet":
            files.append(page.parent / element.get("href"))
        waits = not {"defer", "async", "type"} & set(element.attrib)
        if element.tag == "script" and element.get("src") and waits:
            files.append(page.parent / element.get("src"))
    return files


def weigh(page: Path) -> tuple[int, int]:
    """Return the bytes before the first paint, compressed and plain."""
    contents = [file.resolve().read_bytes() for file in needed_first(page)]
    return (
        sum(len(gzip.compress(content, 9, mtime=0)) for content in contents),
        sum(len(content) for content in contents),
    )


def main() -> None:
    """Weigh the longest page of each kind of the preview unit and print a table."""
    with tempfile.TemporaryDirectory() as temporary:
        ours = copy_workspace(workspace_named(), Path(temporary) / "ours")
        lockerleaf(ours, "build")
        sources = read_sources(ours)
        composed = composed_guides(sources)[sources.stock.dealer.preview]
        stock = Path(temporary) / "stock"
        write_stock(composed, stock)
        subprocess.run(
            [sys.executable, "-m", "mkdocs", "build", "-q"],
            cwd=stock,
            check=True,
            capture_output=True,
        )
        guide = ours / "public" / composed.guide.code
        print("kind            gzip: ours   stock  ratio   plain: ours   stock  page")
        for kind, page in one_of_each_kind(guide, parse_site(guide)).items():
            name = page.relative_to(guide)
            if not (stock / "site" / name).exists():
                continue
            small, plain = weigh(page)
            stock_small, stock_plain = weigh(stock / "site" / name)
            print(
                f"{kind:15} {small:11,} {stock_small:7,} {stock_small / small:6.1f} "
                f"{plain:13,} {stock_plain:7,}  {name.as_posix()}"
            )


if __name__ == "__main__":
    main()
