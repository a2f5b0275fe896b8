"""Passwords that hold, word of what was changed about an account, and sessions that people see and end."""

import re
from datetime import timedelta

import pytest
from cast import PASSWORD
from django.conf import settings as live
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from lapel.office.people import members
from lapel.office.people.passwords import LONGEST, strength_of
from lapel.records import sessions
from lapel.records.models import AccountChange, SignedIn

NEW = "a quiet room of belts"
ON_WINDOWS = "Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:140.0) Gecko/20100101 Firefox/140.0"
ON_A_PHONE = "Mozilla/5.0 (Linux; Android 15; Phone) AppleWebKit/537.36 Chrome/140.0 Mobile Safari/537.36"
NEWS = "Your account was changed"


def signed_in(person, agent=""):
    client = Client(headers={"user-agent": agent})
    client.post(reverse("sign-in"), {"username": person.username, "password": PASSWORD})
    return client


def change_password(client, new, old=PASSWORD):
    form = {"old_password": old, "new_password1": new, "new_password2": new}
    return client.post(reverse("password"), form)


def page_of(client, path="/"):
    return client.get(path).content.decode()


# Passwords


def test_the_longest_password_is_taken_whole_and_a_longer_one_refused(cast):
    longest = ("belts grind slowly, " * 7)[:LONGEST]
    client = signed_in(cast.viewer)
    answer = change_password(client, longest + "x")
    assert answer.status_code == 422
    assert f"Found {LONGEST + 1} characters. Wanted at most {LONGEST}" in answer.content.decode()
    assert change_password(client, longest).status_code == 302
    cast.viewer.refresh_from_db()
    assert cast.viewer.check_password(longest)
    assert not cast.viewer.check_password(longest[:-1])


@pytest.mark.parametrize("easy", ["aaaaaaaaaaaaaa", "abcdefghijklmn", "qwertyuiop12", "viewerviewerviewer"])
def test_a_password_that_is_soon_guessed_is_refused_with_why(cast, easy):
    answer = change_password(signed_in(cast.viewer), easy)
    assert answer.status_code == 422
    assert "easy to guess" in answer.content.decode() or "too similar" in answer.content.decode()


def test_the_estimate_knows_repeats_sequences_and_the_persons_own_name():
    assert strength_of("aaaaaaaaaaaaaa").step == 0
    assert strength_of("correct horse battery staple").step == 4, "the published example of four random words"
    assert strength_of("quirinavale77", known=("quirinavale",)).step < strength_of("quirinavale77").step
    assert strength_of("x" * LONGEST).step <= 1


def test_the_meter_answers_while_it_is_typed_to_people_and_holders_of_a_link_only(cast):
    address = reverse("password-strength")
    assert Client().post(address, {"new_password1": NEW}).url.startswith("/sign-in/")
    client = signed_in(cast.viewer)
    assert 'value="4"' in client.post(address, {"new_password1": NEW}).content.decode()
    assert "5 of at least 12" in client.post(address, {"new_password1": "belts"}).content.decode()
    assert "at most 128" in client.post(address, {"new_password1": "x" * 129}).content.decode()
    holder = Client()
    holder.get(members.one_time_link(cast.technician), follow=True)
    assert "<meter" in holder.post(address, {"new_password1": NEW}).content.decode()


# Word of changes


def test_a_new_password_is_told_on_the_next_page_after_signing_in_until_it_is_acknowledged(cast):
    there, elsewhere = signed_in(cast.viewer), Client()
    change_password(there, NEW)
    assert NEWS not in page_of(there), "whoever did it just now knows"
    elsewhere.post(reverse("sign-in"), {"username": "viewer", "password": NEW})
    page = page_of(elsewhere)
    assert NEWS in page
    assert "Password changed, by yourself" in page
    last = re.search(r'name="last" value="(\d+)"', page).group(1)
    answer = elsewhere.post(reverse("changes-noticed"), {"last": last, "next": "/sites/"})
    assert answer.url == "/sites/"
    assert NEWS not in page_of(elsewhere)
    change = AccountChange.objects.get(user=cast.viewer)
    assert (change.what, change.by, change.noticed_at is not None) == ("password changed", "viewer", True)
    assert "Password changed" in page_of(elsewhere, reverse("sessions")), "it stays in the account's history"


def test_what_a_lead_did_is_told_at_once_with_who(cast):
    person, lead = signed_in(cast.technician), signed_in(cast.lead)
    lead.post("/sites/works/people/technician/", {"role": "reviewer", "reason": "knows the work"})
    lead.post("/sites/works/people/technician/link/")
    page = page_of(person)
    assert "Role changed" in page
    assert "reviewer), by lead" in page
    assert "One-time link made, by lead" in page


def test_a_second_factor_and_backup_codes_are_told(cast):
    person, lead = signed_in(cast.technician), signed_in(cast.lead)
    lead.post("/sites/works/people/technician/second-factor/end/")
    assert "Second factor ended, by lead" in page_of(person)


def test_nobody_acknowledges_for_somebody_else_or_what_came_after_the_page(cast):
    for what in ("password changed", "second factor ended"):
        AccountChange.objects.create(user=cast.viewer, at=timezone.now(), what=what, by="lead")
    first, second = AccountChange.objects.order_by("id")
    signed_in(cast.technician).post(reverse("changes-noticed"), {"last": second.pk})
    assert AccountChange.objects.filter(noticed_at=None).count() == 2
    signed_in(cast.viewer).post(reverse("changes-noticed"), {"last": first.pk})
    assert list(AccountChange.objects.filter(noticed_at=None)) == [second]


