"""What every page of a survey knows: the survey, what the person may do with it, and its other pages."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from lapel.assessment.held import CannotAssess
from lapel.records.access import acts_of, survey_for
from lapel.records.models import Survey


def survey_page(
    request: HttpRequest, template: str, survey: Survey, here: str, context: Mapping[str, Any], *, status: int = 200
) -> HttpResponse:
    """Render a page of a survey; `here` names which of its pages this is."""
    acts = acts_of(request.user, survey.site)
    known = {"section": "surveys", "survey": survey, "site": survey.site, "acts": acts, "here": here}
    return render(request, template, {**known, **context}, status=status)


def cannot_assess_page(request: HttpRequest, survey: Survey, here: str, problem: CannotAssess) -> HttpResponse:
    """Say why a survey has no figures yet, and what to do about each reason."""
    return survey_page(request, "samples/cannot_assess.html", survey, here, {"reasons": problem.reasons})


def with_figures(here: str) -> Callable[[Callable[..., HttpResponse]], Callable[..., HttpResponse]]:
    """Have a page that needs a survey's figures say why there are none yet; `here` is as for `survey_page`."""

    def of_page(page: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @wraps(page)
        def answer(request: HttpRequest, survey: str, *args: Any, **kwargs: Any) -> HttpResponse:
            try:
                return page(request, survey, *args, **kwargs)
            except CannotAssess as problem:
                return cannot_assess_page(request, survey_for(request.user, survey), here, problem)

        return answer

    return of_page
