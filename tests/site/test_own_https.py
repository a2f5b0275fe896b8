"""HTTPS of a server's own making: trusted by those who have its authority, for its names alone, and renewed in time."""

import socket
import ssl
import threading
import urllib.request
from datetime import UTC, datetime, timedelta

import pytest
import waitress
from cryptography import x509

from lapel.site.own_https import CERTIFICATE_DAYS, NameProblem, own_https
from lapel.site.tls_front import TlsFront

NAMES = ("lapel.plant.example", "localhost", "127.0.0.1")


def loaded(path):
    return x509.load_pem_x509_certificate(path.read_bytes())


def test_a_second_start_makes_nothing_anew(tmp_path):
    first = own_https(tmp_path, NAMES)
    assert "authority was made" in first.said
    before = {path.name: path.read_bytes() for path in (tmp_path / "https").iterdir()}
    assert own_https(tmp_path, NAMES).said == ""
    assert {path.name: path.read_bytes() for path in (tmp_path / "https").iterdir()} == before


def test_keys_are_readable_by_their_owner_only(tmp_path):
    own_https(tmp_path, NAMES)
    for name in ("authority.key", "server.key"):
        assert (tmp_path / "https" / name).stat().st_mode & 0o777 == 0o600


def test_a_certificate_that_runs_out_is_made_anew_under_the_same_authority(tmp_path):
    first = own_https(tmp_path, NAMES)
    old = loaded(first.certificate)
    later = datetime.now(UTC) + timedelta(days=CERTIFICATE_DAYS - 20)
    second = own_https(tmp_path, NAMES, now=later)
    assert second.fingerprint == first.fingerprint
    assert loaded(second.certificate).not_valid_after_utc > old.not_valid_after_utc
    assert loaded(second.certificate).not_valid_after_utc - later <= timedelta(days=398)


def test_a_new_name_takes_a_new_authority_because_the_old_may_not_vouch_for_it(tmp_path):
    first = own_https(tmp_path, NAMES)
    second = own_https(tmp_path, (*NAMES, "10.1.2.3"))
    assert second.fingerprint != first.fingerprint
    assert "put it on every device" in second.said
    loaded(second.certificate).verify_directly_issued_by(loaded(second.authority))


def test_the_authority_may_vouch_for_its_names_and_no_others(tmp_path):
    own = own_https(tmp_path, NAMES)
    authority = loaded(own.authority)
    constraints = authority.extensions.get_extension_for_class(x509.NameConstraints)
    assert constraints.critical
    assert {str(name.value) for name in constraints.value.permitted_subtrees} == {
        "lapel.plant.example", "localhost", "127.0.0.1/32",
    }  # fmt: skip
    basic = authority.extensions.get_extension_for_class(x509.BasicConstraints).value
    assert (basic.ca, basic.path_length) == (True, 0)


@pytest.mark.parametrize("name", ["", "two words", "https://lapel", "a" * 300, "*.plant.example"])
def test_what_is_no_name_is_said(tmp_path, name):
    with pytest.raises(NameProblem, match="wanted"):
        own_https(tmp_path, [name])


def test_without_a_name_there_is_nothing_to_make(tmp_path):
    with pytest.raises(NameProblem, match="at least one"):
        own_https(tmp_path, [])


@pytest.fixture
def front(tmp_path):
    """A small application behind the door; it says what it sees."""
    own = own_https(tmp_path, NAMES)

    def application(environ, start_response):
        body = environ["wsgi.input"].read()
        start_response("200 OK", [("Content-Type", "text/plain")])
        return [f"{environ['wsgi.url_scheme']} {environ['REMOTE_ADDR']} {len(body)}".encode()]

    doors = []
    server = waitress.create_server(
        lambda environ, start: doors[0].telling_whose(application)(environ, start),
        host="127.0.0.1", port=0, threads=2, url_scheme="https",
    )  # fmt: skip
    doors.append(TlsFront("127.0.0.1", 0, own.context(), server.effective_port))
    doors[0].open()
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield own, doors[0]
    doors[0].close()
    server.close()
    thread.join(timeout=10)


def ask(own, door, *, name="localhost", data=None):
    context = ssl.create_default_context(cafile=own.authority)
    request = urllib.request.Request(f"https://{name}:{door.port}/", data=data)
    with urllib.request.urlopen(request, context=context, timeout=10) as answer:
        return answer.read().decode()


def test_who_trusts_the_authority_reaches_the_server_by_each_of_its_names(front):
    own, door = front
    assert ask(own, door) == "https 127.0.0.1 0"
    assert ask(own, door, name="127.0.0.1") == "https 127.0.0.1 0"


def test_a_large_delivery_passes_whole(front):
    own, door = front
    assert ask(own, door, data=b"x" * 3_000_000) == "https 127.0.0.1 3000000"


def test_who_does_not_have_the_authority_is_not_let_on(front):
    _, door = front
    with pytest.raises(urllib.error.URLError, match="CERTIFICATE_VERIFY_FAILED"):
        urllib.request.urlopen(f"https://localhost:{door.port}/", timeout=10)


def test_plain_http_at_the_door_gets_nothing_and_hurts_nobody(front):
    own, door = front
    with socket.create_connection(("127.0.0.1", door.port), timeout=10) as plain:
        plain.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert b"200" not in plain.recv(100)
    assert ask(own, door) == "https 127.0.0.1 0"


def test_many_at_once_are_all_answered(front):
    own, door = front
    answers = []
    threads = [threading.Thread(target=lambda: answers.append(ask(own, door))) for _ in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=20)
    assert answers == ["https 127.0.0.1 0"] * 20
