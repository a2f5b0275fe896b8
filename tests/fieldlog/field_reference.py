"""The reference of kinds and fields, written from `KINDS`; run this file to write it anew."""

from __future__ import annotations

from pathlib import Path

from lapel.fieldlog import KINDS, UNITS, FieldSpec

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "field-log.md"
MARK = "<!-- kinds: written by tests/fieldlog/field_reference.py -->"


def kinds_section() -> str:
    """Return the part of the page that lists every kind with its fields."""
    parts = [MARK, ""]
    for kind, spec in KINDS.items():
        parts += [f"### {kind}", "", spec.words, "", "| field | needed | value | what it says |", "|---|---|---|---|"]
        parts += [
            f"| `{f.name}` | {'yes' if f.needed else ''} | {_value(f)} | {f.words} |" for f in spec.fields.values()
        ]
        if spec.one_of:
            groups = ", or ".join(" with ".join(f"`{name}`" for name in group) for group in spec.one_of)
            parts += ["", f"Needed besides: {groups}."]
        parts.append("")
    parts += ["## Units", ""]
    parts += [f"- {kind}: {', '.join(units)}" for kind, units in UNITS.items()]
    return "\n".join(parts) + "\n"


def _value(field: FieldSpec) -> str:
    words = {
        "text": "text",
        "code": "code",
        "codes": "codes, parted by spaces",
        "unit": f"unit of {field.unit_kind}",
        "yes/no": "yes or no",
        "choice": ", ".join(field.choices),
        "port": "one letter, A to Z",
        "ports": "letters, parted by spaces",
        "instant": "date and time with offset",
        "date": "date, as in 2027-08-31",
        "sha256": "64 hexadecimal digits",
        "signature": "`account NAME`, `paper`, or `drawn X,Y …`",
        "number": "number",
    }[field.type]
    bounds = [
        f"above {field.above:g}" if field.above is not None else "",
        f"{field.least:g} or more" if field.least is not None else "",
        f"{field.most:g} or less" if field.most is not None else "",
        f"unit in `{field.unit_in}`" if field.unit_in else "",
    ]
    return ", ".join([words, *filter(None, bounds)])


if __name__ == "__main__":
    before, _, _ = PAGE.read_text(encoding="utf-8").partition(MARK)
    PAGE.write_text(before + kinds_section(), encoding="utf-8")
