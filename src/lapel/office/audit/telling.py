"""Changes in words: records and fields as their pages call them, values as forms write them, a row an answer."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from functools import partial
from typing import Any, TypeAlias
from zoneinfo import ZoneInfo

from django.core.exceptions import ObjectDoesNotExist
from django.db.models import Field, ForeignKey, Model

from lapel.documents.compose_plan import ml
from lapel.documents.wording import wording
from lapel.exchange.laboratory.answer_words import answers_in_words
from lapel.office.audit.words import Asked, fields_of, finding_called, number
from lapel.office.field_day.showing import KIND_NAMES, by_the_clock, clock_text, field_name
from lapel.office.report.forms import PARTS
from lapel.office.report.letterhead import LANGUAGE_NAMES, SECTIONS
from lapel.records import models
from lapel.records.audit import Change, FieldChange

Rows: TypeAlias = dict[str, tuple[str, str]]
"""Parts of one value: by where each stands, what it is called and what it says."""

MOST_OF_A_TITLE = 60
MOST_AT_ONCE = 6
"""Rows of one change that are shown at once; of more, all but the first few are unfolded."""


def change_cells(changes: Iterable[Change], zone: ZoneInfo) -> list[dict[str, Any]]:
    """Changes in words, as a page shows them: few rows at once, and those to unfold."""
    cells = []
    for change in in_words(changes, zone):
        at_once = len(change.fields) if len(change.fields) <= MOST_AT_ONCE else MOST_AT_ONCE - 1
        cells.append({"change": change, "shown": change.fields[:at_once], "folded": change.fields[at_once:]})
    return cells


def in_words(changes: Iterable[Change], zone: ZoneInfo) -> list[Change]:
    """
    Say changes in the words of the pages they were made on.

    Parameters
    ----------
    changes : iterable of Change
    zone : ZoneInfo
        The clock of the site; instants are told by it.

    Returns
    -------
    list of Change
        The same changes. A field that holds several answers becomes a row for each that changed; nothing is left out,
        and what no page has a word for is shown as it is kept.
    """
    return [
        replace(
            change,
            record=change.record if change.about is None else called(change.about),
            fields=tuple(_rows(change, zone)),
        )
        for change in changes
    ]


def called(record: Model) -> str:
    """Say what a record is to the people who work with it."""
    try:
        return _CALLED.get(type(record), lambda one: f"{one._meta.verbose_name} {one}")(record)
    except ObjectDoesNotExist:  # it is called by something that is no longer there
        return f"{record._meta.verbose_name} number {record.pk}"


def _rows(change: Change, zone: ZoneInfo) -> Iterator[FieldChange]:
    if isinstance(change.about, models.LogEntry):
        yield from (_of_entry(one, zone) for one in change.fields)
        return
    order = list(fields_of(type(change.about))) if change.about is not None else []
    for one in sorted(change.fields, key=lambda one: _place(one.of, order)):
        if one.of is None:
            yield one
        else:
            yield from _of_record(one, one.of, zone)


def _place(of: Field[Any, Any] | None, order: list[str]) -> int:
    return order.index(of.name) if of is not None and of.name in order else len(order)


def _of_entry(one: FieldChange, zone: ZoneInfo) -> FieldChange:
    before, after = (by_the_clock(text, zone) for text in (one.before, one.after))
    return replace(one, field=field_name(one.field), before=before, after=after)


def _of_record(one: FieldChange, of: Field[Any, Any], zone: ZoneInfo) -> Iterator[FieldChange]:
    asked = fields_of(of.model).get(of.name) or Asked(str(of.verbose_name).capitalize())
    if isinstance(of, ForeignKey) or isinstance(one.now or one.was, bytes | memoryview):
        yield replace(one, field=asked.label)
        return
    parts = _PARTS.get((of.model, of.name)) or (partial(_parts_of, asked.label) if _has_parts(one, asked) else None)
    if parts is not None:
        yield from _compared(one, parts)
        return
    before, after = (_text(value, asked, zone) for value in (one.was, one.now))
    if before == after:  # they differ by less than is written
        before, after = one.before, one.after
    yield replace(one, field=asked.label, before=before, after=after)


def _has_parts(one: FieldChange, asked: Asked) -> bool:
    return asked.written is None and any(
        isinstance(value, dict) or (isinstance(value, list) and not all(isinstance(part, str) for part in value))
        for value in (one.was, one.now)
    )


def _compared(one: FieldChange, parts: Callable[[Any], Rows]) -> Iterator[FieldChange]:
    """Give a row for each part that says something else; a part that came or went has one row."""
    before, after = parts(one.was), parts(one.now)
    for place in dict.fromkeys((*before, *after)):
        (name, was), (other, now) = before.get(place, ("", "")), after.get(place, ("", ""))
        if was != now:
            yield replace(one, field=other or name, before=was, after=now)


def _text(value: Any, asked: Asked, zone: ZoneInfo) -> str:
    if value is None or value == "" or value == []:
        return ""
    if asked.written is not None:
        return _written(asked.written, value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return clock_text(value, zone)
    return ", ".join(value) if isinstance(value, list) else number(value)


def _written(writer: Callable[[Any], str], value: Any) -> str:
    """Write a value as its form does; one of a kind the form does not know stands as it is kept."""
    try:
        return writer(value)
    except (TypeError, ValueError, IndexError):
        return _as_it_is(value)


# values with parts ---------------------------------------------------------------------------------------------------


def _parts_of(label: str, value: Any) -> Rows:
    """Take a value nobody has words for apart: a row for each name or place in it, what stands there as it is."""
    if value in (None, "", [], {}):
        return {}
    named = value.items() if isinstance(value, Mapping) else enumerate(value, 1) if isinstance(value, list) else ()
    rows = {str(name): (f"{label}, {name}", _as_it_is(said)) for name, said in named}
    return rows or {"": (label, _as_it_is(value))}


def _as_it_is(said: Any) -> str:
    return said if isinstance(said, str) else json.dumps(said, ensure_ascii=False)


def _notes(value: Any) -> Rows:
    return {name: (f"Note “{name}”", _as_it_is(said)) for name, said in (value or {}).items()}


def _answers(value: str | None) -> Rows:
    """The answers of a laboratory's map; a document its columns are read by is shown as it is."""
    try:
        said = json.loads(value or "{}")
    except ValueError:
        said = None
    if not isinstance(said, dict):
        return {"": ("How its columns are read", value or "")}
    return answers_in_words(said)


