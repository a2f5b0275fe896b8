"""The server starts safely, a backup is made while people work, and a restored one is proven."""

import contextlib
import hashlib
import json
import shutil
import sqlite3
import threading
import urllib.error
import urllib.request
import zipfile
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.auth.models import User
from field_office import Office, Phone, losses
from fresh_database import using

from lapel.site.backup import BackupProblem, make_backup, restore_backup
from lapel.site.database import database_settings
from lapel.site.serve import CannotServe, check_disk, only_server


@pytest.fixture
def an_office(prepared):
    """Make offices with records in them; whatever of their servers still runs is ended after the test."""
    made = []

    def an_office(home, address=""):
        if address:
            home.mkdir()
        else:
            shutil.copytree(prepared.home, home)
        made.append(Office(home, address))
        return made[-1]

    yield an_office
    for office in made:
        office.kill()


@pytest.fixture(scope="module")
def running(prepared, tmp_path_factory):
    """A server that has taken thirty entries from a phone; no test changes what it holds."""
    office = Office(Path(shutil.copytree(prepared.home, tmp_path_factory.mktemp("running") / "office")))
    office.start()
    office.phone = Phone(office.port, "phone-1", prepared.keys["phone-1"], 30)
    deliver_all(office.phone)
    yield office
    office.kill()


@pytest.fixture
def stopped(running, an_office, tmp_path):
    """An office with the entries of the running server, and no server."""
    office = an_office(tmp_path / "stopped")
    with (
        contextlib.closing(sqlite3.connect(running.home / "lapel.sqlite3")) as source,
        contextlib.closing(sqlite3.connect(office.home / "lapel.sqlite3")) as copy,
    ):
        source.backup(copy)
    return office


@pytest.fixture(params=["sqlite", "postgresql"])
def addresses(request):
    """A database that is brought up to date and an empty one, on one engine."""
    if request.param == "sqlite":
        yield "", ""
        return
    cluster = request.getfixturevalue("postgres")
    template = request.getfixturevalue("postgres_template")
    with cluster.database(template=template) as one, cluster.database() as other:
        yield cluster.address(one), cluster.address(other)


def test_a_backup_made_while_phones_deliver_restores_to_a_log_that_holds(an_office, tmp_path, prepared, addresses):
    office = an_office(tmp_path / "one", addresses[0])
    keys = office.pair(3) if addresses[0] else prepared.keys
    phones = [Phone(office.port, code, key, 100) for code, key in keys.items()]
    uploads = office.home / "uploads" / "2026"
    uploads.mkdir(parents=True)
    (uploads / "picture.jpg").write_bytes(b"a picture")
    office.start()
    for phone in phones:
        phone.deliver(20)
    before = {entry_id for phone in phones for entry_id in phone.receipts}
    is_made = threading.Event()
    threads = [threading.Thread(target=deliver_while, args=(phone, is_made)) for phone in phones]
    for thread in threads:
        thread.start()
    backup = tmp_path / "backup.zip"
    made = office.lapel("backup", str(backup))
    is_made.set()
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
    assert len(stored) == about["log"]["entries"] <= 300
    assert (again.home / "uploads" / "2026" / "picture.jpg").read_bytes() == b"a picture"

    again.start()
    for phone in phones:  # a phone that still has what it sent can send it all again
        more = Phone(again.port, "", phone.key, 0)
        more.made, more.wire, more.outbox = phone.made, phone.wire, dict.fromkeys(phone.made)
        deliver_all(more)
    assert len(again.stored()) == 300
    assert again.lapel("log", "verify").returncode == 0


def deliver_all(phone):
    while phone.outbox:
        phone.deliver(30)
    phone.hang_up()


def deliver_while(phone, is_made):
    """Deliver a little at a time, so that it lasts, until the backup is made."""
    while phone.outbox and not is_made.is_set():
        phone.deliver(3)
        is_made.wait(0.05)
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


