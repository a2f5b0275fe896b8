"""The texts a settled report is kept as: results in our own columns, how they are read, the map and the acceptance."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from lapel.assessment.delivered_results import DeliveredResult
from lapel.assessment.inputs import LaboratoryReport, LaboratoryResult
from lapel.assessment.report_versions import Difference
from lapel.exchange.laboratory.proposal import Proposal
from lapel.exchange.laboratory.report_map import ReportMap
from lapel.exchange.survey_folder.own_table import COLUMNS, UNITS, own_row
from lapel.exchange.survey_folder.writer_toml import document, report_heads

_LOST = "not analysed"
_EVIDENCE = ("Read from", "As printed")


def map_with_facts(proposal: Proposal) -> ReportMap:
    """Return the map with all that was decided in it: columns as confirmed, marks, corrections, the report's facts."""
    said: ReportMap = json.loads(json.dumps(proposal.report_map))
    facts = proposal.facts
    said["laboratory"] = facts.laboratory
    columns = said.setdefault("columns", {})
    for table in proposal.tables:
        count = Counter(column.heading for column in table.columns)
        for column in table.columns:
            if not column.heading or column.sampler:
                continue
            entry: dict[str, str] = {"role": column.role}
            if count[column.heading] > 1:  # one heading over several columns: their neighbours say whose each is
                columns.setdefault(column.heading, entry)
                continue
            if column.agent:
                entry["agent"] = column.agent
            if column.section:
                entry["section"] = column.section
            if column.unit is not None and column.unit.name != "?":
                entry["unit"] = column.unit.name
            columns.setdefault(column.heading, entry)
    said["recovery_corrected_by"] = facts.recovery_corrected_by
    said["blank_corrected_by"] = facts.blank_corrected_by
    if facts.uncertainty_factor is not None:
        said["uncertainty_factor"] = facts.uncertainty_factor
    own = said.setdefault("report", {})
    own |= {"code": facts.code, "file": proposal.file.name, "sha256": proposal.file.sha256}
    if facts.received_on is not None:
        own["received_on"] = facts.received_on.isoformat()
    if facts.samples_received_on is not None:
        own["samples_received_on"] = facts.samples_received_on.isoformat()
    return said


def acceptance(
    report: LaboratoryReport,
    proposal: Proposal,
    version: int,
    changes: Sequence[Difference],
    confirmed_by: str,
) -> str:
    """Write how the file was read, what of it was left out, and what changed against the version before."""
    said: dict[str, Any] = {
        "format": "lapel accepted report 1",
        "report": report.code,
        "version": version,
        "file": proposal.file.name,
        "sha256": proposal.file.sha256,
        "confirmed_by": confirmed_by,
        "read_as": dict(proposal.file.read_as),
        "columns": [
            {
                "table": table.table.sheet,
                "heading_rows": list(table.table.header_rows),
                **column.as_dict(),
            }
            for table in proposal.tables
            for column in table.columns
        ],
        "left_out": [{"where": row.where, "cells": row.cells, "why": row.why} for row in proposal.left_out],
        "remarks": list(proposal.remarks),
        "changes": [
            {"sampler": c.sampler, "agent": c.agent, "what": c.what, "before": c.before, "after": c.after}
            for c in changes
        ],
    }
    return json.dumps(said, ensure_ascii=False, indent=1) + "\n"


def report_document(report: LaboratoryReport, file: str, as_delivered: str, version: int, any_lost: bool) -> str:
    """Write the document that says how the table of results is read."""
    heads = report_heads(report, file)
    heads |= {
        "as_delivered": as_delivered,
        "as_delivered_sha256": report.sha256,
        "version": version,
        "ignored_columns": list(_EVIDENCE),
    }
    if any_lost:
        heads["not_analysed"] = [_LOST]
    return document(heads, {"columns": dict(COLUMNS), "units": dict(UNITS)})


def results_table(
    results: Iterable[LaboratoryResult],
    lost: Iterable[tuple[str, str, str]],
    delivered: Iterable[DeliveredResult],
) -> str:
    """Write the results in our own columns, each with where it was read and what was printed there."""
    printed = {row.origin + "|" + row.agent: row.printed for row in delivered}
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*COLUMNS.values(), *_EVIDENCE])
    for row in results:
        in_cells = replace(row, medium=one_line(row.medium), remark=one_line(row.remark))
        as_printed = printed.get(f"{row.origin}|{row.agent}", "")
        writer.writerow((*own_row(in_cells), one_line(row.origin), one_line(as_printed)))
    for sampler, agent, why in lost:
        writer.writerow([sampler, agent, _LOST, *[""] * 7, one_line(why), "", "", ""])
    return text.getvalue()


def one_line(text: str) -> str:
    """Return a text as it stands in one cell."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())[:3900]
