"""Laboratory reports: every document of the folder, the file it describes, and the results in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from lapel.assessment.inputs import LaboratoryReport, LaboratoryResult
from lapel.exchange.problems import Place, quoted
from lapel.exchange.survey_folder.delivered import Grid, delivered_grid
from lapel.exchange.survey_folder.files_beside import check_beside
from lapel.exchange.survey_folder.folder_files import FolderFiles
from lapel.exchange.survey_folder.layout import LABORATORY
from lapel.exchange.survey_folder.report_map import FOLDER, delivered_name, is_settled
from lapel.exchange.survey_folder.report_rows import Expected, ReportReader
from lapel.exchange.survey_folder.tables import DocumentValues, read_document


@dataclass(slots=True)
class Results:
    """All reports and results of a folder."""

    reports: dict[str, LaboratoryReport] = field(default_factory=dict)
    results: list[LaboratoryResult] = field(default_factory=list)
    not_analysed: dict[str, str] = field(default_factory=dict)


def read_laboratory(
    files: FolderFiles,
    *,
    samplers: set[str] | None,
    agents: set[str] | None,
    ordered: Mapping[str, set[str]],
) -> Results:
    """
    Read every report of the folder's laboratory part.

    Parameters
    ----------
    samplers, agents : set of str or None
        Codes a result may name; `None` if their own list could not be read.
    ordered : mapping of str to set of str
        Agents wanted of each sampler, to tell an empty cell that matters from one that does not.
    """
    all_results = Results()
    described: set[str] = set()
    expected = Expected(samplers, agents, ordered)
    for name in files.names(FOLDER, ".toml"):
        document = read_document(files, name, LABORATORY)
        if document is None:
            continue
        delivered = delivered_name(document, files.faults)
        if delivered is None:
            continue
        described.add(delivered)
        grid = delivered_grid(files, delivered, document)
        if grid is not None and is_settled(document, files.faults):
            _add_report(files, document, delivered, grid, expected, all_results)
    for ending in (".csv", ".xlsx"):
        for name in files.names(FOLDER, ending):
            if name not in described:
                files.faults.add(
                    Place(name),
                    "a file that no laboratory document names",
                    f"a document that says how to read it, such as {PurePosixPath(name).with_suffix('.toml')}",
                    "Write one, or move the file elsewhere.",
                )
    return all_results


def _add_report(
    files: FolderFiles,
    document: DocumentValues,
    delivered: str,
    grid: Grid,
    expected: Expected,
    all_results: Results,
) -> None:
    code = document["code"]
    if code in all_results.reports:
        files.faults.add(
            document.place("code"),
            f"{quoted(code)}, which {all_results.reports[code].origin} has too",
            "every report number once",
            "Correct the number, or take the copy away.",
        )
        return
    received, samples_received = document["received_on"], document["samples_received_on"]
    if received and samples_received and samples_received > received:
        files.faults.add(
            document.place("samples_received_on"),
            f"{samples_received}, after the report came",
            f"a day up to {received}",
            "Correct one of the days.",
        )
    _check_as_delivered(files, document)
    all_results.reports[code] = LaboratoryReport(
        code=code,
        laboratory=document["laboratory"] or "",
        received_on=received,
        file=delivered,
        sha256=files.hash_of(delivered),
        samples_received_on=samples_received,
        receipt_temperature_k=document["receipt_temperature"],
        recovery_corrected_by=document["recovery_corrected_by"] or "nobody",
        blank_corrected_by=document["blank_corrected_by"] or "nobody",
        origin=document.file,
    )
    if document["units.mass"] is None:
        return
    ReportReader(
        document, delivered, grid, expected, files.faults, all_results.results, all_results.not_analysed
    ).read()


def _check_as_delivered(files: FolderFiles, document: DocumentValues) -> None:
    """Hold the file as it came, where it is kept, against the hash taken of it when it was accepted."""
    check_beside(files, PurePosixPath(document.file).stem)
    name, wanted = document["as_delivered"], document["as_delivered_sha256"]
    if not name or not wanted or ".." in PurePosixPath(name).parts:
        return
    if files.bytes_of(f"{FOLDER}/{name}") is not None and files.hash_of(f"{FOLDER}/{name}") != wanted:
        files.faults.add(
            document.place("as_delivered"),
            f"{name}, which is no longer the file that was accepted",
            "the file with the SHA-256 in as_delivered_sha256",
            "Put the file as it came back in its place, or read the new one with lapel results.",
        )
