"""Page tests: the collected static files, fast passwords, the cast, and the log's own test entries."""

import sys
from pathlib import Path

import pytest
from cast import make_cast
from django.conf import settings
from django.core.management import call_command
from filelock import FileLock

sys.path.append(str(Path(__file__).parents[1] / "records"))


@pytest.fixture(scope="session", autouse=True)
def static_files():
    """Collect the static files into the tests' own home once, whichever of several test processes comes first."""
    home = Path(settings.HOME)
    home.mkdir(parents=True, exist_ok=True)
    with FileLock(home / "static-files.lock"):
        if not (Path(settings.STATIC_ROOT) / "staticfiles.json").exists():  # written last, so it is whole
            call_command("collectstatic", interactive=False, verbosity=0)


@pytest.fixture(autouse=True)
def fast_passwords(settings):
    """Hash quickly; tests/office/test_security.py holds that a server does not."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture
def cast(db):
    return make_cast()


@pytest.fixture
def hard(db):
    """The cast on the survey that everything goes wrong in."""
    return make_cast("hard")


@pytest.fixture
def as_person(client):
    """Sign somebody in and give their client."""

    def signed_in(person):
        client.force_login(person)
        return client

    return signed_in
