"""Page tests: with the collected static files, the cast, and the log's own test entries."""

import sys
from pathlib import Path

import pytest
from cast import make_cast

sys.path.append(str(Path(__file__).parents[1] / "records"))


@pytest.fixture(autouse=True)
def collected(static_files):
    """Whatever is shown, also that something is not there, names static files."""


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
