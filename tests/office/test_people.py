"""Signing in, the second factor, invitations, roles, names: who can do what, and who learns nothing."""

import re
import time
from datetime import UTC, datetime
from types import SimpleNamespace

import pytest
from cast import NAME_BEHIND_A_CODE, PASSWORD
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from django_otp.oath import TOTP
from django_otp.plugins.otp_totp.models import TOTPDevice
from read_page import text_of

from lapel.office.people import members, second_factor
from lapel.records.models import Membership

STEP = 30


def code_of(device: TOTPDevice, *, steps: int = 0) -> str:
    """The six digits an authenticator shows now, or some steps later."""
    totp = TOTP(device.bin_key, device.step, device.t0, device.digits)
    totp.time = time.time() + steps * STEP
    return f"{totp.token():06d}"


@pytest.fixture
def with_factor(cast):
    """The lead with a second factor: device and backup codes."""
    device = second_factor.started_device(cast.lead)
    codes = second_factor.confirm(cast.lead, device, code_of(device, steps=-1))
    return SimpleNamespace(device=device, codes=codes)


def sign_in(client, name, password=PASSWORD, **more):
    return client.post(reverse("sign-in"), {"username": name, "password": password, **more})


def test_signing_in_leads_to_the_surveys(client, cast):
    answer = sign_in(client, "viewer")
    assert (answer.status_code, answer.url) == (302, "/")
    assert client.get("/").status_code == 200


def test_a_wrong_password_says_so_and_does_not_say_whether_the_name_is_known(client, cast):
    known, unknown = sign_in(client, "viewer", "wrong"), sign_in(client, "nobody", "wrong")

    def without_mark(answer):
        return re.sub(r'value="[^"]*"|nonce="[^"]*"', "", answer.content.decode())

    assert "do not belong together" in known.content.decode()
    assert without_mark(known) == without_mark(unknown)


def test_after_five_wrong_passwords_the_right_one_is_refused_too(client, cast):
    for _ in range(5):
        answer = sign_in(client, "viewer", "wrong")
    assert answer.status_code == 429
    assert "Signing in is paused" in answer.content.decode()
    assert sign_in(client, "viewer").status_code == 429
    assert client.get("/").status_code == 302


def test_somebody_elses_wrong_passwords_close_the_door_for_that_name_only(client, cast):
    for _ in range(5):
        sign_in(client, "viewer", "wrong")
    assert sign_in(client, "technician").status_code == 302


