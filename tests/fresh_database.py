"""
A database of its own for one test, on each engine.

The log cannot be flushed: a test that commits, starts threads or a server, or speaks raw SQL asks for
``fresh_database`` instead of pytest-django's ``transactional_db``. It is copied from a migrated template, and so is
the database of all other tests: each engine is migrated once a run, whichever of several test processes comes first.
"""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.contrib.contenttypes.models import ContentType
from django.core.management import call_command
from django.db import connection, connections
from filelock import FileLock


@contextmanager
def using(settings: dict[str, Any]) -> Iterator[None]:
    """Let Django's default connection, in every thread, be another database for a while."""
    before, before_settings = connections["default"], dict(connections.settings["default"])
    wanted = connections.settings["default"]
    wanted.clear()
    wanted.update(connections.configure_settings({"default": settings})["default"])
    del connections["default"]
    ContentType.objects.clear_cache()
    try:
        yield
    finally:
        connections["default"].close()
        wanted.clear()
        wanted.update(before_settings)
        connections["default"] = before
        ContentType.objects.clear_cache()


@pytest.fixture(scope="session")
def sqlite_template(django_db_blocker) -> Path:
    """A migrated SQLite file in one piece, to be copied."""
    from lapel.site.database import database_settings

    template = Path(settings.HOME) / "template.sqlite3"
    with FileLock(template.with_suffix(".lock")):
        if not template.exists():
            home = template.with_suffix("")
            home.mkdir(parents=True)
            with django_db_blocker.unblock(), using(database_settings("", home)):
                call_command("migrate", verbosity=0, interactive=False)
                with connections["default"].cursor() as cursor:
                    cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            (home / "lapel.sqlite3").rename(template)
    return template


@pytest.fixture(scope="session")
def django_db_setup(django_test_environment, sqlite_template, django_db_blocker) -> Iterator[None]:
    """What pytest-django makes by migrating anew: the database in memory that tests roll back."""
    name = connection.settings_dict["NAME"]
    with django_db_blocker.unblock():
        connection.close()
        connection.settings_dict["NAME"] = "file:tests?mode=memory&cache=shared"
        connection.ensure_connection()
        with closing(sqlite3.connect(sqlite_template)) as template:
            template.backup(connection.connection)
    yield
    with django_db_blocker.unblock():
        connection.connection.close()  # Django's own close keeps what is in memory
        connection.connection = None
        connection.settings_dict["NAME"] = name


@pytest.fixture(scope="session")
def postgres_template(postgres, django_db_blocker) -> str:
    """The name of a migrated database, to be copied."""
    name = "template_lapel"
    with FileLock(Path(settings.HOME) / "template-postgres.lock"):
        if not postgres.has(name):
            postgres.sql("CREATE DATABASE being_migrated")
            with django_db_blocker.unblock(), using(postgres.settings("being_migrated")):
                call_command("migrate", verbosity=0, interactive=False)
            postgres.sql(f"ALTER DATABASE being_migrated RENAME TO {name}")
    return name


@pytest.fixture
def fresh_sqlite(sqlite_template, tmp_path, django_db_blocker) -> Iterator[Path]:
    """The path of a new, migrated SQLite file that is the default database during the test."""
    from lapel.site.database import database_settings

    path = tmp_path / "lapel.sqlite3"
    shutil.copy(sqlite_template, path)
    with django_db_blocker.unblock(), using(database_settings("", tmp_path)):
        yield path


@pytest.fixture
def fresh_postgres(postgres, postgres_template, django_db_blocker) -> Iterator[str]:
    """The name of a new, migrated PostgreSQL database that is the default database during the test."""
    with (
        postgres.database(template=postgres_template) as name,
        django_db_blocker.unblock(),
        using(postgres.settings(name)),
    ):
        yield name


@pytest.fixture(params=["sqlite", "postgresql"])
def fresh_database(request) -> str:
    """A database of its own; the test runs once on each engine and is told which."""
    request.getfixturevalue("fresh_sqlite" if request.param == "sqlite" else "fresh_postgres")
    return request.param
