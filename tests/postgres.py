"""
A throw-away PostgreSQL cluster, started once a run and shared by its test processes, for the tests that need one.

They fail, and say how to get it, where its programs are missing; ``--no-postgres`` leaves them out.
"""

import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from filelock import FileLock

HOW_TO_GET_IT = (
    "PostgreSQL's programs (initdb, pg_ctl) were found neither on PATH nor under /usr/lib/postgresql. "
    "On Debian or Ubuntu: apt-get install postgresql. To leave these tests out: pytest --no-postgres"
)


def pytest_addoption(parser):
    parser.addoption("--no-postgres", action="store_true", help="leave out the tests that need PostgreSQL")


@dataclass(frozen=True)
class Cluster:
    """A running server that answers on a socket in `folder` only."""

    programs: Path
    folder: Path
    user: str = "lapel"

    def settings(self, name: str) -> dict[str, Any]:
        """Django's settings of one of its databases."""
        from lapel.site.database import database_settings

        return database_settings(self.address(name), self.folder)

    def address(self, name: str) -> str:
        return f"postgresql://{self.user}@/{name}?host={self.folder}"

    def sql(self, statement: str, database: str = "postgres") -> None:
        import psycopg

        with psycopg.connect(host=str(self.folder), user=self.user, dbname=database, autocommit=True) as connection:
            connection.execute(statement)

    def has(self, name: str) -> bool:
        """Whether there is a database of that name."""
        import psycopg

        with psycopg.connect(host=str(self.folder), user=self.user, dbname="postgres") as connection:
            return bool(connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [name]).fetchone())

    @contextmanager
    def database(self, *, template: str = "template1") -> Iterator[str]:
        """Give the name of a new database, a copy of `template`, that is there for a while."""
        name = f"test_{uuid4().hex}"  # test processes share the cluster
        self.sql(f"CREATE DATABASE {name} TEMPLATE {template}")
        try:
            yield name
        finally:
            self.sql(f"DROP DATABASE {name} WITH (FORCE)")


def programs() -> Path | None:
    """The folder of PostgreSQL's programs, the newest version first."""
    found = [
        Path(path) for name in ["pg_ctl"] if (path := shutil.which(name)) and Path(path).with_name("initdb").exists()
    ]
    versions = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(re.sub(r"\D", "", path.parts[-3]) or 0)
    )
    folders = [*(path.parent for path in found), *(path.parent for path in reversed(versions))]
    return folders[0] if folders else None


def _as_ordinary_person(command: list[str]) -> list[str]:
    """Run as somebody else than root, whom initdb refuses."""
    if os.name == "posix" and os.geteuid() == 0:
        return ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups", "--", *command]
    return command


def start(*, durable: bool = False) -> Cluster:
    """Make and start a cluster, which runs until it is stopped. Tests need no durable one."""
    folder_of_programs = programs()
    if folder_of_programs is None:
        pytest.fail(HOW_TO_GET_IT, pytrace=False)
    folder = Path(tempfile.mkdtemp(prefix="lapel-pg-"))
    if os.geteuid() == 0:
        os.chown(folder, 65534, 65534)
    run = {"check": True, "capture_output": True, "text": True, "cwd": folder}
    initdb = [str(folder_of_programs / "initdb"), "-D", str(folder / "data"), "-U", Cluster.user, "-E", "UTF8"]
    subprocess.run(_as_ordinary_person([*initdb, "--locale=C", "-A", "trust"]), **run)
    options = f"-c listen_addresses='' -c unix_socket_directories='{folder}' -c fsync={'on' if durable else 'off'}"
    subprocess.run(
        _as_ordinary_person([*_pg_ctl(folder), "-o", options, "-l", str(folder / "log"), "-w", "start"]),
        check=True,
        cwd=folder,
        stdout=subprocess.DEVNULL,  # the server inherits it; a pipe would never end
        stderr=subprocess.DEVNULL,
    )
    return Cluster(folder_of_programs, folder)


def stop(folder: Path) -> None:
    """Stop the cluster in a folder and remove it."""
    subprocess.run(
        _as_ordinary_person([*_pg_ctl(folder), "-m", "immediate", "stop"]), capture_output=True, cwd=folder, check=False
    )
    shutil.rmtree(folder, ignore_errors=True)


def _pg_ctl(folder: Path) -> list[str]:
    return [str(programs() / "pg_ctl"), "-D", str(folder / "data")]


def _note() -> Path:
    """Where the run's first process that needed a cluster wrote the folder of the one it started."""
    return Path(os.environ["LAPEL_HOME"]) / "postgres-cluster.txt"


@pytest.fixture(scope="session")
def postgres(request) -> Cluster:
    if request.config.getoption("--no-postgres"):
        pytest.skip("--no-postgres was given")
    note = _note()
    note.parent.mkdir(parents=True, exist_ok=True)
    with FileLock(note.with_suffix(".lock")):
        if not note.exists():
            note.write_text(str(start().folder))
    return Cluster(programs(), Path(note.read_text()))


def pytest_unconfigure(config):
    """The first process of a run outlives its helpers."""
    if not hasattr(config, "workerinput") and _note().exists():
        stop(Path(_note().read_text()))