@pytest.mark.parametrize("next_page", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"])
def test_signing_in_never_sends_anybody_to_another_server(client, cast, next_page):
    assert sign_in(client, "viewer", next=next_page).url == "/"


def test_signing_in_goes_on_to_the_page_that_was_wanted(client, cast):
    assert client.get("/surveys/demo/").url == "/sign-in/?next=/surveys/demo/"
    assert sign_in(client, "viewer", next="/surveys/demo/").url == "/surveys/demo/"


def test_signing_out_takes_a_post(client, cast):
    client.force_login(cast.viewer)
    assert client.get(reverse("sign-out")).status_code == 405
    assert client.post(reverse("sign-out")).url == reverse("sign-in")
    assert client.get("/").status_code == 302


def test_a_new_password_signs_out_everywhere_else(cast):
    here, there = Client(), Client()
    for one in (here, there):
        one.force_login(cast.viewer)
    new = {"new_password1": "a quiet room of belts", "new_password2": "a quiet room of belts"}
    assert here.post(reverse("password"), {"old_password": PASSWORD, **new}).status_code == 302
    assert here.get("/").status_code == 200
    assert there.get("/").status_code == 302


@pytest.mark.parametrize(
    ("new", "because"),
    [("short belts", "at least 12"), ("q1w2e3r4t5y6", "too common"), ("technician12", "too similar")],
)
def test_a_weak_password_is_refused_with_the_reason(as_person, cast, new, because):
    form = {"old_password": PASSWORD, "new_password1": new, "new_password2": new}
    answer = as_person(cast.technician).post(reverse("password"), form)
    assert answer.status_code == 422
    assert because in answer.content.decode()


# The second factor


def test_nothing_shows_before_the_second_factor_is_given(client, cast, with_factor):
    assert sign_in(client, "lead").status_code == 302
    for page in ("/", "/surveys/demo/", "/account/", "/sites/works/people/", "/second-factor/new/"):
        answer = client.get(page)
        assert (answer.status_code, answer.url) == (302, reverse("second-factor")), page
    assert client.post(reverse("second-factor"), {"code": code_of(with_factor.device)}).status_code == 302
    assert client.get("/surveys/demo/").status_code == 200


def test_the_api_answers_403_before_the_second_factor(client, cast, with_factor, rf):
    request = rf.get("/api/entries")
    cast.lead.is_verified = lambda: False
    request.user = cast.lead
    answer = second_factor.SecondFactorGate(lambda _request: None).process_view(request, lambda: None, (), {})
    assert answer.status_code == 403


def test_a_code_works_once(client, cast, with_factor):
    code = code_of(with_factor.device)
    for expected in (302, 422):
        browser = Client()
        browser.force_login(cast.lead)
        assert browser.post(reverse("second-factor"), {"code": code}).status_code == expected


def test_wrong_codes_slow_the_next_attempt_down(client, cast, with_factor):
    client.force_login(cast.lead)
    assert client.post(reverse("second-factor"), {"code": "000000"}).status_code == 422
    answer = client.post(reverse("second-factor"), {"code": code_of(with_factor.device)})
    assert answer.status_code == 422, "the right code right after a wrong one is not tried"


def test_a_backup_code_works_once_spaces_and_capitals_aside(cast, with_factor):
    typed = f" {with_factor.codes[0][:4].upper()} {with_factor.codes[0][4:]} "
    for expected in (302, 422):
        browser = Client()
        browser.force_login(cast.lead)
        assert browser.post(reverse("second-factor"), {"code": typed}).status_code == expected
    assert second_factor.backup_codes_left(cast.lead) == second_factor.BACKUP_CODES - 1


def test_setting_up_shows_a_picture_and_the_secret_and_ends_with_codes_shown_once(as_person, cast):
    client = as_person(cast.technician)
    page = client.get(reverse("second-factor-new")).content.decode()
    device = TOTPDevice.objects.get(user=cast.technician)
    assert second_factor.secret_in_groups(device) in page
    assert "<svg" in page
    assert client.post(reverse("second-factor-new"), {"code": "000000"}).status_code == 422
    TOTPDevice.objects.update(throttling_failure_timestamp=None, throttling_failure_count=0)
    assert client.post(reverse("second-factor-new"), {"code": code_of(device)}).url == reverse("backup-codes")
    shown = client.get(reverse("backup-codes")).content.decode()
    codes = re.findall(r"<li>([a-z2-7]{8})</li>", shown)
    assert len(set(codes)) == second_factor.BACKUP_CODES
    assert client.get(reverse("backup-codes")).status_code == 302
    assert client.get("/").status_code == 200


def test_setting_up_and_new_codes_are_in_the_servers_log_and_no_code_is(as_person, cast, caplog):
    caplog.set_level("INFO")
    client = as_person(cast.technician)
    client.get(reverse("second-factor-new"))
    typed = code_of(TOTPDevice.objects.get(user=cast.technician))
    client.post(reverse("second-factor-new"), {"code": typed})
    client.post(reverse("backup-codes-new"), {"password": PASSWORD})
    said = [one.getMessage() for one in caplog.records if one.name == "lapel.office.people"]
    assert [words for words in said if "by 'technician'" in words] == [
        "second factor set up: 'technician' by 'technician' from 127.0.0.1",
        "backup codes renewed: 'technician' by 'technician' from 127.0.0.1",
    ]
    codes = re.findall(r"<li>([a-z2-7]{8})</li>", client.get(reverse("backup-codes")).content.decode())
    assert len(codes) == second_factor.BACKUP_CODES
    assert not any(code in caplog.text for code in [typed, *codes, PASSWORD])


def test_leads_must_have_a_second_factor_where_the_server_says_so(settings, client, cast):
    settings.LAPEL_SECOND_FACTOR = "leads"
    client.force_login(cast.lead)
    assert client.get("/").url == reverse("second-factor-new")
    client.force_login(cast.viewer)
    assert client.get("/").status_code == 200


def test_ending_the_second_factor_takes_the_password(client, cast, with_factor):
    client.force_login(cast.lead)
    client.post(reverse("second-factor"), {"code": with_factor.codes[0]})
    assert client.post(reverse("second-factor-end"), {"password": "wrong"}).status_code == 422
    assert TOTPDevice.objects.filter(user=cast.lead).exists()
    assert client.post(reverse("second-factor-end"), {"password": PASSWORD}).status_code == 302
    assert not TOTPDevice.objects.filter(user=cast.lead).exists()


# People of a site


def test_a_stranger_finds_nothing_anywhere(as_person, cast):
    client = as_person(cast.outsider)
    for page in (
        "/surveys/demo/",
        "/surveys/demo/history/",
        "/sites/works/people/",
        "/sites/works/people/technician/",
        "/sites/works/names/",
        "/sites/works/history/",
    ):
        assert client.get(page).status_code == 404, page
    for page in ("/sites/works/invite/", "/sites/works/people/technician/remove/", "/sites/works/people/lead/link/"):
        assert client.post(page, {"username": "x", "role": "lead", "reason": "x"}).status_code == 404, page
    assert "demo" not in client.get("/").content.decode()


def test_who_signed_in_last_is_told_by_the_clock_of_the_site(as_person, cast):
    client = as_person(cast.lead)
    assert cast.site.zone == "America/New_York"
    User.objects.filter(pk=cast.technician.pk).update(last_login=datetime(2026, 7, 1, 3, 30, tzinfo=UTC))
    assert "technician 2026-06-30 23:30" in text_of(client.get("/sites/works/people/"))


@pytest.mark.parametrize("role", ["technician", "reviewer", "viewer"])
def test_only_leads_manage_people_and_see_names(as_person, cast, role):
    client = as_person(cast.members[role])
    worker = cast.site.workers.order_by("code")[0].code
    assert client.get("/sites/works/people/").status_code == 200
    for page in ("/sites/works/people/viewer/", "/sites/works/names/", f"/sites/works/names/{worker}/"):
        assert client.get(page).status_code == 403, page
    assert client.post("/sites/works/invite/", {"username": "friend", "role": "lead"}).status_code == 403
    assert client.post("/sites/works/people/viewer/remove/", {"reason": "no"}).status_code == 403
    assert not User.objects.filter(username="friend").exists()
    assert Membership.objects.filter(site=cast.site).count() == 4


def invite(client, username="newcomer", role="technician"):
    return client.post("/sites/works/invite/", {"username": username, "role": role})


def link_in(answer) -> str:
    return re.search(r"/invitation/[^<\s]+", answer.content.decode()).group()


def test_an_invitation_works_once_and_the_person_signs_in_with_the_chosen_password(as_person, cast):
    link = link_in(invite(as_person(cast.lead)))
    newcomer = Client()
    page = newcomer.get(link, follow=True)
    form_at = page.redirect_chain[-1][0]
    assert "newcomer" in page.content.decode()
    chosen = {"new_password1": "wet grinding at dawn", "new_password2": "wet grinding at dawn"}
    assert newcomer.post(form_at, chosen).url == reverse("sign-in")
    assert sign_in(newcomer, "newcomer", "wet grinding at dawn").status_code == 302
    assert newcomer.get("/surveys/demo/").status_code == 200
    assert "used up" in Client().get(link, follow=True).content.decode()


def test_an_invitation_ends_after_three_days(as_person, cast, settings, monkeypatch):
    link = link_in(invite(as_person(cast.lead)))
    from datetime import datetime, timedelta

    from django.contrib.auth.tokens import default_token_generator

    later = datetime.now() + timedelta(days=3, minutes=1)  # noqa: DTZ005  # as Django's generator counts
    monkeypatch.setattr(default_token_generator, "_now", lambda: later)
    assert "used up" in Client().get(link, follow=True).content.decode()


def test_inviting_somebody_with_an_account_makes_no_link(as_person, cast):
    answer = invite(as_person(cast.lead), "OUTSIDER", "viewer")
    assert answer.status_code == 302
    assert Membership.objects.get(user=cast.outsider, site=cast.site).role == "viewer"
    assert User.objects.filter(username__iexact="outsider").count() == 1


def test_inviting_a_member_again_changes_nothing(as_person, cast):
    answer = invite(as_person(cast.lead), "viewer", "lead")
    assert answer.status_code == 422
    assert "on this site already" in answer.content.decode()
    assert Membership.objects.get(user=cast.viewer, site=cast.site).role == "viewer"


def test_a_changed_role_is_kept_with_the_person_and_the_reason(as_person, cast):
    form = {"role": "lead", "reason": "stands in over the summer"}
    assert as_person(cast.lead).post("/sites/works/people/technician/", form).status_code == 302
    now = Membership.objects.get(user=cast.technician, site=cast.site)
    version = now.history.first()
    assert (now.role, version.history_user, version.history_change_reason) == ("lead", cast.lead, form["reason"])


def test_the_last_lead_can_neither_step_down_nor_leave(as_person, cast):
    client = as_person(cast.lead)
    stepped = client.post("/sites/works/people/lead/", {"role": "viewer", "reason": ""})
    left = client.post("/sites/works/people/lead/remove/", {"reason": "moving on"})
    for answer in (stepped, left):
        assert answer.status_code == 422
        assert "only lead hygienist" in answer.content.decode()
    assert Membership.objects.get(user=cast.lead, site=cast.site).role == "lead"


def test_a_removed_member_is_a_stranger_at_once(cast):
    lead, viewer = Client(), Client()
    lead.force_login(cast.lead)
    viewer.force_login(cast.viewer)
    assert viewer.get("/surveys/demo/").status_code == 200
    assert lead.post("/sites/works/people/viewer/remove/", {"reason": "left the plant"}).status_code == 302
    assert viewer.get("/surveys/demo/").status_code == 404


def test_a_lead_cannot_take_over_somebody_who_belongs_to_a_site_of_others(as_person, cast):
    Membership.objects.create(user=cast.outsider, site=cast.site, role="viewer")
    client = as_person(cast.lead)
    assert "invitation" not in client.post("/sites/works/people/outsider/link/", follow=True).content.decode()
    second_factor.new_backup_codes(cast.outsider)
    client.post("/sites/works/people/outsider/second-factor/end/")
    assert second_factor.backup_codes_left(cast.outsider) == second_factor.BACKUP_CODES
    assert members.may_be_helped_by(cast.lead, cast.technician)


def test_a_lead_cannot_take_over_an_administrator_of_the_server(cast):
    User.objects.filter(pk=cast.viewer.pk).update(is_staff=True)
    cast.viewer.refresh_from_db()
    assert not members.may_be_helped_by(cast.lead, cast.viewer)


def test_a_lead_sees_the_name_behind_a_code_and_it_shows_on_no_other_page(as_person, cast):
    client = as_person(cast.lead)
    assert NAME_BEHIND_A_CODE in client.get("/sites/works/names/").content.decode()
    for page in ("/", "/surveys/demo/", "/surveys/demo/history/", "/sites/works/people/", "/sites/works/history/"):
        assert NAME_BEHIND_A_CODE not in client.get(page).content.decode(), page


def test_a_name_is_set_and_forgotten_for_good(as_person, cast):
    client = as_person(cast.lead)
    code = cast.site.workers.order_by("code")[1].code
    assert client.post(f"/sites/works/names/{code}/", {"name": "Ottoline  Fenwright", "reason": ""}).status_code == 302
    assert "Ottoline Fenwright" in client.get("/sites/works/names/").content.decode()
    client.post(f"/sites/works/names/{code}/", {"forget": "yes", "reason": "asked for it"})
    assert "Ottoline" not in client.get("/sites/works/names/").content.decode()


def test_codes_with_a_stroke_in_them_have_pages_too(as_person, cast):
    worker = cast.site.workers.order_by("code")[1]
    worker.code = "W/7 b"
    worker.save()
    client = as_person(cast.lead)
    page = client.get("/sites/works/names/").content.decode()
    link = re.search(r'href="(/sites/works/names/W/7[^"]*)"', page).group(1)
    assert "Name of W/7 b" in client.get(link).content.decode()
    assert client.get("/sites/works/history/worker/W/7%20b/").status_code == 200
