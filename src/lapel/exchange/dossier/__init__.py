"""
The dossier: one file with everything a survey's figures rest on, sealed, readable without Lapel, and checkable with it.

A zip of open formats: the survey folder with the raw log and the laboratory's files, the rule books that decided, the
results as JSON and CSV, the documents as PDF, and a list of all of it with a checksum each. Its seal lies over every
byte of it; a signature says whose it is.
"""

from __future__ import annotations

from lapel.exchange.dossier.kept import KEPT_LIST, KeptFile
from lapel.exchange.dossier.key_file import OFFICE_KEY, make_key_file, office_key, put_key
from lapel.exchange.dossier.redaction import redacted, write_coded_survey
from lapel.exchange.dossier.seal import Seal, fingerprint_of_key, new_key, public_key_text
from lapel.exchange.dossier.verify import Check, Verification, verify_dossier
from lapel.exchange.dossier.writer import DossierTooLarge, write_dossier

__all__ = [
    "KEPT_LIST",
    "OFFICE_KEY",
    "Check",
    "DossierTooLarge",
    "KeptFile",
    "Seal",
    "Verification",
    "fingerprint_of_key",
    "make_key_file",
    "new_key",
    "office_key",
    "public_key_text",
    "put_key",
    "redacted",
    "verify_dossier",
    "write_coded_survey",
    "write_dossier",
]
