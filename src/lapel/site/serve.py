"""Serving people: the records brought up to date, one server a database, a production server in plain Python."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import ssl
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

if TYPE_CHECKING:
    from lapel.site.tls_front import TlsFront

THREADS = 8
"""Requests worked at once; measured best for one process on SQLite."""


LIMITS = {"max_request_body_size": 64 * 1024 * 1024, "max_request_header_size": 64 * 1024, "channel_timeout": 60}
"""What a sender may ask of the server before any page is asked: bytes of body and head, seconds of silence."""


class CannotServe(RuntimeError):  # noqa: N818 - said to a person, who reads it as a sentence
    """The server cannot start as things are; the message says why and what to do."""


ADDRESS_FILE = "server.address"
"""In the folder of a running server: where it answers."""


@contextlib.contextmanager
def only_server(home: Path, address: str = "") -> Iterator[None]:
    """
    Hold the folder of a server, so that no second one works on the same SQLite file.

    Parameters
    ----------
    home : Path
        The folder.
    address : str
        Where this server answers, for whoever finds the folder held; empty for work that answers nowhere.

    Raises
    ------
    CannotServe
        Another server holds it.
    """
    home.mkdir(parents=True, exist_ok=True)
    with (home / "server.lock").open("a+b") as file:
        if not _locked(file):
            raise CannotServe(
                f"Another Lapel server works in {home}{_where_it_answers(home)}. Stop it first, or give this one a "
                "LAPEL_HOME of its own."
            )
        note = home / ADDRESS_FILE
        if address:
            note.write_text(address, encoding="utf-8")
        else:
            note.unlink(missing_ok=True)
        try:
            yield
        finally:
            note.unlink(missing_ok=True)


def _where_it_answers(home: Path) -> str:
    """Where the server that holds a folder answers, as it wrote itself; empty where it did not."""
    try:
        address = (home / ADDRESS_FILE).read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError):
        return ""
    return f" and answers at {address}" if address else ""


def _locked(file: IO[bytes]) -> bool:
    """Try to lock a file until it is closed."""
    try:
        if os.name == "nt":  # pragma: no cover - no Windows here
            import msvcrt

            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        else:
            import fcntl

            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def check_disk(home: Path) -> None:
    """
    See that SQLite's write-ahead log works where the records are.

    Raises
    ------
    CannotServe
        It does not: a network share, or a folder another program keeps in step.
    """
    home.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=home) as folder:
        connection = sqlite3.connect(Path(folder) / "try.sqlite3")
        try:
            (mode,) = connection.execute("PRAGMA journal_mode=WAL").fetchone()
            connection.execute("CREATE TABLE tried (x)")
            connection.commit()
        except sqlite3.Error as problem:
            raise CannotServe(f"SQLite cannot work in {home} ({problem}). Use a local disk.") from problem
        finally:
            connection.close()
    if mode != "wal":
        raise CannotServe(
            f"SQLite's write-ahead log does not work in {home}: probably a network share or a synced folder. "
            "Use a local disk, or PostgreSQL."
        )


def bring_up_to_date(home: Path) -> str:
    """
    Make or update the records and the pages' files; a copy is kept before existing records are changed.

    Returns
    -------
    str
        What was done, in words; empty when nothing had to be.

    Raises
    ------
    CannotServe
        No backup could be made before an update, or the log is not guarded.
    """
    from django.core.management import call_command
    from django.db import connection
    from django.db.migrations.executor import MigrationExecutor

    from lapel.records.append_only import missing_guards

    said = []
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        if executor.loader.applied_migrations:
            said.append(f"A copy of the records before the update: {_copy_before_update(home)}.")
        call_command("migrate", verbosity=0, interactive=False)
    if missing := missing_guards():
        raise CannotServe(
            f"The log could be changed: its guards are missing or altered ({', '.join(missing)}). Restore a backup, or "
            "find out who took them away; `lapel log verify` shows what was changed."
        )
    call_command("clearsessions")
    call_command("collectstatic", verbosity=0, interactive=False, clear=False)
    return " ".join(said)


def cautions(home: Path) -> list[str]:
    """
    Say what does not stop the server but should be put right: keys open to others, secrets no key opens.

    Parameters
    ----------
    home : Path
        The folder of the server.
    """
    from lapel.records.sealed import KEY_FILE, unreadable_accounts
    from lapel.site.home import open_to_others

    said = []
    if open_files := open_to_others(home):
        names = ", ".join(path.relative_to(home).as_posix() for path in open_files)
        said.append(
            f"Other accounts of this machine can read {names}. Keep the folder to the server's own account: "
            f"chmod 700 {home}"
        )
    if names := ", ".join(unreadable_accounts()):
        said.append(
            f"The key in {home / KEY_FILE} does not open the second factor of: {names}. Their codes are refused. Put "
            "the key back that belongs to these records (it is in their backup), or end their second factor."
        )
    return said


def _copy_before_update(home: Path) -> str:
    """Make a backup beside the records; without one they are not touched."""
    from django.utils import timezone

    from lapel.site.backup import BackupProblem, make_backup

    target = home / f"before-update-{timezone.now():%Y%m%d-%H%M%S-%f}.zip"
    try:
        make_backup(target)
    except BackupProblem as problem:
        raise CannotServe(f"The records need an update, and no backup could be made first. {problem}") from problem
    return str(target)


def serve(host: str, port: int, https: ssl.SSLContext | None = None) -> None:
    """
    Answer requests until stopped.

    Parameters
    ----------
    host, port : str and int
        Where to answer.
    https : ssl.SSLContext, optional
        With the server's certificate: then HTTPS is spoken there, and plain HTTP on this machine only.

    Raises
    ------
    CannotServe
        The address cannot be had.
    """
    from lapel.site.wsgi import application

    try:
        if https is None:
            server, front = _server(application, host=host, port=port), None
        else:
            server, front = _behind_https(application, host, port, https)
    except OSError as problem:
        raise CannotServe(
            f"Cannot answer at {host}:{port} ({problem.strerror or problem}). Is another server there? Try --port."
        ) from problem
    with contextlib.suppress(KeyboardInterrupt):
        server.run()
    if front is not None:
        front.close()
    server.close()


def _server(application: Any, **more: Any) -> Any:
    import waitress

    return waitress.create_server(application, threads=THREADS, ident="Lapel", **more, **LIMITS)


def _behind_https(application: Any, host: str, port: int, https: ssl.SSLContext) -> tuple[Any, TlsFront]:
    from lapel.site.tls_front import TlsFront

    fronts: list[TlsFront] = []

    def told(environ: dict[str, Any], start_response: Any) -> Any:
        return fronts[0].telling_whose(application)(environ, start_response)

    server = _server(told, host="127.0.0.1", port=0, url_scheme="https")
    fronts.append(TlsFront(host, port, https, server.effective_port))
    try:
        fronts[0].open()
    except OSError:
        server.close()
        raise
    return server, fronts[0]
