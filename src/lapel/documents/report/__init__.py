"""The survey report and its one-page summary, for whoever asked and whoever must act."""

from __future__ import annotations

from lapel.documents.report.facts import JudgedGroup, Recommendation, ReportFacts, judged_groups, proposed
from lapel.documents.report.summary import client_summary
from lapel.documents.report.survey_report import survey_report

__all__ = [
    "JudgedGroup",
    "Recommendation",
    "ReportFacts",
    "client_summary",
    "judged_groups",
    "proposed",
    "survey_report",
]
