"""Commands that build guides."""

from __future__ import annotations

import os
import re
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from pathlib import Path

import click

from generator.cli.root import main
from generator.cli.telling import telling_problems
from generator.cli.workspace import (
    choose_units,
    chosen,
    mint_into_register,
    minted,
    without_code,
    workspace,
)
from generator.fleet import FleetBuilt, Wish, build_fleet
from generator.publish.send import (
    RefusedError,
    Sent,
    is_remote,
    is_sftp,
    send_by_rsync,
    send_to_folder,
)
from generator.publish.sent import SentBefore
from generator.read.register import Entry
from generator.read.sources import Sources, read_sources
from generator.read.survey import Survey
from generator.render.compressed import COMPRESSIONS, brotli_is_there
from generator.workers import Outcome

MOST_SHOWN = 12
"""Of how many guides a build shows the address to open."""


@main.command()
@click.argument("units", nargs=-1)
@click.option("--out", default="public", help="Folder of the published guides.")
@click.option("--jobs", type=click.IntRange(1, 64), default=os.cpu_count() or 1, help="Processes.")
@click.option("--no-papers", is_flag=True, help="Leave stickers, booklets and packs as they are.")
@click.option(
    "--compress",
    multiple=True,
    type=click.Choice(COMPRESSIONS),
    help="Lay compressed texts beside, for servers that send them as they are.",
)
@click.option("--share", default="1/1", help="Build a part of the units only, such as 3/8.")
@click.option("--cluster", default="", help="Address, or scheduler file, of a Dask cluster.")
def build(
    units: tuple[str, ...],
    out: str,
    jobs: int,
    no_papers: bool,
    compress: tuple[str, ...],
    share: str,
    cluster: str,
) -> None:
    """Build guides and papers, of all units or those named, and switch them in.

    What is as it should be is left alone.
    """
    part, parts = _share(share)
    compressed = tuple(sorted(set(compress)))
    if "brotli" in compressed and not brotli_is_there():
        raise click.ClickException(
            "brotli is not installed; right: pip install 'lockerleaf[brotli]'"
        )
    started = time.perf_counter()

    def choose(survey: Survey) -> list[str]:
        return choose_units(survey.names, units)[part - 1 :: parts]

    def mint(sources: Sources, names: Sequence[str]) -> tuple[Entry, ...]:
        new = minted(sources, names)
        if new and parts > 1:
            raise click.ClickException(
                f"{without_code(len(new))}; right: lockerleaf mint, and commit units/register.csv"
            )
        return new

    def tell(outcome: Outcome) -> None:
        guide = outcome.guide
        assert guide is not None
        click.echo(
            f"{outcome.unit}: {guide.pages} pages, {guide.bytes / 1e6:.1f} MB, "
            f"{guide.pack_bytes / 1e3:.0f} kB without signal, {out}/{guide.code}/index.html"
        )

    with telling_problems(), _cluster(cluster) as executor:
        root = workspace()
        public = (root / out).resolve()
        wish = Wish(
            root,
            public,
            jobs,
            papers=not no_papers,
            front=part == 1,
            compressed=compressed,
            executor=executor,
        )
        try:
            done = build_fleet(wish, choose, mint, tell)
        except BrokenProcessPool:
            raise click.ClickException(
                "a process of the build was killed, and again when it was started anew; "
                "right: more memory, or fewer at once (--jobs 1)"
            ) from None
        _tell_built(done, public, time.perf_counter() - started, papers=not no_papers)


def _tell_built(done: FleetBuilt, public: Path, seconds: float, *, papers: bool) -> None:
    count = len(done.built)
    click.echo(
        f"{count} guide{'' if count == 1 else 's'} built in {seconds:.1f} s, "
        f"{len(done.current)} as they should be" + ("; papers in print/" if papers else "")
    )
    if done.new_codes:
        click.echo(f"{done.new_codes} new codes in units/register.csv; commit it")
    click.echo(f"Open {(public / 'index.html').as_uri()}")
    for name in done.built if count <= MOST_SHOWN else ():
        click.echo(f"     {(public / done.codes[name] / 'index.html').as_uri()}  {name}")


@main.command()
@click.argument("target")
@click.option("--from", "source", default="public", help="Folder of the published guides.")
def publish(target: str, source: str) -> None:
    """Copy what was built to a folder, or to host:folder by rsync, or to sftp://host/folder.

    Pages at the target never lead to files that are not there yet; what is gone is removed last.
    """
    with telling_problems():
        public = (workspace() / source).resolve()
        if not (public / "index.html").is_file():
            raise click.ClickException(f"nothing is built in {source}/; right: lockerleaf build")
        try:
            if is_sftp(target):
                sent = _send_by_sftp(public, target)
            elif is_remote(target):
                send_by_rsync(public, target)
                click.echo(f"{target} is as {source}/")
                return
            else:
                to = Path(target).resolve()
                if to.is_relative_to(public) or public.is_relative_to(to):
                    raise click.ClickException(f"{target} and {source}/ lie within each other")
                sent = send_to_folder(public, to)
        except RefusedError as error:
            raise click.ClickException(f"{_shown(target)}: {error}") from None
        click.echo(
            f"{target} is as {source}/: {sent.new} new files, {sent.changed} changed, "
            f"{sent.removed} removed"
        )


def _send_by_sftp(public: Path, target: str) -> Sent:
    try:
        from generator.publish.sftp import send_by_sftp
    except ImportError:
        raise RefusedError("SFTP needs asyncssh; right: pip install 'lockerleaf[sftp]'") from None

    def ask(words: str) -> str:
        return str(click.prompt(words, hide_input=True, err=True))

    with SentBefore(workspace(), target) as before:
        return send_by_sftp(public, target, before, ask if sys.stdin.isatty() else None)


def _shown(target: str) -> str:
    """Return a target to be told; a password that somebody put into it is not repeated."""
    return re.sub(r"^(sftp://[^/@:]*):[^/@]*@", r"\1@", target)


@main.command()
@click.argument("units", nargs=-1)
def mint(units: tuple[str, ...]) -> None:
    """Issue the codes that units still lack, of all units or those named."""
    with telling_problems():
        sources = read_sources(workspace())
        new = mint_into_register(sources, chosen(sources, units))
        click.echo(
            f"{len(new)} new codes in units/register.csv; commit it"
            if new
            else "every hatch has its code"
        )


def _share(share: str) -> tuple[int, int]:
    """Return which of how many shares is meant."""
    found = re.fullmatch(r"(\d{1,4})/(\d{1,4})", share)
    part, parts = (int(found[1]), int(found[2])) if found else (0, 0)
    if not 1 <= part <= parts:
        raise click.ClickException(f"'{share}' is no share; right: such as 3/8")
    return part, parts


@contextmanager
def _cluster(address: str) -> Iterator[Executor | None]:
    """Give the executor of a Dask cluster; none where no address is given."""
    if not address:
        yield None
        return
    try:
        from distributed import Client
    except ImportError:
        raise click.ClickException(
            "a cluster needs distributed; right: pip install 'lockerleaf[cluster]'"
        ) from None
    given = {"scheduler_file": address} if Path(address).is_file() else {"address": address}
    try:
        with Client(**given, timeout="10s") as client:
            yield client.get_executor(retries=3)
    except OSError as error:
        raise click.ClickException(
            f"no Dask scheduler answers at {address} ({error}); right: its address or file"
        ) from None
