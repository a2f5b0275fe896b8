"""Where a number stands in the survey's files, as a sentence that other languages can say."""

from __future__ import annotations

import re
from functools import lru_cache

from lapel.said import said

_ROW = re.compile(r"(?P<file>.+?)(?:, sheet (?P<sheet>.+))?, row (?P<row>\d+)")


@lru_cache(maxsize=1024)
def row_of_report(report: str, origin: str) -> str:
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
        return said("report {report}", report=report)
    return said("report {report}, {place}", report=report, place=_place(origin))


def _place(origin: str) -> str:
    found = _ROW.fullmatch(origin)
    if found is None:
        return origin
    if found["sheet"] is None:
        return said("{file}, row {row}", file=found["file"], row=found["row"])
    return said("{file}, sheet {sheet}, row {row}", file=found["file"], sheet=found["sheet"], row=found["row"])
