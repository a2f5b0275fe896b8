"""
One edition of the field page: the page and every file it is made of, under a version that is a hash over all of them.

The files lie under the version's own address and never change there; the page, its manifest and its worker are asked
for anew each time, by content. So nothing depends on the times of files, which an installed package sets to one day.
"""

from __future__ import annotations

import functools
import hashlib
import json
import mimetypes
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.template.loader import render_to_string

FOLDER = Path(__file__).parent / "static" / "field"
WORKER = FOLDER / "worker.js"
OF_THE_OFFICE = ("office/tokens.css", "office/fonts/inter-latin.woff2", "office/mark.svg")
"""What the page shares with the office's pages: colours, letters, mark."""
FETCHED_WHEN_USED = "vendor/qr/"
"""The reader of codes: kept by the worker with everything else, not opened with the page."""

_SERVED = {".js", ".css", ".svg", ".png", ".woff2", ".json"}
_TYPES = {".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8", ".woff2": "font/woff2"}


@dataclass(frozen=True, slots=True)
class Edition:
    """
    One version of the page.

    Attributes
    ----------
    version : str
        20 hexadecimal digits of the SHA-256 over the page's template, its worker and all files.
    files : mapping of str to bytes
        By the place in the page's folder, or beside it.
    page, worker, manifest : str
        The texts that are served under addresses of their own.
    """

    version: str
    files: Mapping[str, bytes]
    page: str
    worker: str
    manifest: str


def current_edition() -> Edition:
    """Return the edition of this server; made once, and anew each time only while somebody works on it."""
    return made_edition() if settings.DEBUG else _kept_edition()


@functools.cache
def _kept_edition() -> Edition:
    return made_edition()


def made_edition(more: Mapping[str, bytes] | None = None) -> Edition:
    """
    Make an edition of the files as they lie there.

    Parameters
    ----------
    more : mapping of str to bytes, optional
        Files to add, or to take the place of others.
    """
    files = {**_own_files(), **_files_of_the_office(), **(more or {})}
    worker = WORKER.read_text(encoding="utf-8")
    digest = hashlib.sha256(worker.encode() + _page("", files).encode() + _manifest("").encode())
    for name in sorted(files):
        digest.update(name.encode() + b"\0" + hashlib.sha256(files[name]).digest())
    version = digest.hexdigest()[:20]
    addresses = ["/field/app.webmanifest", *(address_of(version, name) for name in sorted(files))]
    edition = json.dumps({"version": version, "page": "/field/", "files": addresses})
    return Edition(version, files, _page(version, files), f"self.LAPEL = {edition};\n{worker}", _manifest(version))


def address_of(version: str, name: str) -> str:
    """Return where a file of an edition is served."""
    return f"/field/at/{version}/{name}"


def content_type(name: str) -> str:
    """Return what a file is, by its name."""
    suffix = Path(name).suffix
    return _TYPES.get(suffix) or mimetypes.guess_type(name)[0] or "application/octet-stream"


def _own_files() -> dict[str, bytes]:
    found = sorted(path for path in FOLDER.rglob("*") if path.is_file() and path.suffix in _SERVED and path != WORKER)
    return {path.relative_to(FOLDER).as_posix(): path.read_bytes() for path in found}


def _files_of_the_office() -> dict[str, bytes]:
    files = {}
    for name in OF_THE_OFFICE:
        found = finders.find(name)
        if not isinstance(found, str):
            raise FileNotFoundError(f"{name} is missing among the office's static files")
        files[name] = Path(found).read_bytes()
    return files


def _page(version: str, files: Mapping[str, bytes]) -> str:
    def addresses(suffix: str) -> list[str]:
        own = [name for name in sorted(files) if name.endswith(suffix) and not name.startswith("office/")]
        return [address_of(version, name) for name in own]

    return render_to_string(
        "field/page.html",
        {
            "tokens": address_of(version, "office/tokens.css"),
            "mark": address_of(version, "office/mark.svg"),
            "start": address_of(version, "start.js"),
            "styles": addresses(".css"),
            "modules": [one for one in addresses(".js") if f"/{FETCHED_WHEN_USED}" not in one],
        },
    )


def _manifest(version: str) -> str:
    mark = {"src": address_of(version, "office/mark.svg"), "sizes": "any", "type": "image/svg+xml", "purpose": "any"}
    said = {
        "id": "/field/",
        "name": "Lapel field page",
        "short_name": "Lapel",
        "start_url": "/field/",
        "scope": "/field/",
        "display": "standalone",
        "orientation": "any",
        "background_color": "#f4f6f4",
        "theme_color": "#0b575c",
        "icons": [mark],
    }
    return json.dumps(said, indent=1)