def _ports(value: Any) -> Rows:
    rows: Rows = {}
    for place, port in enumerate(value or (), 1):
        if not isinstance(port, Mapping) or not isinstance(port.get("kind"), Mapping):
            rows[str(place)] = (f"Port {place}", _as_it_is(port))
            continue
        letter, kind = str(port.get("letter", place)), port["kind"]
        for name, said in {**{key: one for key, one in port.items() if key not in ("letter", "kind")}, **kind}.items():
            if said not in ("", None, []):
                label, written = _OF_A_PORT.get(name, (name, _as_it_is))
                rows[f"{letter} {name}"] = (f"Port {letter}: {label}", _written(written, said))
    return rows


def _own_texts(value: Any) -> Rows:
    rows: Rows = {}
    for language, sections in (value or {}).items():
        for section, texts in sections.items():
            for key, said in texts.items():
                about = f"{SECTIONS.get(section, section)}, {LANGUAGE_NAMES.get(language, language)}"
                rows[f"{language} {section} {key}"] = (f"{about}: {_packaged(language, section, key)}", said)
    return rows


def _packaged(language: str, section: str, key: str) -> str:
    try:
        return f"“{wording(language).texts[section][key]}”"
    except (KeyError, ValueError):
        return key


def _codes(said: Any) -> str:
    return ", ".join(map(str, said)) if isinstance(said, list) else _as_it_is(said)


_OF_A_PORT: Mapping[str, tuple[str, Callable[[Any], str]]] = {
    "flow_lpm": ("flow", ml),
    "medium": ("medium", _as_it_is),
    "agents": ("agents", _codes),
    "methods": ("methods", _codes),
    "purpose": ("purpose", _as_it_is),
    "task": ("task", _as_it_is),
    "minutes": ("minutes", number),
    "samplers": ("samplers one after the other", number),
    "flow_low_lpm": ("lowest flow", ml),
    "flow_high_lpm": ("highest flow", ml),
}

_PARTS: Mapping[tuple[type[Model], str], Callable[[Any], Rows]] = {
    (models.Survey, "notes"): _notes,
    (models.PlanTerms, "notes"): _notes,
    (models.PlannedTrain, "ports"): _ports,
    (models.LaboratoryReport, "mapping"): _answers,
    (models.DeliveredFile, "answers"): _answers,
    (models.LaboratoryLayout, "answers"): _answers,
    (models.Letterhead, "words"): _own_texts,
}
"""Fields that hold several answers, and how they are taken apart."""


# what records are called ---------------------------------------------------------------------------------------------


def _short(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= MOST_OF_A_TITLE else f"{line[: MOST_OF_A_TITLE - 1].rstrip()}…"


_CALLED: Mapping[type[Model], Callable[[Any], str]] = {
    models.LogEntry: lambda one: f"entry {KIND_NAMES.get(one.kind, one.kind)}, {one.entry_id}",
    models.LimitChoice: lambda one: f"limit of {one.agent}: {one}",
    models.MediaLot: lambda one: f"lot {one}",
    models.SampleOrder: lambda one: f"sample {one}",
    models.FindingOverride: lambda one: f"lifted finding “{finding_called(one.rule)}” on {one.sampler}",
    models.LaboratoryReport: lambda one: f"report {one}",
    models.LaboratoryResult: lambda one: f"result of {one}",
    models.DeliveredFile: str,  # which is “file” and its name
    models.LaboratoryLayout: str,
    models.ExposureGroup: lambda one: f"group {one}",
    models.EarlierPlace: lambda one: f"earlier group of {one}",
    models.EarlierCertificate: lambda one: f"certificate of {one}",
    models.Membership: lambda one: f"person {one.user}",
    models.Letterhead: str,
    models.PlanTerms: lambda one: "terms of the plan",
    models.PlanQuestion: lambda one: f"question {one}",
    models.PlanTechnician: lambda one: f"technician {one}",
    models.PlanWorker: lambda one: f"worker {one} in the plan",
    models.PlanMedium: lambda one: f"medium {one} in the plan",
    models.PlanLaboratory: lambda one: f"what the laboratory said: {one}",
    models.OfferedShift: lambda one: f"{one}, on offer",
    models.ReportTerms: str,
    models.ReportText: lambda one: f"text “{PARTS[one.part][0] if one.part in PARTS else one.part}”",
    models.Recommendation: lambda one: f"recommendation “{_short(one.action)}”",
    models.ReviewComment: lambda one: f"question about {_short(one.about)}",
    models.Telling: str,
}
"""What the kinds are called whose own words say too little, or are those of programs."""
