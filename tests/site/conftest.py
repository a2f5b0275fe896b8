"""A server's folder with records in it, made once for all tests of the site."""

import shutil
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from field_office import Office


@dataclass(frozen=True)
class Prepared:
    """A folder no server works in, to be copied, and the keys of the phones it knows by their codes."""

    home: Path
    keys: dict[str, str]


@pytest.fixture(scope="session")
def prepared(sqlite_template, tmp_path_factory):
    home = tmp_path_factory.mktemp("prepared")
    shutil.copy(sqlite_template, home / "lapel.sqlite3")
    return Prepared(home, Office(home).pair(3))
