"""
A laboratory's file in any layout: read, understood as far as it speaks for itself, and asked about where it does not.

`read_content` turns bytes into cells and refuses what must not be read; `propose` says what every column holds, with
evidence, what every row says, and which questions are open; `accept` writes a settled report into a survey folder.
"""

from __future__ import annotations

from lapel.exchange.laboratory.accepted import Accepted, accept
from lapel.exchange.laboratory.delivered_file import read_content, read_file
from lapel.exchange.laboratory.expectations import Expected, expected_of
from lapel.exchange.laboratory.proposal import Proposal, propose
from lapel.exchange.laboratory.questions import Choice, Question
from lapel.exchange.laboratory.report_facts import ReportFacts
from lapel.exchange.laboratory.report_map import (
    SCHEMA,
    ReportMap,
    checked_map,
    empty_map,
    map_from_text,
    map_text,
    remembered,
    with_answer,
)
from lapel.exchange.laboratory.sheets import LaboratoryFile, Sheet

__all__ = [
    "SCHEMA",
    "Accepted",
    "Choice",
    "Expected",
    "LaboratoryFile",
    "Proposal",
    "Question",
    "ReportFacts",
    "ReportMap",
    "Sheet",
    "accept",
    "checked_map",
    "empty_map",
    "expected_of",
    "map_from_text",
    "map_text",
    "propose",
    "read_content",
    "read_file",
    "remembered",
    "with_answer",
]
