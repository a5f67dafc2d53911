"""The command prints an address that opens the desk, and ends without a fuss."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import urllib.error
import urllib.request
from http.cookiejar import CookieJar
from pathlib import Path

import pytest


@pytest.mark.skipif(os.name != "posix", reason="Ctrl+C is sent otherwise elsewhere")
def test_open_look_and_close(workspace: Path) -> None:
    """The printed address alone shows the unit; Ctrl+C ends it with code 0."""
    repository = str(Path(__file__).parents[2])
    running = subprocess.Popen(
        [sys.executable, "-m", "generator", "preview", "sm-1"],
        cwd=workspace,
        env={**os.environ, "PYTHONPATH": repository, "PYTHONUNBUFFERED": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        # Whoever runs the tests in the background has made their children deaf to it.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    try:
        assert running.stdout
        told = running.stdout.readline() + running.stdout.readline()
        address = re.search(r"http://127\.0\.0\.1:[0-9]+/\S+", told)
        assert address, told
        opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
        with opener.open(address[0], timeout=120) as answer:
            assert "Small 2, stock 1" in answer.read().decode()
            assert answer.url == address[0].partition("?")[0]
        with pytest.raises(urllib.error.HTTPError, match="403"):
            urllib.request.urlopen(answer.url, timeout=120)
        running.send_signal(signal.SIGINT)
        rest, _ = running.communicate(timeout=120)
    finally:
        running.kill()
    assert (rest, running.returncode) == ("Closed.\n", 0)
