"""Which notices reach a unit, and about which of its equipment."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any

from generator.read.notices import Notice, in_range
from generator.read.units import Fitting, Unit


@dataclass(frozen=True, slots=True)
class Reached:
    """A notice that reaches a unit and has not been cleared there."""

    notice: Notice
    fittings: tuple[str, ...]
    """The equipment that it is about; none where it is about the whole vehicle."""
    unsure: bool
    """Whether a serial number decides that nobody has written down."""

    def is_about(self, fittings: Iterable[str]) -> bool:
        """Return whether it is about any of these, or about the whole vehicle."""
        return not self.fittings or bool(set(fittings) & set(self.fittings))


def reach_unit(
    notices: Sequence[Notice],
    unit: Unit,
    fittings: Mapping[str, Fitting],
    scope_of: Mapping[str, Mapping[str, Any]],
) -> tuple[Reached, ...]:
    """Return the notices in force for a unit.

    Args:
        notices: All of the dealer's.
        unit: The unit.
        fittings: Its equipment by name, the vehicle itself included.
        scope_of: The names that a condition about each of them may use.
    """
    models = {PurePosixPath(file).stem for file in unit.files[1:]}
    reached = []
    for notice in notices:
        if unit.name in notice.cleared:
            continue
        if notice.models and not models & set(notice.models):
            continue
        if notice.units and unit.name not in notice.units:
            continue
        subject = notice.about or "vehicle"
        about = [
            fitting
            for fitting in fittings.values()
            if fitting.kind == subject
            and (notice.when is None or notice.when.holds(scope_of[fitting.name]))
            and (
                notice.serials is None
                or not fitting.serial
                or in_range(fitting.serial, notice.serials)
            )
        ]
        if about:
            unsure = notice.serials is not None and not all(fitting.serial for fitting in about)
            names = tuple(fitting.name for fitting in about) if notice.about else ()
            reached.append(Reached(notice, names, unsure))
    return tuple(reached)
