"""The pages shown when something is wrong: words for the person, never a trace."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from lapel.office.people.second_factor import open_before_second_factor


@open_before_second_factor
def not_understood(request: HttpRequest, exception: Exception) -> HttpResponse:
    """400: the request cannot be right."""
    return render(request, "400.html", status=400)


@open_before_second_factor
def not_allowed(request: HttpRequest, exception: PermissionDenied) -> HttpResponse:
    """403: the person may see the record, but their role may not do this; the words come from the access rules."""
    return render(request, "403.html", {"exception": str(exception)}, status=403)


@open_before_second_factor
def nothing_here(request: HttpRequest, exception: Exception) -> HttpResponse:
    """404: there is no such thing, or it is none of theirs; the two look the same."""
    return render(request, "404.html", status=404)


@open_before_second_factor
def our_fault(request: HttpRequest) -> HttpResponse:
    """500: the server broke; it says so without the database, the session or the person."""
    return render(None, "500.html", status=500)  # nothing of the request can be trusted


@open_before_second_factor
def not_from_here(request: HttpRequest, reason: str = "") -> HttpResponse:
    """403: a form came without the page's own mark."""
    return render(request, "403_csrf.html", status=403)