def test_a_first_password_is_no_news(cast):
    lead = signed_in(cast.lead)
    made = lead.post("/sites/works/invite/", {"username": "newcomer", "role": "viewer"}).content.decode()
    link = re.search(r"http://testserver(/invitation/[^<\s\"]+)", made).group(1)
    browser = Client()
    form = browser.get(link, follow=True)
    browser.post(form.redirect_chain[-1][0], {"new_password1": NEW, "new_password2": NEW})
    browser.post(reverse("sign-in"), {"username": "newcomer", "password": NEW})
    assert NEWS not in page_of(browser)
    assert "Password set by a one-time link" in page_of(browser, reverse("sessions"))


# Sessions


def test_people_see_their_sessions_in_plain_words_and_nobody_elses(cast):
    here, _ = signed_in(cast.viewer, ON_WINDOWS), signed_in(cast.viewer, ON_A_PHONE)
    signed_in(cast.technician, "Mozilla/5.0 (Macintosh) Version/18 Safari/605")
    page = page_of(here, reverse("sessions"))
    assert "Firefox on Windows" in page
    assert "Chrome on Android" in page
    assert "Mac" not in page
    keys = list(SignedIn.objects.values_list("session_key", flat=True))
    assert len(keys) == 3
    assert not any(key in page for key in keys), "the key of a session opens it and stands on no page"


def test_one_session_is_ended_at_once_and_the_others_go_on(cast):
    here, there, third = (signed_in(cast.viewer) for _ in range(3))
    row = SignedIn.objects.get(pk=there.session.session_key)
    assert here.post(reverse("session-end", args=[sessions.mark_of(row)])).status_code == 302
    assert there.get("/").status_code == 302
    assert here.get("/").status_code == third.get("/").status_code == 200


def test_all_other_sessions_are_ended_at_once(cast):
    here, there, third = (signed_in(cast.viewer) for _ in range(3))
    somebody = signed_in(cast.technician)
    here.post(reverse("sessions-end"))
    assert (there.get("/").status_code, third.get("/").status_code) == (302, 302)
    assert here.get("/").status_code == somebody.get("/").status_code == 200


def test_nobody_ends_a_session_of_somebody_else(cast):
    theirs = signed_in(cast.viewer)
    mark = sessions.mark_of(SignedIn.objects.get(pk=theirs.session.session_key))
    assert signed_in(cast.lead).post(reverse("session-end", args=[mark])).status_code == 404
    assert theirs.get("/").status_code == 200


def test_a_lead_signs_somebody_out_whom_they_may_help_and_nobody_else(cast):
    person, stranger = signed_in(cast.viewer), signed_in(cast.outsider)
    members.invite(cast.site, by=cast.lead, username="outsider", role="viewer")
    signed_in(cast.technician).post("/sites/works/people/viewer/sessions/end/")
    assert person.get("/").status_code == 200
    lead = signed_in(cast.lead)
    lead.post("/sites/works/people/viewer/sessions/end/")
    lead.post("/sites/works/people/outsider/sessions/end/")
    assert person.get("/").status_code == 302
    assert stranger.get("/").status_code == 200
    assert signed_in(cast.outsider).post("/sites/works/people/viewer/sessions/end/").status_code in (403, 404)


def test_a_one_time_link_used_ends_every_session(cast):
    old = signed_in(cast.viewer)
    cast.viewer.refresh_from_db()
    browser = Client()
    form = browser.get(members.one_time_link(cast.viewer), follow=True)
    browser.post(form.redirect_chain[-1][0], {"new_password1": NEW, "new_password2": NEW})
    assert not SignedIn.objects.filter(user=cast.viewer).exists()
    assert old.get("/").status_code == 302


def test_a_session_in_use_ends_twelve_hours_after_signing_in_all_the_same(cast, monkeypatch):
    client = signed_in(cast.viewer)
    signed_in_at = SignedIn.objects.get(pk=client.session.session_key).since
    monkeypatch.setattr(timezone, "now", lambda: signed_in_at + timedelta(hours=6))
    assert change_password(client, NEW).status_code == 302, "which writes the session anew"
    row = SignedIn.objects.get(pk=client.session.session_key)
    assert row.since == signed_in_at
    assert abs(row.expire_date - row.since - timedelta(seconds=live.SESSION_COOKIE_AGE)) < timedelta(seconds=5)
    monkeypatch.setattr(timezone, "now", lambda: signed_in_at + timedelta(hours=12, minutes=1))
    assert client.get("/").status_code == 302


def test_that_a_session_is_in_use_is_noted_every_few_minutes(cast):
    client = signed_in(cast.viewer)
    mine = SignedIn.objects.filter(pk=client.session.session_key)
    long_ago = timezone.now() - sessions.SEEN_EVERY - timedelta(minutes=1)
    just_now = timezone.now() - timedelta(minutes=1)
    mine.update(seen_at=just_now)
    client.get("/")
    assert mine.get().seen_at == just_now
    mine.update(seen_at=long_ago)
    client.get("/")
    assert mine.get().seen_at > just_now


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        (ON_WINDOWS, "Firefox on Windows"),
        (ON_A_PHONE, "Chrome on Android"),
        ("Mozilla/5.0 (iPhone; CPU iPhone OS 18) AppleWebKit/605 Version/18 Mobile Safari/604", "Safari on an iPhone"),
        ("Mozilla/5.0 (Windows NT 10.0) Chrome/140.0 Safari/537.36 Edg/140.0", "Edge on Windows"),
        ("", "Another browser on another system"),
        ("<script>", "Another browser on another system"),
    ],
)
def test_a_browser_is_named_in_words(agent, words):
    assert sessions.browser_in_words(agent) == words
