"""
Tables that only grow: database triggers refuse every change of a row, whoever asks and however.

SQLite needs three: BEFORE UPDATE, BEFORE DELETE, and BEFORE INSERT when the key is there already, because INSERT OR
REPLACE removes the old row without asking the delete trigger (unless recursive_triggers is on), and an upsert turns
into an update of it. PostgreSQL needs one on UPDATE, DELETE and TRUNCATE for each statement, enabled ALWAYS so that a
replication role does not slip past it. What no trigger can stop, a changed file or a dropped trigger, is proven by
`lapel.records.verify`. See docs/decisions/0004-append-only-log.md.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

GUARDED: Mapping[str, tuple[tuple[str, ...], ...]] = MappingProxyType(
    {
        "records_logentry": (("receipt",), ("survey_id", "entry_id")),
        "records_refusedentry": (("id",), ("survey_id", "content_hash")),
        "records_delivery": (("id",),),
        "records_signature": (("id",),),
        "records_keptdocument": (("id",), ("survey_id", "sha256")),
        "records_custodyform": (("id",), ("survey_id", "parcel", "issue")),
    }
)
"""Each table that only grows, with its unique keys."""

_WORDS = "is only added to: nothing in it is changed or removed. Record a correction instead."

_POSTGRESQL_FUNCTION = f"""
CREATE OR REPLACE FUNCTION records_refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION USING ERRCODE = 'restrict_violation', MESSAGE = TG_TABLE_NAME || ' {_WORDS}';
END $$
"""


def guard_statements(vendor: str, table: str, keys: tuple[tuple[str, ...], ...]) -> Iterator[str]:
    """
    Yield the statements that make a table append-only.

    Parameters
    ----------
    vendor : str
        "sqlite" or "postgresql".
    table : str
        The table's name.
    keys : tuple of tuples of str
        Its unique keys, each by its columns; only SQLite needs them.

    Raises
    ------
    ValueError
        The database is of another kind: a log that can be changed is no log.
    """
    if vendor == "sqlite":
        refuse = f"BEGIN SELECT RAISE(ABORT, '{table} {_WORDS}'); END"
        yield f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} {refuse}"
        yield f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} {refuse}"
        same = " OR ".join("(" + " AND ".join(f"{name} = NEW.{name}" for name in key) + ")" for key in keys)
        yield (
            f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "
            f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {same}) {refuse}"
        )
    elif vendor == "postgresql":
        yield _POSTGRESQL_FUNCTION
        yield (
            f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION records_refuse_change()"
        )
        yield f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER {table}_no_change"
    else:
        raise ValueError(f"the log needs SQLite or PostgreSQL; found {vendor}")


def missing_guards(using: str = "default") -> list[str]:
    """
    Name the triggers that should stand and do not, or are switched off.

    A migration that rebuilds a table on SQLite loses them without a word: it has to put them back.
    """
    connection = connections[using]
    standing = _standing(connection)
    wanted = [
        f"{table}_{name}"
        for table in GUARDED
        for name in (("no_update", "no_delete", "no_replace") if connection.vendor == "sqlite" else ("no_change",))
    ]
    return [name for name in wanted if name not in standing]


def _standing(connection: BaseDatabaseWrapper) -> set[str]:
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger'")
            written = {(name, table): " ".join(sql.split()) for name, table, sql in cursor.fetchall()}
            return {
                name
                for table, keys in GUARDED.items()
                for statement in guard_statements("sqlite", table, keys)
                for name in [statement.split()[2]]
                if written.get((name, table)) == statement
            }
        cursor.execute(
            "SELECT t.tgname, t.tgrelid::regclass::text FROM pg_trigger t JOIN pg_proc p ON p.oid = t.tgfoid "
            # 2 + 8 + 16 + 32: before, on delete, update and truncate, for each statement (pg_trigger.tgtype)
            "WHERE t.tgenabled = 'A' AND t.tgtype = 58 AND p.proname = 'records_refuse_change' "
            "AND p.prosrc LIKE '%RAISE EXCEPTION%'"
        )
        return {name for name, table in cursor.fetchall() if name == f"{table}_no_change"}
