"""The survey report and its one-page summary, for whoever asked and whoever must act."""

from __future__ import annotations

from lapel.documents.report.facts import Recommendation, ReportFacts, proposed
from lapel.documents.report.summary import client_summary
from lapel.documents.report.survey_report import survey_report

__all__ = [
    "Recommendation",
    "ReportFacts",
    "client_summary",
    "proposed",
    "survey_report",
]
