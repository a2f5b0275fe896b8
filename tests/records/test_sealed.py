"""Secrets of the second factor: the database alone makes no codes, and no other account or key opens them."""

import importlib
from types import SimpleNamespace

import pytest
from django.apps import apps
from django.contrib.auth.models import User
from django.db import connection
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from lapel.records import sealed

PLAIN = "3132333435363738393031323334353637383930"
"""The secret of RFC 6238's test vectors, in hexadecimal digits."""


@pytest.fixture
def person(db):
    return User.objects.create_user("lead")


def in_the_database(device):
    with connection.cursor() as cursor:
        cursor.execute("SELECT key FROM otp_totp_totpdevice WHERE id = %s", [device.pk])
        return cursor.fetchone()[0]


def test_a_secret_lies_sealed_in_the_database_and_is_the_same_when_read(person):
    device = TOTPDevice.objects.create(user=person, key=PLAIN)
    assert device.key == PLAIN, "what was kept goes on being usable"
    lying = in_the_database(device)
    assert PLAIN not in lying
    assert len(bytes.fromhex(lying)) == 16 + 20
    assert TOTPDevice.objects.get().key == PLAIN
    read = TOTPDevice.objects.get()
    read.drift = 1
    read.save()
    assert TOTPDevice.objects.get().key == PLAIN
    assert in_the_database(device) == lying


def test_a_secret_opens_for_its_own_account_and_key_only(person, tmp_path, settings):
    kept = sealed.seal(PLAIN, person.pk)
    assert sealed.opened(kept, person.pk) == PLAIN
    with pytest.raises(ValueError, match="was not sealed by the key"):
        sealed.opened(kept, person.pk + 1)
    settings.HOME = tmp_path
    with pytest.raises(ValueError, match="was not sealed by the key"):
        sealed.opened(kept, person.pk)


def test_with_another_key_codes_are_refused_the_row_stays_and_the_names_are_told(person, tmp_path, settings, caplog):
    device = TOTPDevice.objects.create(user=person, key=PLAIN)
    lying = in_the_database(device)
    assert sealed.unreadable_accounts() == []
    right, settings.HOME = settings.HOME, tmp_path
    assert sealed.unreadable_accounts() == ["lead"]
    read = TOTPDevice.objects.get()
    assert not read.verify_token("755224")
    assert "was not sealed by the key" in caplog.text
    assert in_the_database(device) == lying
    settings.HOME = right
    assert TOTPDevice.objects.get().key == PLAIN


def test_a_backup_code_is_kept_as_a_hash_of_its_own_account(person):
    kept = sealed.hash_of_code("abcd2345", person.pk)
    assert len(kept) == 16
    assert "abcd2345" not in kept
    assert kept == sealed.hash_of_code("abcd2345", person.pk)
    assert kept != sealed.hash_of_code("abcd2345", person.pk + 1)
    assert kept != sealed.hash_of_code("abcd2346", person.pk)


def test_the_key_is_its_owners_alone_and_made_once(tmp_path, settings):
    settings.HOME = tmp_path
    kept = sealed.seal(PLAIN, 1)
    file = tmp_path / sealed.KEY_FILE
    assert file.stat().st_mode & 0o777 == 0o600
    before = file.read_bytes()
    sealed.forget_key()
    assert sealed.opened(kept, 1) == PLAIN
    assert file.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == [sealed.KEY_FILE]


def test_a_key_file_that_was_cut_stops_in_words(tmp_path, settings):
    settings.HOME = tmp_path
    (tmp_path / sealed.KEY_FILE).write_text("00ff")
    with pytest.raises(ValueError, match="restore it from a backup"):
        sealed.seal(PLAIN, 1)


def test_secrets_and_codes_of_before_go_on_after_the_update(person):
    """What the migration does to rows an earlier version left."""
    device = TOTPDevice.objects.create(user=person, key=PLAIN)
    TOTPDevice.objects.filter(pk=device.pk).update(key=PLAIN)
    codes = StaticDevice.objects.create(user=person)
    StaticToken.objects.create(device=codes, token="abcd2345")
    migration = importlib.import_module("lapel.records.migrations.0010_accounts")
    for _ in range(2):  # done again it changes nothing
        migration.keep_sealed(apps, SimpleNamespace(connection=connection))
    assert in_the_database(device) == sealed.seal(PLAIN, person.pk) != PLAIN
    assert TOTPDevice.objects.get().key == PLAIN
    assert StaticToken.objects.get().token == sealed.hash_of_code("abcd2345", person.pk)
    migration.keep_open(apps, SimpleNamespace(connection=connection))
    assert in_the_database(device) == PLAIN
