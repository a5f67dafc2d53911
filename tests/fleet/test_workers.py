"""A build over several processes: the same bytes, also when some of them die."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from fleet.test_incremental import tree
from generator import workers

Run = Callable[..., str]

needs_fork = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="kills a fork")


def add_units(workspace: Path, count: int) -> None:
    """Add units of their own models, so that each is a batch."""
    model = (workspace / "units" / "models" / "small-2.yml").read_text("utf-8")
    for number in range(2, 2 + count):
        name = f"small-{number + 10}"
        text = model.replace("model: small-2", f"model: {name}")
        (workspace / "units" / "models" / f"{name}.yml").write_text(text, "utf-8")
        unit = f"unit: sm-{number}\nbased_on: {name}\ntitle: Small 2, stock {number}\n"
        (workspace / "units" / f"sm-{number}.yml").write_text(unit, "utf-8")


def clean(workspace: Path, lockerleaf: Run) -> dict[str, bytes]:
    """Return what one process makes, alone."""
    lockerleaf("build", "--no-papers", "--jobs", "1", "--out", "clean")
    return tree(workspace / "clean")


@pytest.mark.parametrize("jobs", ["2", "5"])
def test_the_number_of_workers_does_not_show(jobs: str, workspace: Path, lockerleaf: Run) -> None:
    """Any number of processes makes the same bytes."""
    add_units(workspace, 5)
    alone = clean(workspace, lockerleaf)
    lockerleaf("build", "--no-papers", "--jobs", jobs)
    assert tree(workspace / "public") == alone


@needs_fork
def test_a_worker_that_is_killed_costs_nothing(
    workspace: Path, lockerleaf: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its batch is given out again."""
    add_units(workspace, 4)
    alone = clean(workspace, lockerleaf)
    marks = workspace / ".killed"
    build = workers._build

    def dies_once(site: workers.Site, order: workers.Order) -> workers.Outcome:
        if order.unit.name == "sm-3" and not marks.exists():
            marks.touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return build(site, order)

    monkeypatch.setattr(workers, "_build", dies_once)
    told = lockerleaf("build", "--no-papers", "--jobs", "2")
    assert marks.exists()
    assert "5 guides built" in told
    assert tree(workspace / "public") == alone


@needs_fork
def test_workers_that_always_die_are_told(
    workspace: Path, lockerleaf: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The build gives up in one line, and publishes nothing."""
    add_units(workspace, 2)

    def dies(site: workers.Site, order: workers.Order) -> workers.Outcome:
        os.kill(os.getpid(), signal.SIGKILL)
        raise AssertionError

    monkeypatch.setattr(workers, "_build", dies)
    told = lockerleaf("build", "--no-papers", "--jobs", "2")
    assert told == (
        "Error: a process of the build was killed, and again when it was started anew; "
        "right: more memory, or fewer at once (--jobs 1)\n"
    )
    assert list((workspace / "public").iterdir()) == []


@pytest.mark.parametrize("count", [1, 2, 3])
def test_shares_come_to_the_whole(count: int, workspace: Path, lockerleaf: Run) -> None:
    """Shares that are built apart and copied together are one build."""
    add_units(workspace, 4)
    alone = clean(workspace, lockerleaf)
    merged: dict[str, bytes] = {}
    for share in range(1, count + 1):
        out = f"share-{share}"
        lockerleaf("build", "--no-papers", "--share", f"{share}/{count}", "--out", out)
        files = tree(workspace / out)
        assert not merged.keys() & files.keys()
        merged |= files
    assert merged == alone


def test_a_share_mints_nothing(workspace: Path, lockerleaf: Run) -> None:
    """Two machines that mint for themselves would come to different codes."""
    add_units(workspace, 1)
    told = lockerleaf("build", "--no-papers", "--share", "2/2")
    assert "have no code yet; right: lockerleaf mint, and commit units/register.csv" in told
    assert "new codes" in lockerleaf("mint")
    assert "1 guide built" in lockerleaf("build", "--no-papers", "--share", "2/2")


@pytest.mark.parametrize("share", ["0/2", "3/2", "x", "1/0", "1"])
def test_a_share_that_is_none(share: str, lockerleaf: Run) -> None:
    """One line says what a share looks like."""
    told = lockerleaf("build", "--share", share)
    assert f"'{share}' is no share; right: such as 3/8" in told


@contextmanager
def cluster(workspace: Path, count: int) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """Run a scheduler and workers on loopback as processes of their own."""
    file = workspace / "scheduler.json"
    started: list[subprocess.Popen[bytes]] = []

    def start(module: str, *options: str) -> None:
        command = [sys.executable, "-m", f"distributed.cli.{module}", "--no-dashboard"]
        command += ["--scheduler-file", str(file), *options]
        quiet = subprocess.DEVNULL
        started.append(subprocess.Popen(command, stdout=quiet, stderr=quiet))

    try:
        start("dask_scheduler", "--host", "127.0.0.1", "--port", "0")
        for _ in range(count):
            local = str(workspace / ".dask")
            start("dask_worker", "--no-nanny", "--nthreads", "1", "--local-directory", local)
        yield str(file), started[1:]
    finally:
        for process in started:
            process.kill()
            process.wait()


def test_other_machines_build_too(workspace: Path, lockerleaf: Run) -> None:
    """Workers as separate processes, one of them killed in the middle: the build is whole."""
    pytest.importorskip("distributed")
    add_units(workspace, 8)
    alone = clean(workspace, lockerleaf)
    with cluster(workspace, 2) as (file, processes):
        build = subprocess.Popen(
            [sys.executable, "-m", "generator", "build", "--no-papers", "--cluster", file],
            cwd=workspace,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert build.stdout is not None
        first = build.stdout.readline()
        assert first.startswith("sm-"), first
        processes[0].kill()
        rest, _ = build.communicate(timeout=120)
    assert build.returncode == 0, rest
    assert "9 guides built" in rest
    assert tree(workspace / "public") == alone
