"""What the exit code of every command means, and how a process that holds a big survey ends."""

from __future__ import annotations

import os
import sys
from typing import NoReturn

DONE = 0
"""Done, nothing to remark."""

FINDINGS = 1
"""Done, with findings a person must look at."""

UNUSABLE = 2
"""The input cannot be used; nothing was written."""

HELD_TO_THE_END: list[object] = []
"""What is not taken apart before the process ends: object by object that takes seconds and gains nothing."""


def leave(code: int) -> NoReturn:
    """End the process: at once where it holds a survey to the end, else as usual."""
    if not HELD_TO_THE_END:
        raise SystemExit(code)
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except BrokenPipeError:  # whoever read the output has enough
        code = FINDINGS
    os._exit(code)
