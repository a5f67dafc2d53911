"""The command `lockerleaf`: the only room that prints or exits."""

from generator.cli import building, checking, desk, filming, previewing, printing, registering
from generator.cli.root import main

__all__ = [
    "building",
    "checking",
    "desk",
    "filming",
    "main",
    "previewing",
    "printing",
    "registering",
]
