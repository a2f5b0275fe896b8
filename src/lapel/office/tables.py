"""Whole tables edited as forms: a row a form, checked together, written together with their history, or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Model, ProtectedError, QuerySet
from django.forms import BaseModelFormSet, modelformset_factory

from lapel.office.row_form import RowForm
from lapel.records.audit import signed
from lapel.records.models import Survey

ROWS_AT_MOST = 400
"""Rows of one table on one page; larger plans come from a survey folder."""


@dataclass(frozen=True, slots=True)
class TableWords:
    """What a table is called and for: key in addresses, title, lead, the word for one row, the field that names it."""

    key: str
    title: str
    lead: str
    row: str
    unique: str
    empty_rows: int = 1


def rows_of(
    form: type[RowForm], rows: QuerySet[Any], survey: Survey, words: TableWords, data: Any = None
) -> BaseModelFormSet[Any, Any]:
    """
    Make the form set of a table: the rows that are there, and an empty one.

    Parameters
    ----------
    form : type of RowForm
    rows : QuerySet
        All rows of the table.
    survey : Survey
    words : TableWords
    data : QueryDict, optional
        What was sent.
    """
    made = modelformset_factory(
        form.Meta.model,  # type: ignore[attr-defined]  # every row form has one
        form=form,
        extra=words.empty_rows,
        can_delete=True,
        max_num=ROWS_AT_MOST,
        absolute_max=ROWS_AT_MOST + 20,
    )
    return made(data, queryset=rows, prefix=words.key, form_kwargs={"survey": survey})


def are_valid(rows: BaseModelFormSet[Any, Any], words: TableWords) -> bool:
    """Whether every row is valid, and each name stands once."""
    if not rows.is_valid():
        return False
    seen: dict[Any, Any] = {}
    for form in rows.forms:
        name = form.cleaned_data.get(words.unique) if words.unique and not _is_left_out(form) else None
        if name is None:
            continue
        if name in seen:
            form.add_error(words.unique, f"Found {name} twice. Wanted each once.")
        seen[name] = form
    return not any(form.errors for form in rows.forms)


def keep_rows(rows: BaseModelFormSet[Any, Any], *, user: User, reason: str) -> int:
    """
    Write what changed, in one transaction; return how many rows.

    Raises
    ------
    ProtectedError
        A row to be taken away is still used. Nothing was kept.
    """
    count = 0
    with transaction.atomic():
        for form in rows.forms:
            if form.cleaned_data.get("DELETE"):
                if form.instance.pk:
                    signed(form.instance, user, reason or "taken away").delete()
                    count += 1
            elif form.has_changed():
                is_new = form.instance._state.adding
                signed(form.save(commit=False), user, reason or ("entered" if is_new else "changed")).save()
                count += 1
    return count


def still_used(problem: ProtectedError) -> str:
    """Say what still uses a row that was to be taken away."""
    users: Sequence[Model] = sorted(problem.protected_objects, key=str)[:3]
    names = "; ".join(f"{type(one)._meta.verbose_name} {one}" for one in users)
    return f"It is still used by {names}. Take that away first. Nothing was kept."


def _is_left_out(form: Any) -> bool:
    return bool(form.cleaned_data.get("DELETE")) or (form.empty_permitted and not form.has_changed())
