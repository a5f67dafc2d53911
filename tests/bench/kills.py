"""Print what 300 killed builds, a full disk and two builds at once leave behind.

Each build makes a fleet anew after an edit that changes every guide, and is killed at a random
moment, all its processes at once. Half of the edits change every page, half of them a text that
stands in few. Then the published folder is walked by a checker that shares nothing with the
builder: every guide must be there, every link must lead to a file, every guide must be wholly of
one edit, and so must be what phones keep of it. At the end one build must heal it all.

    python tests/bench/kills.py [KILLS]
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

sys.path.insert(0, str(Path(__file__).parents[1]))

from conftest import copy_small

COMMAND = [sys.executable, "-m", "generator", "build", "--no-papers", "--jobs", "2"]


class _Links(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.links += [value for name, value in attrs if name in ("href", "src") and value]


def faults(public: Path, guides: set[str], edits: set[str]) -> list[str]:
    """Return what is wrong with a published folder."""
    found = [f"{guide} is not there" for guide in guides if not (public / guide).is_dir()]
    for guide in guides:
        seen = set()
        for page in (public / guide).rglob("*.html"):
            text = page.read_text("utf-8")
            if not text.rstrip().endswith("</html>"):
                found.append(f"{page} is cut off")
            seen.update(re.findall(r"EDIT(\d+)", text))
            parser = _Links()
            parser.feed(text)
            for link in parser.links:
                parts = urlsplit(link)
                if parts.scheme or not parts.path:
                    continue
                to = page.parent / unquote(parts.path)
                if not to.is_file():
                    found.append(f"{page}: {link} leads nowhere")
        if len(seen) != 1 or not seen <= edits:
            found.append(f"{guide} is of edits {sorted(seen)}")
        if (public / guide).is_dir():
            found += (f"{guide}: {wrong}" for wrong in faults_of_packs(public / guide))
    return found


def faults_of_packs(guide: Path) -> list[str]:
    """Return what is wrong with what phones keep of a guide."""
    told = re.search(r"PACK = (\{.*\});", (guide / "worker.js").read_text("utf-8"))
    assert told
    kept = json.loads(told[1])
    found = []
    for part in kept["parts"]:
        pack = guide / part["file"]
        if not pack.is_file() or hashlib.sha256(pack.read_bytes()).hexdigest() != part["hash"]:
            found.append(f"{part['file']} is not what the worker asks for")
    if len(list(guide.glob("pack.*"))) != len(kept["parts"]):
        found.append("another pack is there")
    if kept["revision"] not in (guide / "index.html").read_text("utf-8"):
        found.append("the first page is of another revision")
    return found


def make_workspace(to: Path, units: int = 4) -> Path:
    """Return a small fleet, each unit of a model of its own so that several workers have work."""
    workspace = copy_small(to)
    model = (workspace / "units" / "models" / "small-2.yml").read_text("utf-8")
    for number in range(2, 1 + units):
        name = f"small-{number + 10}"
        (workspace / "units" / "models" / f"{name}.yml").write_text(
            model.replace("model: small-2", f"model: {name}"), "utf-8"
        )
        (workspace / "units" / f"sm-{number}.yml").write_text(
            f"unit: sm-{number}\nbased_on: {name}\ntitle: Small {number}\n", "utf-8"
        )
    return workspace


def edit_text(workspace: Path, number: int) -> None:
    """Change a text that stands in some pages of every guide."""
    path = workspace / "docs_src" / "snippets" / "wait-for-hot-water.md"
    text = re.sub(r"1\. (EDIT\d+ )?", f"1. EDIT{number} ", path.read_text("utf-8"), count=1)
    path.write_text(text, "utf-8")


def edit(workspace: Path, number: int) -> None:
    """Change what every page of every guide says."""
    path = workspace / "units" / "dealer.yml"
    text = re.sub(r"(?m)^hours: .*$", f"hours: EDIT{number}", path.read_text("utf-8"))
    path.write_text(text, "utf-8")


def guides_of(workspace: Path) -> set[str]:
    """Return the codes of all units, read as plain text."""
    lines = (workspace / "units" / "register.csv").read_text("utf-8").splitlines()[1:]
    return {line.split(",")[0] for line in lines if line.split(",")[2] == "unit"}


def killed_builds(
    workspace: Path,
    kills: int,
    seed: int = 1,
    edit: Callable[[Path, int], None] = edit,
) -> Counter[str]:
    """Kill builds at random moments, and count how each ended and what it left."""
    draw = random.Random(seed)
    count: Counter[str] = Counter()
    edit(workspace, 0)
    started = time.monotonic()
    subprocess.run(COMMAND, cwd=workspace, check=True, capture_output=True)
    whole = time.monotonic() - started
    edits = {"0"}
    for number in range(1, kills + 1):
        edit(workspace, number)
        build = subprocess.Popen(
            COMMAND,
            cwd=workspace,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        # Most of them late, when guides are being switched in; how late that is changes with what
        # else the machine does.
        started, wait = time.monotonic(), whole * draw.triangular(0.2, 1.25, 1.0)
        while build.poll() is None and time.monotonic() < started + wait:
            time.sleep(0.005)
        if build.poll() is None:
            os.killpg(build.pid, signal.SIGKILL)
        else:
            whole = time.monotonic() - started
        count["killed" if build.wait() < 0 else "finished first"] += 1
        edits.add(str(number))
        wrong = faults(workspace / "public", guides_of(workspace), edits)
        count["faults"] += len(wrong)
        for fault in wrong[:3]:
            print(fault)
    subprocess.run(COMMAND, cwd=workspace, check=True, capture_output=True)
    left = [path.name for path in (workspace / "public").glob(".*")]
    count["left over after the next build"] = len(left)
    wrong = faults(workspace / "public", guides_of(workspace), {str(kills)})
    count["faults after the next build"] = len(wrong)
    return count


def full_disk(workspace: Path) -> str:
    """Return what becomes of a site on a file system that fills up while it is built."""
    edit(workspace, 0)
    with tempfile.TemporaryDirectory() as mounted:
        size = 0
        probe = workspace / "public"
        subprocess.run(
            [*COMMAND, "--out", "public"], cwd=workspace, check=True, capture_output=True
        )
        size = sum(path.stat().st_blocks * 512 for path in probe.rglob("*"))
        done = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", f"size={int(size * 1.5)}", "tmpfs", mounted],
            capture_output=True,
            check=False,
        )
        if done.returncode:
            return "not tried: this account may not mount a file system"
        try:
            out = Path(mounted) / "site"
            command = [*COMMAND, "--out", str(out)]
            subprocess.run(command, cwd=workspace, check=True, capture_output=True)
            edit(workspace, 1)
            done = subprocess.run(
                command, cwd=workspace, capture_output=True, text=True, check=False
            )
            wrong = faults(out, guides_of(workspace), {"0"})
            left = [path.name for path in out.glob(".*")]
            lines = done.stderr.strip().split("\n")
            good = done.returncode == 1 and len(lines) == 1 and not wrong and not left
            return f"{'whole' if good else f'NOT WHOLE: {wrong[:3]} {left}'}; told: {lines[0]}"
        finally:
            subprocess.run(["umount", mounted], check=True)


def two_at_once(workspace: Path) -> str:
    """Return what becomes of a site that two builds want to write."""
    edit(workspace, 2)
    builds = [
        subprocess.Popen(COMMAND, cwd=workspace, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
        for _ in range(2)
    ]
    told = [build.communicate()[1].decode().strip() for build in builds]
    wrong = faults(workspace / "public", guides_of(workspace), {"2"})
    return f"{'whole' if not wrong else 'NOT WHOLE'}; told: {' '.join(filter(None, told)) or '-'}"


def main() -> None:
    """Print the table."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    with tempfile.TemporaryDirectory() as temporary:
        for how, edited in (("every page", edit), ("a text", edit_text)):
            workspace = make_workspace(Path(temporary) / how.replace(" ", "-"))
            print(f"after edits of {how}:")
            for what, number in killed_builds(workspace, kills // 2, edit=edited).items():
                print(f"{number:5}  {what}", flush=True)
        workspace = make_workspace(Path(temporary) / "others")
        print(f"full disk: {full_disk(workspace)}")
        print(f"two builds at once: {two_at_once(workspace)}")


if __name__ == "__main__":
    main()
