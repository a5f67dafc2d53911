"""The command that helps to film a unit."""

from __future__ import annotations

import click

from generator.cli.root import main
from generator.cli.telling import telling_problems
from generator.cli.workspace import chosen, workspace
from generator.compose.context import Context, Drawings
from generator.compose.film import chapters_by_name, plan_shots
from generator.fit.guide import BoundTask
from generator.flow import finish_guides
from generator.problems import Problems
from generator.read.sources import read_sources


@main.command()
@click.argument("unit")
def shotlist(unit: str) -> None:
    """List what one film of a unit has to show, in the order of the walk round it.

    The word in brackets is what `shows:` of a chapter names. A time tells what the unit's film
    shows already.
    """
    with telling_problems():
        sources = read_sources(workspace())
        (name,) = chosen(sources, [unit])
        (done,) = finish_guides(sources, sources.register, [name])
        drawings = Drawings(sources.assets.signs, sources.assets.pictures)
        context = Context(done.guide, done.proof, sources.library, drawings, Problems())
        shots = plan_shots(context, sources.handover)
        times = chapters_by_name(done.guide)
        places = sum(1 for shot in shots if shot.place)
        tasks = sum(len(shot.do) + len(shot.more) for shot in shots)
        click.echo(f"{done.guide.unit.title}: {places} places, {tasks} tasks")
        for shot in shots:
            if shot.place:
                seen = _seen(times, shot.place)
                click.echo(f"{shot.number:3}. {shot.title} [{shot.place}]{seen}")
            else:
                click.echo("     At no place in particular")
            for task in shot.do:
                click.echo(f"       do    {_told(task)}{_seen(times, task.slug, task.task.name)}")
            for task in shot.more:
                click.echo(f"       also  {_told(task)}{_seen(times, task.slug, task.task.name)}")


def _told(task: BoundTask) -> str:
    return f"{task.title} [{task.slug}]"


def _seen(times: dict[str, str], *names: str) -> str:
    return next((f"  {times[name]}" for name in names if name in times), "")
