"""An amended report beside the one before it: what was added, taken away and changed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields

from lapel.assessment.inputs import LaboratoryResult

_COMPARED = tuple(f.name for f in fields(LaboratoryResult) if f.name not in ("report", "sampler", "agent", "origin"))
_WORDS = {
    "front_ug": "front section, µg",
    "front_below": "front section below its limit",
    "back_ug": "back section, µg",
    "back_below": "back section below its limit",
    "reporting_limit_ug": "reporting limit, µg",
    "recovery": "recovery",
    "relative_u": "relative standard uncertainty",
    "volume_l": "volume, L",
    "concentration_mg_m3": "concentration, mg/m³",
    "medium": "medium",
    "remark": "remark",
    "analysed_on": "day of analysis",
}


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing two versions of a report say differently; `what` is “result” where a whole one came or went."""

    sampler: str
    agent: str
    what: str
    before: str
    after: str

    def words(self) -> str:
        """Say it."""
        return f"{self.sampler}, {self.agent}: {self.what}: {self.before or 'nothing'} → {self.after or 'nothing'}"


def differences(before: Iterable[LaboratoryResult], after: Iterable[LaboratoryResult]) -> tuple[Difference, ...]:
    """Compare two versions of a report, sampler by sampler and agent by agent."""
    old = {(row.sampler, row.agent): row for row in before}
    new = {(row.sampler, row.agent): row for row in after}
    found = []
    for key in dict.fromkeys([*old, *new]):
        one, other = old.get(key), new.get(key)
        if one is None or other is None:
            found.append(Difference(*key, "result", _mass(one), _mass(other)))
            continue
        for name in _COMPARED:
            was, now = getattr(one, name), getattr(other, name)
            if was != now:
                found.append(Difference(*key, _WORDS[name], _text(was), _text(now)))
    return tuple(found)


def _mass(result: LaboratoryResult | None) -> str:
    if result is None:
        return ""
    return f"{'<' if result.front_below else ''}{result.front_ug:g} µg"


def _text(value: object) -> str:
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.10g}" if isinstance(value, float) else str(value)
