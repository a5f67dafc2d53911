"""The register: what it holds is kept byte for byte, whatever happens to the writer."""

from __future__ import annotations

import itertools
import os
import random
import signal
import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

from generator.fit.codes import Choose, is_code, mint_codes
from generator.problems import Mark, Problems, ProblemsFound
from generator.publish import register as writing
from generator.publish.register import (
    OvertakenError,
    add_to_register,
    only_writer,
    take_by_file,
    unless_overtaken,
)
from generator.read.register import COLUMNS, Entry, Register, read_register

HEADING = ",".join(COLUMNS) + "\n"

needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="kills a forked writer")


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """Return a workspace that has no register yet."""
    (tmp_path / "units").mkdir()
    return tmp_path


def register_file(root: Path) -> Path:
    """Return where the register is."""
    return root / "units" / "register.csv"


def litter(root: Path) -> list[str]:
    """Return what stands beside the register, but for the file that stands for the lock."""
    expected = {"register.csv", ".register.lock"}
    return sorted(path.name for path in (root / "units").iterdir() if path.name not in expected)


def read_whole(root: Path) -> Register:
    """Return the register; damage of any kind fails."""
    problems = Problems()
    register = read_register(root, problems)
    assert problems.found == []
    return register


def entry(code: str, unit: str = "lt-1", target: str = "gas-locker", why: str = "") -> Entry:
    """Return a minted place code."""
    return Entry(
        code, unit, "place", target, "minted", "2026-01-01", why, Mark("units/register.csv")
    )


def test_first_entries_make_the_register(root: Path) -> None:
    """Where there is no register, the first codes bring its heading line with them."""
    add_to_register(root, lambda _: [entry("7K3Q-4FE")])
    assert register_file(root).read_text() == (
        HEADING + "7K3Q-4FE,lt-1,place,gas-locker,minted,2026-01-01,\n"
    )


def test_nothing_new_writes_nothing(root: Path) -> None:
    """A build without new codes does not touch the register, nor make one."""
    add_to_register(root, lambda _: [])
    assert not register_file(root).exists()


def test_what_was_there_is_kept_byte_for_byte(root: Path) -> None:
    """Somebody's quoting and spelling stay as they are; new lines come after."""
    before = HEADING + '7K3Q-4FE,lt-1,place,"gas-locker",minted,2026-01-01,"Tür, \u2018alt\u2019"\n'
    register_file(root).write_bytes(before.encode())
    add_to_register(root, lambda _: [entry("7K3Q-5G8", target="water-inlet")])
    after = register_file(root).read_bytes()
    assert after.startswith(before.encode())
    assert after[len(before.encode()) :] == (
        b"7K3Q-5G8,lt-1,place,water-inlet,minted,2026-01-01,\n"
    )


@pytest.mark.parametrize("why", ["moved, to the rear", 'says "spare"', "=1+1", "Tür"])
def test_what_is_written_is_what_is_read(root: Path, why: str) -> None:
    """Commas, quotes and other letters in a reason come back as they were."""
    new = entry("7K3Q-4FE", why=why)
    add_to_register(root, lambda _: [new])
    (found,) = read_whole(root).entries
    assert (found.code, found.target, found.why) == (new.code, new.target, why)


