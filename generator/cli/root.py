"""The command itself; the modules beside this one add to it."""

from __future__ import annotations

import gc

import click

from generator import __version__


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="lockerleaf")
def main() -> None:
    """Owner guides, stickers and handover papers for leisure vehicles, from one description."""
    # Nearly all that is made lives as long as the command: looking for what may be forgotten after
    # every 700 objects took a quarter of the time of composing papers.
    gc.set_threshold(10_000, 10, 10)
