"""Maps remembered in a survey folder: the one whose headings a file has is used again, and said."""

from __future__ import annotations

from pathlib import Path

from lapel.exchange.laboratory.accepted import LAYOUTS
from lapel.exchange.laboratory.report_map import ReportMap, map_from_text
from lapel.exchange.laboratory.sheets import LaboratoryFile, shown
from lapel.exchange.survey_folder.files_beside import FOLDER

_MOST_ROWS = 400


def remembered_map(root: Path, file: LaboratoryFile) -> tuple[str, ReportMap] | None:
    """
    Find the remembered map that fits a file: every line of every heading it knows stands in the file.

    Returns
    -------
    tuple of str and ReportMap, or None
        Its place in the folder, and the map.

    Raises
    ------
    InputProblems
        A remembered map is damaged.
    """
    folder = root / FOLDER / LAYOUTS
    if not folder.is_dir():
        return None
    texts = {
        " ".join(shown(cell).split())
        for sheet in file.sheets
        for row in sheet.rows[:_MOST_ROWS]
        for cell in row
        if isinstance(cell, str)
    }
    best: tuple[int, str, ReportMap] | None = None
    for path in sorted(folder.glob("*.json")):
        report_map = map_from_text(path.read_text(encoding="utf-8"), f"{FOLDER}/{LAYOUTS}/{path.name}")
        headings = report_map.get("columns", {})
        if not headings or not all(part in texts for heading in headings for part in heading.split(" | ")):
            continue
        if best is None or len(headings) > best[0]:
            best = len(headings), f"{FOLDER}/{LAYOUTS}/{path.name}", report_map
    return (best[1], best[2]) if best is not None else None
