"""What stands where in a dossier."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any, Literal, TypeAlias

FORMAT = "lapel-dossier"
FORMAT_VERSION = 1

README = "README.txt"
MANIFEST = "manifest.json"
INPUTS = "inputs/"
"""The survey folder, as `lapel assess` reads it."""
RULE_BOOKS = "rule-books/"
"""The rule book that decided and those shown beside it, whole."""
ASSESSMENT = "results/assessment.json"
SAMPLES = "results/samples.csv"
VERDICTS = "results/verdicts.csv"
DOCUMENTS = "documents/"
SCHEMAS = "schemas/"

Variant: TypeAlias = Literal["whole", "coded for a request"]

LARGEST_FILE = 512 * 1024 * 1024
"""Bytes of one file of a dossier, unpacked, that are read."""
LARGEST_DOSSIER = 4 * 1024 * 1024 * 1024 - 1
"""Bytes of all files of a dossier, unpacked, that are read."""
MOST_FILES = 20_000

README_TEXT = """\
{title}

This file set is the record of an air sampling survey: what was measured, what was computed from it, and by which rules.
It can be read without any special program: tables are CSV, data are JSON and TOML, documents are PDF.

  inputs/            the survey: people by code, equipment and certificates, the field log as it was recorded (log/),
                     the laboratory's files as they were delivered (laboratory/), limits and methods with their sources
  rule-books/        the rules that decided which results may be used, each with its source
  results/           what was computed: assessment.json (unrounded, described by schemas/), samples.csv, verdicts.csv
  documents/         the calculation record and other documents for people, made with this file set
  documents/kept/    documents people were given before, byte for byte, where there are any
  records/           what people added, where there is any: signatures, questions, who was told; kept-documents.json
                     lists every document people were given, with its SHA-256, who had it made, when and from which
                     inputs
  manifest.json      every file with its SHA-256; what made this and when

{variant}

To check it: `lapel verify FILE` on any machine tells whether a single byte was changed since it was sealed, whose
signature it carries, and computes every figure again from the inputs.
Without Lapel: the last bytes of the zip file (its comment) name the SHA-256 of all bytes before that comment, and
manifest.json names that of every file (`sha256sum` prints them).

A figure here is what the stated inputs, methods and rules give. Whether an exposure is acceptable is decided by people
who may decide it where the work is done, under the law in force there.
"""

VARIANT_WORDS: dict[Variant, str] = {
    "whole": "Workers stand in it by code. The key that says who is who is kept apart and is not in this file set.",
    "coded for a request": (
        "Made for a request: the codes of workers and the names of those who recorded were replaced, free texts are\n"
        "withheld, and the laboratory's original files are left out (their results stand in inputs/laboratory).\n"
        "Documents people were given name somebody, by code or in a text; they are listed and left out, but for the\n"
        "letters to the worker who asks.\n"
        "The hash chain of the field log cannot be checked here, because the texts it covers were replaced."
    ),
}


def manifest_row(path: str, content: bytes | Path, words: str) -> dict[str, Any]:
    """One file of the manifest; a large one is read from disk a part at a time."""
    if isinstance(content, bytes):
        return {"path": path, "sha256": hashlib.sha256(content).hexdigest(), "bytes": len(content), "what": words}
    with content.open("rb") as file:
        sha256 = hashlib.file_digest(file, "sha256").hexdigest()
    return {"path": path, "sha256": sha256, "bytes": content.stat().st_size, "what": words}
