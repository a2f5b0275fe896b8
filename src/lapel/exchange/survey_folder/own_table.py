"""Results of a report in our own columns: masses in µg, volumes in L, uncertainties as standard ones."""

from __future__ import annotations

from collections.abc import Mapping

from lapel.assessment.inputs import LaboratoryResult
from lapel.exchange.survey_folder.writer_cells import date_text, number

COLUMNS: Mapping[str, str] = {
    "sampler": "Sampler",
    "agent": "Agent",
    "front": "Front, ug",
    "back": "Back, ug",
    "reporting_limit": "Reporting limit, ug",
    "recovery": "Recovery",
    "uncertainty": "Relative standard uncertainty",
    "concentration": "Concentration, mg/m3",
    "volume": "Air volume, L",
    "medium": "Medium",
    "remark": "Remark",
    "analysed_on": "Analysed on",
}
"""What each column holds, by the keys of a laboratory document, and its heading."""
UNITS: Mapping[str, str] = {
    "mass": "ug",
    "volume": "L",
    "concentration": "mg/m3",
    "recovery": "1",
    "uncertainty": "1",
}


def own_row(result: LaboratoryResult) -> tuple[str, ...]:
    """Return a result as the cells of `COLUMNS`, in their order."""
    return (
        result.sampler,
        result.agent,
        _mass(result.front_ug, result.front_below),
        _mass(result.back_ug, result.back_below),
        number(result.reporting_limit_ug),
        number(result.recovery),
        number(result.relative_u),
        number(result.concentration_mg_m3),
        number(result.volume_l),
        result.medium,
        result.remark,
        date_text(result.analysed_on),
    )


def _mass(value: float | None, below: bool) -> str:
    return "" if value is None else ("<" if below else "") + number(value)
