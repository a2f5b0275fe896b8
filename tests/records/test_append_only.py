"""Nothing in the log, among refused entries, deliveries or signatures can be changed, on either engine."""

import sqlite3

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction
from log_entries import LATER, a_survey, note, notes

from lapel.records.append import append
from lapel.records.append_only import GUARDED, guard_statements, missing_guards
from lapel.records.models import CustodyForm, Delivery, KeptDocument, LogEntry, RefusedEntry, Signature

pytestmark = pytest.mark.filterwarnings("error")

TABLES = sorted(GUARDED)
GUARDED_MODELS = (LogEntry, RefusedEntry, Delivery, Signature, CustodyForm, KeptDocument)
MODELS = {model._meta.db_table: model for model in GUARDED_MODELS}
COLUMN = {
    "records_logentry": "author",
    "records_refusedentry": "content",
    "records_delivery": "hash",
    "records_signature": "person",
    "records_custodyform": "made_by",
    "records_keptdocument": "made_by",
}
KEY = {table: keys[0][0] for table, keys in GUARDED.items()}


def signature(survey):
    CustodyForm.objects.create(
        survey=survey, parcel="K-1", issue=1, made_at=LATER, made_by="lead", data="{}", pdf=b"x", sha256="0" * 64
    )
    KeptDocument.objects.create(
        survey=survey, file="report.pdf", kind="application/pdf", sha256="0" * 64, input_sha256="0" * 64,
        made_at=LATER, made_by="lead", content=b"x",
    )  # fmt: skip
    Signature.objects.create(
        survey=survey,
        role="author",
        person="lead",
        statement="true",
        signed_at=LATER,
        kernel_version="1",
        input_sha256="0" * 64,
        sha256="0" * 64,
        snapshot=b"x",
    )


@pytest.fixture
def log(fresh_database):
    """Three entries, a refused one, their delivery, and a signature."""
    survey = a_survey()
    append([*notes(3), note(4, "x", kind="no such kind")], survey=survey, received_at=LATER)
    signature(survey)
    return fresh_database


def contents():
    return {table: list(model.objects.order_by("pk").values()) for table, model in MODELS.items()}


@transaction.atomic
def run(*statements):
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def refused(*statements):
    """Run raw SQL, which must fail, and show that nothing changed."""
    before = contents()
    with pytest.raises(DatabaseError, match="only added to"):
        run(*statements)
    assert contents() == before


@pytest.mark.parametrize("table", TABLES)
def test_no_row_is_updated(log, table):
    assert MODELS[table].objects.exists()
    refused(f"UPDATE {table} SET {COLUMN[table]} = 'somebody else'")


@pytest.mark.parametrize("table", TABLES)
def test_no_row_is_deleted(log, table):
    refused(f"DELETE FROM {table}")
    refused(f"DELETE FROM {table} WHERE {KEY[table]} = (SELECT MAX({KEY[table]}) FROM {table})")


