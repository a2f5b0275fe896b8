"""The history of a record: who, when, from what to what, and why."""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from dataclasses import field as part
from datetime import datetime
from itertools import pairwise
from typing import Any, Literal, TypeAlias, TypeVar

from django.contrib.auth.models import AnonymousUser, User
from django.core.exceptions import ObjectDoesNotExist
from django.db.models import Field, ForeignKey, Model

from lapel.records.models import (
    Device,
    EarlierCertificate,
    EarlierPlace,
    ExposureGroup,
    Letterhead,
    LogEntry,
    Membership,
    Meter,
    Pump,
    Site,
    Splitter,
    Survey,
    Worker,
)
from lapel.records.models.kept import Kept

LONGEST_REASON = 10_000
"""Signs a reason may have: some pages of text. The history keeps all of them."""

_K = TypeVar("_K", bound=Kept)
_Targets: TypeAlias = dict[tuple[type[Model], Any], Model]
_ACTS: dict[str, Literal["made", "changed", "removed"]] = {"+": "made", "~": "changed", "-": "removed"}


@dataclass(frozen=True, slots=True)
class FieldChange:
    """
    One field: what it is called, and what it said before and after; empty where nothing stood there.

    `of` is the field on record, `was` and `now` are the values as kept: for pages, which call and write them as their
    forms do. None where there is no such field, as of an entry.
    """

    field: str
    before: str
    after: str
    of: Field[Any, Any] | None = part(default=None, compare=False, repr=False)
    was: Any = part(default=None, compare=False, repr=False)
    now: Any = part(default=None, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Change:
    """
    One act on one record.

    `who` is the name people sign in with; empty where a command on the server did it. `fields` holds what differs from
    the version before: of a new record everything that was filled in. `about` is the record as it was then, an entry
    with the one it corrects.
    """

    at: datetime
    who: str
    act: Literal["made", "changed", "removed", "recorded", "corrected", "withdrawn", "kept apart"]
    record: str
    fields: tuple[FieldChange, ...]
    reason: str = ""
    about: Model | None = part(default=None, compare=False, repr=False)


def signed(record: _K, person: User | AnonymousUser | None, reason: str) -> _K:
    """
    Say who is about to change a record and why; its next save or removal is kept with it.

    Raises
    ------
    ValueError
        The reason is longer than a reason may be.
    """
    if len(reason) > LONGEST_REASON:
        raise ValueError(f"`reason` must have at most {LONGEST_REASON} signs; found {len(reason)}")
    record._history_user = person if isinstance(person, User) else None  # type: ignore[attr-defined]  # its own door
    record._change_reason = reason  # type: ignore[attr-defined]  # read by the history when it saves
    return record


def history_of(record: Kept) -> list[Change]:
    """
    Return what happened to a record, the first act first.

    Parameters
    ----------
    record : Kept
        Any record but an entry of the log, which never changes (`entry_history`). A removed one is found by
        `history_within` its survey.

    Returns
    -------
    list of Change
        One query, and one more for each kind of record it names.
    """
    return _changes(list(type(record).history.filter(id=record.pk).select_related("history_user")))


def history_within(survey: Survey) -> list[Change]:
    """
    Return what happened to a survey and everything in it but its log, removed records too, the first act first.

    Parameters
    ----------
    survey : Survey
        The same number of queries however much happened.
    """
    found = history_of(survey)
    for model in _kept_within(Survey):
        found += _changes(list(model.history.filter(survey_id=survey.pk).select_related("history_user")))
    return sorted(found, key=lambda change: change.at)


class SurveyHistory:
    """
    What `history_within` a survey tells, the latest act first, of which only the part asked for is read.

    Made for pages of a list: it has a length, and gives a slice. Both take the same number of queries, and little more
    time, however much happened.
    """

    def __init__(self, survey: Survey) -> None:
        self._models: list[type[Kept]] = [Survey, *_kept_within(Survey)]
        acts: list[tuple[datetime, int, int, int]] = []
        for number, model in enumerate(self._models):
            of = {"id": survey.pk} if model is Survey else {"survey_id": survey.pk}
            rows = model.history.filter(**of).order_by().values_list("history_date", "history_id", "id")
            acts += [(at, number, version, record) for at, version, record in rows]
        self._acts = sorted(acts, reverse=True)

    def __len__(self) -> int:
        return len(self._acts)

    def __getitem__(self, part: slice) -> list[Change]:
        shown = self._acts[part]
        found: dict[tuple[int, int], Change] = {}
        for number, model in enumerate(self._models):
            records = {record for _, of, _, record in shown if of == number}
            if records:
                versions = list(model.history.filter(id__in=records).select_related("history_user"))
                found |= {(number, version): change for version, change in _by_version(versions)}
        return [found[number, version] for _, number, version, _ in shown]


def history_on(site: Site) -> list[Change]:
    """
    Return what happened to a site, its people, groups, workers, equipment, devices and letterhead, the first act first.

    Parameters
    ----------
    site : Site
        The same number of queries however much happened. Names behind codes are no part of it, nor are surveys.
    """
    found = history_of(site)
    for model in (Membership, ExposureGroup, Worker, Pump, Splitter, Meter, Device, Letterhead):
        found += _changes(list(model.history.filter(site_id=site.pk).select_related("history_user")))
    dated: tuple[tuple[type[Kept], dict[str, Site]], ...] = (
        (EarlierCertificate, {"meter__site": site}),
        (EarlierPlace, {"worker__site": site}),
    )
    for earlier, of_site in dated:
        found += _changes(list(earlier.history.filter(**of_site).select_related("history_user")))
    return sorted(found, key=lambda change: change.at)


def certificates_history(meter: Meter) -> list[Change]:
    """Return what happened to the certificates a meter had before its latest, the first act first."""
    return _changes(list(EarlierCertificate.history.filter(meter_id=meter.pk).select_related("history_user")))


def entry_history(entry: LogEntry) -> list[Change]:
    """
    Return what was recorded in an entry and every correction of it, in the order they were received.

    Corrections of corrections belong to it. What counts in the end is worked out by `lapel.fieldlog.fold`, which takes
    them in the order of their instants.
    """
    corrections = list(LogEntry.objects.filter(survey_id=entry.survey_id, kind="correction").order_by("receipt"))
    about: dict[str, LogEntry] = {entry.entry_id: entry}
    mine: list[LogEntry] = []
    grows = True
    while grows:
        before = len(mine)
        for correction in corrections:
            if correction.corrects in about and correction.entry_id not in about:
                about[correction.entry_id] = correction
                mine.append(correction)
        grows = len(mine) > before
    first = [FieldChange(name, "", str(text)) for name, text in entry.fields.items()]
    changes = [Change(entry.received_at, entry.author, "recorded", str(entry), tuple(first), entry.reason, entry)]
    said = {entry_id: {"at": target.at_text, **target.fields} for entry_id, target in about.items()}
    for correction in sorted(mine, key=lambda row: row.receipt):
        target = correction.corrects or ""
        changes.append(_correction(correction, about[target], said[target]))
    return changes


def _correction(correction: LogEntry, target: LogEntry, said: dict[str, str]) -> Change:
    fields = correction.fields
    head = (correction.received_at, correction.author)
    record, tail = f"entry {correction.corrects}", (correction.reason, target)
    if fields.get("withdraw") == "yes":
        return Change(*head, "withdrawn", record, (), *tail)
    if fields.get("distinct_from"):
        other = FieldChange("distinct from", "", fields["distinct_from"])
        return Change(*head, "kept apart", record, (other,), *tail)
    name, value = fields.get("field", ""), fields.get("value", "")
    change = FieldChange(name, said.get(name, ""), value)
    said[name] = value
    return Change(*head, "corrected", record, (change,), *tail)


def _kept_within(owner: type[Model]) -> list[type[Kept]]:
    """Return the kinds of kept records that belong to one record of another kind."""
    related = [relation.related_model for relation in owner._meta.related_objects]
    return [model for model in related if isinstance(model, type) and issubclass(model, Kept)]


def _changes(versions: Sequence[Any]) -> list[Change]:
    return sorted((change for _, change in _by_version(versions)), key=lambda change: change.at)


def _by_version(versions: Sequence[Any]) -> Iterator[tuple[int, Change]]:
    """Compare every version of some records of one kind with the one before it; each with its number in the history."""
    by_record: dict[Any, list[Any]] = defaultdict(list)
    for version in sorted(versions, key=lambda row: (row.history_date, row.history_id)):
        by_record[version.id].append(version)
    targets = _targets_of(versions)
    for those in by_record.values():
        for before, version in pairwise([None, *those]):
            fields = () if version.history_type == "-" else tuple(_differences(before, version, targets))
            record = _as_it_was(version, targets)
            yield (
                version.history_id,
                Change(
                    version.history_date,
                    version.history_user.get_username() if version.history_user else "",
                    _ACTS[version.history_type],
                    _called(record),
                    fields,
                    version.history_change_reason or "",
                    record,
                ),
            )


def _as_it_was(version: Any, targets: _Targets) -> Model:
    """Return a record as it was then; what it points at is at hand and not asked for once a version."""
    record: Model = version.instance
    for one in version.tracked_fields:
        if isinstance(one, ForeignKey):
            target = targets.get((one.related_model, getattr(version, one.attname)))
            if target is not None:
                one.set_cached_value(record, target)
    return record


def _called(record: Model) -> str:
    kind = record._meta.verbose_name
    try:
        return f"{kind} {record}"
    except ObjectDoesNotExist:  # it is called by something that is no longer there
        return f"{kind} number {record.pk}"


def _differences(before: Any | None, version: Any, targets: _Targets) -> Iterable[FieldChange]:
    for one in version.tracked_fields:
        if one.primary_key:
            continue
        was, now = None if before is None else getattr(before, one.attname), getattr(version, one.attname)
        old, new = _text(one, was, targets), _text(one, now, targets)
        if old != new:
            yield FieldChange(str(one.verbose_name), old, new, one, was, now)


def _targets_of(versions: Sequence[Any]) -> _Targets:
    """Find the records that versions point at, with one query a kind."""
    wanted: dict[type[Model], set[Any]] = defaultdict(set)
    for version in versions:
        for one in version.tracked_fields:
            target = getattr(version, one.attname)
            if isinstance(one, ForeignKey) and target is not None:
                wanted[one.related_model].add(target)
    return {
        (model, key): record
        for model, keys in wanted.items()
        for key, record in model._default_manager.in_bulk(list(keys)).items()
    }


def _text(of: Field[Any, Any], value: Any, targets: _Targets) -> str:
    if value is None or value == "" or value == [] or value == {}:
        return ""
    if isinstance(of, ForeignKey):
        return str(targets.get((of.related_model, value), f"number {value}, no longer there"))
    if isinstance(value, (bytes, memoryview)):
        content = bytes(value)
        return f"{len(content)} bytes, SHA-256 {hashlib.sha256(content).hexdigest()}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    if isinstance(value, list) and all(isinstance(one, str) for one in value):
        return ", ".join(value)
    if isinstance(value, (list, dict)):
        return json.dumps(value, ensure_ascii=False)
    return str(value)
