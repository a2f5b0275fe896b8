"""Workers by code with their groups over time; names are on a page of their own."""

from __future__ import annotations

from typing import cast
from zoneinfo import ZoneInfo

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from lapel.records.access import acts_of, site_for, worker_for
from lapel.records.audit import LONGEST_REASON
from lapel.records.models import ExposureGroup, Site
from lapel.records.renewals import AlreadyThere, place

NOTHING_KEPT = "Nothing was kept; correct it and save again."


class GroupForm(forms.Form):
    """The group a worker comes to, from which day on, and why."""

    group = forms.ModelChoiceField(
        ExposureGroup.objects.none(),
        label="Group",
        empty_label=None,
        error_messages={"required": f"Found none. Wanted a group of this site. {NOTHING_KEPT}"},
    )
    job = forms.CharField(label="Job there", max_length=200, required=False)
    since = forms.DateField(
        label="From",
        help_text="The first day in this group. Shifts before it go on counting for the group before.",
        widget=forms.DateInput(attrs={"type": "date"}),
        error_messages={
            "required": f"Found no day. Wanted the first day in this group. {NOTHING_KEPT}",
            "invalid": f"Found no day that can be read. Wanted one as in 2026-05-04. {NOTHING_KEPT}",
        },
    )
    reason = forms.CharField(
        label="Why",
        max_length=LONGEST_REASON,
        help_text="As in “moved to packing”. It stays in the site's history.",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": f"Found nothing. Wanted the reason in a few words. {NOTHING_KEPT}"},
    )

    def __init__(self, site: Site, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]  # handed on as they came
        group = self.fields["group"]
        assert isinstance(group, forms.ModelChoiceField)
        group.queryset = site.groups.all()
        group.label_from_instance = lambda one: f"{one.code}, {one.name}"  # type: ignore[method-assign, assignment]  # its own hook


@login_required
@require_safe
def workers(request: HttpRequest, site: str) -> HttpResponse:
    """List the workers of a site by code, each with the groups it belonged to."""
    there = site_for(request.user, site)
    rows = there.workers.select_related("group").prefetch_related("earlier_places__group")
    context = _context(request, there) | {"workers": rows}
    return render(request, "workers/workers.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def change_group(request: HttpRequest, site: str, worker: str) -> HttpResponse:
    """Enter the group a worker belongs to from a day on."""
    who = worker_for(request.user, site, worker, to="plan")
    today = timezone.now().astimezone(ZoneInfo(who.site.zone)).date()
    form = GroupForm(who.site, request.POST or None, initial={"since": today, "group": who.group, "job": who.job})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            place(
                who,
                given["group"],
                job=given["job"],
                since=given["since"],
                user=cast(User, request.user),
                reason=given["reason"],
            )
        except AlreadyThere as there_is:
            words = f"Found {there_is.day}, on which {who.code} came to a group already. Wanted another day."
            form.add_error("since", f"{words} {NOTHING_KEPT}")
        else:
            words = (
                f"{who.code} belongs to {given['group'].code} from {given['since']} on; shifts before count as before."
            )
            messages.success(request, words, extra_tags="good")
            return redirect("workers", site=site)
    context = _context(request, who.site) | {"worker": who, "form": form}
    return render(request, "workers/group.html", context, status=422 if form.errors else 200)


def _context(request: HttpRequest, site: Site) -> dict[str, object]:
    return {"section": "people", "site": site, "acts": acts_of(request.user, site)}