def test_the_records_that_were_there_are_kept_when_a_backup_is_restored(an_office, stopped, tmp_path):
    assert an_office(tmp_path / "one").lapel("backup", str(tmp_path / "backup.zip")).returncode == 0
    assert len(stopped.stored()) == 30
    assert stopped.lapel("restore", str(tmp_path / "backup.zip")).returncode == 0
    assert stopped.stored() == []
    (aside,) = stopped.home.glob("before-restore-*.sqlite3")
    with contextlib.closing(sqlite3.connect(aside)) as kept:
        assert kept.execute("SELECT COUNT(*) FROM records_logentry").fetchone() == (30,)


def test_a_backup_of_an_earlier_version_is_restored_and_its_log_proven(an_office, tmp_path):
    """As if the forms that go with parcels were still to come, with their table and its guards."""
    office = an_office(tmp_path / "one")
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


def test_a_postgresql_database_that_is_not_empty_is_not_touched(fresh_postgres, tmp_path, sqlite_template):
    make_backup(tmp_path / "backup.zip")
    User.objects.create(username="since")
    with pytest.raises(BackupProblem, match=f"“{fresh_postgres}” is not empty.* Nothing was changed"):
        restore_backup(tmp_path / "backup.zip")
    assert User.objects.get().username == "since"
    shutil.copy(sqlite_template, tmp_path / "lapel.sqlite3")
    with (
        using(database_settings("", tmp_path)),
        pytest.raises(BackupProblem, match="is a backup of a server on PostgreSQL"),
    ):
        restore_backup(tmp_path / "backup.zip")
    assert (tmp_path / "lapel.sqlite3").read_bytes() == sqlite_template.read_bytes()


def test_one_byte_changed_behind_the_servers_back_is_named_by_the_command(running, stopped):
    path = stopped.home / "lapel.sqlite3"
    with contextlib.closing(sqlite3.connect(path)) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    content = path.read_bytes()
    entry = running.phone.made[11]
    place = content.index(b"R. Vidal", content.index(entry.encode() + b"flow_read"))
    path.write_bytes(content[:place] + b"X" + content[place + 1 :])
    answer = stopped.lapel("log", "verify")
    assert answer.returncode == 1
    assert "does NOT hold" in answer.stdout
    assert entry in answer.stdout.splitlines()[2]


def test_where_a_server_works_no_second_one_starts_and_no_backup_is_restored(running, tmp_path):
    for command in (("serve", "--port", "0"), ("restore", str(tmp_path / "backup.zip"))):
        answer = running.lapel(*command)
        assert answer.returncode == 2
        assert "Another Lapel server works" in answer.stderr
    assert len(running.stored()) == 30


def test_a_server_without_guards_does_not_start(an_office, tmp_path):
    office = an_office(tmp_path / "one")
    with sqlite3.connect(office.home / "lapel.sqlite3") as raw:
        raw.execute("DROP TRIGGER records_logentry_no_update")
    raw.close()
    answer = office.lapel("serve", "--port", "0")
    assert answer.returncode == 2
    assert "records_logentry_no_update" in answer.stderr


def test_records_are_backed_up_before_they_are_brought_up_to_date(an_office, tmp_path):
    office = an_office(tmp_path / "one")
    with sqlite3.connect(office.home / "lapel.sqlite3") as raw:  # as if the last of them were still to come
        raw.execute("DELETE FROM django_migrations WHERE app = 'sessions'")
        raw.execute("DROP TABLE django_session")
    raw.close()
    office.start()
    assert len(list(office.home.glob("before-update-*.zip"))) == 1
    assert "before the update" in office.log.read_text()


def test_the_server_answers_with_its_pages_and_its_interface(running):
    with urllib.request.urlopen(f"http://127.0.0.1:{running.port}/api/v1/openapi.json") as answer:
        assert json.loads(answer.read())["info"]["title"] == "Lapel: the field"
    with pytest.raises(urllib.error.HTTPError, match="401"):
        urllib.request.urlopen(f"http://127.0.0.1:{running.port}/api/v1/device")
    assert f"localhost:{running.port}" in running.log.read_text()


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
