"""What is on record of judging, signing and telling, counted for the road in the same few queries."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import Max

from lapel.assessment.running_records import records_marks
from lapel.documents.report.facts import OWN_TEXTS
from lapel.records.models import Delivery, Survey


def of_the_report(survey: Survey) -> dict[str, Any]:
    """Return what the road counts of what people added to the figures."""
    signed = dict(survey.signatures.order_by().values_list("role").annotate(last=Max("signed_at")))
    written = survey.report_texts.filter(part__in=OWN_TEXTS).exclude(text="").count()
    return {
        "recommended": survey.recommendations.count(),
        "open_comments": survey.review_comments.filter(answered_at=None).count(),
        "signed_by_author": "author" in signed,
        "signed_by_reviewer": "reviewer" in signed,
        "changed_since_signed": _last_change(survey) > min(signed.values()) if signed else False,
        "texts_missing": len(OWN_TEXTS) - written,
        "with_shift_results": _workers_with_results(survey),
        "told": frozenset(survey.tellings.values_list("worker__code", flat=True).distinct().order_by()),
    }


def _last_change(survey: Survey) -> datetime:
    """Return when anything the figures rest on was last written; whether a figure moved, the signatures show."""
    tables = [marks for marks in records_marks(survey).values() if isinstance(marks, tuple)]
    changes = [value for marks in tables for value in marks if isinstance(value, datetime)]
    delivered = Delivery.objects.filter(survey=survey).aggregate(last=Max("received_at"))["last"]
    latest: datetime = max([*changes, *([delivered] if delivered else [])])
    return latest


def _workers_with_results(survey: Survey) -> frozenset[str]:
    """Return the workers with a sample the laboratory reported on."""
    reported = survey.results.values("sampler")
    codes = survey.sampleorders.filter(code__in=reported).order_by().values_list("shift__worker__code", flat=True)
    return frozenset(codes.distinct())