@pytest.mark.parametrize("table", TABLES)
def test_the_orm_changes_nothing(log, table):
    model = MODELS[table]
    before = contents()
    row = model.objects.first()
    for change in (
        lambda: model.objects.all().delete(),
        lambda: model.objects.filter(pk=row.pk)._raw_delete("default"),
        lambda: model.objects.update(**{COLUMN[table]: "x"}),
        lambda: model.objects.bulk_update([row], [COLUMN[table]]),
        row.save,
        row.delete,
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()
    assert contents() == before


@pytest.mark.parametrize("table", TABLES)
def test_no_row_is_replaced_by_an_upsert(log, table):
    columns = ", ".join(field.column for field in MODELS[table]._meta.concrete_fields)
    refused(
        f"INSERT INTO {table} ({columns}) SELECT {columns} FROM {table} WHERE true "
        f"ON CONFLICT ({KEY[table]}) DO UPDATE SET {COLUMN[table]} = 'somebody else'"
    )


def test_no_entry_is_replaced_by_an_upsert_on_its_id(log):
    columns = ", ".join(f.column for f in LogEntry._meta.concrete_fields if f.column != "receipt")
    refused(
        f"INSERT INTO records_logentry ({columns}) SELECT {columns} FROM records_logentry WHERE true "
        "ON CONFLICT (survey_id, entry_id) DO UPDATE SET author = 'somebody else'"
    )
    before = contents()
    row = LogEntry.objects.first()
    row.pk, row.author = None, "somebody else"
    with pytest.raises(DatabaseError), transaction.atomic():
        LogEntry.objects.bulk_create(
            [row], update_conflicts=True, update_fields=["author"], unique_fields=["survey", "entry_id"]
        )
    assert contents() == before


@pytest.mark.parametrize("table", TABLES)
def test_the_table_is_not_truncated(fresh_postgres, table):
    append([*notes(3), note(4, "x", kind="no such kind")], survey=a_survey(), received_at=LATER)
    refused(f"TRUNCATE {table} CASCADE")
    refused("TRUNCATE records_survey CASCADE")
    refused("SET LOCAL session_replication_role = replica", f"UPDATE {table} SET {COLUMN[table]} = 'x'")
    refused(f"MERGE INTO {table} t USING {table} s ON t.{KEY[table]} = s.{KEY[table]} WHEN MATCHED THEN DELETE")


@pytest.fixture
def file_of_the_log(fresh_sqlite):
    survey = a_survey()
    append([*notes(3), note(4, "x", kind="no such kind")], survey=survey, received_at=LATER)
    signature(survey)
    connection.close()
    return fresh_sqlite


@pytest.mark.parametrize("recursive", ["OFF", "ON"])
@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize(
    "how", ["INSERT OR REPLACE", "REPLACE", "INSERT OR IGNORE", "INSERT OR ROLLBACK", "INSERT OR FAIL"]
)
def test_plain_sqlite_replaces_nothing(file_of_the_log, table, how, recursive):
    """Through the sqlite3 module itself, with none of Django's settings."""
    with sqlite3.connect(file_of_the_log) as raw:
        raw.execute(f"PRAGMA recursive_triggers = {recursive}")
        before = raw.execute(f"SELECT * FROM {table}").fetchall()
        names = [row[1] for row in raw.execute(f"PRAGMA table_info({table})")]
        same = ", ".join(f"'{COLUMN[table]}'" if name == COLUMN[table] else name for name in names)
        for columns, values in (
            (", ".join(names), same),
            (", ".join(["rowid", *names[1:]]), same),
        ):
            with pytest.raises(sqlite3.IntegrityError, match="only added to"):
                raw.execute(f"{how} INTO {table} ({columns}) SELECT {values} FROM {table}")
        assert before
        assert raw.execute(f"SELECT * FROM {table}").fetchall() == before
    raw.close()


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("how", ["OR REPLACE", "OR IGNORE", "OR FAIL", ""])
def test_plain_sqlite_updates_nothing(file_of_the_log, table, how):
    raw = sqlite3.connect(file_of_the_log)
    before = raw.execute(f"SELECT * FROM {table}").fetchall()
    for statement in (
        f"UPDATE {how} {table} SET {COLUMN[table]} = 'x'",
        f"UPDATE {how} {table} SET {KEY[table]} = 77 WHERE {KEY[table]} = 1",
        f"DELETE FROM {table}",
    ):
        with pytest.raises(sqlite3.IntegrityError, match="only added to"):
            raw.execute(statement)
    assert raw.execute(f"SELECT * FROM {table}").fetchall() == before
    raw.close()


def test_plain_sqlite_replaces_no_entry_by_its_id(file_of_the_log):
    """The receipt is new, the survey and the entry's id are there already."""
    raw = sqlite3.connect(file_of_the_log)
    columns = ", ".join(row[1] for row in raw.execute("PRAGMA table_info(records_logentry)") if row[1] != "receipt")
    before = raw.execute("SELECT * FROM records_logentry").fetchall()
    with pytest.raises(sqlite3.IntegrityError, match="only added to"):
        raw.execute(f"REPLACE INTO records_logentry ({columns}) SELECT {columns} FROM records_logentry")
    assert raw.execute("SELECT * FROM records_logentry").fetchall() == before
    raw.close()


def test_without_the_insert_guard_a_replace_would_go_through(file_of_the_log):
    """Why three triggers are needed on SQLite: a control, so that the tests above can fail."""
    raw = sqlite3.connect(file_of_the_log)
    raw.execute("DROP TRIGGER records_logentry_no_replace")
    names = [row[1] for row in raw.execute("PRAGMA table_info(records_logentry)")]
    values = ", ".join("'forged'" if name == "author" else name for name in names)
    raw.execute(f"REPLACE INTO records_logentry ({', '.join(names)}) SELECT {values} FROM records_logentry")
    assert {row[0] for row in raw.execute("SELECT author FROM records_logentry")} == {"forged"}
    raw.close()


def test_every_guard_stands_after_all_migrations(fresh_database):
    assert missing_guards() == []


def test_a_dropped_or_weakened_guard_is_named(fresh_database):
    with connection.cursor() as cursor:
        if fresh_database == "sqlite":
            cursor.execute("DROP TRIGGER records_delivery_no_delete")
            cursor.execute("DROP TRIGGER records_logentry_no_update")
            cursor.execute(
                "CREATE TRIGGER records_logentry_no_update BEFORE UPDATE ON records_logentry BEGIN SELECT 1; END"
            )
            assert missing_guards() == ["records_logentry_no_update", "records_delivery_no_delete"]
        else:
            cursor.execute("ALTER TABLE records_logentry DISABLE TRIGGER records_logentry_no_change")
            cursor.execute("DROP TRIGGER records_delivery_no_change ON records_delivery")
            assert missing_guards() == ["records_logentry_no_change", "records_delivery_no_change"]


def test_another_kind_of_database_is_not_taken():
    with pytest.raises(ValueError, match="needs SQLite or PostgreSQL; found mysql"):
        list(guard_statements("mysql", "records_logentry", (("receipt",),)))


def test_the_guards_refuse_as_the_integrity_of_the_log(log):
    with pytest.raises(IntegrityError, match="Record a correction instead"), transaction.atomic():
        LogEntry.objects.update(author="x")