def test_a_failed_write_leaves_the_old_register_and_no_litter(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the disk refuses at the last moment, the old bytes stand and nothing lies about."""
    add_to_register(root, lambda _: [entry("7K3Q-4FE")])
    before = register_file(root).read_bytes()

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OSError, match="No space left on device"):
        add_to_register(root, lambda _: [entry("7K3Q-5G8", target="water-inlet")])
    assert register_file(root).read_bytes() == before
    assert litter(root) == []


def test_old_register_stands_until_the_new_one_is_whole_on_the_disk(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The new bytes are flushed to the disk beside the old register, then put in its place."""
    add_to_register(root, lambda _: [entry("7K3Q-4FE")])
    before = register_file(root).read_bytes()
    seen: list[str] = []
    fsync, replace = os.fsync, os.replace

    def watched_fsync(handle: int) -> None:
        assert register_file(root).read_bytes() == before
        seen.append("flushed")
        fsync(handle)

    def watched_replace(source: str, target: str) -> None:
        assert register_file(root).read_bytes() == before
        assert Path(source).read_bytes().startswith(before)
        seen.append("replaced")
        replace(source, target)

    monkeypatch.setattr(os, "fsync", watched_fsync)
    monkeypatch.setattr(os, "replace", watched_replace)
    add_to_register(root, lambda _: [entry("7K3Q-5G8", target="water-inlet")])
    assert seen == ["flushed", "replaced"]


PLACES = [("place", f"spot-{number}") for number in range(40)]


def mint_into(
    root: Path, wanted: Mapping[str, Sequence[tuple[str, str]]], choose: Choose
) -> list[Entry]:
    """Mint what the newest register lacks, and return it."""
    new: list[Entry] = []

    def decide(newest: Register) -> list[Entry]:
        new.extend(mint_codes(newest, wanted, "2026-01-01", choose))
        return new

    add_to_register(root, decide)
    return new


def mint_shared(root: Path, told: int, seed: int) -> None:
    """Mint what every writer wants, a place more each time; after each write tell the codes."""
    choose = random.Random(seed).randrange
    for number in itertools.count():
        unit, count = f"lt-{number // len(PLACES)}", number % len(PLACES) + 1
        new = mint_into(root, {unit: PLACES[:count]}, choose)
        os.write(told, "".join(f"{item.code}\n" for item in new).encode())


@dataclass
class Writer:
    """A process of its own that writes the register until it is killed."""

    process: int
    told: int

    @classmethod
    def start(cls, root: Path, seed: int) -> Writer:
        """Return a writer that has begun."""
        read_end, write_end = os.pipe()
        process = os.fork()
        if process == 0:
            try:
                os.close(read_end)
                mint_shared(root, write_end, seed)
            finally:
                os._exit(1)
        os.close(write_end)
        return cls(process, read_end)

    def kill(self) -> list[str]:
        """Kill it, whatever it does, and return the codes that it had told."""
        os.kill(self.process, signal.SIGKILL)
        _, status = os.waitpid(self.process, 0)
        assert os.WIFSIGNALED(status)
        assert os.WTERMSIG(status) == signal.SIGKILL
        with os.fdopen(self.told) as pipe:
            return pipe.read().split()


@needs_fork
def test_two_hundred_kills_among_concurrent_writers(root: Path) -> None:
    """Three writers that want the same codes, one of them killed 200 times at random moments.

    Every code that was told is in the register, once; no target has two; what was in the register
    at any moment is its beginning ever after; and the next writer clears up.
    """
    chance = random.Random(2107)
    seeds = itertools.count()
    writers = [Writer.start(root, next(seeds)) for _ in range(3)]
    told: list[str] = []
    before = b""
    for _ in range(200):
        time.sleep(chance.uniform(0.001, 0.03))
        chosen = chance.randrange(len(writers))
        told += writers[chosen].kill()
        after = register_file(root).read_bytes() if register_file(root).exists() else b""
        assert after.startswith(before)
        before = after
        writers[chosen] = Writer.start(root, next(seeds))
    for writer in writers:
        told += writer.kill()
    register = add_to_register(root, lambda _: [])
    codes = [item.code for item in register.entries]
    targets = [(item.unit, item.sort, item.target) for item in register.entries]
    assert len(told) > 100
    assert len(told) == len(set(told))
    assert len(codes) == len(set(codes))
    assert len(targets) == len(set(targets))
    assert set(told) <= set(codes)
    assert all(is_code(item.code) for item in register.entries if item.sort == "place")
    assert litter(root) == []


def test_litter_of_a_running_writer_is_left_alone(root: Path) -> None:
    """What stands beside the register belongs to whoever has the right to write; others wait."""
    running = root / "units" / ".register.csv.running"
    seen = []
    with only_writer(root):
        running.write_text("half")
        thread = threading.Thread(
            target=lambda: add_to_register(root, lambda _: seen.append(running.exists()) or [])
        )
        thread.start()
        time.sleep(0.1)
        assert running.exists()
        assert seen == []
    thread.join()
    assert seen == [False]


def test_what_others_added_meanwhile_is_decided_on(root: Path) -> None:
    """A command decides on the newest register, not on the one that it once read."""
    add_to_register(root, lambda _: [entry("7K3Q-4FE")])

    def decide(newest: Register) -> list[Entry]:
        known = newest.code_for("lt-1", "place", "gas-locker")
        return [] if known else [entry("7K3Q-5G8")]

    after = add_to_register(root, decide)
    assert [item.code for item in after.entries] == ["7K3Q-4FE"]
    assert after.entries == read_whole(root).entries


@pytest.mark.parametrize("by_file", [False, True])
def test_one_that_does_not_finish_is_one_line(
    root: Path, monkeypatch: pytest.MonkeyPatch, by_file: bool
) -> None:
    """Whoever waits too long is told what to do; so with the lock of systems without fcntl."""
    monkeypatch.setattr(writing, "_PATIENCE_SECONDS", 0.05)
    if by_file:
        monkeypatch.setattr(writing, "_take_by_kernel", take_by_file)
    with only_writer(root), pytest.raises(ProblemsFound) as found:
        add_to_register(root, lambda _: [entry("7K3Q-4FE")])
    assert str(found.value) == (
        "units/register.csv:1:1: (file): another command has been writing it for 0.05 seconds; "
        "right: let it finish; if none is running, remove units/.register.lock"
    )
    add_to_register(root, lambda _: [entry("7K3Q-4FE")])
    assert (root / "units" / ".register.lock").exists() != by_file


@needs_fork
def test_writers_where_there_is_no_kernel_lock(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two processes that take turns by the file alone mint nothing twice."""
    monkeypatch.setattr(writing, "_take_by_kernel", take_by_file)
    children = []
    for seed in range(2):
        child = os.fork()
        if child == 0:
            status = 1
            try:
                choose = random.Random(seed).randrange
                for count in range(1, 21):
                    mint_into(root, {"lt-1": PLACES[:count]}, choose)
                status = 0
            finally:
                os._exit(status)
        children.append(child)
    assert [os.waitpid(child, 0)[1] for child in children] == [0, 0]
    assert [item.target for item in read_whole(root).entries] == [
        "",
        *(target for _, target in PLACES[:20]),
    ]


def test_a_damaged_register_is_not_written(root: Path) -> None:
    """With a merge left undone nothing is added, and nothing of it is lost."""
    text = HEADING + "<<<<<<< ours\n7K3Q,lt-1,unit,,minted,2026-01-01,\n=======\n>>>>>>> theirs\n"
    register_file(root).write_text(text)
    with pytest.raises(ProblemsFound) as found:
        add_to_register(root, lambda _: [entry("7K3Q-4FE")])
    assert str(found.value) == (
        "units/register.csv:2:1: (file): holds a merge that was left undone ('<<<<<<<'); right: "
        "keep the lines of both sides, and take out the marker lines"
    )
    assert register_file(root).read_text() == text


def test_a_build_that_was_overtaken_publishes_nothing(root: Path) -> None:
    """Codes that were decided on before another changed the unit's lines are not added.

    Lines of other units do no harm.
    """
    add_to_register(root, lambda _: [entry("7K3Q-4FE")])
    read = read_whole(root)
    mine = [entry("7K3Q-5G8", target="bed")]
    add_to_register(root, lambda _: [entry("9ABC-011", unit="lt-2")])
    add_to_register(root, unless_overtaken(read, ["lt-1"], mine))
    assert read_whole(root).entries[-1].code == "7K3Q-5G8"
    with pytest.raises(OvertakenError):
        add_to_register(root, unless_overtaken(read, ["lt-1"], [entry("7K3Q-0AB", target="x")]))
    with pytest.raises(OvertakenError):
        add_to_register(root, unless_overtaken(read, ["lt-3"], [entry("7K3Q-5G8", unit="lt-3")]))
    assert len(read_whole(root).entries) == 3
