"""
Days worked out by hand, shared with any other implementation of the fold.

Each file holds entries and what of the day they must give; members of the day that are not named may be anything.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from lapel.fieldlog import canonical_text, entry_from_record, fold, plain, verify_chain

FOLDER = Path(__file__).parents[1] / "vectors" / "fieldlog"
DAYS = sorted(path for path in FOLDER.glob("*.json") if path.name != "chain.json")


def assert_holds(expected, found, where="day"):
    if isinstance(expected, dict):
        for name, value in expected.items():
            assert name in found, f"{where}.{name} is missing"
            assert_holds(value, found[name], f"{where}.{name}")
    elif isinstance(expected, list):
        assert len(expected) == len(found), f"{where}: {len(found)} items, wanted {len(expected)}"
        for number, value in enumerate(expected):
            assert_holds(value, found[number], f"{where}[{number}]")
    else:
        assert found == expected, f"{where} is {found!r}, wanted {expected!r}"


@pytest.mark.parametrize("path", DAYS, ids=lambda path: path.stem)
def test_the_day_is_the_one_worked_out_by_hand(path):
    vector = json.loads(path.read_text(encoding="utf-8"))
    day = fold(entry_from_record(record) for record in vector["entries"])
    assert_holds(vector["day"], plain(day))


def test_there_are_days_to_compare():
    assert len(DAYS) >= 8


def test_the_chain_of_the_vector_can_be_recomputed():
    """By SHA-256 over JSON made here from the record, not by the chain's own code."""
    records = json.loads((FOLDER / "chain.json").read_text(encoding="utf-8"))["entries"]
    before = ""
    for record in records:
        text = {"corrects": "", "reason": "", "previous_hash": before} | record
        text = {name: value for name, value in sorted(text.items()) if name not in ("hash", "received_at")}
        text["fields"] = dict(sorted(text["fields"].items()))
        written = json.dumps(text, ensure_ascii=False, separators=(",", ":"))
        assert hashlib.sha256(written.encode()).hexdigest() == record["hash"]
        assert canonical_text(entry_from_record(record)) == written
        before = record["hash"]
    assert verify_chain(map(entry_from_record, records)) is None
