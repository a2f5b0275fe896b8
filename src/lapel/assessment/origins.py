"""Where a result stands in the laboratory's reports, as a sentence that other languages can say."""

from __future__ import annotations

import re
from functools import lru_cache

from lapel.figures import Source

_ROW = re.compile(r"(.+?)(?:, sheet (.+))?, row (\d+)")


@lru_cache(maxsize=1024)
def row_of_report(report: str, origin: str) -> Source:
    """
    Say in which row of which report a result stands.

    Parameters
    ----------
    report : str
        Code of the laboratory's report.
    origin : str
        “file, row 3” or “file, sheet Results, row 3”, as readers of files note it; empty where nothing is known.
    """
    if not origin:
        return ("report {report}", report)
    found = _ROW.fullmatch(origin)
    if found is None:
        return ("report {report}, {place}", report, origin)
    file, sheet, row = found.groups()
    if sheet is None:
        return ("report {report}, {file}, row {row}", report, file, row)
    return ("report {report}, {file}, sheet {sheet}, row {row}", report, file, sheet, row)
