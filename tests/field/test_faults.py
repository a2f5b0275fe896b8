"""What the benchmark does fifty times, a few times here: kills in mid-sync, a full disk, torn writes."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from fault_runs import full_disk, kill_runs, torn_writes

NOTHING = dict.fromkeys(("lost", "doubled", "other receipt", "unheard of", "split batches"), 0)


def test_no_accepted_entry_is_lost_when_the_server_is_killed_in_mid_sync(tmp_path):
    found = kill_runs(tmp_path, 3)
    assert found.items() >= {**NOTHING, "kills": 3, "breaks": 0}.items()
    assert found["confirmed"] >= 3 * 25


def test_no_accepted_entry_is_lost_when_the_server_on_postgresql_is_killed(tmp_path, postgres):
    postgres.sql("CREATE DATABASE killed")
    found = kill_runs(tmp_path, 2, address=postgres.address("killed"))
    assert found.items() >= {**NOTHING, "breaks": 0}.items()


def test_a_full_disk_loses_nothing_and_work_goes_on_when_there_is_room_again(tmp_path):
    found = full_disk(tmp_path)
    assert found.items() >= {**NOTHING, "breaks": 0}.items()
    assert found["refused while full"] > 0


def test_a_torn_write_leaves_whole_deliveries(tmp_path):
    found = torn_writes(tmp_path, 12)
    assert found.items() >= {**NOTHING, "torn file": 0}.items()
