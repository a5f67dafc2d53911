"""Puts the library into the package when it is built; all else stands in pyproject.toml."""

from __future__ import annotations

import shutil
from pathlib import Path

from setuptools import setup
from setuptools.command.build_py import build_py

HERE = Path(__file__).resolve().parent
LIBRARY = ("docs_src", "site_assets", "units/models")


class WithLibrary(build_py):
    """The usual build, and the library beside the program, in `generator/library/`.

    The folders stay at the top of the repository, where writers find them; a program that runs
    from the repository takes them from there.
    """

    def run(self) -> None:
        """Build, and copy the library anew."""
        super().run()
        if self.editable_mode:
            return
        to = Path(self.build_lib) / "generator" / "library"
        shutil.rmtree(to, ignore_errors=True)
        for folder in LIBRARY:
            shutil.copytree(HERE / folder, to / folder, ignore=shutil.ignore_patterns(".*"))


setup(cmdclass={"build_py": WithLibrary})
