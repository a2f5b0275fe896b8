"""What OWASP's ASVS asks at level 2, where it applies to us (docs/reference/threat-model.md)."""

import os
import re
import subprocess
import sys
from datetime import timedelta

import pytest
from cast import PASSWORD
from django.conf import settings as live
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from lapel.site import settings as written

OPEN_TO_ALL = {"sign-in", "sign-out", "invitation", "appearance"} | {
    # the field page itself holds nothing of anybody: what it shows comes to a paired device, by its key
    *("field", "field-pair", "field-worker", "field-manifest", "field-file"),
}
"""Pages that answer somebody who is not signed in."""


def patterns(resolver=None, prefix=""):
    """Every address of the server with its view, but those below /api/, which have tests of their own."""
    for one in (resolver or get_resolver()).url_patterns:
        route = prefix + str(one.pattern)
        if isinstance(one, URLResolver):
            yield from patterns(one, route)
        elif isinstance(one, URLPattern) and "api/" not in route[:5]:
            yield route, one


def test_every_page_but_the_door_asks_who_is_there(db, client):
    values = {"str": "x", "int": "1", "uuid": "00000000-0000-0000-0000-000000000000", "": "x", "slug": "x", "path": "x"}
    asked = 0
    for route, one in patterns():
        address = "/" + re.sub(r"<(?:(\w+):)?\w+>", lambda found: values[found.group(1) or ""], route)
        for send in (client.get, client.post):
            answer = send(address)
            if one.name in OPEN_TO_ALL:
                continue
            asked += 1
            is_sent_to_the_door = answer.status_code == 302 and answer.url.startswith("/sign-in/")
            assert is_sent_to_the_door or answer.status_code == 405, f"{address}: {answer.status_code}"
    assert asked > 30


@pytest.mark.parametrize("address", ["/sign-in/", "/nowhere/"])
def test_every_answer_carries_the_headers(db, client, address):
    headers = client.get(address).headers
    policy = headers["Content-Security-Policy"]
    assert "unsafe-inline" not in policy
    assert "unsafe-eval" not in policy
    for part in (
        "default-src 'none'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "style-src 'self'",
    ):
        assert part in policy
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"


@pytest.mark.parametrize("address", ["/surveys/demo/", "/account/", "/sites/works/names/"])
def test_pages_of_records_are_kept_in_no_shared_cache(as_person, cast, address):
    control = as_person(cast.lead).get(address).headers["Cache-Control"]
    assert "private" in control
    assert "no-store" in control


def test_cookies_are_for_this_server_and_no_script_reads_the_session(client, cast):
    client.post(reverse("sign-in"), {"username": "viewer", "password": PASSWORD})
    session = client.cookies[live.SESSION_COOKIE_NAME]
    assert (session["httponly"], session["samesite"], session["domain"]) == (True, "Lax", "")
    assert client.cookies[live.CSRF_COOKIE_NAME]["samesite"] == "Lax"


def test_the_session_is_a_new_one_after_signing_in(client, cast):
    client.cookies[live.SESSION_COOKIE_NAME] = "chosenbyanattacker0000000000000"
    client.post(reverse("sign-in"), {"username": "viewer", "password": PASSWORD})
    assert client.cookies[live.SESSION_COOKIE_NAME].value != "chosenbyanattacker0000000000000"


def test_a_session_ends_after_twelve_hours():
    assert timedelta(seconds=written.SESSION_COOKIE_AGE) == timedelta(hours=12)
    assert not live.SESSION_SAVE_EVERY_REQUEST


def test_a_form_without_the_pages_mark_is_refused_in_words(cast):
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.lead)
    answer = client.post("/sites/works/invite/", {"username": "friend", "role": "lead"})
    assert answer.status_code == 403
    assert "send this again" in answer.content.decode()


@pytest.mark.parametrize(
    "elsewhere", ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example", "\\\\x"]
)
def test_choosing_a_theme_never_leads_to_another_server(db, client, elsewhere):
    answer = client.post("/appearance/", {"theme": "dark", "next": elsewhere})
    assert (answer.status_code, answer.url) == (302, "/")


def test_an_unknown_theme_is_refused(db, client):
    assert client.post("/appearance/", {"theme": "<script>", "next": "/"}).status_code == 400
    client.cookies["lapel_appearance"] = '"><script>alert(1)</script>'
    assert 'data-theme="device"' in client.get("/sign-in/").content.decode()


def test_an_upload_beyond_the_limit_is_refused(client, cast):
    too_much = "x" * (live.DATA_UPLOAD_MAX_MEMORY_SIZE + 1)
    client.force_login(cast.lead)
    answer = client.post("/sites/works/invite/", {"username": too_much, "role": "viewer"})
    assert answer.status_code == 400
    assert "not understood" in answer.content.decode()


def test_passwords_are_hashed_slowly_with_the_frameworks_default():
    from django.conf import global_settings

    assert not hasattr(written, "PASSWORD_HASHERS")
    assert global_settings.PASSWORD_HASHERS[0].endswith("PBKDF2PasswordHasher")


