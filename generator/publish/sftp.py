"""Copy a published folder to another machine by SFTP, in the order that `send.py` tells.

A file is written under a name of its own and then renamed over the one that stands, many at a time:
a guide is hundreds of small files, and a host far away answers each only after a while.
"""

from __future__ import annotations

import asyncio
import hashlib
import posixpath
import re
import secrets
import socket
from collections.abc import Awaitable, Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import asyncssh

from generator.publish.send import (
    BEGUN,
    RefusedError,
    Sent,
    files_in,
    guides_in,
    turn_of,
)
from generator.publish.sent import Lay, SentBefore

_AT_ONCE = 32
"""How many files are under way; each holds a handle at the host, which may allow some hundreds."""

_PART = 1 << 20
"""Bytes that are read at once: a film is larger than what should be in memory."""

_PATIENCE_S = 20

Ask = Callable[[str], str]
"""Asks whoever sits there for a password, with the words given."""


@dataclass(frozen=True, slots=True)
class Address:
    """Where a site goes: `sftp://user@host:port/folder`."""

    host: str
    port: int | None
    user: str | None
    folder: str
    """Absolute, or from the folder in which the host lets the user in."""


@dataclass(slots=True)
class _Found:
    """What lies at the target, by path from its folder."""

    files: dict[str, Lay] = field(default_factory=dict)
    folders: set[str] = field(default_factory=lambda: {""})
    begun: list[str] = field(default_factory=list)
    """What a killed copy has left."""


def read_address(target: str) -> Address:
    """Return what an address of a site says.

    Raises:
        RefusedError: It is none, or holds a password.
    """
    right = "right: sftp://user@host:22/srv/guides, or sftp://host/~/guides below the home folder"
    try:
        parts = urlsplit(target)
        port = parts.port
    except ValueError:
        raise RefusedError(f"no port of a machine; {right}") from None
    if parts.password is not None:
        raise RefusedError(
            "no password stands in an address: others can read it; right: keys, or leave it out "
            "and be asked for it"
        )
    if not parts.hostname or not parts.path or parts.query or parts.fragment:
        raise RefusedError(f"no host and folder; {right}")
    folder = posixpath.normpath(unquote(parts.path)).replace("//", "/")
    if folder == "/~" or folder.startswith("/~/"):
        folder = folder[3:] or "."
    return Address(parts.hostname, port, unquote(parts.username or "") or None, folder)


def send_by_sftp(public: Path, target: str, before: SentBefore, ask: Ask | None) -> Sent:
    """Copy the published folder to another machine by SFTP.

    Killed at any moment, every page at the target leads to files that are there; sending again
    goes on from there.

    Args:
        public: The published folder.
        target: Such as `sftp://user@host/srv/guides`.
        before: What was sent to this target before.
        ask: Asks for a password where no key is taken; none where nobody sits there.

    Raises:
        RefusedError: The other side cannot be reached, is not who it was, or does not take it.
    """
    address = read_address(target)
    return asyncio.run(_send(public, address, before, ask))


async def _send(public: Path, address: Address, before: SentBefore, ask: Ask | None) -> Sent:
    connection = await _connect(address, ask)
    try:
        sftp = await _open(connection)
        return await _Target(sftp, address.folder, public, before).bring()
    except (asyncssh.ConnectionLost, asyncssh.SFTPConnectionLost, ConnectionError):
        raise RefusedError(
            "the connection was lost; right: publish again, it goes on from there"
        ) from None
    finally:
        connection.close()
        await connection.wait_closed()


async def _open(connection: asyncssh.SSHClientConnection) -> asyncssh.SFTPClient:
    try:
        return await connection.start_sftp_client()
    except (asyncssh.ChannelOpenError, asyncssh.SFTPError) as error:
        raise RefusedError(f"the host offers no SFTP ({_said(error)})") from None


async def _connect(address: Address, ask: Ask | None) -> asyncssh.SSHClientConnection:
    """Return a connection to a host whose key is known, let in by agent, key or password."""
    keys = _KnownKeys()
    options: dict[str, Any] = {"known_hosts": keys, "connect_timeout": _PATIENCE_S}
    if address.port is not None:
        options["port"] = address.port
    if address.user is not None:
        options["username"] = address.user
    if ask is not None:
        options["password"] = lambda: asyncio.to_thread(ask, f"Password for {address.host}")
    where = f"{address.host}" + (f" at port {address.port}" if address.port else "")
    try:
        return await asyncssh.connect(address.host, **options)
    except asyncssh.HostKeyNotVerifiable:
        raise RefusedError(keys.advice(address)) from None
    except asyncssh.PermissionDenied:
        tried = "no key of the agent or of ~/.ssh" + (", nor the password" if ask else "")
        right = "ssh-copy-id" + ("" if ask else ", or publish at a terminal, which asks")
        raise RefusedError(f"{where} takes {tried}, for that user; right: {right}") from None
    except socket.gaierror:
        raise RefusedError(f"there is no host '{address.host}'; right: its name") from None
    except (TimeoutError, asyncssh.ConnectionLost):
        raise RefusedError(f"{where} does not answer as an SSH server") from None
    except OSError as error:
        told = error.strerror or str(error)
        if isinstance(error, ConnectionRefusedError) or "Connect call failed" in told:
            told = "no SSH server answers there"
        raise RefusedError(f"{where}: {told}; right: the port of its SSH server") from None
    except (asyncssh.Error, asyncssh.ConfigParseError, asyncssh.KeyImportError) as error:
        raise RefusedError(f"{where}: {_said(error)}") from None


