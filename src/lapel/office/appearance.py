"""The person's choice of appearance: kept in a cookie, made by an ordinary form, known to every page."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

COOKIE = "lapel_appearance"
THEMES = {"device": "As the device", "light": "Light", "dark": "Dark", "outdoor": "Outdoor"}


def appearance(request: HttpRequest) -> dict[str, object]:
    """Context of every page: the theme chosen, and those there are."""
    chosen = request.COOKIES.get(COOKIE, "")
    return {"theme": chosen if chosen in THEMES else "device", "themes": THEMES}


@require_POST
def choose_appearance(request: HttpRequest) -> HttpResponse:
    """Keep the theme for a year and go back to the page it was chosen on, never to another server."""
    theme = request.POST.get("theme", "")
    if theme not in THEMES:
        return HttpResponseBadRequest("The appearance must be one of: " + ", ".join(THEMES))
    back = safe_return(request, request.POST.get("next", ""))
    answer = redirect(back)
    answer.set_cookie(COOKIE, theme, max_age=365 * 24 * 3600, samesite="Lax", httponly=True, secure=request.is_secure())
    return answer


def safe_return(request: HttpRequest, address: str) -> str:
    """Return an address on this server; anything else becomes the first page."""
    here = {request.get_host()}
    if url_has_allowed_host_and_scheme(address, allowed_hosts=here, require_https=request.is_secure()):
        return address
    return "/"
