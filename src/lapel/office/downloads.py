"""Files that people take away."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils.http import content_disposition_header


def download(content: bytes | str, file: str, kind: str) -> HttpResponse:
    """
    Answer with a file to be kept, not shown.

    Parameters
    ----------
    content : bytes or str
        What is in it.
    file : str
        Its name, with any signs.
    kind : str
        Its media type.
    """
    answer = HttpResponse(content, content_type=kind)
    answer["Content-Disposition"] = content_disposition_header(True, file) or "attachment"
    return answer
