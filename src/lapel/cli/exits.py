"""What the exit code of every command means."""

DONE = 0
"""Done, nothing to remark."""

FINDINGS = 1
"""Done, with findings a person must look at."""

UNUSABLE = 2
"""The input cannot be used; nothing was written."""
