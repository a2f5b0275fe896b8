"""The office's signing key outlives its disk: a backup holds it, and no restoration puts it in place of another."""

import shutil
import stat
import sys
import zipfile
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from field_office import Office

from lapel.assessment.survey import assess
from lapel.exchange.dossier import (
    OFFICE_KEY,
    fingerprint_of_key,
    make_key_file,
    office_key,
    public_key_text,
    put_key,
    verify_dossier,
    write_dossier,
)
from lapel.exchange.survey_folder import read_survey
from lapel.records.sealed import KEY_FILE as FACTOR_KEY

SMALL = Path(__file__).parents[2] / "examples" / "small"


@pytest.fixture(scope="module")
def with_records(tmp_path_factory):
    """Make a server's folder with records in it, once; none is started."""
    home = tmp_path_factory.mktemp("office")
    Office(home).pair(1)
    return home


@pytest.fixture
def office(tmp_path, with_records):
    """Give servers' folders with records in them."""

    def office(name):
        return Office(Path(shutil.copytree(with_records, tmp_path / name)))

    return office


def backed_up(office, path):
    done = office.lapel("backup", str(path))
    assert done.returncode == 0, done.stderr
    return done.stderr


def test_a_dossier_sealed_after_a_restoration_bears_the_key_of_before(office, tmp_path):
    first = office("one")
    public = public_key_text(office_key(first.home))
    words = backed_up(first, tmp_path / "backup.zip")
    assert f"signing key {fingerprint_of_key(office_key(first.home))}" in words
    assert "can seal dossiers in its name" in words
    assert stat.S_IMODE((tmp_path / "backup.zip").stat().st_mode) == 0o600

    empty = tmp_path / "two"
    empty.mkdir()
    done = Office(empty).lapel("restore", str(tmp_path / "backup.zip"))
    assert done.returncode == 0, done.stderr
    assert "is in its place" in done.stderr
    assert stat.S_IMODE((empty / OFFICE_KEY).stat().st_mode) == 0o600
    dossier = tmp_path / "dossier.zip"
    write_dossier(assess(read_survey(SMALL)), SMALL, dossier, signing_key=office_key(empty))
    assert verify_dossier(dossier, trusted_key=public).holds


def test_another_key_that_is_there_is_kept_and_both_are_named(office, tmp_path):
    first, second = office("one"), office("two")
    old, new = office_key(first.home), office_key(second.home)
    backed_up(first, tmp_path / "backup.zip")
    done = second.lapel("restore", str(tmp_path / "backup.zip"))
    assert done.returncode == 0, done.stderr
    assert (second.home / OFFICE_KEY).read_bytes() == old
    (aside,) = second.home.glob(f"before-restore-*-{OFFICE_KEY}")
    assert aside.read_bytes() == new
    assert stat.S_IMODE(aside.stat().st_mode) == 0o600
    for said in (fingerprint_of_key(old), fingerprint_of_key(new), aside.name):
        assert said in done.stderr

    again = second.lapel("restore", str(tmp_path / "backup.zip"))
    assert "was here already" in again.stderr
    assert list(second.home.glob(f"before-restore-*-{OFFICE_KEY}")) == [aside]


def test_a_backup_without_a_key_leaves_the_one_that_is_there(office, tmp_path):
    first, second = office("one"), office("two")
    kept = office_key(second.home)
    assert "no signing key" in backed_up(first, tmp_path / "backup.zip")
    done = second.lapel("restore", str(tmp_path / "backup.zip"))
    assert done.returncode == 0, done.stderr
    assert f"{fingerprint_of_key(kept)}, stays" in done.stderr
    assert office_key(second.home) == kept


def test_a_file_that_is_no_key_is_backed_up_as_it_is_and_told(office, tmp_path):
    first = office("one")
    (first.home / OFFICE_KEY).write_bytes(b"torn")
    assert "which cannot be used" in backed_up(first, tmp_path / "backup.zip")
    with zipfile.ZipFile(tmp_path / "backup.zip") as archive:
        assert archive.read(OFFICE_KEY) == b"torn"


def test_a_key_is_never_written_over_another(tmp_path):
    path = tmp_path / "key.pem"
    key = make_key_file(path)
    for write in (lambda: make_key_file(path), lambda: put_key(path, b"another")):
        with pytest.raises(FileExistsError):
            write()
    assert path.read_bytes() == key
    assert list(tmp_path.iterdir()) == [path]


def test_the_key_of_the_second_factors_goes_with_the_records(office, tmp_path):
    first, second = office("one"), office("two")
    of_first, of_second = "ab" * 64, "cd" * 64
    (first.home / FACTOR_KEY).write_text(of_first)
    (second.home / FACTOR_KEY).write_text(of_second)
    backed_up(first, tmp_path / "backup.zip")
    done = second.lapel("restore", str(tmp_path / "backup.zip"))
    assert done.returncode == 0, done.stderr
    assert "key of the second factors is in its place" in done.stderr
    assert (second.home / FACTOR_KEY).read_text() == of_first
    assert stat.S_IMODE((second.home / FACTOR_KEY).stat().st_mode) == 0o600
    (aside,) = second.home.glob(f"before-restore-*-{FACTOR_KEY}")
    assert aside.read_text() == of_second
