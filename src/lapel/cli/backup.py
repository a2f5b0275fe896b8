"""
Back the records up into one file, while people work.

The file holds worker names, everything else on record and the office's signing key: keep it as carefully as the server.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from lapel.cli.exits import DONE, UNUSABLE
from lapel.cli.faults import say


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("file", metavar="FILE", type=Path, help="file to write, such as lapel-2026-03-09.zip")


def execute(options: argparse.Namespace) -> int:
    """Write the backup; 2 when it could not be made."""
    from lapel.cli.records import records_are_open

    if not records_are_open():
        return UNUSABLE
    from lapel.site.backup import BackupProblem, make_backup

    try:
        state, key = make_backup(options.file)
    except BackupProblem as problem:
        say(str(problem))
        return UNUSABLE
    say(f"{options.file} holds the records with {state.entries} entries of the log in {state.deliveries} deliveries.")
    say(key)
    if state.last_hash:
        say(f"Last delivery: {state.last_hash}. Written down elsewhere, it proves later that none is missing.")
    return DONE
