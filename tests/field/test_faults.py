"""What the benchmark does fifty times, a few times here: kills in mid-sync, a full disk, torn writes."""

import shutil
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from fault_runs import full_disk, kill_runs, torn_writes

NOTHING = dict.fromkeys(("lost", "doubled", "other receipt", "unheard of", "split batches"), 0)


@pytest.fixture
def home(tmp_path, sqlite_template):
    """A server's folder whose records are brought up to date."""
    shutil.copy(sqlite_template, tmp_path / "lapel.sqlite3")
    return tmp_path


def test_no_accepted_entry_is_lost_when_the_server_is_killed_in_mid_sync(home):
    found = kill_runs(home, 2)
    assert found.items() >= {**NOTHING, "kills": 2, "breaks": 0}.items()
    assert found["confirmed"] >= 2 * 25


def test_no_accepted_entry_is_lost_when_the_server_on_postgresql_is_killed(tmp_path, postgres, postgres_template):
    with postgres.database(template=postgres_template) as name:
        found = kill_runs(tmp_path, 2, address=postgres.address(name))
    assert found.items() >= {**NOTHING, "kills": 2, "breaks": 0}.items()


def test_a_full_disk_loses_nothing_and_work_goes_on_when_there_is_room_again(home):
    found = full_disk(home, entries=500)
    assert found.items() >= {**NOTHING, "breaks": 0}.items()
    assert found["refused while full"] > 0


def test_a_torn_write_leaves_whole_deliveries(home):
    found = torn_writes(home, 12)
    assert found.items() >= {**NOTHING, "torn file": 0}.items()
