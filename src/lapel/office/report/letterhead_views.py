"""Letterhead: a lead sets the logo and the own words of a site's documents, without touching code or files."""

from __future__ import annotations

import hashlib
from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from lapel.documents.wording import LANGUAGES
from lapel.office.report.letterhead import LANGUAGE_NAMES, SECTIONS, changed_words, letterhead_of
from lapel.office.report.letterhead_forms import LogoForm, WordsForm
from lapel.records.access import acts_of, site_for
from lapel.records.audit import signed
from lapel.records.models import Letterhead, Site

PNG = b"\x89PNG"


@login_required
@require_http_methods(["GET", "POST"])
def letterhead(request: HttpRequest, site: str) -> HttpResponse:
    """Show logo and own words of a site; keep another logo, or none."""
    found = site_for(request.user, site, to="see" if request.method == "GET" else "judge")
    kept = letterhead_of(found)
    has_logo = kept.logo is not None
    form = LogoForm(request.POST or None, request.FILES or None, has_logo=has_logo, initial={"firm": kept.firm})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        kept.firm = given["firm"]
        if given["logo"] is not None or given.get("without"):
            kept.logo = given["logo"]
            kept.logo_sha256 = hashlib.sha256(given["logo"]).hexdigest() if given["logo"] else ""
        signed(kept, cast(User, request.user), "logo").save()
        messages.success(request, "The letterhead is kept. Documents made from now on bear it.", extra_tags="good")
        return redirect("letterhead", site=site)
    return _page(request, found, kept, "report/letterhead.html", {"form": form}, status=422 if form.errors else 200)


@login_required
@require_safe
def logo(request: HttpRequest, site: str) -> HttpResponse:
    """Give the logo as it was kept."""
    kept = letterhead_of(site_for(request.user, site))
    if kept.logo is None:
        raise Http404("There is nothing here.")
    content = bytes(kept.logo)
    answer = HttpResponse(content, content_type="image/png" if content.startswith(PNG) else "image/svg+xml")
    answer["Content-Security-Policy"] = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
    answer["Cache-Control"] = "no-store, private"
    return answer


@login_required
@require_http_methods(["GET", "POST"])
def words(request: HttpRequest, site: str, language: str, section: str) -> HttpResponse:
    """Write a site's own words for one sort of document in one language."""
    found = site_for(request.user, site, to="judge")
    if language not in LANGUAGES or section not in SECTIONS:
        raise Http404("There is nothing here.")
    kept = letterhead_of(found)
    own = kept.words.get(language, {}).get(section, {})
    form = WordsForm(request.POST or None, language=language, section=section, own=own)
    if request.method == "POST" and form.is_valid():
        given = {key: text.replace("\r\n", "\n").strip() for key, text in form.cleaned_data.items()}
        kept.words = changed_words(kept.words, language, section, given)
        why = f"own words, {SECTIONS[section]}, {LANGUAGE_NAMES.get(language, language)}"
        signed(kept, cast(User, request.user), why).save()
        messages.success(request, "The words are kept. Documents made from now on say them.", extra_tags="good")
        return redirect("letterhead", site=site)
    context = {"form": form, "title": SECTIONS[section], "language": LANGUAGE_NAMES.get(language, language)}
    return _page(request, found, kept, "report/letterhead_words.html", context, status=422 if form.errors else 200)


def _page(
    request: HttpRequest, site: Site, kept: Letterhead, template: str, context: dict[str, object], *, status: int
) -> HttpResponse:
    rows = [
        (language, LANGUAGE_NAMES.get(language, language), [
            (section, title, len(kept.words.get(language, {}).get(section, {}))) for section, title in SECTIONS.items()
        ])
        for language in LANGUAGES
    ]  # fmt: skip
    shown = {"section": "people", "site": site, "acts": acts_of(request.user, site), "kept": kept, "languages": rows}
    return render(request, template, {**shown, **context}, status=status)
