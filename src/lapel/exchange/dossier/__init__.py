"""
The dossier: one file with everything a survey's figures rest on, sealed, readable without Lapel, and checkable with it.

A zip of open formats: the survey folder with the raw log and the laboratory's files, the rule books that decided, the
results as JSON and CSV, the documents as PDF, and a list of all of it with a checksum each. Its seal lies over every
byte of it; a signature says whose it is.
"""

from __future__ import annotations

from lapel.exchange.dossier.redaction import redacted
from lapel.exchange.dossier.seal import Seal, new_key, public_key_text
from lapel.exchange.dossier.verify import Check, Verification, verify_dossier
from lapel.exchange.dossier.writer import write_dossier

__all__ = [
    "Check",
    "Seal",
    "Verification",
    "new_key",
    "public_key_text",
    "redacted",
    "verify_dossier",
    "write_dossier",
]
