"""
A survey made ready for somebody who asks for it: the figures stay, the people go.

Codes of workers become “W-1”, “W-2” in an order drawn anew each time, everybody who recorded, gave or took becomes
“person 1” and so on, and free texts are withheld, because a sentence can name anybody. A worker's own request can keep
the one code that is theirs. What is replaced cannot be read back from the result; figures stay to the last digit.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from lapel.assessment.delivered_results import is_not_analysed_note
from lapel.assessment.inputs import LaboratoryResult, Survey
from lapel.exchange.problems import InputProblems
from lapel.exchange.survey_folder import read_survey
from lapel.exchange.survey_folder.writer import write_survey
from lapel.fieldlog import KINDS, Entry

WITHHELD = "(withheld)"

_WORKER_FIELDS = frozenset({"worker"})
_PERSON_FIELDS = frozenset({"from", "to"})
_KEPT_TEXTS = frozenset({"place"})
"""A place gives samples their air: without it figures would change."""
_CHOICES = frozenset(choice for kind in KINDS.values() for field in kind.fields.values() for choice in field.choices)


def write_coded_survey(source: Path, target: Path, *, keep_worker: str = "") -> None:
    """
    Write a survey folder anew without the people in it.

    Parameters
    ----------
    source : Path
        Survey folder as it is.
    target : Path
        Folder to write; it must not be there.
    keep_worker : str
        Code of the worker who asks for their own record: it stays.

    Raises
    ------
    KeyError
        There is no such worker.
    InputProblems
        The folder cannot be read, or something in it cannot be written; nothing is to be used of what was.
    """
    written = write_survey(redacted(read_survey(source), keep_worker=keep_worker), target)
    if written.problems:
        raise InputProblems(list(written.problems))


def redacted(survey: Survey, *, keep_worker: str = "") -> Survey:
    """
    Replace people and free texts.

    Parameters
    ----------
    survey : Survey
        As read.
    keep_worker : str
        Code of the worker who asks for their own record: it stays.

    Returns
    -------
    Survey
        To be written as a folder of its own (`write_survey`) and assessed from there.

    Raises
    ------
    KeyError
        There is no such worker.
    """
    if keep_worker and keep_worker not in survey.workers:
        raise KeyError(f"no worker {keep_worker} in this survey")
    workers = _new_codes(survey.workers, keep_worker)
    people = _People()
    shifts = {
        code: replace(
            shift,
            worker=workers[shift.worker],
            unsampled_reason=WITHHELD if shift.unsampled_reason else "",
        )
        for code, shift in survey.shifts.items()
    }
    renamed = {
        workers[code]: replace(worker, code=workers[code], job=WITHHELD if worker.job else "")
        for code, worker in survey.workers.items()
    }
    return replace(
        survey,
        prepared_by=people.of(survey.prepared_by),
        workers=dict(sorted(renamed.items())),
        shifts=shifts,
        results=tuple(_without_remark(result) for result in survey.results),
        entries=tuple(_entry(entry, workers, people) for entry in survey.entries),
        overrides=tuple(
            replace(override, person=people.of(override.person), reason=WITHHELD) for override in survey.overrides
        ),
        notes={key: words if is_not_analysed_note(key) else WITHHELD for key, words in survey.notes.items()},
    )


class _People:
    """Numbers people as they first appear."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}

    def of(self, name: str) -> str:
        if not name:
            return ""
        return f"person {self._numbers.setdefault(name.strip().casefold(), len(self._numbers) + 1)}"


def _new_codes(workers: Mapping[str, object], keep: str) -> dict[str, str]:
    """Give every worker a new code that is nobody's old one."""
    new: dict[str, str] = {}
    number = 0
    for code in sorted(workers, key=lambda _code: secrets.randbits(64)):
        if code == keep:
            new[code] = code
            continue
        number += 1
        while f"W-{number}" in workers:
            number += 1
        new[code] = f"W-{number}"
    return new


def _entry(entry: Entry, workers: Mapping[str, str], people: _People) -> Entry:
    fields = {name: _field(entry.kind, name, value, workers, people) for name, value in entry.fields.items()}
    if entry.kind == "correction" and entry.fields.get("value"):
        corrected, value = entry.fields.get("field", ""), entry.fields["value"]
        fields["value"] = _corrected(corrected, value, workers, people)
    return replace(
        entry,
        author=people.of(entry.author),
        fields=fields,
        reason=WITHHELD if entry.reason else "",
        previous_hash="",
        hash="",
    )


def _field(kind: str, name: str, value: str, workers: Mapping[str, str], people: _People) -> str:
    if not value:
        return value
    if name in _WORKER_FIELDS or (name == "about" and value in workers):
        return workers.get(value, WITHHELD)
    if name in _PERSON_FIELDS:
        return people.of(value)
    known = KINDS[kind].fields if kind in KINDS else {}
    if name in known and known[name].type == "signature":
        return ""  # nothing that names a person, and no mark of a hand
    return WITHHELD if name not in known or _is_text(kind, name) else value


def _corrected(field: str, value: str, workers: Mapping[str, str], people: _People) -> str:
    if field in _PERSON_FIELDS:
        return people.of(value)
    free = any(field in spec.fields and _is_text(kind, field) for kind, spec in KINDS.items())
    return WITHHELD if free and value not in _CHOICES else workers.get(value, value)


def _is_text(kind: str, field: str) -> bool:
    return field not in _KEPT_TEXTS and KINDS[kind].fields[field].type == "text"


def _without_remark(result: LaboratoryResult) -> LaboratoryResult:
    return replace(result, remark=WITHHELD if result.remark else "")
