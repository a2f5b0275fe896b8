"""The papers of a plan: sampling plan, day sheets and labels as PDF, lists for spreadsheets, open data, hand table."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Mapping

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_safe

from lapel.assessment.plan_products import Products
from lapel.assessment.planned import SurveyPlan
from lapel.documents.sampling_plan import day_sheets_document, labels_document, plan_document
from lapel.exchange.plan_folder.hand import write_hand
from lapel.exchange.plan_json import plan_as_data
from lapel.exchange.plan_lists import LISTS, list_text
from lapel.exchange.plan_now import plan_now
from lapel.office.downloads import download
from lapel.records.access import survey_for

PDF, CSV, JSON = "application/pdf", "text/csv; charset=utf-8", "application/json"


def _json(plan: SurveyPlan, products: Products) -> bytes:
    text = json.dumps(plan_as_data(plan, products), ensure_ascii=False, indent=1, allow_nan=False)
    return f"{text}\n".encode()


def _list(name: str) -> Callable[[SurveyPlan, Products], bytes]:
    return lambda plan, products: list_text(name, plan, products).encode("utf-8-sig")


def _hand(plan: SurveyPlan, products: Products) -> bytes:
    stream = io.StringIO(newline="")
    write_hand(plan, stream)
    return stream.getvalue().encode("utf-8")


PAPERS: Mapping[str, tuple[str, Callable[[SurveyPlan, Products], bytes]]] = {
    "sampling-plan.pdf": (PDF, plan_document),
    "day-sheets.pdf": (PDF, lambda plan, products: day_sheets_document(plan, products, plan.days)),
    "labels.pdf": (PDF, labels_document),
    "plan.json": (JSON, _json),
    "trains.csv": (CSV, _hand),
    **{f"{name}.csv": (CSV, _list(name)) for name in LISTS},
}
"""What can be fetched, by file name; every one says the same as ``lapel plan`` does of the exported folder."""


@login_required
@require_safe
def paper(request: HttpRequest, survey: str, name: str) -> HttpResponse:
    """Give one of the papers; none while the plan has faults, for paper would hide them."""
    record = survey_for(request.user, survey)
    if name not in PAPERS:
        raise Http404("There is nothing here.")
    now = plan_now(record)
    if now.plan is None or now.products is None or not now.is_in_force:
        messages.error(request, "There is no plan in force to print.", extra_tags="stop")
        return redirect("survey-plan", survey=survey)
    if now.plan.faults and not name.endswith(".json"):
        messages.error(
            request, "No paper is made while the plan has faults: it would hide them. Correct it first.",
            extra_tags="stop",
        )  # fmt: skip
        return redirect("survey-plan", survey=survey)
    kind, made = PAPERS[name]
    return download(made(now.plan, now.products), f"{record.code}-{name}", kind)
