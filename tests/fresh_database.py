"""
A database of its own for one test, on each engine.

The log cannot be flushed: a test that commits, starts threads or a server, or speaks raw SQL asks for
``fresh_database`` instead of pytest-django's ``transactional_db``. It is copied from a migrated template.
"""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from django.contrib.contenttypes.models import ContentType
from django.core.management import call_command
from django.db import connections

_numbers = count(1)


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
def sqlite_template(tmp_path_factory, django_db_blocker) -> Path:
    from lapel.site.database import database_settings

    home = tmp_path_factory.mktemp("template")
    with django_db_blocker.unblock(), using(database_settings("", home)):
        call_command("migrate", verbosity=0, interactive=False)
        with connections["default"].cursor() as cursor:
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return home / "lapel.sqlite3"


@pytest.fixture(scope="session")
def postgres_template(postgres, django_db_blocker) -> str:
    postgres.sql("CREATE DATABASE template_lapel")
    with django_db_blocker.unblock(), using(postgres.settings("template_lapel")):
        call_command("migrate", verbosity=0, interactive=False)
    return "template_lapel"


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
    name = f"test_{next(_numbers)}"
    postgres.sql(f"CREATE DATABASE {name} TEMPLATE {postgres_template}")
    try:
        with django_db_blocker.unblock(), using(postgres.settings(name)):
            yield name
    finally:
        postgres.sql(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(params=["sqlite", "postgresql"])
def fresh_database(request) -> str:
    """A database of its own; the test runs once on each engine and is told which."""
    request.getfixturevalue("fresh_sqlite" if request.param == "sqlite" else "fresh_postgres")
    return request.param
