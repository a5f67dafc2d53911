"""The desk page's addresses: what is shown at each, and what each takes."""

from __future__ import annotations

import hashlib
import json
import logging
import os
import socket
import threading
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from mimetypes import guess_type
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlencode

from flask import Flask, Response, abort, make_response, redirect, request
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from werkzeug.exceptions import HTTPException
from werkzeug.serving import BaseWSGIServer, WSGIRequestHandler, make_server
from werkzeug.wrappers.response import Response as AnyResponse

from generator.preview import drafts
from generator.preview.form import lines_of, make_form, mask
from generator.preview.guard import GUIDE_POLICY, HEADERS, POLICY, Guard
from generator.preview.live import PAPERS, LiveGuides, NoSuchUnitError
from generator.preview.watch import Watcher
from generator.problems import Problem, ProblemsFound, RefusedError
from generator.read.layers import layers_of, model_names
from generator.read.units import unit_names

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIEnvironment

_LARGEST_REQUEST_BYTES = 4 * drafts.LARGEST_DRAFT_BYTES
"""A request to keep a draft tells it twice, before and after, and JSON may write a sign as six."""

_HOST = "127.0.0.1"
_FILES = ("desk.css", "fleet.js", "form.js", "live.js")
_LEADS = Markup('<script src="/desk/live.js" data-unit="{}" data-stamp="{}" defer></script>')


@dataclass(frozen=True, slots=True)
class Desk:
    """A server that is ready to be asked."""

    guard: Guard
    server: BaseWSGIServer
    watcher: Watcher

    def address(self, path: str = "/") -> str:
        """Return the address to open, with its secret."""
        return f"http://127.0.0.1:{self.guard.port}{path}?token={self.guard.token}"

    def serve(self) -> None:
        """Answer until `end` is called, or the terminal says to stop."""
        self.watcher.start()
        self.server.serve_forever()

    def end(self) -> None:
        """Stop answering."""
        self.server.shutdown()
        self.server.server_close()
        self.watcher.end()


class _Quiet(WSGIRequestHandler):
    """Says nothing of each request; answers do not tell what made them."""

    def log(self, type: str, message: str, *args: Any) -> None:  # noqa: A002 - its own name
        """Say nothing."""

    def version_string(self) -> str:
        """Return no more than this."""
        return "lockerleaf"


def open_desk(root: Path, out: Path, port: int) -> Desk:
    """Return a server on the loopback address that shows a workspace.

    Args:
        root: The workspace.
        out: The published folder.
        port: The port; 0 for one that is free.

    Raises:
        OSError: the port is taken, or may not be had.
    """
    watcher = Watcher(root, out)
    app = Flask("lockerleaf", static_folder=None, template_folder=None)

    def answer(environ: WSGIEnvironment, start: StartResponse) -> Iterable[bytes]:
        with watcher.answering():
            return app(environ, start)

    with socket.socket() as listening:  # the library itself would end the program where it may not
        if os.name == "posix":
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((_HOST, port))
        listening.listen()
        server = make_server(
            _HOST, port, answer, threaded=True, request_handler=_Quiet, fd=listening.fileno()
        )
    guard = Guard(server.port)
    _Routes(app, root, guard, watcher).add()
    return Desk(guard, server, watcher)


