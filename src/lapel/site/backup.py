"""
A backup while people work, and its restoration, proven.

A backup is one zip file: the records (an SQLite file, or a dump by PostgreSQL's own pg_dump), the uploads, the office's
signing key and the key of the second factors where there are such, and a page about them with their SHA-256 and the
state of the log. The server's secret key is not in it: it only keeps people signed in.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import shutil
import sqlite3
import subprocess
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import DatabaseError, connection, connections, transaction
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from lapel import __version__
from lapel.exchange.dossier import OFFICE_KEY, fingerprint_of_key, put_key
from lapel.records.models import Delivery, LogEntry
from lapel.records.sealed import KEY_FILE as FACTOR_KEY
from lapel.records.sealed import forget_key
from lapel.records.verify import LogProof, verify_log

ABOUT = "about.json"
RECORDS = {"sqlite": "records.sqlite3", "postgresql": "records.pgdump"}
UPLOADS = "uploads/"
_CHUNK = 1 << 20


class BackupProblem(RuntimeError):  # noqa: N818 - said to a person, who reads it as a sentence
    """A backup cannot be made or restored; the message says why, what to do, and what became of the records."""


@dataclass(frozen=True, slots=True)
class LogState:
    """How far the log was: the hash of its last delivery proves that it is this log and no shorter one."""

    entries: int
    deliveries: int
    last_hash: str


@dataclass(frozen=True, slots=True)
class Restored:
    """
    What a restoration put in place.

    Attributes
    ----------
    state : LogState
        The log as the backup says it was.
    proof : LogProof
        What was proven of it where it is now.
    records, key : str
        In words: where the records that were there before have been put, and what became of the keys.
    """

    state: LogState
    proof: LogProof
    records: str
    key: str


def make_backup(target: Path) -> tuple[LogState, str]:
    """
    Write a backup of this server's records, uploads and signing key; people may go on working.

    Parameters
    ----------
    target : Path
        The file to write. It appears only when it is whole, readable by its owner only.

    Returns
    -------
    LogState, str
        How far the log in it is, and in words whether the office's signing key is in it.

    Raises
    ------
    BackupProblem
        The file is there already, or something could not be read or written. No file is left behind.
    """
    if target.exists():
        raise BackupProblem(f"{target} is there already. Give the backup a name of its own; nothing was written.")
    if not target.parent.is_dir():
        raise BackupProblem(f"There is no folder {target.parent}. Make it first; nothing was written.")
    part = target.with_name(target.name + ".part")
    try:
        with tempfile.TemporaryDirectory(dir=target.parent, prefix="lapel-backup-") as folder:
            records = Path(folder) / RECORDS[connection.vendor]
            state = _copy_sqlite(records) if connection.vendor == "sqlite" else _dump_postgresql(records)
            key = _office_key()
            _write(part, records, state)
        part.replace(target)
    except (OSError, sqlite3.Error, DatabaseError) as problem:
        raise BackupProblem(f"The backup could not be written: {problem}. No file was left behind.") from problem
    finally:
        part.unlink(missing_ok=True)
    if key is None:
        return state, "It holds no signing key: this office has signed no dossier yet."
    return state, f"It holds the office's signing key {_named(key)}: who has this file can seal dossiers in its name."


def restore_backup(source: Path) -> Restored:
    """
    Put a backup in place of the records of this server, which must not be running, and prove its log.

    Another key that was here is kept beside, under a name of its own.

    Raises
    ------
    BackupProblem
        The file is no whole backup, or is for the other kind of database, or a PostgreSQL database is not empty.
        The records are as they were.
    """
    with tempfile.TemporaryDirectory(dir=settings.HOME, prefix="restore-") as folder:
        about = _unpacked(source, Path(folder))
        records = Path(folder) / RECORDS[connection.vendor]
        if not records.exists():
            wanted = "PostgreSQL (LAPEL_DATABASE)" if connection.vendor == "sqlite" else "SQLite (no LAPEL_DATABASE)"
            raise BackupProblem(f"{source.name} is a backup of a server on {wanted}. Nothing was changed.")
        aside = _put_sqlite(records) if connection.vendor == "sqlite" else _load_postgresql(records)
        _put_uploads(Path(folder) / UPLOADS)
        key = _put_key(Path(folder) / OFFICE_KEY) + _put_factor_key(Path(folder) / FACTOR_KEY)
    older = _are_older()
    if older:
        aside += (
            f" The backup was made by an earlier version ({about.get('made_by', 'unknown')}): the next start of the "
            "server brings the records up to date, with guards on what that version did not have."
        )
    return Restored(LogState(**about["log"]), verify_log(guards=not older), aside, key)


def postgresql_program(name: str) -> str:
    """
    Return the path of one of PostgreSQL's programs, from PATH or where Debian puts them, the newest first.

    Raises
    ------
    BackupProblem
        There is none.
    """
    if found := shutil.which(name):
        return found
    places = Path("/usr/lib/postgresql").glob(f"*/bin/{name}")
    for place in sorted(places, key=lambda path: int(re.sub(r"\D", "", path.parts[-3]) or 0), reverse=True):
        return str(place)
    raise BackupProblem(
        f"PostgreSQL's program {name} was not found. Install PostgreSQL's client programs on this machine; "
        "nothing was changed."
    )


def _copy_sqlite(target: Path) -> LogState:
    """Copy by SQLite's own backup: in write-ahead mode it reads one state and keeps no writer waiting."""
    database = connection.settings_dict["NAME"]
    with contextlib.closing(sqlite3.connect(database)) as source, contextlib.closing(sqlite3.connect(target)) as copy:
        source.backup(copy)
        (answer,) = copy.execute("PRAGMA integrity_check(1)").fetchone()
        if answer != "ok":
            raise BackupProblem(f"The copy is damaged ({answer}): look after the disk. No file was left behind.")
        copy.execute("PRAGMA journal_mode=DELETE")
        entries = copy.execute("SELECT COUNT(*) FROM records_logentry").fetchone()[0]
        deliveries = copy.execute("SELECT COUNT(*) FROM records_delivery").fetchone()[0]
        last = copy.execute("SELECT hash FROM records_delivery ORDER BY id DESC LIMIT 1").fetchone()
    return LogState(entries, deliveries, last[0] if last else "")


