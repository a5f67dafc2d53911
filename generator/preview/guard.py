"""Who may ask the desk page what: this machine's own browser, by an address that holds a secret.

The server stands on the loopback address, which every program and every page in a browser of this
machine can reach. So a request needs a secret from the address that the command printed (once, then
a cookie that no other site can send), the name that the server was started under (a foreign name
that was made to lead here has another), and to write also an origin and a second secret from
the page itself.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
GUIDE_POLICY = "frame-ancestors 'none'; object-src 'none'"
"""A guide's page has a strict policy of its own, which allows the script that this server adds."""

HEADERS = {
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}


@dataclass(frozen=True, slots=True)
class Guard:
    """The secrets of one run, and the names under which it may be asked."""

    port: int
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    """Stands in the printed address."""
    cookie: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    form: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    """Stands in our pages; whoever writes must tell it."""

    @property
    def cookie_name(self) -> str:
        """Return the cookie's name: a browser does not tell apart cookies of several ports."""
        return f"lockerleaf-{self.port}"

    @property
    def hosts(self) -> tuple[str, ...]:
        """Return the names, with port, under which this server may be asked."""
        return (f"127.0.0.1:{self.port}", f"localhost:{self.port}")

    def knows_token(self, told: str) -> bool:
        """Return whether a request's address holds the secret."""
        return _same(told, self.token)

    def refusal(
        self,
        method: str,
        headers: Mapping[str, str],
        cookies: Mapping[str, str],
        token: str,
        path: str,
    ) -> str:
        """Return why a request is refused; nothing where it may pass.

        Args:
            method: Such as GET.
            headers: The request's.
            cookies: The request's.
            token: What its address holds.
            path: What it asks for.
        """
        host = headers.get("Host", "")
        if host not in self.hosts:
            return "This server answers under its own name only."
        if headers.get("Sec-Fetch-Site", "none") not in ("none", "same-origin"):
            return "Another site asked for this page."
        if method in ("GET", "HEAD") and path.startswith("/desk/"):
            return ""  # styles and scripts, which hold nothing of the workspace
        known = _same(cookies.get(self.cookie_name, ""), self.cookie)
        if method in ("GET", "HEAD"):
            return "" if known or self.knows_token(token) else "Open the address that was printed."
        if method != "POST" or not known:
            return "Open the address that was printed."
        if headers.get("Origin", "") != f"http://{host}":
            return "Another site sent this."
        if not _same(headers.get("X-Desk-Form", ""), self.form):
            return "This page is of an earlier run. Load it again."
        return ""


def _same(told: str, known: str) -> bool:
    return hmac.compare_digest(told.encode("utf-8", "replace"), known.encode())
