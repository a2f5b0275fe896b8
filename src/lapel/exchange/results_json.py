"""A report that was read, as open data for other programs: proposal, questions, results, and what does not agree."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from lapel.exchange.laboratory.session import ReadReport

FORMAT = "lapel-results"
FORMAT_VERSION = 1


def report_as_data(read: ReadReport) -> dict[str, Any]:
    """Lay a read report out as JSON-ready data; numbers are in canonical units, unrounded."""
    proposal, reconciled = read.proposal, read.reconciliation
    facts = proposal.facts
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "file": proposal.file.name,
        "sha256": proposal.file.sha256,
        "read_as": dict(proposal.file.read_as),
        "settled": read.is_settled,
        "report": {
            "code": facts.code,
            "laboratory": facts.laboratory,
            "received_on": facts.received_on.isoformat() if facts.received_on else None,
            "samples_received_on": facts.samples_received_on.isoformat() if facts.samples_received_on else None,
            "recovery_corrected_by": facts.recovery_corrected_by,
            "blank_corrected_by": facts.blank_corrected_by,
            "uncertainty_factor": facts.uncertainty_factor,
            "evidence": dict(facts.evidence),
            "replaces": read.replaces,
        },
        "tables": [
            {
                "sheet": table.table.sheet,
                "heading_rows": list(table.table.header_rows),
                "agent": table.agent,
                "confidence": table.confidence,
                "columns": [{**column.as_dict(), "cells": list(column.cells)} for column in table.columns],
            }
            for table in proposal.tables
        ],
        "questions": [question.as_dict() for question in proposal.questions],
        "results": [_plain(asdict(row)) for row in proposal.results],
        "left_out": [asdict(row) for row in proposal.left_out],
        "remarks": list(proposal.remarks),
        "matches": [asdict(match) for match in reconciled.matches] if reconciled else [],
        "matters": [asdict(matter) for matter in reconciled.matters] if reconciled else [],
        "changes": [asdict(change) for change in read.changes],
        "suspicions": [asdict(suspicion) | {"asks": suspicion.question()} for suspicion in read.suspicions],
        "standings": _standings(read),
        "letter": read.letter,
    }


def _standings(read: ReadReport) -> list[dict[str, Any]]:
    if read.assessment is None:
        return []
    mine = {(row.sampler, row.agent) for row in read.results}
    return [
        {
            "sampler": sample.sampler,
            "agent": sample.agent.key,
            "standing": sample.standing.level,
            "findings": [
                {"rule": finding.rule, "title": finding.title, "effect": finding.effect, "found": finding.found}
                for finding in sample.standing.findings
            ],
        }
        for sample in read.assessment.samples
        if (sample.sampler, sample.agent.key) in mine
    ]


def _plain(row: dict[str, Any]) -> dict[str, Any]:
    row["analysed_on"] = row["analysed_on"].isoformat() if row["analysed_on"] else None
    row["flags"] = list(row["flags"])
    return row
