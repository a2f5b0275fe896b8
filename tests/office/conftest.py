"""Page tests: the collected static files, fast passwords, and the cast."""

import pytest
from cast import make_cast
from django.core.management import call_command


@pytest.fixture(scope="session", autouse=True)
def static_files():
    """Collect the static files into the tests' own home once, as a server does when it starts."""
    call_command("collectstatic", interactive=False, verbosity=0)


@pytest.fixture(autouse=True)
def fast_passwords(settings):
    """Hash quickly; tests/office/test_security.py holds that a server does not."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture
def cast(db):
    return make_cast()


@pytest.fixture
def as_person(client):
    """Sign somebody in and give their client."""

    def signed_in(person):
        client.force_login(person)
        return client

    return signed_in
