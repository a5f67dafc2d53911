"""`python -m generator` is the same as the command `lockerleaf`."""

from generator.cli import main

main()
