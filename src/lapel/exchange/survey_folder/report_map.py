"""The map of one laboratory report: which file, and whether everything its layout needs is said."""

from __future__ import annotations

from pathlib import PurePosixPath

from lapel.exchange.problems import Faults, quoted
from lapel.exchange.survey_folder.tables import DocumentValues

FOLDER = "laboratory"
PER_SAMPLER = ("sampler", "volume", "medium", "remark", "analysed_on")
PER_AGENT = ("front", "back", "reporting_limit", "recovery", "uncertainty", "concentration")
"""What a column can hold: once a sampler, or once a sampler and agent."""


def delivered_name(document: DocumentValues, faults: Faults) -> str | None:
    """Return the delivered file's place in the folder; None, with a fault, if the document names none."""
    name = document["file"]
    if name is None:
        return None
    if PurePosixPath(name).name != name or "\\" in name or PurePosixPath(name).suffix.lower() not in (".csv", ".xlsx"):
        faults.add(
            document.place("file"),
            quoted(name),
            "the name of a .csv or .xlsx in the same folder",
            "Put the delivered file beside this document and write its plain name.",
        )
        return None
    return f"{FOLDER}/{name}"


def is_settled(document: DocumentValues, faults: Faults) -> bool:
    """Say whether the map has what its layout and columns need; each gap is a fault."""
    before = faults.count
    if document["code"] is None or document["layout"] is None or document["columns.sampler"] is None:
        return False  # told already
    long = document["layout"] == "long"
    wanted = {"columns.agent": "the agent's column", "columns.front": "the column of the mass"} if long else {}
    for key, about in wanted.items():
        if document[key] is None:
            faults.add(document.place(key), "no such key", about, "Name the column; nothing is guessed.")
    if not long and not document.free["wide"]:
        faults.add(
            document.place("wide"),
            "no such section",
            "a section [wide.AGENT] an agent, naming its columns",
            "Add them.",
        )
    if long and document.free["wide"]:
        faults.add(document.place("wide"), "a section of wide layouts", "none in a long layout", "Take it away.")
    used = {name for name in (*PER_SAMPLER, *PER_AGENT) if document[f"columns.{name}"] is not None}
    for section in document.free["wide"].values():
        used |= set(section) if isinstance(section, dict) else set()
    for kind in ("volume", "concentration", "recovery", "uncertainty"):
        if kind in used and document[f"units.{kind}"] is None:
            faults.add(document.place(f"units.{kind}"), "no such key", f"the unit of {kind}", "Write it as printed.")
    if "uncertainty" in used and document["uncertainty_coverage_factor"] is None:
        faults.add(
            document.place("uncertainty_coverage_factor"),
            "no such key",
            "the k of the printed uncertainty, usually 2",
            "Write it as the report states it; none is assumed.",
        )
    return faults.count == before