class _KnownKeys:
    """The keys in the user's and the machine's `known_hosts`; whatever settings say, no others."""

    def __init__(self) -> None:
        self._looked_up: tuple[str, int | None] | None = None
        self._known = False
        self._fault = ""

    def __call__(self, host: str, address: str, port: int | None) -> Sequence[Any]:
        """Return what is known of a host, as asyncssh wants it."""
        files = [Path.home() / ".ssh" / "known_hosts", Path("/etc/ssh/ssh_known_hosts")]
        self._looked_up = host, port
        try:
            there = [str(file) for file in files if file.is_file()]
            found = asyncssh.read_known_hosts(there).match(host, address, port) if there else ()
        except (ValueError, OSError) as error:
            self._fault = _said(error)
            found = ()
        self._known = any(found)
        return found or ((), (), ())

    def advice(self, address: Address) -> str:
        """Return what is wrong with the key that a host showed, and what to do."""
        host, port = self._looked_up or (address.host, address.port)
        if self._fault:
            return f"known_hosts cannot be read: {self._fault}"
        if self._known:
            return (
                f"the key of {host} is not the one in known_hosts, so this may be another machine "
                "in its place; right: ask who runs it before you send anything"
            )
        login = f"{address.user}@{address.host}" if address.user else address.host
        at = f"-p {port} " if port else ""
        return (
            f"the key of {host} is not known here; right: run 'ssh {at}{login}' once, compare "
            "the fingerprint with what the host's owner tells, and answer yes"
        )


