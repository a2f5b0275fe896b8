"""Every exposure against every limit under the other rule books, side by side: assessed apart from the page."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from lapel.assessment.held import held_assessment
from lapel.assessment.results import SurveyAssessment
from lapel.assessment.survey import assess
from lapel.documents.verdicts_by_book import verdicts_by_book
from lapel.office.of_survey import survey_page, with_figures
from lapel.office.report import making
from lapel.records.access import survey_for

ROWS_A_PAGE = 60
WAIT_S = 1.5
"""How long the page waits for the other rule books; then it says how far they are. [s]"""


@login_required
@never_cache
@require_safe
@with_figures("shifts")
def by_rule_books(request: HttpRequest, survey: str) -> HttpResponse:
    """Show what each rule book comes to; what they do not agree on first."""
    record = survey_for(request.user, survey)
    assessment = held_assessment(record)
    books = [assessment.rule_book, *assessment.compared]
    key = making.key_of("rule books", record.pk, assessment.survey.input_sha256, books)
    is_part = bool(request.headers.get("HX-Request"))
    found = making.asked_for(key, lambda tell: _rows(assessment, tell), wait_s=0.0 if is_part else WAIT_S)
    context: dict[str, Any] = {"books": books, "titles": [book.title for book in books]}
    context |= {"making": found, "again": request.path, "file": "The comparison of rule books"}
    if is_part:
        return render(request, "report/making_state.html", context | {"survey": record})
    if found.content is not None:
        rows = json.loads(found.content)
        context["page"] = Paginator(rows, ROWS_A_PAGE).get_page(request.GET.get("page"))
        context["differing"] = sum(row["differs"] for row in rows)
        context["total"] = len(rows)
    status = 500 if found.problem else 200
    return survey_page(request, "samples/by_rule_books.html", record, "shifts", context, status=status)


def _rows(assessment: SurveyAssessment, tell: making.Progress) -> bytes:
    others = []
    for done, book in enumerate(assessment.compared):
        tell(f"judging by {book.title}", done, len(assessment.compared))
        others.append(assess(assessment.survey, book=book, compared=(), day=assessment.day))
    rows = verdicts_by_book([assessment, *others])
    return json.dumps([asdict(row) | {"differs": row.differs} for row in rows], ensure_ascii=False).encode()
