"""Page tests: with the collected static files and the log's own test entries."""

import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "records"))


@pytest.fixture(autouse=True)
def collected(static_files):
    """Whatever is shown, also that something is not there, names static files."""


@pytest.fixture(autouse=True)
def nothing_waits_to_be_judged():
    """What a page asked for and no test looks at would be judged beside the tests that follow, for a minute."""
    yield
    from lapel.office.judge import held

    with held._door:
        held._waiting.clear()


@pytest.fixture
def as_person(client):
    """Sign somebody in and give their client."""

    def signed_in(person):
        client.force_login(person)
        return client

    return signed_in
