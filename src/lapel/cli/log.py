"""
Prove the field log: every stored row, every delivery, every device's chain, and the triggers that guard them.

Changes nothing. People may go on working meanwhile.
"""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from lapel.cli.exits import DONE, FINDINGS, UNUSABLE
from lapel.cli.faults import say

if TYPE_CHECKING:
    from lapel.records.verify import LogBreak, LogProof

MOST_SHOWN = 50
"""Breaks printed; the rest is counted."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("act", metavar="verify", choices=["verify"], help="what to do with the log")


def execute(options: argparse.Namespace) -> int:
    """Prove the log; 1 when it does not hold or a chain has open ends, 2 when there is none to read."""
    from lapel.cli.records import records_are_open

    if not records_are_open():
        return UNUSABLE
    from lapel.records.verify import verify_log

    proof = verify_log()
    return DONE if show_proof(proof) and not proof.open_ends else FINDINGS


def show_proof(proof: LogProof) -> bool:
    """Print what was proven, the first break first; return whether the log holds."""
    write = sys.stdout.write
    write(f"{proof.entries} entries, {proof.deliveries} deliveries, {proof.devices} devices with a chain.\n")
    if proof.breaks:
        write(f"The log does NOT hold. First break:\n  {proof.breaks[0]}\n")
        _list("Further breaks:", proof.breaks[1:])
        say("Keep this file as it is, and compare with a backup; nothing was changed.")
    else:
        write("The log holds: every entry is as it was received, every delivery is there, no guard is missing.\n")
        if proof.last_hash:
            write(f"Last delivery: {proof.last_hash}\n")
    _list("Chains with open ends (still on a device, or a device set up from a copy):", proof.open_ends)
    return not proof.breaks


def _list(title: str, found: tuple[LogBreak, ...]) -> None:
    if found:
        sys.stdout.write(title + "\n")
    for one in found[:MOST_SHOWN]:
        sys.stdout.write(f"  {one}\n")
    if len(found) > MOST_SHOWN:
        sys.stdout.write(f"  ... and {len(found) - MOST_SHOWN} more.\n")
