"""
The cast as fixtures: made once in each test process, kept as rows, and put back for every test that asks for it.

Reading a survey folder and recording it takes some ten times as long as its rows do.
"""

from copy import deepcopy
from dataclasses import dataclass
from typing import Any

import pytest
from cast import Cast, make_cast
from django.contrib.contenttypes.models import ContentType
from django.db import connection, transaction

Rows = dict[str, list[tuple[Any, ...]]]


@dataclass(frozen=True)
class KeptCast:
    """A cast and all rows that came with it, by their tables."""

    cast: Cast
    rows: Rows

    def put_back(self) -> Cast:
        """Write the rows; the people and records are this test's own objects."""
        from lapel.assessment import held

        for known in held._held.values():  # what the test before changed past the histories is not known any more
            known.records, known.assessment = held.RunningRecords(), None
        ContentType.objects.clear_cache()
        with connection.cursor() as cursor:
            for table, rows in self.rows.items():
                places = ", ".join(["%s"] * len(rows[0]))
                cursor.executemany(f'INSERT INTO "{table}" VALUES ({places})', rows)
        return deepcopy(self.cast)


def _rows() -> Rows:
    """Every row of the database, in the order it was written."""
    with connection.cursor() as cursor:
        return {
            table: cursor.execute(f'SELECT * FROM "{table}" ORDER BY rowid').fetchall()
            for table in connection.introspection.table_names(cursor)
        }


def _kept(example: str) -> KeptCast:
    with transaction.atomic():
        before = _rows()
        cast = make_cast(example)
        new = {table: [row for row in rows if row not in before[table]] for table, rows in _rows().items()}
        transaction.set_rollback(True)
    return KeptCast(cast, {table: rows for table, rows in new.items() if rows})


@pytest.fixture(scope="session")
def kept_casts(django_db_setup, django_db_blocker) -> dict[str, KeptCast]:
    with django_db_blocker.unblock():
        return {example: _kept(example) for example in ("small", "hard")}


@pytest.fixture
def cast(kept_casts, db) -> Cast:
    return kept_casts["small"].put_back()


@pytest.fixture
def hard(kept_casts, db) -> Cast:
    """The cast on the survey that everything goes wrong in."""
    return kept_casts["hard"].put_back()
