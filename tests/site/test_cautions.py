"""What a server says at its start should be put right: files others can read, and secrets no key opens."""

import pytest
from django.contrib.auth.models import User
from django_otp.plugins.otp_totp.models import TOTPDevice

from lapel.site.home import DATABASE_FILES, KEY_FILES, open_to_others, secret_key, whole_number
from lapel.site.serve import cautions


@pytest.fixture
def home(tmp_path):
    """A folder as the first start makes it, with all that is kept in it."""
    home = tmp_path / "lapel-data"
    secret_key(home)
    (home / "https").mkdir()
    for name in (*KEY_FILES, *DATABASE_FILES, "https/server.key", "https/server.crt"):
        (home / name).touch()
        (home / name).chmod(0o644)
    return home


def test_the_folder_of_a_new_server_is_its_owners_alone(home):
    assert home.stat().st_mode & 0o777 == 0o700
    assert open_to_others(home) == []


def test_in_a_folder_others_can_enter_every_open_file_is_named(db, home):
    home.chmod(0o755)
    wanted = {*KEY_FILES, *DATABASE_FILES, "https/server.key"}
    assert {path.relative_to(home).as_posix() for path in open_to_others(home)} == wanted
    (said,) = cautions(home)
    assert all(name in said for name in wanted)
    assert f"chmod 700 {home}" in said
    for name in wanted:
        (home / name).chmod(0o600)
    assert cautions(home) == []


def test_people_whose_second_factor_no_key_opens_are_named(db, home, settings, tmp_path):
    TOTPDevice.objects.create(user=User.objects.create_user("lead"), key="31" * 20)
    assert cautions(home) == []
    settings.HOME = tmp_path
    (said,) = cautions(home)
    assert "second factor of: lead." in said
    assert "in their backup" in said


@pytest.mark.parametrize("wrong", ["0", "-5", "1.5", "many", "٣"])
def test_a_setting_that_is_no_number_stops_in_words(monkeypatch, wrong):
    monkeypatch.setenv("LAPEL_UPLOADS_SITE_MB", wrong)
    with pytest.raises(ValueError, match=f"LAPEL_UPLOADS_SITE_MB must be a whole number above 0; found “{wrong}”"):
        whole_number("LAPEL_UPLOADS_SITE_MB", 5)
    monkeypatch.setenv("LAPEL_UPLOADS_SITE_MB", " 70 ")
    assert whole_number("LAPEL_UPLOADS_SITE_MB", 5) == 70
    monkeypatch.delenv("LAPEL_UPLOADS_SITE_MB")
    assert whole_number("LAPEL_UPLOADS_SITE_MB", 5) == 5
