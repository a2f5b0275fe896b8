"""Pages shown to somebody signed in are theirs alone: no cache on the way, or on a shared computer, keeps them."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils.cache import add_never_cache_headers

from lapel.records.sessions import note_use


class PrivatePages:
    """
    Mark every answer to a signed-in person as not to be kept, unless its view said otherwise.

    That its session is in use is noted with it.
    """

    def __init__(self, answer: Callable[[HttpRequest], HttpResponse]) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, then mark."""
        response = self.answer(request)
        if request.user.is_authenticated:
            note_use(request.session)
        if request.user.is_authenticated and not response.has_header("Cache-Control"):
            add_never_cache_headers(response)
        return response
