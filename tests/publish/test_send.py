"""Copying to where guides are served from: nothing there ever leads nowhere."""

from __future__ import annotations

import os
import random
import re
import shutil
import signal
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from generator.publish.send import RefusedError, is_remote, send_by_rsync, send_to_folder
from publish.sent_sites import dead_links, same_tree, write_site

Run = Callable[..., str]

needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="kills a forked copy")
needs_rsync = pytest.mark.skipif(shutil.which("rsync") is None, reason="no rsync here")


@pytest.fixture
def site(tmp_path: Path) -> tuple[Path, Path]:
    """Return a published folder and a target that has an earlier version of it."""
    public, target = tmp_path / "public", tmp_path / "target"
    write_site(public, 1)
    send_to_folder(public, target)
    write_site(public, 2)
    return public, target


def test_a_target_becomes_the_same(site: tuple[Path, Path]) -> None:
    """New, changed and removed files are counted, and then nothing is left to do."""
    public, target = site
    sent = send_to_folder(public, target)
    # 30 new pages a guide; of two guides the home page and the worker; 30 old pages a guide.
    assert (sent.new, sent.changed, sent.removed) == (60, 4, 60)
    assert same_tree(public, target)
    again = send_to_folder(public, target)
    assert (again.new, again.changed, again.removed) == (0, 0, 0)


def test_what_is_not_ours_stays(site: tuple[Path, Path]) -> None:
    """Other files at the target are not touched, wherever they are outside of guides."""
    public, target = site
    others = [target / "shop.html", target / "blog" / "7K3Q.html", target / ".htaccess"]
    for path in others:
        path.parent.mkdir(exist_ok=True)
        path.write_text("mine")
    send_to_folder(public, target)
    assert [path.read_text() for path in others] == ["mine"] * 3


@needs_fork
def test_a_killed_copy_leaves_no_dead_link(site: tuple[Path, Path]) -> None:
    """Killed at 60 random moments, every page leads to pages that are there; the next heals."""
    public, target = site
    draw = random.Random(5)
    interrupted = 0
    for number in range(60):
        write_site(public, 2 + number % 7)
        child = os.fork()
        if child == 0:
            send_to_folder(public, target)
            os._exit(0)
        time.sleep(draw.uniform(0.0, 0.03))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        interrupted += os.WIFSIGNALED(status)
        assert dead_links(target) == []
    assert interrupted > 20
    send_to_folder(public, target)
    assert same_tree(public, target)
    assert not list(target.rglob(".*"))


@needs_rsync
def test_rsync_comes_to_the_same(site: tuple[Path, Path]) -> None:
    """A folder of this machine stands for another machine's: rsync does not mind which."""
    public, target = site
    (target / "shop.html").write_text("mine")
    send_by_rsync(public, str(target))
    assert (target / "shop.html").read_text() == "mine"
    (target / "shop.html").unlink()
    assert same_tree(public, target)


@needs_rsync
def test_rsync_that_fails_says_so(site: tuple[Path, Path]) -> None:
    """What rsync said is told, in one line."""
    with pytest.raises(RefusedError, match=r"^[^\n]+$"):
        send_by_rsync(site[0], "no-such-host.invalid:guides")


@pytest.mark.parametrize(
    ("target", "remote"),
    [
        ("host:guides", True),
        ("user@host:/var/www", True),
        ("rsync://host/module", True),
        ("/var/www", False),
        ("C:/www", False),
        ("../www", False),
        ("folder/with:colon", False),
    ],
)
def test_targets(target: str, remote: bool) -> None:
    """A colon before any slash names a machine; a single letter names a drive."""
    assert is_remote(target) == remote


def test_the_command(workspace: Path, lockerleaf: Run, tmp_path: Path) -> None:
    """What was built is copied; nothing built, or a target inside the other, is refused."""
    told = lockerleaf("publish", str(tmp_path / "web"))
    assert told == "Error: nothing is built in public/; right: lockerleaf build\n"
    lockerleaf("build", "--no-papers")
    told = lockerleaf("publish", str(tmp_path / "web"))
    assert re.search(r"web is as public/: \d+ new files, 0 changed, 0 removed\n", told)
    assert same_tree(workspace / "public", tmp_path / "web")
    told = lockerleaf("publish", "public/there")
    assert told == "Error: public/there and public/ lie within each other\n"
