"""
The only door into the log: entries, their place in the chain and their receipts in one transaction, or nothing.

A client leaves an entry in its outbox until an answer names its id, so the same entry may come any number of times: it
gets the same receipt again. An entry with the id of a kept one and another content is never put in its place: it is
kept apart, as sent, for a person to settle. Gaps and forks in a device's chain do not keep an entry out, because an
honest phone can cause them (batches that overtake each other, a phone set up from a copy); they are reported.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import islice
from typing import Any, TypeAlias

from django.contrib.auth.models import User
from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from lapel.fieldlog import ChainBreak, Entry, EntryProblem, canonical_text, chained, check_entry, entry_record
from lapel.fieldlog.chain import instant_text
from lapel.records.entry_frame import frame_problems, holdable, new_entry_id, record_text
from lapel.records.links import broken_links
from lapel.records.log_reading import delivery_hash, entry_of, refused_digest, row_digest
from lapel.records.models import Delivery, Device, LogEntry, RefusedEntry, Survey

AT_ONCE = 500
"""Entries looked up and written by one statement."""

_LOCK = 0x6C6170656C  # one number for this log among the advisory locks of a PostgreSQL database
_ATTEMPTS = 3


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A JSON value that came in place of an entry; kept as sent, like every refused entry."""

    record: Any
    problems: tuple[EntryProblem, ...]