def _dump_postgresql(target: Path) -> LogState:
    """Dump the state that one transaction sees, and count in the same state."""
    program = postgresql_program("pg_dump")
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        cursor.execute("SELECT pg_export_snapshot()")
        (snapshot,) = cursor.fetchone()
        last = Delivery.objects.order_by("-pk").values_list("hash", flat=True).first()
        state = LogState(LogEntry.objects.count(), Delivery.objects.count(), last or "")
        with _postgresql() as (options, environment):
            command = [program, *options, "--format=custom", "--no-owner", "--no-privileges", f"--snapshot={snapshot}"]
            _run([*command, f"--file={target}"], environment, "No file was left behind.")
    return state


def _office_key() -> bytes | None:
    path = Path(settings.HOME) / OFFICE_KEY
    return path.read_bytes() if path.exists() else None


def _named(key: bytes) -> str:
    """Fingerprint of a key, or that it is none."""
    try:
        return fingerprint_of_key(key)
    except ValueError as problem:
        return f"(which cannot be used: {problem})"


def _write(part: Path, records: Path, state: LogState) -> None:
    uploads = Path(settings.MEDIA_ROOT)
    files = {records.name: records}
    files |= {name: path for name in (OFFICE_KEY, FACTOR_KEY) if (path := Path(settings.HOME) / name).exists()}
    if uploads.is_dir():
        files |= {UPLOADS + path.relative_to(uploads).as_posix(): path for path in _files(uploads)}
    about = {
        "made_by": f"Lapel {__version__}",
        "made_at": timezone.now().isoformat(timespec="seconds"),
        "log": {"entries": state.entries, "deliveries": state.deliveries, "last_hash": state.last_hash},
        "sha256": {name: _sha256(path) for name, path in files.items()},
    }
    part.touch(mode=0o600)
    with zipfile.ZipFile(part, "w", compression=zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(ABOUT, json.dumps(about, indent=1))
        for name, path in files.items():
            archive.write(path, name)
    with part.open("rb") as file:
        os.fsync(file.fileno())


def _files(folder: Path) -> Iterator[Path]:
    yield from sorted(path for path in folder.rglob("*") if path.is_file() and not path.is_symlink())


def _unpacked(source: Path, folder: Path) -> dict[str, Any]:
    """Unpack a backup whose every file is what its page says; anything else is refused."""
    refused = f"{source} is no whole backup of Lapel"
    try:
        with zipfile.ZipFile(source) as archive:
            about: dict[str, Any] = json.loads(archive.read(ABOUT))
            wanted: dict[str, str] = about["sha256"]
            if set(archive.namelist()) != {ABOUT, *wanted} or not {*RECORDS.values()} & set(wanted):
                raise BackupProblem(f"{refused}: files are missing or were added. Nothing was changed.")
            for name, digest in wanted.items():
                path = (folder / name).resolve()
                if not path.is_relative_to(folder.resolve()) or "\\" in name:
                    raise BackupProblem(f"{refused}: it holds “{name}”. Nothing was changed.")
                path.parent.mkdir(parents=True, exist_ok=True)
                with archive.open(name) as packed, path.open("wb") as file:
                    shutil.copyfileobj(packed, file, _CHUNK)
                if _sha256(path) != digest:
                    raise BackupProblem(f"{refused}: {name} was changed. Nothing was changed here.")
            LogState(**about["log"])
    except (OSError, zipfile.BadZipFile, ValueError, KeyError, TypeError, NotImplementedError) as problem:
        raise BackupProblem(f"{refused} ({problem}). Nothing was changed.") from problem
    return about


def _put_sqlite(records: Path) -> str:
    """Move what is there aside, with its write-ahead log, and put the backup in its place in one step."""
    place = Path(connection.settings_dict["NAME"])
    connections["default"].close()
    said = "There were no records before."
    if place.exists():
        with contextlib.suppress(sqlite3.Error), contextlib.closing(sqlite3.connect(place)) as there:
            there.execute("PRAGMA wal_checkpoint(TRUNCATE)")  # what cannot be read any more is kept all the same
        aside = place.with_name(f"before-restore-{timezone.now():%Y%m%d-%H%M%S-%f}.sqlite3")
        for part in ("", "-wal", "-shm"):
            with contextlib.suppress(FileNotFoundError):
                place.with_name(place.name + part).replace(aside.with_name(aside.name + part))
        said = f"The records that were here are kept in {aside}."
    with records.open("rb") as file:
        os.fsync(file.fileno())
    records.replace(place)
    return said


def _load_postgresql(records: Path) -> str:
    """Load the dump into the database, which must be empty: nothing that is there is touched."""
    tables = connection.introspection.table_names()
    if tables:
        name = connection.settings_dict["NAME"]
        raise BackupProblem(
            f"The database “{name}” is not empty. Make an empty one (createdb), set LAPEL_DATABASE to it and restore "
            "again. Nothing was changed."
        )
    program = postgresql_program("pg_restore")
    connections["default"].close()
    with _postgresql() as (options, environment):
        command = [program, *options, "--no-owner", "--no-privileges", "--single-transaction", "--exit-on-error"]
        _run([*command, str(records)], environment, "The database is as empty as it was.")
    return "The database was empty before."


def _are_older() -> bool:
    """Whether the records are to be brought up to date before this version can work with them."""
    executor = MigrationExecutor(connection)
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def _put_uploads(unpacked: Path) -> None:
    if not unpacked.is_dir():
        return
    place = Path(settings.MEDIA_ROOT)
    if place.exists():
        place.replace(place.with_name(f"before-restore-{timezone.now():%Y%m%d-%H%M%S-%f}-uploads"))
    unpacked.replace(place)


def _put_key(unpacked: Path) -> str:
    """Put the office's key of a backup in its place; another one that is there is kept beside it."""
    place = Path(settings.HOME) / OFFICE_KEY
    before = _office_key()
    if not unpacked.is_file():
        here = f"; the one that is here, {_named(before)}, stays" if before is not None else ""
        return f"The backup holds no signing key{here}."
    key = unpacked.read_bytes()
    if key == before:
        return f"The signing key {_named(key)} was here already."
    aside = _placed(place, key)
    said = f"The office's signing key {_named(key)} is in its place."
    if before is not None:
        said += f" Another one that was here, {_named(before)}, is kept in {aside}."
    return said


def _put_factor_key(unpacked: Path) -> str:
    """Put the key of the second factors in its place: without the one they were sealed by they open for nobody."""
    place = Path(settings.HOME) / FACTOR_KEY
    if not unpacked.is_file() or (place.exists() and place.read_bytes() == unpacked.read_bytes()):
        return ""
    aside = _placed(place, unpacked.read_bytes())
    forget_key()
    said = " The key of the second factors is in its place."
    return said + (f" Another one that was here is kept in {aside}." if aside else "")


def _placed(place: Path, key: bytes) -> Path | None:
    """Write a key; another one that was there is kept beside, and its new name returned."""
    aside = None
    if place.exists():
        aside = place.with_name(f"before-restore-{timezone.now():%Y%m%d-%H%M%S-%f}-{place.name}")
        place.replace(aside)
    put_key(place, key)
    return aside


@contextlib.contextmanager
def _postgresql() -> Iterator[tuple[list[str], dict[str, str]]]:
    """Give the options and the environment PostgreSQL's programs reach the database by; the password in no list."""
    database = connection.settings_dict
    pairs = {"host": database["HOST"], "port": str(database["PORT"] or ""), "username": database["USER"]}
    options = [f"--{name}={value}" for name, value in pairs.items() if value]
    environment = {**os.environ, "PGPASSWORD": database["PASSWORD"]} if database["PASSWORD"] else dict(os.environ)
    yield [*options, f"--dbname={database['NAME']}", "--no-password"], environment


def _run(command: list[str], environment: dict[str, str], became: str) -> None:
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        raise BackupProblem(f"{Path(command[0]).name} says: {done.stderr.strip() or 'nothing'}. {became}")


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