def test_a_page_that_breaks_shows_no_trace(cast, monkeypatch):
    def broken(*_args, **_kwargs):
        raise RuntimeError("a secret detail of the server")

    monkeypatch.setattr("lapel.office.surveys.views.facts_of", broken)
    client = Client(raise_request_exception=False)
    client.force_login(cast.viewer)
    answer = client.get("/surveys/demo/")
    page = answer.content.decode()
    assert answer.status_code == 500
    assert "Something broke on the server" in page
    assert "secret detail" not in page
    assert "Traceback" not in page


def test_what_is_not_there_and_what_is_not_yours_look_the_same(as_person, cast):
    client = as_person(cast.outsider)

    def page(address):
        return re.sub(r'nonce="[^"]*"', "", client.get(address).content.decode())

    assert page("/surveys/demo/") == page("/surveys/none/")
    assert page("/sites/works/people/") == page("/sites/none/people/")


def test_a_request_for_another_host_is_refused(db, client):
    answer = client.get("/sign-in/", headers={"host": "elsewhere.example"})
    assert answer.status_code == 400
    assert "elsewhere" not in answer.content.decode()


def test_sign_ins_refused_ones_too_are_logged_without_the_password(client, cast, caplog):
    caplog.set_level("INFO")
    client.post(reverse("sign-in"), {"username": "viewer", "password": "wrong horse"})
    client.post(reverse("sign-in"), {"username": "viewer", "password": PASSWORD})
    client.post(reverse("sign-out"))
    said = [record.getMessage() for record in caplog.records if record.name == "lapel.office.people"]
    assert [line.split(":")[0] for line in said] == ["sign-in refused", "signed in", "signed out"]
    assert all("viewer" in line and "127.0.0.1" in line for line in said)
    assert "wrong horse" not in caplog.text
    assert PASSWORD not in caplog.text


def test_every_change_of_how_somebody_signs_in_is_logged_with_who_made_it(as_person, cast, caplog):
    caplog.set_level("INFO")
    lead, new = as_person(cast.lead), "seven quiet rivers run"
    page = lead.post("/sites/works/invite/", {"username": "newcomer", "role": "viewer"}).content.decode()
    (link,) = re.findall(r"http://testserver(/invitation/[^\s\"<]+)", page)[:1]
    guest = Client()
    guest.post(guest.get(link).url, {"new_password1": new, "new_password2": new})
    lead.post("/sites/works/people/newcomer/link/")
    lead.post("/sites/works/people/newcomer/second-factor/end/")
    lead.post("/account/password/", {"old_password": PASSWORD, "new_password1": new, "new_password2": new})
    lead.post("/second-factor/end/", {"password": new})
    said = [
        record.getMessage().removesuffix(" from 127.0.0.1")
        for record in caplog.records
        if record.name == "lapel.office.people"
    ]
    assert said[-6:] == [
        "one-time link made: 'newcomer' by 'lead'",
        "password set by a one-time link: 'newcomer' by ''",
        "one-time link made: 'newcomer' by 'lead'",
        "second factor ended: 'newcomer' by 'lead'",
        "password changed: 'lead' by 'lead'",
        "second factor ended: 'lead' by 'lead'",
    ]
    assert new not in caplog.text
    assert link not in caplog.text


def test_a_name_cannot_forge_a_line_of_the_log(client, cast, caplog):
    caplog.set_level("INFO")
    client.post(reverse("sign-in"), {"username": "x\nsigned in: lead", "password": "wrong"})
    said = [record.getMessage() for record in caplog.records if record.name == "lapel.office.people"]
    assert len(said) == 1
    assert "\n" not in said[0]


def test_djangos_own_check_of_a_deployment_finds_nothing(tmp_path):
    environment = os.environ | {
        "LAPEL_HOME": str(tmp_path),
        "LAPEL_HTTPS": "yes",
        "LAPEL_HOSTS": "lapel.example",
        "LAPEL_DEBUG": "",
        "LAPEL_DATABASE": "",
        "DJANGO_SETTINGS_MODULE": "lapel.site.settings",
    }
    command = [sys.executable, "-m", "django", "check", "--deploy", "--fail-level", "WARNING"]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout


def test_over_https_cookies_are_bound_to_the_host_and_leads_need_a_second_factor(tmp_path):
    environment = os.environ | {"LAPEL_HOME": str(tmp_path), "LAPEL_HTTPS": "yes", "LAPEL_HOSTS": "lapel.example"}
    asked = (
        "from lapel.site import settings as s;"
        "print(s.SESSION_COOKIE_NAME, s.CSRF_COOKIE_NAME, s.SESSION_COOKIE_SECURE, s.CSRF_COOKIE_SECURE,"
        "s.SECURE_HSTS_SECONDS, s.SECURE_SSL_REDIRECT, s.LAPEL_SECOND_FACTOR)"
    )
    done = subprocess.run([sys.executable, "-c", asked], env=environment, capture_output=True, text=True, check=True)
    assert done.stdout.split() == [
        "__Host-lapel_session",
        "__Host-lapel_csrf",
        "True",
        "True",
        "31536000",
        "True",
        "leads",
    ]


def test_a_wrong_setting_stops_the_server_in_words(tmp_path):
    environment = os.environ | {"LAPEL_HOME": str(tmp_path), "LAPEL_SECOND_FACTOR": "sometimes"}
    command = [sys.executable, "-c", "import lapel.site.settings"]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode != 0
    assert "LAPEL_SECOND_FACTOR must be leads, everyone or optional; found “sometimes”" in done.stderr
