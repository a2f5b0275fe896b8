"""What people bring in as files: the room there is for it, and the scanner an operator may set before it is read."""

from __future__ import annotations

import logging
import subprocess
from collections.abc import Callable
from dataclasses import dataclass

from django.conf import settings
from django.contrib.auth.models import User
from django.core.files.uploadedfile import UploadedFile
from django.db.models import Sum
from django.db.models.functions import Length
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from lapel.records.models import OriginalFile, Site

MEGABYTE = 1024 * 1024
PATIENCE_S = 120.0
"""Seconds a scanner may take for one file."""

LOG = logging.getLogger("lapel.office.uploads")


@dataclass(frozen=True, slots=True)
class Room:
    """
    Bytes kept and bytes there is room for.

    Attributes
    ----------
    person, person_most : int
        What one person brought in, on all sites, and how much that may be. [byte]
    site, site_most : int
        What is kept on the site, and how much that may be. [byte]
    """

    person: int
    person_most: int
    site: int
    site_most: int

    @property
    def words(self) -> str:
        """What is used, for the form."""
        return (
            f"You brought in {_mb(self.person)} of the {_mb(self.person_most)} MB there is room for; "
            f"the site holds {_mb(self.site)} of {_mb(self.site_most)} MB."
        )

    def refusal(self, size: int) -> str:
        """Why a file of this size is not taken, and what to do; empty where it is."""
        if self.person + size > self.person_most:
            whose, setting = "you", "LAPEL_UPLOADS_PERSON_MB"
        elif self.site + size > self.site_most:
            whose, setting = "the site", "LAPEL_UPLOADS_SITE_MB"
        else:
            return ""
        return (
            f"Found a file of {_mb(size)} MB, and no room for it: {self.words} There is no room left for {whose}. "
            f"Whoever runs the server can give more ({setting}). Nothing was kept."
        )


def room_for(person: User, site: Site) -> Room:
    """Return how much room a person and a site have for files."""
    kept = OriginalFile.objects.all()
    mine = kept.filter(pk__in=OriginalFile.objects.filter(delivered__uploaded_by=person).values("pk"))
    return Room(
        _bytes(mine),
        settings.LAPEL_UPLOADS_PERSON_MB * MEGABYTE,
        _bytes(kept.filter(survey__site=site)),
        settings.LAPEL_UPLOADS_SITE_MB * MEGABYTE,
    )


class ScannedUploads:
    """Gives every file to the operator's scanner, where one is set, before any page reads it."""

    def __init__(self, answer: Callable[[HttpRequest], HttpResponse]) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on; files are looked at once it is known that somebody may bring one."""
        return self.answer(request)

    def process_view(self, request: HttpRequest, _view: object, _args: object, _kwargs: object) -> HttpResponse | None:
        """Refuse a request with a file the scanner does not let pass."""
        if not settings.LAPEL_SCAN_UPLOADS or request.method != "POST" or not request.user.is_authenticated:
            return None
        for _, files in request.FILES.lists():
            for file in files:
                if why := refused_by_scanner(file):
                    LOG.warning("upload refused: %s, brought by %r", why, request.user.get_username())
                    return render(request, "422_upload.html", {"why": why}, status=422)
        return None


def refused_by_scanner(file: UploadedFile[bytes]) -> str:
    """
    Give a file to the scanner on its standard input.

    Returns
    -------
    str
        Why it is not taken, in words; empty where the scanner's exit code is 0. A scanner that cannot be asked lets
        nothing pass.
    """
    file.seek(0)
    try:
        done = subprocess.run(
            settings.LAPEL_SCAN_UPLOADS, input=file.read(), capture_output=True, timeout=PATIENCE_S, check=False
        )
    except (OSError, subprocess.TimeoutExpired):
        return "the scanner could not be asked"
    finally:
        file.seek(0)
    if done.returncode == 0:
        return ""
    return "the scanner found something in it" if done.returncode == 1 else "the scanner failed"


def _bytes(kept: object) -> int:
    total: int | None = kept.aggregate(total=Sum(Length("content")))["total"]  # type: ignore[attr-defined]
    return total or 0


def _mb(size: int) -> str:
    return f"{size / MEGABYTE:.1f}".removesuffix(".0")
