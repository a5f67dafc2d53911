"""The command that shows the desk page."""

from __future__ import annotations

import click

from generator.cli.root import main
from generator.cli.telling import telling_problems
from generator.cli.workspace import choose_units, workspace
from generator.preview.server import open_desk
from generator.read.units import unit_names


@main.command()
@click.argument("unit", required=False)
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Port; a free one if 0.")
@click.option("--out", default="public", help="Folder of the published guides.")
@click.option("--open", "in_browser", is_flag=True, help="Open it in the browser, too.")
def preview(unit: str | None, port: int, out: str, in_browser: bool) -> None:
    """Show the fleet, or one unit's guide, live in the browser of this machine.

    Nothing but descriptions in units/ is ever written, and those only where you save them.
    """
    with telling_problems():
        root = workspace()
        if unit:
            choose_units(unit_names(root), [unit])
        try:
            desk = open_desk(root, (root / out).resolve(), port)
        except OSError as error:
            raise click.ClickException(
                f"port {port}: {error.strerror}; right: another --port, or none"
            ) from None
        address = desk.address(f"/guide/{unit}/index.html" if unit else "/")
        click.echo("Open this in a browser on this machine. It ends when you press Ctrl+C here.")
        click.echo(f"  {address}")
        if in_browser:
            click.launch(address)
        desk.serve()
        desk.watcher.end()
        click.echo("Closed.")
