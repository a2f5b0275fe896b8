"""
Laboratory reports written back: the delivered file byte for byte with the document that reads it.

A report whose records no longer say what the delivered file says, because a result was corrected, is written in our own
columns, so that the folder gives the figures the records give. What was delivered then stands beside it, in
``laboratory/as-delivered/``, untouched and read by nobody.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

from lapel.assessment.inputs import LaboratoryReport, LaboratoryResult, Survey
from lapel.exchange.problems import Faults
from lapel.exchange.survey_folder.folder_files import FolderFiles
from lapel.exchange.survey_folder.laboratory import Results, read_laboratory
from lapel.exchange.survey_folder.writer_cells import date_text, number
from lapel.exchange.survey_folder.writer_log import file_names
from lapel.exchange.survey_folder.writer_toml import report_document

FOLDER = "laboratory"
AS_DELIVERED = f"{FOLDER}/as-delivered"
MAP = "map.json"
"""Beside a delivered file: the answers by which it was read."""
ACCEPTED = "accepted.json"
"""Beside a file that was taken over into a folder: its own document stands for it, with what was not analysed."""
_DELIVERED = (".csv", ".txt", ".tsv", ".xlsx", ".pdf")

_COLUMNS = {
    "sampler": "Sampler",
    "agent": "Agent",
    "front": "Front, ug",
    "back": "Back, ug",
    "reporting_limit": "Reporting limit, ug",
    "recovery": "Recovery",
    "uncertainty": "Relative standard uncertainty",
    "concentration": "Concentration, mg/m3",
    "volume": "Air volume, L",
    "medium": "Medium",
    "remark": "Remark",
    "analysed_on": "Analysed on",
}


@dataclass(frozen=True, slots=True)
class Delivered:
    """
    A report as it came: the file's name and bytes, and the document that says how it is read.

    A report that was read by its answers, and not by a document, has an empty document and its map in `answers`.
    """

    file: str
    content: bytes
    document: str
    answers: str = ""


def as_it_came(file: str, content: bytes, mapping: str) -> Delivered:
    """Return a kept report as it came; its mapping is a document, or the map of answers, which begins with “{”."""
    return Delivered(file, content, "", mapping) if mapping[:1] in ("", "{") else Delivered(file, content, mapping)


def write_laboratory(root: Path, survey: Survey, delivered: Mapping[str, Delivered]) -> tuple[str, ...]:
    """
    Write every report of a survey.

    Parameters
    ----------
    root : Path
        The folder being written.
    survey : Survey
        With its reports and results.
    delivered : mapping of str to Delivered
        By report, where the file was kept.

    Returns
    -------
    tuple of str
        Reports that had to be written in our own columns.
    """
    if not survey.reports:
        return ()
    (root / FOLDER).mkdir()
    results: dict[str, list[LaboratoryResult]] = defaultdict(list)
    for result in survey.results:
        results[result.report].append(result)
    stems = file_names(survey.reports, taken=())
    faithful = _faithful(root, survey, results, delivered, stems)
    own = tuple(code for code in survey.reports if code not in faithful)
    taken = {PurePosixPath(path.name).stem.casefold() for path in (root / FOLDER).iterdir()}
    names = file_names(own, taken=taken)
    for code in own:
        file = f"{names[code]}.csv"
        came = delivered.get(code)
        place = f"{PurePosixPath(AS_DELIVERED).name}/{names[code]}/{_plain_name(came.file)}" if came else ""
        kept = (place, hashlib.sha256(came.content).hexdigest()) if came and not came.document else None
        document = report_document(survey.reports[code], file, _COLUMNS, as_delivered=kept)
        _put(root / FOLDER / f"{names[code]}.toml", document.encode())
        _put(root / FOLDER / file, _results_text(results[code]).encode())
        if came is not None:
            beside = root / AS_DELIVERED / names[code]
            beside.mkdir(parents=True)
            _put(beside / _plain_name(came.file), came.content)
            if came.document:
                _put(beside / f"{stems[code]}.toml", came.document.encode())
            if came.answers:
                _put(beside / MAP, came.answers.encode())
    return own


def kept_as_delivered(root: Path, report: LaboratoryReport) -> Delivered | None:
    """Find what was delivered of a report that stands in our own columns; `None` where nothing stands beside it."""
    beside = root / AS_DELIVERED / PurePosixPath(report.origin).stem
    if not beside.is_dir():
        return None
    documents = sorted(beside.glob("*.toml"))
    files = sorted(path for path in beside.iterdir() if path.suffix.lower() in _DELIVERED)
    if len(documents) > 1 or len(files) != 1:
        return None
    if (beside / ACCEPTED).is_file():
        return None
    answers = (beside / MAP).read_text(encoding="utf-8") if (beside / MAP).is_file() else ""
    document = documents[0].read_text(encoding="utf-8") if documents else ""
    return Delivered(f"{FOLDER}/{files[0].name}", files[0].read_bytes(), document, answers)


def _faithful(
    root: Path,
    survey: Survey,
    results: Mapping[str, list[LaboratoryResult]],
    delivered: Mapping[str, Delivered],
    stems: Mapping[str, str],
) -> set[str]:
    """Write reports as delivered where reading them gives what the records hold; return their codes."""
    chosen: dict[str, tuple[Path, Path]] = {}
    contents: dict[str, bytes] = {}
    for code, report in survey.reports.items():
        came = delivered.get(code)
        if came is None or not came.document:
            continue
        file = _plain_name(came.file)
        if contents.setdefault(file.casefold(), came.content) != came.content:
            continue  # another file of the same name is there
        chosen[code] = root / FOLDER / f"{_document_name(report, stems[code])}.toml", root / FOLDER / file
        _put(chosen[code][0], came.document.encode())
        _put(chosen[code][1], came.content)
    read = _read(root, survey)
    faithful = {
        code
        for code in chosen
        if code in read.reports
        and _alike(read.reports[code], survey.reports[code])
        and [_bare(result) for result in read.results if result.report == code] == [*map(_bare, results[code])]
    }
    used = {path for code in faithful for path in chosen[code]}
    for code in set(chosen) - faithful:
        for path in chosen[code]:
            if path not in used:
                path.unlink(missing_ok=True)
    return faithful


def _read(root: Path, survey: Survey) -> Results:
    ordered = {
        code: {survey.methods[method].agent for method in order.methods if method in survey.methods}
        for code, order in survey.orders.items()
    }
    return read_laboratory(FolderFiles(root, Faults()), samplers=None, agents=None, ordered=ordered)


def _alike(read: LaboratoryReport, kept: LaboratoryReport) -> bool:
    return replace(read, origin="", file="", sha256="") == replace(kept, origin="", file="", sha256="")


def _bare(result: LaboratoryResult) -> LaboratoryResult:
    return replace(result, origin="")


def _document_name(report: LaboratoryReport, otherwise: str) -> str:
    """Keep the name the document had; one made of the report's number where there was none."""
    path = PurePosixPath(report.origin)
    plain = file_names([path.stem], taken=())[path.stem] if path.suffix == ".toml" else ""
    return path.stem if plain == path.stem else otherwise


def _plain_name(file: str) -> str:
    """Return the name alone, whatever path stands before it: nothing is written outside the folder."""
    name = PurePosixPath(file.replace("\\", "/")).name
    return name if name not in ("", ".", "..") else "delivered.csv"


def _results_text(results: Iterable[LaboratoryResult]) -> str:
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_COLUMNS.values())
    for result in results:
        writer.writerow(
            (
                result.sampler,
                result.agent,
                _mass(result.front_ug, result.front_below),
                _mass(result.back_ug, result.back_below),
                number(result.reporting_limit_ug),
                number(result.recovery),
                number(result.relative_u),
                number(result.concentration_mg_m3),
                number(result.volume_l),
                result.medium,
                result.remark,
                date_text(result.analysed_on),
            )
        )
    return text.getvalue()


def _mass(value: float | None, below: bool) -> str:
    return "" if value is None else ("<" if below else "") + number(value)


def _put(path: Path, content: bytes) -> None:
    path.write_bytes(content)
