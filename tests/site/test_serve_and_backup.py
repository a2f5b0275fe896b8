"""The server starts safely, a backup is made while people work, and a restored one is proven."""

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

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from field_office import Office, Phone, losses

from lapel.site.serve import CannotServe, check_disk, only_server


@pytest.fixture
def offices():
    made = []
    yield made.append
    for office in made:
        office.kill()


def an_office(offices, home, address="", **environment):
    home.mkdir(exist_ok=True)
    office = Office(home, address, **environment)
    offices(office)
    return office


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


def test_a_backup_made_while_phones_deliver_restores_to_a_log_that_holds(offices, tmp_path, addresses):
    office = an_office(offices, tmp_path / "one", addresses[0])
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

    again = an_office(offices, tmp_path / "two", addresses[1])
    restored = again.lapel("restore", str(backup))
    assert restored.returncode == 0, restored.stdout + restored.stderr
    assert "The log holds" in restored.stdout
    stored = dict(again.stored())
    assert before <= set(stored)
    with zipfile.ZipFile(backup) as archive:
        about = json.loads(archive.read("about.json"))
    assert len(stored) == about["log"]["entries"] < 1801
    assert (again.home / "uploads" / "2026" / "picture.jpg").read_bytes() == b"a picture"

    again.start()  # phones go on with the restored server: what it does not have is told by the chain, nothing doubles
    for phone in phones:
        phone.port, phone.outbox = again.port, {}
        phone.hang_up()
    assert again.lapel("log", "verify").returncode == 0


def deliver_all(phone):
    while phone.outbox:
        phone.deliver(30)


def test_a_backup_is_whole_or_not_there_and_never_written_over(offices, tmp_path):
    office = an_office(offices, tmp_path / "one")
    office.pair(1)
    target = tmp_path / "backup.zip"
    assert office.lapel("backup", str(target)).returncode == 0
    kept = target.read_bytes()
    again = office.lapel("backup", str(target))
    assert again.returncode == 2
    assert "is there already" in again.stderr
    assert target.read_bytes() == kept
    assert target.stat().st_mode & 0o077 == 0
    nowhere = office.lapel("backup", str(tmp_path / "no folder" / "backup.zip"))
    assert nowhere.returncode == 2
    assert "no folder" in nowhere.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == ["backup.zip", "one"]


