"""The register: what it holds is kept byte for byte, whatever happens to the writer."""

from __future__ import annotations

import itertools
import os
import random
import signal
import time
from pathlib import Path

import pytest

from generator.fit.codes import is_code, mint_codes
from generator.problems import Mark, Problems
from generator.publish.register import write_register
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
    write_register(root, read_whole(root), [entry("7K3Q-4FE")])
    assert register_file(root).read_text() == (
        HEADING + "7K3Q-4FE,lt-1,place,gas-locker,minted,2026-01-01,\n"
    )


def test_nothing_new_writes_nothing(root: Path) -> None:
    """A build without new codes does not touch the register, nor make one."""
    write_register(root, read_whole(root), [])
    assert not register_file(root).exists()


def test_what_was_there_is_kept_byte_for_byte(root: Path) -> None:
    """Somebody's quoting and spelling stay as they are; new lines come after."""
    before = HEADING + '7K3Q-4FE,lt-1,place,"gas-locker",minted,2026-01-01,"Tür, \u2018alt\u2019"\n'
    register_file(root).write_bytes(before.encode())
    write_register(root, read_whole(root), [entry("7K3Q-5G8", target="water-inlet")])
    after = register_file(root).read_bytes()
    assert after.startswith(before.encode())
    assert after[len(before.encode()) :] == (
        b"7K3Q-5G8,lt-1,place,water-inlet,minted,2026-01-01,\n"
    )


@pytest.mark.parametrize("why", ["moved, to the rear", 'says "spare"', "=1+1", "Tür"])
def test_what_is_written_is_what_is_read(root: Path, why: str) -> None:
    """Commas, quotes and other letters in a reason come back as they were."""
    new = entry("7K3Q-4FE", why=why)
    write_register(root, read_whole(root), [new])
    (found,) = read_whole(root).entries
    assert (found.code, found.target, found.why) == (new.code, new.target, why)


def test_a_failed_write_leaves_the_old_register_and_no_litter(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the disk refuses at the last moment, the old bytes stand and nothing lies about."""
    write_register(root, read_whole(root), [entry("7K3Q-4FE")])
    before = register_file(root).read_bytes()

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OSError, match="No space left on device"):
        write_register(root, read_whole(root), [entry("7K3Q-5G8", target="water-inlet")])
    assert register_file(root).read_bytes() == before
    assert [path.name for path in (root / "units").iterdir()] == ["register.csv"]


def test_old_register_stands_until_the_new_one_is_whole_on_the_disk(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The new bytes are flushed to the disk beside the old register, then put in its place."""
    write_register(root, read_whole(root), [entry("7K3Q-4FE")])
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
    write_register(root, read_whole(root), [entry("7K3Q-5G8", target="water-inlet")])
    assert seen == ["flushed", "replaced"]


def mint_for_ever(root: Path, told: int, seed: int) -> None:
    """Mint places one after another; after each write, tell its code through a pipe."""
    choose = random.Random(seed).randrange
    for number in itertools.count():
        register = read_whole(root)
        unit = f"lt-{seed}-{number // 50}"
        new = mint_codes(register, {unit: [("place", f"spot-{number}")]}, "2026-01-01", choose)
        write_register(root, register, new)
        os.write(told, "".join(f"{item.code}\n" for item in new).encode())


@needs_fork
def test_fifty_kills_lose_no_code_and_mint_none_twice(root: Path) -> None:
    """A writer killed at fifty random moments leaves every told code in the register, once.

    Each killed writer's register also begins with the bytes of the one before.
    """
    moments = random.Random(2107)
    told: list[str] = []
    before = b""
    for seed in range(50):
        told += killed_writer(root, seed, moments.uniform(0.002, 0.03))
        after = register_file(root).read_bytes() if register_file(root).exists() else b""
        assert after.startswith(before)
        before = after
    register = read_whole(root)
    codes = [item.code for item in register.entries]
    assert len(told) > 50
    assert len(codes) == len(set(codes))
    assert set(told) <= set(codes)
    assert all(is_code(item.code) for item in register.entries if item.sort == "place")


def killed_writer(root: Path, seed: int, after_seconds: float) -> list[str]:
    """Return the codes that a writer told before it was killed."""
    read_end, write_end = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(read_end)
            mint_for_ever(root, write_end, seed)
        finally:
            os._exit(1)
    os.close(write_end)
    time.sleep(after_seconds)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    with os.fdopen(read_end) as pipe:
        lines = pipe.read()
    assert os.WIFSIGNALED(status)
    assert os.WTERMSIG(status) == signal.SIGKILL
    return [line for line in lines.split("\n") if line]
