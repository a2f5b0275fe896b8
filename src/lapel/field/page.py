"""
The field page as it is served: to anybody, without a session; what it shows comes from the device that opens it.

The page, its manifest and its worker are asked for by content (ETag) each time; the files under a version are kept for
good. None of it holds a record of anybody.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_safe

from lapel.field.edition import content_type, current_edition


def _open(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """Mark a view that asks nobody who they are, so that the gate of the second factor lets it pass."""
    view.open_before_second_factor = True  # type: ignore[attr-defined]  # read by that gate
    return view


@_open
@require_safe
def page(request: HttpRequest, _path: str = "") -> HttpResponseBase:
    """The page, under every address it may be opened at."""
    return _by_content(request, current_edition().page, "text/html; charset=utf-8")


@_open
@require_safe
def worker(request: HttpRequest) -> HttpResponseBase:
    """The service worker, with its version and the files it keeps."""
    return _by_content(request, current_edition().worker, "text/javascript; charset=utf-8")


@_open
@require_safe
def manifest(request: HttpRequest) -> HttpResponseBase:
    """What a phone needs to put the page on its first screen."""
    return _by_content(request, current_edition().manifest, "application/manifest+json")


@_open
@require_safe
def file(request: HttpRequest, version: str, name: str) -> HttpResponseBase:
    """One file of the current version; of any other there is none, for whoever has it keeps it whole."""
    edition = current_edition()
    content = edition.files.get(name) if version == edition.version else None
    if content is None:
        raise Http404
    answer = HttpResponse(content, content_type=content_type(name))
    answer["Cache-Control"] = "public, max-age=31536000, immutable"
    return answer


def _by_content(request: HttpRequest, text: str, kind: str) -> HttpResponseBase:
    content = text.encode()
    tag = f'"{hashlib.sha256(content).hexdigest()[:32]}"'
    answer = get_conditional_response(request, etag=tag, response=HttpResponse(content, content_type=kind))
    assert answer is not None  # there is one to give
    answer["ETag"] = tag
    answer["Cache-Control"] = "no-cache"
    return answer
