"""Rows of the stored log as entries of the kernel, one after the other, and the hashes that prove a row unchanged."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime

from django.db.models import QuerySet

from lapel.fieldlog import Entry
from lapel.fieldlog.chain import canonical_text
from lapel.records.models import Delivery, LogEntry, RefusedEntry, Survey

_AT_ONCE = 2000
_COLUMNS = (
    "entry_id", "kind", "at_text", "device", "sequence", "author", "fields", "corrects", "reason", "received_at",
    "previous_hash", "hash", "origin",
)  # fmt: skip


def entries_of(survey: Survey, *, after: int = 0, upto: int | None = None) -> Iterator[Entry]:
    """
    Yield a survey's entries in the order of their receipts, without holding them all in memory.

    Parameters
    ----------
    after : int
        The receipt to begin after; 0 for all.
    upto : int, optional
        The last receipt to give.
    """
    rows = LogEntry.objects.filter(survey=survey, receipt__gt=after).order_by("receipt")
    if upto is not None:
        rows = rows.filter(receipt__lte=upto)
    yield from _entries(rows)


def entry_of(row: LogEntry) -> Entry:
    """
    Return a stored row as an entry.

    A paper sheet, which has neither sequence nor hash, comes without a receipt time: when it was typed in tells nothing
    about the clock its times were read from.
    """
    return _entry(*(getattr(row, name) for name in _COLUMNS))


def row_digest(row: LogEntry) -> str:
    """Return the SHA-256 of everything that stands in a row of the log, its receipt and survey included."""
    entry = entry_of(row)
    return _sha256(
        row.receipt, row.survey_id, canonical_text(entry), entry.hash, row.at_text, _utc(row.at),
        _utc(row.received_at), row.received_by_id, row.origin,
    )  # fmt: skip


def refused_digest(row: RefusedEntry) -> str:
    """Return the SHA-256 of everything that stands in a row of the refused entries."""
    return _sha256(
        row.pk, row.survey_id, row.entry_id, row.device, row.sequence, row.hash, row.kept_id, row.problems,
        row.content, row.content_hash, _utc(row.received_at), row.received_by_id,
    )  # fmt: skip


def delivery_hash(delivery: Delivery) -> str:
    """Return the SHA-256 of a delivery: what it holds, and the hash of the delivery before it."""
    return _sha256(
        delivery.survey_id, delivery.device, delivery.received_by_id, _utc(delivery.received_at),
        _utc(delivery.sent_at), delivery.first_receipt, delivery.entries, delivery.first_refused, delivery.refused,
        delivery.digests, delivery.previous_hash,
    )  # fmt: skip


def _entries(rows: QuerySet[LogEntry]) -> Iterator[Entry]:
    for values in rows.values_list(*_COLUMNS).iterator(chunk_size=_AT_ONCE):
        yield _entry(*values)


def _entry(
    entry_id: str,
    kind: str,
    at_text: str,
    device: str,
    sequence: int,
    author: str,
    fields: dict[str, str],
    corrects: str | None,
    reason: str,
    received_at: datetime,
    previous_hash: str,
    own_hash: str,
    origin: str,
) -> Entry:
    return Entry(
        id=entry_id,
        kind=kind,
        at=datetime.fromisoformat(at_text),
        device=device,
        sequence=sequence,
        author=author,
        fields=fields,
        corrects=corrects or None,
        reason=reason,
        received_at=received_at if sequence or own_hash else None,
        previous_hash=previous_hash,
        hash=own_hash,
        origin=origin,
    )


def _utc(at: datetime | None) -> str:
    return at.astimezone(UTC).isoformat(timespec="microseconds") if at else ""


def _sha256(*values: object) -> str:
    text = json.dumps(values, ensure_ascii=True, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def kept_of(refused: Iterable[RefusedEntry]) -> dict[int, Entry]:
    """Return, by receipt, the entries that were there first where a refused one had the same id."""
    receipts = {row.kept_id for row in refused if row.kept_id is not None}
    return {row.receipt: entry_of(row) for row in LogEntry.objects.filter(receipt__in=receipts)}