class _Target:
    """The folder at the host while files are brought there."""

    def __init__(
        self, sftp: asyncssh.SFTPClient, folder: str, public: Path, before: SentBefore
    ) -> None:
        self._sftp = sftp
        self._folder = folder
        self._public = public
        self._before = before

    async def bring(self) -> Sent:
        """Make the target like the published folder."""
        guides = set(guides_in(self._public))
        names = list(files_in(self._public))
        await self._ready()
        found = await self._look({name.partition("/")[0] for name in names if "/" in name})
        ours = [path for path in found.begun if _top(path) in guides or "/" not in path]
        await _all(ours, self._remove)
        await self._make_folders(names, found)

        new = [name for name in names if name not in found.files]
        changed = [name for name in names if name in found.files and self._differs(name, found)]
        for some in (new, changed):
            for turn in sorted({turn_of(name) for name in some}):
                await _all([name for name in some if turn_of(name) == turn], self._put)

        wanted = set(names)
        old = [name for name in found.files if _top(name) in guides and name not in wanted]
        await _all(old, self._remove)
        needed = {folder for name in names for folder in _above(name)}
        for path in sorted(found.folders - needed, reverse=True):
            if _top(path) in guides:
                # Something of somebody else's may lie in it.
                with suppress(asyncssh.SFTPError):
                    await self._sftp.rmdir(self._at(path))
        return Sent(len(new), len(changed), len(old))

    def _at(self, name: str) -> str:
        return posixpath.join(self._folder, name) if name else self._folder

    def _differs(self, name: str, found: _Found) -> bool:
        return not self._before.holds(name, _digest(self._public / name), found.files[name])

    async def _ready(self) -> None:
        """Make the folder where it is missing, but none above it: that would be a slip."""
        try:
            if not await self._sftp.exists(self._folder):
                await self._sftp.mkdir(self._folder, asyncssh.SFTPAttrs(permissions=0o755))
            elif not await self._sftp.isdir(self._folder):
                raise RefusedError(f"{self._folder} is a file there; right: a folder")
        except (asyncssh.SFTPNoSuchFile, asyncssh.SFTPNoSuchPath):
            above = posixpath.dirname(self._folder) or "."
            raise RefusedError(
                f"there is no folder {above} there; right: one that is there, or a new one in it"
            ) from None
        except asyncssh.SFTPError as error:
            raise await self._refusal(error, self._folder) from None

    async def _look(self, tops: set[str]) -> _Found:
        """Return what lies in the folder itself, and in those of its folders that we have, too."""
        found = _Found()
        waiting = [""]

        async def look(path: str) -> None:
            try:
                entries = await self._sftp.readdir(self._at(path))
            except asyncssh.SFTPError as error:
                raise await self._refusal(error, self._at(path)) from None
            for entry in entries:
                name = str(entry.filename)
                inner = f"{path}/{name}" if path else name
                if entry.attrs.type == asyncssh.FILEXFER_TYPE_DIRECTORY:
                    if name not in (".", "..") and (path or name in tops):
                        deeper.append(inner)
                elif BEGUN.fullmatch(name):
                    found.begun.append(inner)
                elif not name.startswith("."):
                    found.files[inner] = _lay(entry.attrs)

        while waiting:
            deeper: list[str] = []
            await _all(waiting, look)
            found.folders.update(deeper)
            waiting = deeper
        return found

    async def _make_folders(self, names: Iterable[str], found: _Found) -> None:
        needed = {folder for name in names for folder in _above(name)}
        missing = sorted(needed - found.folders)

        async def make(folder: str) -> None:
            try:
                await self._sftp.mkdir(self._at(folder), asyncssh.SFTPAttrs(permissions=0o755))
            except asyncssh.SFTPError as error:
                raise await self._refusal(error, self._at(folder)) from None

        for depth in sorted({folder.count("/") for folder in missing}):
            await _all([folder for folder in missing if folder.count("/") == depth], make)

    async def _put(self, name: str) -> None:
        """Send a file so that it is never seen half-written."""
        to = self._at(name)
        folder, file = posixpath.split(to)
        begun = posixpath.join(folder, f".{file}.{secrets.token_hex(4)}")
        self._before.forget(name)
        try:
            attrs = asyncssh.SFTPAttrs(permissions=0o644)
            digest = hashlib.sha256()
            async with self._sftp.open(begun, "wb", attrs) as remote:
                with (self._public / name).open("rb") as local:
                    while part := local.read(_PART):
                        digest.update(part)
                        await remote.write(part)
                lay = _lay(await remote.stat())
            await self._rename(begun, to)
        except asyncssh.SFTPError as error:
            refusal = await self._refusal(error, to)
            with suppress(asyncssh.SFTPError):
                await self._sftp.remove(begun)
            raise refusal from None
        self._before.note(name, digest.hexdigest(), lay)

    async def _rename(self, begun: str, to: str) -> None:
        """Put a file over another in one step; where the host has none, there is a gap."""
        try:
            await self._sftp.posix_rename(begun, to)
        except asyncssh.SFTPOpUnsupported:
            with suppress(asyncssh.SFTPNoSuchFile):
                await self._sftp.remove(to)
            await self._sftp.rename(begun, to)

    async def _remove(self, name: str) -> None:
        self._before.forget(name)
        try:
            await self._sftp.remove(self._at(name))
        except asyncssh.SFTPNoSuchFile:
            pass  # somebody else publishes there, too
        except asyncssh.SFTPError as error:
            raise await self._refusal(error, self._at(name)) from None

    async def _refusal(self, error: asyncssh.SFTPError, path: str) -> Exception:
        """Return what the host's answer means; a full disk is for most just a failure."""
        if isinstance(error, (asyncssh.SFTPConnectionLost, asyncssh.SFTPNoConnection)):
            return error
        if isinstance(error, asyncssh.SFTPPermissionDenied):
            return RefusedError(f"no permission for {path} there")
        full = isinstance(error, (asyncssh.SFTPNoSpaceOnFilesystem, asyncssh.SFTPQuotaExceeded))
        with suppress(asyncssh.SFTPError):
            room = await self._sftp.statvfs(self._folder)
            full = full or room.bavail == 0 or (room.files > 0 and room.favail == 0)
        if full:
            return RefusedError("its disk is full; what was there stays")
        return RefusedError(f"{path} there: {_said(error)}")


async def _all(items: Iterable[str], do: Callable[[str], Awaitable[None]]) -> None:
    """Do something with all, many at a time; the first that fails ends the others."""
    todo = iter(items)

    async def work() -> None:
        for item in todo:
            await do(item)

    try:
        async with asyncio.TaskGroup() as group:
            for _ in range(_AT_ONCE):
                group.create_task(work())
    except ExceptionGroup as several:
        told = [one for one in several.exceptions if isinstance(one, RefusedError)]
        raise (told or several.exceptions)[0] from None


def _lay(attrs: asyncssh.SFTPAttrs) -> Lay:
    return Lay(attrs.size or 0, int(attrs.mtime or 0))


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _top(name: str) -> str:
    return name.partition("/")[0]


def _above(name: str) -> list[str]:
    """Return the folders that a file lies in."""
    parts = name.split("/")[:-1]
    return ["/".join(parts[:count]) for count in range(1, len(parts) + 1)]


def _said(error: Exception) -> str:
    """Return what an error says, in one line without what could steer a terminal."""
    text = getattr(error, "reason", "") or str(error) or type(error).__name__
    return " ".join(re.sub(r"[^\x20-\x7e\xa0-\uffff]+", " ", str(text)).split())
