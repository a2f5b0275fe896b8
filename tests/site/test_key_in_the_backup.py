"""The office's signing key outlives its disk: a backup holds it, and no restoration puts it in place of another."""

import shutil
import stat
import zipfile
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from django.conf import LazySettings
from fresh_database import using

from lapel.assessment.survey import assess
from lapel.cli.main import main
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
from lapel.records.sealed import forget_key
from lapel.site.database import database_settings

SMALL = Path(__file__).parents[2] / "examples" / "small"


@dataclass(frozen=True)
class Office:
    """A server's folder, and the commands in it, in this process."""

    home: Path
    settings: LazySettings
    capsys: pytest.CaptureFixture[str]

    def lapel(self, *arguments):
        """The command's words to the person; it was done."""
        self.settings.HOME, self.settings.MEDIA_ROOT = self.home, self.home / "uploads"
        forget_key()
        with using(database_settings("", self.home)):
            code = main(arguments)
        said = self.capsys.readouterr().err
        assert code == 0, said
        return said

    def back_up(self, path):
        return self.lapel("backup", str(path))

    def restore(self, path):
        return self.lapel("restore", str(path))


@pytest.fixture
def office(tmp_path, prepared, settings, capsys, django_db_blocker):
    """Give servers' folders with records in them."""

    def office(name):
        return Office(Path(shutil.copytree(prepared.home, tmp_path / name)), settings, capsys)

    with django_db_blocker.unblock():
        yield office
    forget_key()


def test_a_dossier_sealed_after_a_restoration_bears_the_key_of_before(office, tmp_path):
    first = office("one")
    public = public_key_text(office_key(first.home))
    words = first.back_up(tmp_path / "backup.zip")
    assert f"signing key {fingerprint_of_key(office_key(first.home))}" in words
    assert "can seal dossiers in its name" in words
    assert stat.S_IMODE((tmp_path / "backup.zip").stat().st_mode) == 0o600

    empty = tmp_path / "two"
    empty.mkdir()
    assert "is in its place" in replace(first, home=empty).restore(tmp_path / "backup.zip")
    assert stat.S_IMODE((empty / OFFICE_KEY).stat().st_mode) == 0o600
    dossier = tmp_path / "dossier.zip"
    write_dossier(assess(read_survey(SMALL)), SMALL, dossier, signing_key=office_key(empty))
    assert verify_dossier(dossier, trusted_key=public).holds


def test_another_key_that_is_there_is_kept_and_both_are_named(office, tmp_path):
    first, second = office("one"), office("two")
    old, new = office_key(first.home), office_key(second.home)
    first.back_up(tmp_path / "backup.zip")
    said = second.restore(tmp_path / "backup.zip")
    assert (second.home / OFFICE_KEY).read_bytes() == old
    (aside,) = second.home.glob(f"before-restore-*-{OFFICE_KEY}")
    assert aside.read_bytes() == new
    assert stat.S_IMODE(aside.stat().st_mode) == 0o600
    for name in (fingerprint_of_key(old), fingerprint_of_key(new), aside.name):
        assert name in said

    assert "was here already" in second.restore(tmp_path / "backup.zip")
    assert list(second.home.glob(f"before-restore-*-{OFFICE_KEY}")) == [aside]


def test_a_backup_without_a_key_leaves_the_one_that_is_there(office, tmp_path):
    first, second = office("one"), office("two")
    kept = office_key(second.home)
    assert "no signing key" in first.back_up(tmp_path / "backup.zip")
    assert f"{fingerprint_of_key(kept)}, stays" in second.restore(tmp_path / "backup.zip")
    assert office_key(second.home) == kept


def test_a_file_that_is_no_key_is_backed_up_as_it_is_and_told(office, tmp_path):
    first = office("one")
    (first.home / OFFICE_KEY).write_bytes(b"torn")
    assert "which cannot be used" in first.back_up(tmp_path / "backup.zip")
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
    first.back_up(tmp_path / "backup.zip")
    said = second.restore(tmp_path / "backup.zip")
    assert "key of the second factors is in its place" in said
    assert (second.home / FACTOR_KEY).read_text() == of_first
    assert stat.S_IMODE((second.home / FACTOR_KEY).stat().st_mode) == 0o600
    (aside,) = second.home.glob(f"before-restore-*-{FACTOR_KEY}")
    assert aside.read_text() == of_second
