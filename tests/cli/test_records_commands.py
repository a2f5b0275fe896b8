"""A folder goes in, is assessed on record, and comes out: the commands, on a server folder of their own."""

import contextlib
import json
import os
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from fresh_database import using

from lapel.cli.main import main
from lapel.site.database import database_settings

EXAMPLES = Path(__file__).parents[2] / "examples"


def lapel(home, *arguments):
    environment = os.environ | {"LAPEL_HOME": str(home), "LAPEL_DATABASE": ""}
    environment.pop("DJANGO_SETTINGS_MODULE", None)
    command = [sys.executable, "-m", "lapel.cli.main", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, env=environment, check=False)


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    home = tmp_path_factory.mktemp("home")
    done = lapel(home, "import", EXAMPLES / "small", "--site", "hulls")
    assert done.returncode == 0, done.stderr
    assert "Survey small of the site hulls is on record." in done.stdout
    return home


def test_assessed_on_record_it_is_what_the_folder_gives(home, tmp_path):
    results = []
    for number, of in enumerate((("--survey", "small"), (EXAMPLES / "small",))):
        done = lapel(home, "assess", *of, "--quiet", "--json", tmp_path / f"{number}.json")
        results.append((done.returncode, json.loads((tmp_path / f"{number}.json").read_text()) | {"input_sha256": ""}))
    assert results[0] == results[1]


def test_what_comes_out_is_assessed_without_a_fault(home, tmp_path):
    done = lapel(home, "export", "small", tmp_path / "out")
    assert (done.returncode, (tmp_path / "out/survey.toml").exists()) == (0, True)
    assert main(["assess", str(tmp_path / "out"), "--quiet"]) == main(["assess", str(EXAMPLES / "small"), "--quiet"])


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("import", EXAMPLES / "small"), "already"),
        (("import", EXAMPLES / "hard", "--user", "nobody-here"), "nobody who signs in as “nobody-here”"),
        (("export", "no-such", "OUT"), "no survey “no-such”; on record: small"),
        (("export", "small", "OUT", "--names", "key.csv"), "--names FILE and --lead NAME together"),
        (("export", "small", "OUT", "--names", "OUT/key.csv", "--lead", "x"), "a survey folder holds no names"),
        (("export", "small", "OUT", "--names", "key.csv", "--lead", "x"), "nobody who signs in as “x”"),
        (("assess",), "Give one of the two"),
        (("assess", EXAMPLES / "small", "--survey", "small"), "Give one of the two"),
    ],
)
def test_what_cannot_be_done_is_said_and_leaves_nothing(
    home, tmp_path, monkeypatch, capsys, django_db_blocker, arguments, words
):
    monkeypatch.chdir(tmp_path)
    with django_db_blocker.unblock(), using(database_settings("", home)):
        assert main(list(map(str, arguments))) == 2
    told = capsys.readouterr()
    assert words in told.err
    assert told.out == ""
    assert list(tmp_path.iterdir()) == []


def test_a_server_of_an_earlier_version_is_left_as_it_is(home, tmp_path):
    earlier = Path(shutil.copytree(home, tmp_path / "earlier"))
    with contextlib.closing(sqlite3.connect(earlier / "lapel.sqlite3")) as database:
        database.execute("DELETE FROM django_migrations WHERE app = 'records' AND name > '0002_append_only'")
        database.commit()
    done = lapel(earlier, "export", "small", tmp_path / "out")
    assert (done.returncode, (tmp_path / "out").exists()) == (2, False)
    assert "earlier version" in done.stderr


def test_a_folder_is_assessed_without_django():
    code = (
        "import sys\nfrom lapel.cli.main import main\n"
        f"main(['assess', {str(EXAMPLES / 'small')!r}, '--quiet'])\n"
        "print([name for name in sys.modules if name.split('.')[0] == 'django'], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"
