"""
The kinds of entry as a module of the page, so that each is described in one place only; see `lapel.fieldlog.entries`.

Run ``python -m lapel.field.kinds_module`` after a kind has changed; a test holds the file against what this writes.
"""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Any

from lapel.fieldlog.conflicts import SAME_ACT
from lapel.fieldlog.entries import KINDS, UNITS, KindSpec

MODULE = Path(__file__).parent / "static" / "field" / "kinds.js"


def kinds_module() -> str:
    """Return the text of the page's module ``kinds.js``."""
    kinds = {name: _kind(spec) for name, spec in KINDS.items()}
    same = {name: {"fields": list(fields), "minutes": minutes} for name, (fields, minutes) in SAME_ACT.items()}
    return (
        "/** Made from lapel.fieldlog.entries by `python -m lapel.field.kinds_module`; change it there. */\n\n"
        "/** @type {Record<string, import('./types.js').KindSpec>} */\n"
        f"export const KINDS = {_literal(kinds)};\n\n"
        "/** @type {Record<string, string[]>} */\n"
        f"export const UNITS = {_literal({kind: list(units) for kind, units in UNITS.items()})};\n\n"
        "/** Of each kind that can be recorded twice: what makes two entries alike, and within how many minutes.\n"
        " *  @type {Record<string, {fields: string[], minutes: number}>} */\n"
        f"export const SAME_ACT = {_literal(same)};\n"
    )


def _kind(spec: KindSpec) -> dict[str, Any]:
    fields = {name: dataclasses.asdict(field) for name, field in spec.fields.items()}
    return {"kind": spec.kind, "words": spec.words, "rank": spec.rank, "fields": fields, "one_of": spec.one_of}


def _literal(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, indent=1)


if __name__ == "__main__":
    MODULE.write_text(kinds_module(), encoding="utf-8")