class _Routes:
    """What is answered at each address."""

    def __init__(self, app: Flask, root: Path, guard: Guard, watcher: Watcher) -> None:
        self.app = app
        self.root = root
        self.guard = guard
        self.watcher = watcher
        self.live = LiveGuides(watcher)
        self.proving = threading.Lock()
        layers = layers_of(root)
        self.files = {name: layers.find(f"site_assets/desk/{name}").read_bytes() for name in _FILES}
        mark = layers.find("site_assets/brand/mark.svg").read_text("utf-8")
        self.files["mark.svg"] = mark.replace("currentColor", "#0b4f54").encode()
        self.pages = Environment(
            loader=FileSystemLoader([layer / "site_assets" / "desk" for layer in layers.roots]),
            undefined=StrictUndefined,
            autoescape=True,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self.pages.globals |= {
            "mark": Markup(mark),  # noqa: S704 - our own drawing
            "form_token": guard.form,
            "version": hashlib.sha256(b"".join(self.files.values())).hexdigest()[:8],
        }
        app.config["MAX_CONTENT_LENGTH"] = _LARGEST_REQUEST_BYTES

    def add(self) -> None:
        app = self.app
        app.url_map.merge_slashes = False
        app.before_request(self._admit)
        app.after_request(self._with_headers)
        app.register_error_handler(HTTPException, self._tell_status)
        app.register_error_handler(ProblemsFound, self._tell_problems)
        app.register_error_handler(RefusedError, self._tell_refusal)
        app.register_error_handler(NoSuchUnitError, lambda _: self._told(404, "No such unit."))
        app.register_error_handler(OSError, self._tell_machine)
        app.register_error_handler(Exception, self._tell_ours)
        for rule, view, methods in (
            ("/", self.fleet, ["GET"]),
            ("/fleet", self.fleet_part, ["GET"]),
            ("/state", self.state, ["GET"]),
            ("/desk/<name>", self.file, ["GET"]),
            ("/guide/<unit>/", self.guide, ["GET"]),
            ("/guide/<unit>/<path:path>", self.guide, ["GET"]),
            ("/paper/<unit>/<name>.pdf", self.paper, ["GET"]),
            ("/unit/new", self.new, ["GET"]),
            ("/unit/<unit>", self.unit, ["GET"]),
            ("/unit/<unit>/draft", self.draft, ["POST"]),
            ("/unit/<unit>/save", self.save, ["POST"]),
        ):
            app.add_url_rule(rule, rule, view, methods=methods)

    # Who may ask, and how answers are sent.

    def _admit(self) -> AnyResponse | None:
        token = request.args.get("token", "")
        refusal = self.guard.refusal(
            request.method, dict(request.headers), request.cookies, token, request.path
        )
        if refusal:
            return self._told(403, refusal)
        if not token:
            return None
        others = urlencode({k: v for k, v in request.args.items() if k != "token"})
        path = quote(f"/{request.path.lstrip('/')}")  # two strokes would name another host
        answer = redirect(f"{path}?{others}" if others else path)
        if self.guard.knows_token(token):
            answer.set_cookie(
                self.guard.cookie_name, self.guard.cookie, httponly=True, samesite="Strict"
            )
        return answer

    def _with_headers(self, answer: Response) -> Response:
        for name, value in HEADERS.items():
            answer.headers[name] = value
        answer.headers.setdefault("Content-Security-Policy", POLICY)
        return answer

    def _told(self, status: int, words: str) -> Response:
        if request.method == "POST":
            return self._json({"refused": words}, status)
        page = self._page("told.html", status=status, words=words, form_token="")
        page.status_code = status
        return page

    def _tell_status(self, error: HTTPException) -> AnyResponse:
        words = {
            404: "There is nothing here.",
            413: f"A description has at most {drafts.LARGEST_DRAFT_BYTES:,} bytes.",
        }
        return self._told(error.code or 500, words.get(error.code or 0, error.name))

    def _tell_problems(self, found: ProblemsFound) -> Response:
        if request.method == "POST":
            return self._json({"refused": str(found.problems[0])}, 422)
        if Path(request.path).suffix not in ("", ".html", ".pdf"):
            # A script or picture of a page that was shown before the mistake: nobody reads it.
            nothing = make_response("", 422)
            nothing.mimetype = guess_type(request.path)[0] or "application/octet-stream"
            return nothing
        unit = (request.view_args or {}).get("unit", "")
        page = self._page(
            "problems.html",
            unit=unit,
            problems=found.problems,
            stamp=self.watcher.look().digest,
        )
        page.status_code = 422
        return page

    def _tell_refusal(self, error: RefusedError) -> Response:
        return self._told(422, str(error))

    def _tell_machine(self, error: OSError) -> Response:
        return self._told(500, f"{error.strerror or 'This machine refuses'}; nothing written")

    def _tell_ours(self, _: Exception) -> Response:
        logging.getLogger("lockerleaf").exception("%s %s", request.method, request.path)
        return self._told(500, "A mistake of Lockerleaf's own. The terminal tells it.")

    def _page(self, template: str, **values: Any) -> Response:
        return make_response(self.pages.get_template(template).render(**values))

    def _json(self, told: object, status: int = 200) -> Response:
        answer = make_response(json.dumps(told, ensure_ascii=False), status)
        answer.mimetype = "application/json"
        return answer

    # The fleet.

    def fleet(self) -> Response:
        return self._page("fleet.html", **self._overview())

    def fleet_part(self) -> Response:
        return self._page("fleet_part.html", **self._overview())

    def _overview(self) -> dict[str, Any]:
        stamp = self.watcher.stamp
        overview, known = self.watcher.overview(), self.watcher.look()
        dealer = known.sources.stock.dealer.title if known.sources else ""
        by_unit: dict[str, int] = {}
        for problem in overview.problems:
            by_unit[problem.at.path] = by_unit.get(problem.at.path, 0) + 1
        return {
            "stamp": stamp,
            "dealer": dealer,
            "overview": overview,
            "wrong_in": by_unit,
            "readable": known.sources is not None,
        }

    def state(self) -> Response:
        file = request.args.get("file", "")
        if file:
            loaded = drafts.load(self.root, file)
            return self._json({"stamp": loaded.digest if loaded else ""})
        unit = request.args.get("unit", "")
        if unit:
            try:
                return self._json({"stamp": self.live.stamp(unit)})
            except NoSuchUnitError:
                return self._json({"stamp": self.watcher.look().digest})
        return self._json({"stamp": self.watcher.stamp})

    def file(self, name: str) -> Response:
        if name not in self.files:
            abort(404)
        answer = make_response(self.files[name])
        answer.mimetype = guess_type(name)[0] or "application/octet-stream"
        return answer

    # A unit's guide and papers.

    def guide(self, unit: str, path: str = "") -> AnyResponse:
        if not path:
            return redirect(f"/guide/{unit}/index.html")
        live = self.live.guide(unit)
        name = f"{path}index.html" if path.endswith("/") else path
        if name not in live.files:
            abort(404)
        content = live.files[name]
        if name.endswith(".html"):
            leads = _LEADS.format(unit, live.source)
            content = content.replace(b"</body>", f"{leads}\n</body>".encode())
        answer = make_response(content)
        answer.mimetype = guess_type(name)[0] or "application/octet-stream"
        answer.headers["Content-Security-Policy"] = GUIDE_POLICY
        return answer

    def paper(self, unit: str, name: str) -> Response:
        if name not in PAPERS:
            abort(404)
        answer = make_response(self.live.paper(unit, name))
        answer.mimetype = "application/pdf"
        answer.headers["Content-Disposition"] = f'inline; filename="{unit}-{name}.pdf"'
        # A browser's own reader of PDFs needs styles of its own.
        answer.headers["Content-Security-Policy"] = "frame-ancestors 'none'"
        return answer

    # The form.

    def new(self) -> Response:
        models = sorted(model_names(self.root))
        return self._page("new.html", models=models, units=sorted(unit_names(self.root)))

    def unit(self, unit: str) -> Response:
        like = request.args.get("like", "")
        loaded = drafts.load(self.root, unit)
        if loaded is not None and like:
            raise RefusedError(f"there is a unit '{unit}' already", "another name")
        if loaded is None:
            if not like:
                raise NoSuchUnitError(unit)
            loaded = drafts.begin(self.root, unit, like)
        values = self._parts(unit, loaded.text, loaded.text if loaded.digest else "")
        return self._page("unit.html", loaded=loaded, new=not loaded.digest, **values)

    def draft(self, unit: str) -> Response:
        asked = self._asked()
        text, base = _text(asked, "text"), _text(asked, "base")
        edits = asked.get("edits", [])
        if not isinstance(edits, list) or not all(isinstance(one, dict) for one in edits):
            abort(400)
        drafts.unit_file(self.root, unit)
        text = drafts.edit(unit, text, edits)
        values = self._parts(
            unit, text, base, shown=asked.get("shown") is True, proof=asked.get("proof") is True
        )
        parts = {
            name: self.pages.get_template(f"{name}_part.html").render(**values)
            for name in ("form", "text", "told")
        }
        form = values["form"]
        return self._json(
            {
                "text": text,
                "parts": parts if form else {k: v for k, v in parts.items() if k != "form"},
                "wrong": len(values["problems"]),
                "places": _positions(form),
            }
        )

    def save(self, unit: str) -> Response:
        asked = self._asked()
        text, base, digest = (_text(asked, key) for key in ("text", "base", "digest"))
        sources = self._sources()
        drafts.unit_file(self.root, unit)
        judged = drafts.judge(sources, unit, text)
        if judged.problems:
            raise ProblemsFound(judged.problems)
        try:
            kept = drafts.keep(self.root, unit, text, digest)
        except drafts.ConflictError as conflict:
            theirs = conflict.theirs
            part = self.pages.get_template("conflict_part.html").render(
                unit=unit,
                who=conflict.who,
                lines=drafts.difference(
                    base, theirs.text, str if asked.get("shown") is True else mask
                ),
                joined=drafts.join(base, text, theirs.text) is not None,
            )
            told = {
                "conflict": part,
                "theirs": asdict(theirs),
                "joined": drafts.join(base, text, theirs.text),
            }
            return self._json(told, 409)
        return self._json({"digest": kept.digest, "text": kept.text})

    def _asked(self) -> dict[str, Any]:
        asked = request.get_json(silent=True)
        if not isinstance(asked, dict):
            abort(400)
        return asked

    def _sources(self) -> Any:
        known = self.watcher.look()
        if known.sources is None:
            raise ProblemsFound(known.problems)
        return known.sources

    def _parts(
        self, unit: str, text: str, base: str, *, shown: bool = False, proof: bool = False
    ) -> dict[str, Any]:
        """Return what the form's parts are made from; with `proof`, its guide is looked at, too."""
        if len(text.encode()) > drafts.LARGEST_DRAFT_BYTES:
            abort(413)
        sources = self._sources()
        if proof:
            with self.proving:  # one at a time is as fast
                judged = drafts.judge(sources, unit, text, self.watcher.memory)
        else:
            judged = drafts.judge(sources, unit, text)
        problems: tuple[Problem, ...] = (*judged.problems, *judged.proof)
        form = make_form(sources, unit, text, judged.problems)
        return {
            "unit": unit,
            "form": form,
            "positions": _positions(form),
            "problems": problems,
            "blocked": bool(judged.problems),
            "proven": proof,
            "remarks": judged.remarks,
            "lines": lines_of(text, base, problems, shown=shown),
            "shown": shown,
        }


def _positions(form: Any) -> dict[str, Any]:
    rows = form.places if form else ()
    return {row.name: {"title": row.title, **row.position} for row in rows if not row.left_out}


def _text(asked: dict[str, Any], key: str) -> str:
    value = asked.get(key, "")
    if not isinstance(value, str):
        abort(400)
    if len(value.encode("utf-8", "surrogatepass")) > drafts.LARGEST_DRAFT_BYTES:
        abort(413)
    try:
        value.encode()
    except UnicodeEncodeError:
        abort(400)
    return value
