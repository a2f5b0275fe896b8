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
import tomllib
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath

from lapel.assessment.inputs import LaboratoryReport, LaboratoryResult, Survey
from lapel.exchange.problems import Faults
from lapel.exchange.survey_folder.files_beside import ACCEPTED, AS_DELIVERED, FOLDER, MAP, files_beside, write_beside
from lapel.exchange.survey_folder.folder_files import FolderFiles
from lapel.exchange.survey_folder.laboratory import Results, read_laboratory
from lapel.exchange.survey_folder.own_table import COLUMNS, own_row
from lapel.exchange.survey_folder.writer_log import file_names
from lapel.exchange.survey_folder.writer_toml import report_document

_DELIVERED = (".csv", ".txt", ".tsv", ".xlsx", ".pdf")


@dataclass(frozen=True, slots=True)
class Delivered:
    """
    A report as it came: the file's name and bytes, and the document that says how it is read.

    A report that was read by its answers, and not by a document, has an empty document and its map in `answers`.
    `beside` is what else is kept of it, by its place in the report's folder: above all its earlier versions.
    """

    file: str
    content: bytes
    document: str
    answers: str = ""
    beside: Mapping[str, bytes] = field(default_factory=dict)


def as_it_came(file: str, content: bytes, mapping: str, beside: Mapping[str, bytes]) -> Delivered:
    """Return a kept report as it came; its mapping is a document, or the map of answers, which begins with “{”."""
    if mapping[:1] in ("", "{"):
        return Delivered(file, content, "", mapping, beside)
    return Delivered(file, content, mapping, beside=beside)


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
        _write_own(root, survey.reports[code], results[code], delivered.get(code), names[code])
    return own


def _write_own(
    root: Path, report: LaboratoryReport, results: Sequence[LaboratoryResult], came: Delivered | None, name: str
) -> None:
    """Write a report in our own columns, and beside it what was delivered."""
    file, beside = f"{name}.csv", dict(came.beside) if came else {}
    original = ""
    if came is not None:
        original = _add(beside, _plain_name(came.file), came.content)
        if came.document:
            _add(beside, f"{name}.toml", came.document.encode())
            original = _as_delivered_in(came.document).name
        if came.answers:
            _add(beside, MAP, came.answers.encode())
    kept = None
    if original in beside:
        place = f"{PurePosixPath(AS_DELIVERED).name}/{name}/{original}"
        kept = place, hashlib.sha256(beside[original]).hexdigest()
    document = report_document(report, file, COLUMNS, as_delivered=kept)
    _put(root / FOLDER / f"{name}.toml", document.encode())
    _put(root / FOLDER / file, _results_text(results).encode())
    write_beside(root / AS_DELIVERED / name, beside)


def _add(beside: dict[str, bytes], name: str, content: bytes) -> str:
    """Add a file to those beside a report, under another name where its own is taken; return the name."""
    while name in beside and beside[name] != content:
        name = f"as-read-{name}"
    beside[name] = content
    return name


def _as_delivered_in(document: str) -> PurePosixPath:
    """Return where a document says that the file as it came is kept, below laboratory; “.” where it says nothing."""
    place = tomllib.loads(document).get("as_delivered", "")
    return PurePosixPath(place) if isinstance(place, str) else PurePosixPath()


def kept_as_delivered(root: Path, report: LaboratoryReport) -> Delivered:
    """
    Return what is kept of a report: the file as it came, how it was read, and all that stands beside.

    Raises
    ------
    OSError, UnicodeError
        A file cannot be read, or changed since the folder was.
    """
    beside = root / AS_DELIVERED / PurePosixPath(report.origin).stem
    top = [path for path in beside.iterdir() if path.is_file()] if beside.is_dir() else []
    documents = [path for path in top if path.suffix == ".toml"]
    files = [path for path in top if path.suffix.lower() in _DELIVERED]
    if len(documents) <= 1 and len(files) == 1 and not (beside / ACCEPTED).is_file():
        read = [*documents, *files, beside / MAP]
        answers = (beside / MAP).read_text(encoding="utf-8") if (beside / MAP).is_file() else ""
        document = documents[0].read_text(encoding="utf-8") if documents else ""
        place = f"{FOLDER}/{files[0].name}"
        return Delivered(place, files[0].read_bytes(), document, answers, files_beside(beside, without=read))
    content, document = (root / report.file).read_bytes(), (root / report.origin).read_bytes().decode("utf-8-sig")
    if hashlib.sha256(content).hexdigest() != report.sha256:
        raise OSError(0, "it changed while it was read")
    return Delivered(report.file, content, document, beside=files_beside(beside) if beside.is_dir() else {})


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
    for code in faithful:
        came = delivered[code]
        place = _as_delivered_in(came.document).parts
        folder = place[1] if len(place) == 3 else chosen[code][0].stem
        write_beside(root / AS_DELIVERED / _plain_name(folder), came.beside)
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
    writer.writerow(COLUMNS.values())
    writer.writerows(map(own_row, results))
    return text.getvalue()


def _put(path: Path, content: bytes) -> None:
    path.write_bytes(content)
