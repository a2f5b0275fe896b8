"""The pages that change one table each: which rows, which form, what it is for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from lapel.office.plan import row_forms
from lapel.office.row_form import RowForm
from lapel.office.scope import row_forms as scope_forms
from lapel.office.tables import TableWords
from lapel.records.models import Survey


@dataclass(frozen=True, slots=True)
class TablePage:
    """A table with its form; `here` is the stage it belongs to, `part` which tab of the plan it shows under."""

    words: TableWords
    form: type[RowForm]
    rows: Callable[[Survey], QuerySet[Any]]
    here: str = "plan"
    part: str = "made-from"


_PAGES = (
    TablePage(
        TableWords(
            "wanted", "What is asked",
            "One question each: of which group or worker, about which agent, compared with what, how many results.",
            "question", "code",
        ),
        row_forms.QuestionForm,
        lambda survey: survey.planquestions.all(),
    ),
    TablePage(
        TableWords(
            "laboratory", "Laboratory",
            "What the laboratory said about each method. It decides what may share a sampler, and the least volume.",
            "method", "method",
        ),
        row_forms.LaboratoryForm,
        lambda survey: survey.plan_laboratories.all(),
    ),
    TablePage(
        TableWords(
            "technicians", "Technicians", "Who hangs and watches the pumps, by code, and when they are away.",
            "technician", "code", 2,
        ),
        row_forms.TechnicianForm,
        lambda survey: survey.plantechnicians.all(),
    ),
    TablePage(
        TableWords(
            "workers", "Single workers",
            "Only where the plan must know something of one: away, fewer pumps or days, another explosive-area class.",
            "worker", "worker",
        ),
        row_forms.PlanWorkerForm,
        lambda survey: survey.plan_workers.all(),
    ),
    TablePage(
        TableWords("media", "Media", "Price, pack and resistance of each medium.", "medium", "medium", 2),
        row_forms.MediumForm,
        lambda survey: survey.plan_media.all(),
    ),
    TablePage(
        TableWords(
            "lots", "Lots at hand", "A lot that keeps until the last field day is planned; without one, order it.",
            "lot", "code", 2,
        ),
        row_forms.LotForm,
        lambda survey: survey.medialots.all(),
    ),
    TablePage(
        TableWords(
            "areas", "Accepted certificates",
            "Which pump certificate a named person accepts for which explosive-area class. No program decides that.",
            "certificate", "",
        ),
        row_forms.AreaForm,
        lambda survey: survey.accepted_areas.all(),
    ),
    TablePage(
        TableWords("days", "Shifts on offer", "Every shift on which field work may be done.", "shift", ""),
        row_forms.DayForm,
        lambda survey: survey.offered_shifts.all(),
    ),
    TablePage(
        TableWords(
            "products", "Products and tasks", "By what people may be exposed, and which agents come of it.",
            "product", "code", 2,
        ),
        scope_forms.ProductForm,
        lambda survey: survey.products.all(),
        "scope",
    ),
    TablePage(
        TableWords("groups", "Groups", "Similar exposure groups of the site, what their people do.", "group", "code"),
        scope_forms.GroupForm,
        lambda survey: survey.site.groups.all(),
        "scope",
    ),
)  # fmt: skip

TABLES: dict[str, TablePage] = {page.words.key: page for page in _PAGES}
"""The pages by the key in their address, in the order they are listed."""
