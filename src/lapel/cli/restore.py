"""
Put a backup in place of the records of this server, and prove its log.

The server must be stopped. Records that were there are kept beside, and so is another signing key. A PostgreSQL
database must be empty.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from lapel.cli.exits import DONE, FINDINGS, UNUSABLE
from lapel.cli.faults import say


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("file", metavar="FILE", type=Path, help="backup to restore")


def execute(options: argparse.Namespace) -> int:
    """Restore and prove; 1 when the log in the backup does not hold, 2 when nothing was changed."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lapel.site.settings")
    import django

    django.setup()
    from django.conf import settings
    from django.db import DatabaseError

    from lapel.cli.log import show_proof
    from lapel.site.backup import BackupProblem, restore_backup
    from lapel.site.serve import CannotServe, only_server

    try:
        with only_server(Path(settings.HOME)):
            restored = restore_backup(options.file)
    except (BackupProblem, CannotServe, DatabaseError) as problem:
        say(str(problem))
        return UNUSABLE
    say(f"{options.file} is restored. {restored.records}")
    say(restored.key)
    state, proof = restored.state, restored.proof
    whole = show_proof(proof)
    if (proof.entries, proof.deliveries, proof.last_hash) != (state.entries, state.deliveries, state.last_hash):
        say(f"By the backup there are {state.entries} entries, the last delivery {state.last_hash or 'none'}: no fit.")
        whole = False
    return DONE if whole else FINDINGS
