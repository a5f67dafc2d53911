"""A desk of the small workspace, asked without a browser."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from werkzeug.test import Client, TestResponse

from generator.preview.server import Desk, open_desk


@dataclass(slots=True)
class Asker:
    """Asks a desk as its own pages do."""

    root: Path
    desk: Desk
    client: Client

    @property
    def origin(self) -> str:
        """Return the desk's own origin."""
        return f"http://127.0.0.1:{self.desk.guard.port}"

    def get(self, path: str, **headers: str) -> TestResponse:
        """Ask for a page, with other headers where some are given."""
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        return self.client.get(path, base_url=self.origin, headers=sent)

    def post(self, path: str, told: object, **headers: str) -> TestResponse:
        """Send what a page sends, with other headers where some are given; empty ones left out."""
        sent = {"Origin": self.origin, "X-Desk-Form": self.desk.guard.form}
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        return self.client.post(
            path,
            base_url=self.origin,
            headers={name: value for name, value in sent.items() if value},
            data=told if isinstance(told, bytes) else json.dumps(told),
            content_type="application/json",
        )

    def draft(self, unit: str, text: str, *edits: object, **more: object) -> dict[str, object]:
        """Return what the desk makes of a draft."""
        told = {"text": text, "base": text, "edits": edits, **more}
        answer = self.post(f"/unit/{unit}/draft", told)
        assert answer.status_code == 200, answer.text
        return dict(answer.get_json())


def open_for(root: Path) -> Asker:
    """Return what asks a desk of this workspace."""
    desk = open_desk(root, root / "public", 0)
    client = Client(desk.server.app)
    client.set_cookie(desk.guard.cookie_name, desk.guard.cookie, domain="127.0.0.1")
    return Asker(root, desk, client)


@pytest.fixture
def asker(workspace: Path) -> Iterator[Asker]:
    """Return what asks a desk of a copy of the small workspace."""
    asks = open_for(workspace)
    yield asks
    asks.desk.server.server_close()
