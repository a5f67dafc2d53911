"""The command `lockerleaf`: the only room that prints or exits."""

from generator.cli import building, checking, filming, printing, registering
from generator.cli.root import main

__all__ = ["building", "checking", "filming", "main", "printing", "registering"]
