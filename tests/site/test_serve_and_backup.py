"""The server starts safely, a backup is made while people work, and a restored one is proven."""

import hashlib
import json
import shutil
import sqlite3
import sys
import threading
import urllib.error
import urllib.request
import zipfile
from pathlib import Path

import pytest
from django.conf import settings

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from field_office import Office, Phone, losses

from lapel.site.backup import BackupProblem, make_backup, restore_backup
from lapel.site.serve import CannotServe, check_disk, only_server


@pytest.fixture
def an_office(sqlite_template):
    """Make servers; whatever of them still runs is ended after the test."""
    made = []

    def an_office(home, address=""):
        home.mkdir(exist_ok=True)
        if not address:
            shutil.copy(sqlite_template, home / "lapel.sqlite3")
        made.append(Office(home, address))
        return made[-1]

    yield an_office
    for office in made:
        office.kill()


@pytest.fixture(params=["sqlite", "postgresql"])
def addresses(request):
    """Two empty databases on one engine."""
    if request.param == "sqlite":
        return "", ""
    cluster = request.getfixturevalue("postgres")
    for name in ("backed_up", "restored"):
        cluster.sql(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
        cluster.sql(f"CREATE DATABASE {name}")
    return cluster.address("backed_up"), cluster.address("restored")


def test_a_backup_made_while_phones_deliver_restores_to_a_log_that_holds(an_office, tmp_path, addresses):
    office = an_office(tmp_path / "one", addresses[0])
    phones = [Phone(office.port, code, key, 600) for code, key in office.pair(3).items()]
    uploads = office.home / "uploads" / "2026"
    uploads.mkdir(parents=True)
    (uploads / "picture.jpg").write_bytes(b"a picture")
    office.start()
    for phone in phones:
        phone.deliver(20)
    before = {entry_id for phone in phones for entry_id in phone.receipts}
    threads = [threading.Thread(target=deliver_all, args=(phone,)) for phone in phones]
    for thread in threads:
        thread.start()
    backup = tmp_path / "backup.zip"
    made = office.lapel("backup", str(backup))
    for thread in threads:
        thread.join()
    assert made.returncode == 0, made.stderr
    assert not any(losses(phones, office.stored()).values())
    office.kill()

    again = an_office(tmp_path / "two", addresses[1])
    restored = again.lapel("restore", str(backup))
    assert restored.returncode == 0, restored.stdout + restored.stderr
    assert "The log holds" in restored.stdout
    stored = dict(again.stored())
    assert before <= set(stored)
    with zipfile.ZipFile(backup) as archive:
        about = json.loads(archive.read("about.json"))
    assert len(stored) == about["log"]["entries"] < 1801
    assert (again.home / "uploads" / "2026" / "picture.jpg").read_bytes() == b"a picture"

    again.start()
    for phone in phones:  # a phone that still has what it sent can send it all again
        more = Phone(again.port, "", phone.key, 0)
        more.made, more.wire, more.outbox = phone.made, phone.wire, dict.fromkeys(phone.made)
        deliver_all(more)
    assert len(again.stored()) == 1800
    assert again.lapel("log", "verify").returncode == 0


def deliver_all(phone):
    while phone.outbox:
        phone.deliver(30)
    phone.hang_up()


def test_a_backup_is_whole_or_not_there_and_never_written_over(fresh_database, tmp_path):
    folder = tmp_path / "backups"
    folder.mkdir()
    target = folder / "backup.zip"
    make_backup(target)
    kept = target.read_bytes()
    with pytest.raises(BackupProblem, match="is there already"):
        make_backup(target)
    with pytest.raises(BackupProblem, match="There is no folder"):
        make_backup(tmp_path / "no folder" / "backup.zip")
    assert target.read_bytes() == kept
    assert target.stat().st_mode & 0o077 == 0
    assert list(folder.iterdir()) == [target]


def test_a_backup_that_fails_leaves_no_file(fresh_sqlite, tmp_path, monkeypatch):
    folder = tmp_path / "backups"
    folder.mkdir()
    monkeypatch.setattr("lapel.site.backup.zipfile.ZipFile", Full)
    with pytest.raises(BackupProblem, match="No space left"):
        make_backup(folder / "backup.zip")
    assert list(folder.iterdir()) == []


class Full:
    def __init__(self, *given, **more):
        raise OSError(28, "No space left on device")


@pytest.mark.parametrize(
    "damage", ["a byte", "cut off", "other records", "a file more", "no zip", "a path out", "no records"]
)
def test_a_damaged_backup_changes_nothing(fresh_sqlite, tmp_path, damage):
    target = tmp_path / "backup.zip"
    make_backup(target)
    whole = target.read_bytes()
    if damage == "a byte":
        middle = len(whole) // 2
        target.write_bytes(whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :])
    elif damage == "cut off":
        target.write_bytes(whole[: len(whole) // 2])
    elif damage == "no zip":
        target.write_bytes(b"SQLite format 3\0")
    else:
        with zipfile.ZipFile(target) as archive:
            files = {name: archive.read(name) for name in archive.namelist()}
        about = json.loads(files["about.json"])
        if damage == "other records":  # packed anew: the zip's own checks hold
            files["records.sqlite3"] += b" "
        elif damage == "no records":
            del files["records.sqlite3"], about["sha256"]["records.sqlite3"]
        elif damage == "a path out":
            files["../out"] = b"x"
            about["sha256"]["../out"] = hashlib.sha256(b"x").hexdigest()
        else:
            files["uploads/more"] = b"x"
        files["about.json"] = json.dumps(about).encode()
        with zipfile.ZipFile(target, "w") as archive:
            for name, content in files.items():
                archive.writestr(name, content)
    before = fresh_sqlite.read_bytes()
    with pytest.raises(BackupProblem, match="is no whole backup"):
        restore_backup(target)
    assert fresh_sqlite.read_bytes() == before
    assert not list(Path(settings.HOME).glob("**/out"))
    assert not list(Path(settings.HOME).glob("restore-*"))


def test_the_records_that_were_there_are_kept_when_a_backup_is_restored(an_office, tmp_path):
    office = an_office(tmp_path / "one")
    ((code, key),) = office.pair(1).items()
    assert office.lapel("backup", str(tmp_path / "backup.zip")).returncode == 0
    phone = Phone(office.port, code, key, 10)
    office.start()
    deliver_all(phone)
    refused = office.lapel("restore", str(tmp_path / "backup.zip"))
    assert refused.returncode == 2
    assert "Another Lapel server works" in refused.stderr
    office.kill()
    assert office.lapel("restore", str(tmp_path / "backup.zip")).returncode == 0
    assert office.stored() == []
    (aside,) = office.home.glob("before-restore-*.sqlite3")
    with sqlite3.connect(aside) as kept:
        assert kept.execute("SELECT COUNT(*) FROM records_logentry").fetchone() == (10,)
    kept.close()


def test_a_backup_of_an_earlier_version_is_restored_and_its_log_proven(an_office, tmp_path):
    """As if the forms that go with parcels were still to come, with their table and its guards."""
    office = an_office(tmp_path / "one")
    office.pair(1)
    with sqlite3.connect(office.home / "lapel.sqlite3") as raw:
        raw.execute("DELETE FROM django_migrations WHERE app = 'records' AND name >= '0006'")
        raw.execute("DROP TABLE records_custodyform")
    raw.close()
    again = an_office(tmp_path / "two")
    with sqlite3.connect(office.home / "lapel.sqlite3") as raw, sqlite3.connect(tmp_path / "copy") as copy:
        raw.backup(copy)
    raw.close()
    copy.close()
    content = (tmp_path / "copy").read_bytes()
    about = {
        "made_by": "Lapel 0",
        "log": {"entries": 0, "deliveries": 0, "last_hash": ""},
        "sha256": {"records.sqlite3": hashlib.sha256(content).hexdigest()},
    }
    with zipfile.ZipFile(tmp_path / "backup.zip", "w") as archive:
        archive.writestr("about.json", json.dumps(about))
        archive.writestr("records.sqlite3", content)
    answer = again.lapel("restore", str(tmp_path / "backup.zip"))
    assert answer.returncode == 0, answer.stdout + answer.stderr
    assert "made by an earlier version (Lapel 0)" in answer.stderr
    assert "The log holds" in answer.stdout


def test_a_postgresql_database_that_is_not_empty_is_not_touched(an_office, tmp_path, postgres):
    for name in ("backed_up", "in_use"):
        postgres.sql(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
        postgres.sql(f"CREATE DATABASE {name}")
    one, other = (an_office(tmp_path / name, postgres.address(name)) for name in ("backed_up", "in_use"))
    one.pair(1)
    other.pair(1)
    assert one.lapel("backup", str(tmp_path / "backup.zip")).returncode == 0
    answer = other.lapel("restore", str(tmp_path / "backup.zip"))
    assert answer.returncode == 2
    assert "is not empty" in answer.stderr
    on_sqlite = an_office(tmp_path / "file")
    assert "is a backup of a server on PostgreSQL" in on_sqlite.lapel("restore", str(tmp_path / "backup.zip")).stderr


def test_one_byte_changed_behind_the_servers_back_is_named_by_the_command(an_office, tmp_path):
    office = an_office(tmp_path / "one")
    ((code, key),) = office.pair(1).items()
    phone = Phone(office.port, code, key, 30)
    office.start()
    deliver_all(phone)
    office.kill()
    assert office.lapel("log", "verify").returncode == 0
    path = office.home / "lapel.sqlite3"
    with sqlite3.connect(path) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    raw.close()
    content = path.read_bytes()
    entry = phone.made[11]
    place = content.index(b"R. Vidal", content.index(entry.encode() + b"flow_read"))
    path.write_bytes(content[:place] + b"X" + content[place + 1 :])
    answer = office.lapel("log", "verify")
    assert answer.returncode == 1
    assert "does NOT hold" in answer.stdout
    assert entry in answer.stdout.splitlines()[2]


def test_two_servers_do_not_work_on_one_file(an_office, tmp_path):
    office = an_office(tmp_path / "one")
    office.pair(1)
    office.start()
    second = office.lapel("serve", "--port", "0")
    assert second.returncode == 2
    assert "Another Lapel server works" in second.stderr


def test_a_server_without_guards_does_not_start(an_office, tmp_path):
    office = an_office(tmp_path / "one")
    office.pair(1)
    with sqlite3.connect(office.home / "lapel.sqlite3") as raw:
        raw.execute("DROP TRIGGER records_logentry_no_update")
    raw.close()
    answer = office.lapel("serve", "--port", "0")
    assert answer.returncode == 2
    assert "records_logentry_no_update" in answer.stderr


def test_records_are_backed_up_before_they_are_brought_up_to_date(an_office, tmp_path):
    office = an_office(tmp_path / "one")
    office.pair(1)
    with sqlite3.connect(office.home / "lapel.sqlite3") as raw:  # as if the last of them were still to come
        raw.execute("DELETE FROM django_migrations WHERE app = 'sessions'")
        raw.execute("DROP TABLE django_session")
    raw.close()
    office.start()
    assert len(list(office.home.glob("before-update-*.zip"))) == 1
    assert "before the update" in office.log.read_text()


def test_the_server_answers_with_its_pages_and_its_interface(an_office, tmp_path):
    office = an_office(tmp_path / "one")
    office.start()
    with urllib.request.urlopen(f"http://127.0.0.1:{office.port}/api/v1/openapi.json") as answer:
        assert json.loads(answer.read())["info"]["title"] == "Lapel: the field"
    with pytest.raises(urllib.error.HTTPError, match="401"):
        urllib.request.urlopen(f"http://127.0.0.1:{office.port}/api/v1/device")
    assert f"localhost:{office.port}" in office.log.read_text()


def test_a_folder_is_held_by_one(tmp_path):
    with only_server(tmp_path), pytest.raises(CannotServe, match="Another Lapel server"), only_server(tmp_path):
        pass
    held = only_server(tmp_path, "http://localhost:8321/")
    with held, pytest.raises(CannotServe, match=r"answers at http://localhost:8321/\. Stop it"), only_server(tmp_path):
        pass
    with only_server(tmp_path):
        pass


def test_a_disk_that_cannot_hold_a_write_ahead_log_is_told(tmp_path, monkeypatch):
    check_disk(tmp_path)
    assert list(tmp_path.iterdir()) == []

    class OnAShare:
        def __init__(self, *given):
            self.real = real(*given)

        def execute(self, statement):
            return self.real.execute(statement.replace("WAL", "DELETE"))

        def __getattr__(self, name):
            return getattr(self.real, name)

    real = sqlite3.connect
    monkeypatch.setattr("lapel.site.serve.sqlite3.connect", OnAShare)
    with pytest.raises(CannotServe, match="network share"):
        check_disk(tmp_path)
    assert shutil.disk_usage(tmp_path).free > 0
