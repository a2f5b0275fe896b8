"""
Kinds of entry and units as modules of the page, so that each is described in one place only.

Run ``python -m lapel.field.kinds_module`` after one has changed; a test holds the files against what this writes.
"""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Any

from lapel.fieldlog.conflicts import SAME_ACT
from lapel.fieldlog.entries import KINDS, UNITS, KindSpec
from lapel.figures.units import CANONICAL, conversion

FOLDER = Path(__file__).parent / "static" / "field"


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


def conversions_module() -> str:
    """Return the text of the page's module ``numbers/conversions.js``."""
    exact = {
        kind: {unit.lower(): [str(number) for number in conversion(unit, kind)] for unit in units}
        for kind, units in UNITS.items()
    }
    return (
        "/** Made from lapel.figures.units by `python -m lapel.field.kinds_module`; change it there. */\n\n"
        "/** The unit everything is computed in, by what it measures. @type {Record<string, string>} */\n"
        f"export const CANONICAL = {_literal({kind: CANONICAL[kind] for kind in UNITS})};\n\n"
        "/** Scale and offset from a unit, in lower case, to the canonical one, as decimals.\n"
        " *  @type {Record<string, Record<string, [scale: string, offset: string]>>} */\n"
        f"export const CONVERSIONS = {_literal(exact)};\n"
    )


def _kind(spec: KindSpec) -> dict[str, Any]:
    fields = {name: dataclasses.asdict(field) for name, field in spec.fields.items()}
    return {"kind": spec.kind, "words": spec.words, "rank": spec.rank, "fields": fields, "one_of": spec.one_of}


def _literal(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, indent=1)


MODULES = {"kinds.js": kinds_module, "numbers/conversions.js": conversions_module}
"""The made modules, by their place under the page's folder."""

if __name__ == "__main__":
    for name, made in MODULES.items():
        (FOLDER / name).write_text(made(), encoding="utf-8")