@pytest.mark.parametrize("damage", ["a byte", "cut off", "a file more", "no zip", "a path out"])
def test_a_damaged_backup_changes_nothing(offices, tmp_path, damage):
    office = an_office(offices, tmp_path / "one")
    office.pair(1)
    target = tmp_path / "backup.zip"
    office.lapel("backup", str(target))
    whole = target.read_bytes()
    if damage == "a byte":
        middle = len(whole) // 2
        target.write_bytes(whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :])
    elif damage == "cut off":
        target.write_bytes(whole[: len(whole) // 2])
    elif damage == "no zip":
        target.write_bytes(b"SQLite format 3\0")
    else:
        name = "uploads/more" if damage == "a file more" else "../out"
        with zipfile.ZipFile(target) as archive:
            files = {each: archive.read(each) for each in archive.namelist()}
        if damage == "a path out":
            about = json.loads(files["about.json"])
            about["sha256"][name] = "0" * 64
            files["about.json"] = json.dumps(about).encode()
        with zipfile.ZipFile(target, "w") as archive:
            for each, content in {**files, name: b"x"}.items():
                archive.writestr(each, content)
    before = (office.home / "lapel.sqlite3").read_bytes()
    answer = office.lapel("restore", str(target))
    assert answer.returncode == 2, answer.stdout
    assert "is no whole backup" in answer.stderr
    assert (office.home / "lapel.sqlite3").read_bytes() == before
    assert not (tmp_path / "out").exists()
    assert not (office.home / "out").exists()


def test_the_records_that_were_there_are_kept_when_a_backup_is_restored(offices, tmp_path):
    office = an_office(offices, tmp_path / "one")
    ((code, key),) = office.pair(1).items()
    assert office.lapel("backup", str(tmp_path / "backup.zip")).returncode == 0
    phone = Phone(office.port, code, key, 10)
    office.start()
    phone.deliver(10)
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


def test_a_postgresql_database_that_is_not_empty_is_not_touched(offices, tmp_path, postgres):
    for name in ("backed_up", "in_use"):
        postgres.sql(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
        postgres.sql(f"CREATE DATABASE {name}")
    one, other = (an_office(offices, tmp_path / name, postgres.address(name)) for name in ("backed_up", "in_use"))
    one.pair(1)
    other.pair(1)
    assert one.lapel("backup", str(tmp_path / "backup.zip")).returncode == 0
    answer = other.lapel("restore", str(tmp_path / "backup.zip"))
    assert answer.returncode == 2
    assert "is not empty" in answer.stderr
    on_sqlite = an_office(offices, tmp_path / "file")
    assert "is a backup of a server on PostgreSQL" in on_sqlite.lapel("restore", str(tmp_path / "backup.zip")).stderr


def test_one_byte_changed_behind_the_servers_back_is_named_by_the_command(offices, tmp_path):
    office = an_office(offices, tmp_path / "one")
    ((code, key),) = office.pair(1).items()
    phone = Phone(office.port, code, key, 30)
    office.start()
    phone.deliver(30)
    office.kill()
    assert office.lapel("log", "verify").returncode == 0
    path = office.home / "lapel.sqlite3"
    with sqlite3.connect(path) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    raw.close()
    content = path.read_bytes()
    entry = phone.made[11]
    place = content.index(b"R. Vidal", content.index(entry.encode()))
    path.write_bytes(content[:place] + b"X" + content[place + 1 :])
    answer = office.lapel("log", "verify")
    assert answer.returncode == 1
    assert "does NOT hold" in answer.stdout
    assert entry in answer.stdout.splitlines()[2]


def test_two_servers_do_not_work_on_one_file(offices, tmp_path):
    office = an_office(offices, tmp_path / "one")
    office.pair(1)
    office.start()
    second = office.lapel("serve", "--port", "0")
    assert second.returncode == 2
    assert "Another Lapel server works" in second.stderr


def test_a_server_without_guards_does_not_start(offices, tmp_path):
    office = an_office(offices, tmp_path / "one")
    office.pair(1)
    with sqlite3.connect(office.home / "lapel.sqlite3") as raw:
        raw.execute("DROP TRIGGER records_logentry_no_update")
    raw.close()
    answer = office.lapel("serve", "--port", "0")
    assert answer.returncode == 2
    assert "records_logentry_no_update" in answer.stderr


def test_records_are_backed_up_before_they_are_brought_up_to_date(offices, tmp_path):
    office = an_office(offices, tmp_path / "one")
    office.pair(1)
    with sqlite3.connect(office.home / "lapel.sqlite3") as raw:  # as if the last of them were still to come
        raw.execute("DELETE FROM django_migrations WHERE app = 'sessions'")
        raw.execute("DROP TABLE django_session")
    raw.close()
    office.start()
    assert len(list(office.home.glob("before-update-*.zip"))) == 1
    assert "before the update" in office.log.read_text()


def test_the_server_answers_with_its_pages_and_its_interface(offices, tmp_path):
    office = an_office(offices, tmp_path / "one")
    office.start()
    with urllib.request.urlopen(f"http://127.0.0.1:{office.port}/api/v1/openapi.json") as answer:
        assert json.loads(answer.read())["info"]["title"] == "Lapel: the field"
    with pytest.raises(urllib.error.HTTPError, match="401"):
        urllib.request.urlopen(f"http://127.0.0.1:{office.port}/api/v1/device")
    assert f"localhost:{office.port}" in office.log.read_text()


def test_a_folder_is_held_by_one(tmp_path):
    with only_server(tmp_path), pytest.raises(CannotServe, match="Another Lapel server"), only_server(tmp_path):
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
