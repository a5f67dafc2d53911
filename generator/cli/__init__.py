"""The command `lockerleaf`: the only room that prints or exits."""

from generator.cli import building, checking, desk, printing, registering
from generator.cli.root import main

__all__ = ["building", "checking", "desk", "main", "printing", "registering"]