_Checked: TypeAlias = tuple[Entry | Unreadable, tuple[EntryProblem, ...]]


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why an entry was not taken; `number` is where it is kept, `kept_receipt` the entry that was there first."""

    number: int
    problems: tuple[EntryProblem, ...]
    kept_receipt: int | None = None

    @property
    def is_conflict(self) -> bool:
        """Whether another entry with this id was there first."""
        return self.kept_receipt is not None


@dataclass(slots=True)
class Receipts:
    """
    What became of every entry handed in.

    `confirmed` gives the receipt by entry id, also of entries that were there already; `added` names those that were
    not. `refused` gives why, by entry id; `kept_apart` the numbers of all that were refused, those without an id too.
    `chain` is what the devices' chains show around them: gaps, forks, links.
    """

    received_at: datetime
    confirmed: dict[str, int] = field(default_factory=dict)
    added: list[str] = field(default_factory=list)
    refused: dict[str, Refusal] = field(default_factory=dict)
    kept_apart: list[int] = field(default_factory=list)
    chain: list[ChainBreak] = field(default_factory=list)


class EntryRefused(ValueError):  # noqa: N818 - reads as what it is
    """An act recorded at the office cannot be taken; `problems` says why, by field. Nothing was written."""

    def __init__(self, problems: Sequence[EntryProblem]) -> None:
        super().__init__("; ".join(map(str, problems)))
        self.problems = tuple(problems)


def append(
    entries: Iterable[Entry | Unreadable],
    *,
    survey: Survey,
    user: User | None = None,
    device: Device | None = None,
    received_at: datetime | None = None,
    sent_at: datetime | None = None,
) -> Receipts:
    """
    Take entries into the log of a survey.

    Parameters
    ----------
    entries : iterable of Entry or Unreadable
        In any order. An entry that carries a receipt time of its own, as one from another office, keeps it.
    user : user, optional
        Who hands them in.
    device : Device, optional
        The paired device that sends them; then only its own chained entries are taken.
    received_at : datetime, optional
        Now, if left out.
    sent_at : datetime, optional
        The sender's clock when it sent them; kept with the delivery.

    Returns
    -------
    Receipts
        To be handed out only when the transaction around this call, if any, is committed.

    Raises
    ------
    django.db.DatabaseError
        Nothing was taken; the same entries can be handed in again.
    """
    # Held against their kinds before the transaction: other writers do not wait for that.
    given = [_checked(item, device) for item in entries]
    at = received_at or timezone.now()
    for attempt in range(1, _ATTEMPTS + 1):
        try:
            with transaction.atomic():
                _one_at_a_time()
                return _Taking(survey, user, device, at, sent_at).take(given)
        except IntegrityError:
            # Two writers with one id can only meet where somebody writes past this door; look again.
            if attempt == _ATTEMPTS:
                raise
    raise AssertionError("unreachable")


def append_act(
    kind: str,
    fields: Mapping[str, str],
    *,
    survey: Survey,
    author: User,
    at: datetime | None = None,
    corrects: str | None = None,
    reason: str = "",
) -> LogEntry:
    """
    Record an act at the office, as the next entry of the office's own chain for this survey.

    Raises
    ------
    EntryRefused
        It cannot be read as its kind. Nothing was written.
    """
    with transaction.atomic():
        _one_at_a_time()
        device = f"office {survey.code}"[:120]
        last = LogEntry.objects.filter(device=device).order_by("-sequence").first()
        entry = Entry(
            id=new_entry_id(),
            kind=kind,
            at=_to_the_millisecond(at or timezone.now()),
            device=device,
            sequence=last.sequence + 1 if last else 1,
            author=author.get_username(),
            fields=dict(fields),
            corrects=corrects,
            reason=reason,
        )
        if problems := [*check_entry(entry), *frame_problems(entry)]:
            raise EntryRefused(problems)
        (entry,) = chained([entry], previous_hash=last.hash if last else "")
        receipts = append([entry], survey=survey, user=author)
        return LogEntry.objects.get(receipt=receipts.confirmed[entry.id])


def append_correction(
    corrected: LogEntry,
    *,
    author: User,
    reason: str,
    field: str = "",
    value: str = "",
    withdraw: bool = False,
    distinct_from: str = "",
) -> LogEntry:
    """
    Record, as a new entry, what an earlier one should say; the earlier one stays as it is.

    Parameters
    ----------
    field, value : str
        The field to change (“at” for the instant) and what it should say.
    withdraw : bool
        The earlier entry does not count.
    distinct_from : str
        Id of a like entry: both happened.

    Raises
    ------
    EntryRefused
        Nothing to correct is named, or no reason. Nothing was written.
    """
    said = {"field": field, "value": value, "withdraw": "yes" if withdraw else "", "distinct_from": distinct_from}
    return append_act(
        "correction",
        {name: text for name, text in said.items() if text},
        survey=corrected.survey,
        author=author,
        corrects=corrected.entry_id,
        reason=reason,
    )


class _Taking:
    """One delivery on its way into the log; lives inside one transaction."""

    def __init__(
        self,
        survey: Survey,
        user: User | None,
        device: Device | None,
        received_at: datetime,
        sent_at: datetime | None,
    ) -> None:
        self.survey, self.user, self.device = survey, user, device
        self.received_at, self.sent_at = received_at, sent_at
        self.receipts = Receipts(received_at)
        self.rows: list[LogEntry] = []
        self.refused_rows: list[RefusedEntry] = []

    def take(self, given: list[_Checked]) -> Receipts:
        for some in _in_lots(given):
            self._take_some(some)
        self._seal()
        added = set(self.receipts.added)
        self.receipts.chain = broken_links([entry_of(row) for row in self.rows if row.entry_id in added])
        return self.receipts

    def _take_some(self, given: Sequence[_Checked]) -> None:
        ids = [item.id for item, problems in given if isinstance(item, Entry) and not problems]
        kept = {row.entry_id: row for row in LogEntry.objects.filter(survey=self.survey, entry_id__in=ids)}
        new: dict[str, LogEntry] = {}
        again: list[Entry] = []
        for item, problems in given:
            if isinstance(item, Unreadable):
                self._refuse(item.record, problems)
            elif problems:
                self._refuse(_as_sent(item), problems, entry=item)
            elif item.id in kept or item.id in new:
                again.append(item)
            else:
                new[item.id] = self._row(item)
        self._write(list(new.values()))
        kept |= new
        for entry in again:
            self._compare(entry, kept[entry.id])

    def _row(self, entry: Entry) -> LogEntry:
        return LogEntry(
            entry_id=entry.id,
            survey=self.survey,
            kind=entry.kind,
            at=entry.at.astimezone(UTC),
            at_text=instant_text(entry.at),
            device=entry.device,
            sequence=entry.sequence,
            author=entry.author,
            fields=dict(entry.fields),
            corrects=entry.corrects,
            reason=entry.reason,
            received_at=entry.received_at or self.received_at,
            received_by=self.user,
            previous_hash=entry.previous_hash,
            hash=entry.hash,
            origin=entry.origin,
        )

    def _write(self, rows: list[LogEntry]) -> None:
        if not rows:
            return
        LogEntry.objects.bulk_create(rows)
        self.rows.extend(rows)
        self.receipts.confirmed |= {row.entry_id: row.receipt for row in rows}
        self.receipts.added.extend(row.entry_id for row in rows)

    def _compare(self, entry: Entry, kept: LogEntry) -> None:
        first = entry_of(kept)
        if canonical_text(first) == canonical_text(entry) and first.hash == entry.hash:
            self.receipts.confirmed[entry.id] = kept.receipt
            return
        differs = EntryProblem(
            "id", f"an id that is kept already with another content, receipt {kept.receipt}", "an id of its own"
        )
        self._refuse(_as_sent(entry), (differs,), entry=entry, kept=kept)

    def _refuse(
        self,
        record: Any,
        problems: Sequence[EntryProblem],
        *,
        entry: Entry | None = None,
        kept: LogEntry | None = None,
    ) -> None:
        content = record_text(record)
        digest = hashlib.sha256(content.encode("ascii")).hexdigest()
        stated = record.get("id", "") if isinstance(record, dict) else ""
        entry_id = stated if isinstance(stated, str) else record_text(stated)
        row = RefusedEntry.objects.filter(survey=self.survey, content_hash=digest).first()
        if row is None:
            sequence = entry.sequence if entry and 0 <= entry.sequence < 2**63 else 0
            row = RefusedEntry.objects.create(
                survey=self.survey,
                entry_id=holdable(entry_id, 120),
                device=holdable(entry.device if entry else "", 120),
                sequence=sequence,
                hash=holdable(entry.hash if entry else "", 64),
                kept=kept,
                problems=[_as_kept(problem) for problem in problems],
                content=content,
                content_hash=digest,
                received_at=self.received_at,
                received_by=self.user,
            )
            self.refused_rows.append(row)
        self.receipts.kept_apart.append(row.pk)
        self.receipts.refused[entry_id] = Refusal(row.pk, tuple(problems), kept.receipt if kept else None)

    def _seal(self) -> None:
        """Write the delivery, if anything new came: the hash of every row, and of the delivery before."""
        if not self.rows and not self.refused_rows:
            return
        last = Delivery.objects.order_by("-pk").values_list("hash", flat=True).first()
        delivery = Delivery(
            survey=self.survey,
            device=self.device.code if self.device else "",
            received_by=self.user,
            received_at=self.received_at,
            sent_at=self.sent_at,
            first_receipt=self.rows[0].receipt if self.rows else None,
            entries=len(self.rows),
            first_refused=self.refused_rows[0].pk if self.refused_rows else None,
            refused=len(self.refused_rows),
            digests=[*map(row_digest, self.rows), *map(refused_digest, self.refused_rows)],
            previous_hash=last or "",
        )
        delivery.hash = delivery_hash(delivery)
        delivery.save(force_insert=True)


def _one_at_a_time() -> None:
    """
    Let one delivery in after the other, so that receipts become visible in their order and deliveries form one chain.

    SQLite's immediate transactions do that already.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_LOCK])


def _checked(item: Entry | Unreadable, device: Device | None) -> _Checked:
    if isinstance(item, Unreadable):
        return item, item.problems
    return item, (*check_entry(item), *frame_problems(item, from_device=device.code if device else None))


def _in_lots(given: list[_Checked]) -> Iterator[list[_Checked]]:
    waiting = iter(given)
    while lot := list(islice(waiting, AT_ONCE)):
        yield lot


def _as_sent(entry: Entry) -> dict[str, Any]:
    record = entry_record(entry)
    record.pop("received_at", None)
    return record


def _as_kept(problem: EntryProblem) -> dict[str, str]:
    said: dict[str, str] = defaultdict(str)
    for name in ("field", "found", "wanted"):
        said[name] = holdable(getattr(problem, name), 500)
    return dict(said)


def _to_the_millisecond(at: datetime) -> datetime:
    return at.replace(microsecond=at.microsecond // 1000 * 1000)
