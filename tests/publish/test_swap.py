"""The switch from old to new: whole guides, whenever a build is killed."""

from __future__ import annotations

import os
import random
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from generator.publish import swap
from generator.publish.swap import heal, swap_in, write_files

GUIDES = ("7K3Q", "HG7H")
FILES = 12

needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="kills a forked build")


def stage(folder: Path, version: str) -> list[Path]:
    """Return two staged guides, every file of which holds the version."""
    for guide in GUIDES:
        for number in range(FILES):
            file = folder / guide / "task" / f"{number}.html"
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(version)
    return [folder / guide for guide in GUIDES]


def versions(guide: Path) -> set[str]:
    """Return which versions a guide's files hold; a file that lacks fails."""
    files = list(guide.rglob("*.html"))
    assert len(files) == FILES
    return {file.read_text() for file in files}


def without_exchange(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take away the system's exchange of two folders, as on systems that have none."""
    monkeypatch.setattr(swap, "exchange", lambda one, other: False)


def test_new_guides_take_the_place_of_old_ones(tmp_path: Path) -> None:
    """After a switch all files are new, and neither old nor staged folders are left."""
    out = tmp_path / "public"
    swap_in(stage(tmp_path / "one", "1"), out)
    swap_in(stage(tmp_path / "two", "2"), out)
    assert sorted(path.name for path in out.iterdir()) == list(GUIDES)
    assert [versions(out / guide) for guide in GUIDES] == [{"2"}, {"2"}]
    assert list((tmp_path / "two").iterdir()) == []


def test_files_that_the_new_guide_lacks_are_gone(tmp_path: Path) -> None:
    """A page that a guide no longer has does not linger."""
    out = tmp_path / "public"
    old = stage(tmp_path / "one", "1")
    (old[0] / "task" / "gone.html").write_text("1")
    swap_in(old, out)
    swap_in(stage(tmp_path / "two", "2"), out)
    assert not (out / GUIDES[0] / "task" / "gone.html").exists()


def test_other_guides_are_left_alone(tmp_path: Path) -> None:
    """Publishing one unit changes nothing of another."""
    out = tmp_path / "public"
    swap_in(stage(tmp_path / "one", "1"), out)
    swap_in(stage(tmp_path / "two", "2")[:1], out)
    assert [versions(out / guide) for guide in GUIDES] == [{"2"}, {"1"}]


def test_a_build_stopped_between_its_renames_is_healed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the old guide is aside and the new one not in, the old one comes back."""
    out = tmp_path / "public"
    swap_in(stage(tmp_path / "one", "1"), out)
    without_exchange(monkeypatch)
    renames: Iterator[int] = iter(range(10))
    rename = Path.rename

    def dies_at_the_second(self: Path, target: Path) -> Path:
        if next(renames) == 1:
            raise KeyboardInterrupt
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", dies_at_the_second)
    with pytest.raises(KeyboardInterrupt):
        swap_in(stage(tmp_path / "two", "2"), out)
    monkeypatch.undo()
    assert not (out / GUIDES[0]).exists()
    heal(out)
    assert sorted(path.name for path in out.iterdir()) == list(GUIDES)
    assert [versions(out / guide) for guide in GUIDES] == [{"1"}, {"1"}]


def test_a_build_stopped_before_it_tidied_up_is_tidied(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where both stand, the new one stays and the old one goes."""
    out = tmp_path / "public"
    swap_in(stage(tmp_path / "one", "1"), out)

    def dies(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    without_exchange(monkeypatch)
    monkeypatch.setattr("shutil.rmtree", dies)
    with pytest.raises(KeyboardInterrupt):
        swap_in(stage(tmp_path / "two", "2"), out)
    monkeypatch.undo()
    assert (out / f".old-{GUIDES[0]}").is_dir()
    heal(out)
    assert sorted(path.name for path in out.iterdir()) == list(GUIDES)
    assert [versions(out / guide) for guide in GUIDES] == [{"2"}, {"1"}]


def test_nothing_to_heal_changes_nothing(tmp_path: Path) -> None:
    """Healing a whole site leaves it as it is."""
    out = tmp_path / "public"
    swap_in(stage(tmp_path / "one", "1"), out)
    heal(out)
    assert [versions(out / guide) for guide in GUIDES] == [{"1"}, {"1"}]


@needs_fork
def test_fifty_killed_builds_leave_whole_guides(tmp_path: Path) -> None:
    """Killed at fifty random moments, each guide is wholly one version once healed."""
    out = tmp_path / "public"
    swap_in(stage(tmp_path / "first", "first"), out)
    moments = random.Random(2107)
    seen = set()
    for number in range(50):
        child = os.fork()
        if child == 0:
            try:
                publish_for_ever(tmp_path / f"staged-{number}", out, number)
            finally:
                os._exit(1)
        time.sleep(moments.uniform(0.002, 0.02))
        os.kill(child, signal.SIGKILL)
        assert os.WTERMSIG(os.waitpid(child, 0)[1]) == signal.SIGKILL
        heal(out)
        assert sorted(path.name for path in out.iterdir()) == list(GUIDES)
        for guide in GUIDES:
            found = versions(out / guide)
            assert len(found) == 1
            seen |= found
    assert len(seen) > 10


def publish_for_ever(staging: Path, out: Path, number: int) -> None:
    """Stage and switch in one version after another."""
    version = 0
    while True:
        version += 1
        swap_in(stage(staging, f"{number}.{version}"), out)


def test_single_files_are_replaced_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that cannot be put in place leaves the old one, and no half-written one."""
    write_files({"lt-1/stickers.pdf": b"old"}, tmp_path)

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OSError, match="No space left on device"):
        write_files({"lt-1/stickers.pdf": b"new"}, tmp_path)
    assert [path.name for path in (tmp_path / "lt-1").iterdir()] == ["stickers.pdf"]
    assert (tmp_path / "lt-1" / "stickers.pdf").read_bytes() == b"old"
