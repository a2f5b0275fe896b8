"""The page of devices: a code shown once, what waits on each, and a key that ends with a reason."""

import html
import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from log_entries import notes
from read_page import text_of

from lapel.office.devices.showing import clock_words, device_rows, offer_words
from lapel.records.append import append
from lapel.records.audit import history_of
from lapel.records.devices import device_with_key, heard_of
from lapel.records.models import Device, DevicePairing
from lapel.records.pairing import claim_pairing, new_device, offer_pairing

DEVICES = "/sites/works/devices/"


def code_on(answer):
    return re.search(r'class="copy-me big">([0-9A-Z-]+)<', answer.content.decode())[1]


@pytest.fixture
def phone(cast):
    device = new_device(cast.site, name="Phone 3", user=cast.lead)
    _, code = offer_pairing(device, by=cast.lead, at=timezone.now())
    return claim_pairing(code, at=timezone.now())


def test_a_lead_pairs_a_device_with_the_code_on_the_page(cast, as_person):
    shown = as_person(cast.lead).post(f"{DEVICES}pair/", {"name": "Phone 3, yellow case"})
    assert shown.status_code == 200
    assert "no-store" in shown["Cache-Control"]
    code = code_on(shown)
    assert f"/field/pair#{code.replace('-', '')}" in html.unescape(shown.content.decode())
    answer = Client().post("/api/v1/pair", {"code": code}, content_type="application/json")
    assert answer.json()["device"]["code"] == "phone-3-yellow-case"
    assert device_with_key(answer.json()["key"]).paired_by == cast.lead
    listed = as_person(cast.viewer).get(DEVICES)
    assert "paired" in text_of(listed)
    assert code not in listed.content.decode()


def test_the_page_with_the_code_learns_that_it_was_used(cast, as_person):
    client = as_person(cast.lead)
    code = code_on(client.post(f"{DEVICES}pair/", {"name": "Phone 3"}))
    offer = DevicePairing.objects.get()
    address = f"{DEVICES}phone-3/pairing/{offer.pk}/"
    assert "waits for the device" in text_of(client.get(address))
    claim_pairing(code, at=timezone.now())
    told = client.get(address)
    assert "used: the device is paired" in text_of(told)
    assert "hx-get" not in told.content.decode()
    assert as_person(cast.technician).get(address).status_code == 403


def test_what_became_of_an_offer_is_said(cast):
    device, at = new_device(cast.site, name="Phone 1", user=cast.lead), timezone.now()
    offer, _ = offer_pairing(device, by=cast.lead, at=at)
    assert offer_words(offer, at=at)[0] == "waits for the device, 15 minutes more"
    assert offer_words(offer, at=at + timedelta(minutes=14, seconds=40))[0] == "waits for the device, 1 minute more"
    assert offer_words(offer, at=at + timedelta(minutes=15))[0] == "its time is over: make a new one"
    offer_pairing(device, by=cast.lead, at=at)
    offer.refresh_from_db()
    assert offer_words(offer, at=at)[0] == "withdrawn: it does not count"


@pytest.mark.parametrize("role", ["technician", "reviewer", "viewer"])
def test_only_leads_pair_and_revoke(cast, as_person, phone, role):
    client = as_person(cast.members[role])
    assert client.get(DEVICES).status_code == 200
    assert client.post(f"{DEVICES}pair/", {"name": "x1"}).status_code == 403
    assert client.post(f"{DEVICES}phone-3/pair/").status_code == 403
    assert client.post(f"{DEVICES}phone-3/revoke/", {"reason": "x"}).status_code == 403
    assert device_with_key(phone[1]) is not None


def test_for_an_outsider_there_are_no_devices(cast, as_person, phone):
    client = as_person(cast.outsider)
    assert client.get(DEVICES).status_code == 404
    assert client.post(f"{DEVICES}phone-3/pair/").status_code == 404
    assert client.post("/sites/elsewhere/devices/phone-3/pair/").status_code == 404
    assert client.get(f"{DEVICES}phone-3/revoke/").status_code == 404


def test_a_key_ends_with_a_reason_and_both_stay_on_record(cast, as_person, phone):
    client = as_person(cast.lead)
    assert client.post(f"{DEVICES}phone-3/revoke/", {"reason": " "}).status_code == 422
    assert device_with_key(phone[1]) is not None
    assert client.post(f"{DEVICES}phone-3/revoke/", {"reason": "left in a taxi"}).status_code == 302
    assert device_with_key(phone[1]) is None
    assert "left in a taxi" in text_of(client.get(DEVICES))
    last = history_of(Device.objects.get())[-1]
    assert (last.who, last.reason) == ("lead", "left in a taxi")


def test_a_revoked_device_is_paired_again_under_its_code(cast, as_person, phone):
    client = as_person(cast.lead)
    client.post(f"{DEVICES}phone-3/revoke/", {"reason": "lost"})
    code = code_on(client.post(f"{DEVICES}phone-3/pair/"))
    device, key = claim_pairing(code, at=timezone.now())
    assert (device.code, device_with_key(key).revoked_because) == ("phone-3", "")


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"name": ""}, "Wanted a name"),
        ({"name": "!!"}, "Found no letter or digit"),
        ({"name": "New one", "code": "phone-3"}, "which a device has already"),
    ],
)
def test_a_device_that_cannot_be_is_refused_in_words(cast, as_person, phone, typed, told):
    answer = as_person(cast.lead).post(f"{DEVICES}pair/", typed)
    assert answer.status_code == 422
    assert told in text_of(answer)
    assert Device.objects.count() == 1


def test_what_waits_on_a_device_is_what_it_made_less_what_is_here(cast, phone):
    device, now = phone[0], timezone.now()
    sent = notes(9, device=device.code)
    append([*sent[:4], *sent[5:7]], survey=cast.survey, device=device)
    heard_of(device, at=now, sent_at=now + timedelta(minutes=3), last_made=9)
    (row,) = device_rows(cast.site, at=now)
    assert (row["received"], row["last"], row["missing"]) == (6, 7, 3)
    assert row["clock"] == ("3 min ahead", "care")
    append(sent, survey=cast.survey, device=device)
    (row,) = device_rows(cast.site, at=now)
    assert (row["received"], row["missing"]) == (9, 0)


def test_a_gap_is_waiting_even_if_the_device_says_nothing(cast, phone):
    sent = notes(5, device="phone-3")
    append([sent[0], sent[4]], survey=cast.survey, device=phone[0])
    (row,) = device_rows(cast.site, at=timezone.now())
    assert row["missing"] == 3


@pytest.mark.parametrize(
    ("ahead_s", "told"),
    [
        (None, ("not said", "plain")),
        (1.0, ("right to 2 s", "good")),
        (-45.0, ("45 s behind", "good")),
        (400.0, ("7 min ahead", "care")),
        (-90000.0, ("25 h behind", "care")),
    ],
)
def test_a_clock_is_told_in_words(ahead_s, told):
    assert clock_words(ahead_s) == told


def test_the_page_asks_as_many_questions_for_twenty_devices_as_for_one(cast, as_person, phone):
    client = as_person(cast.lead)
    append(notes(3, device="phone-3"), survey=cast.survey, device=phone[0])
    client.get(DEVICES)
    with CaptureQueriesContext(connection) as one:
        client.get(DEVICES)
    for number in range(20):
        device = new_device(cast.site, name=f"Tablet {number}", user=cast.lead)
        offer_pairing(device, by=cast.lead, at=timezone.now())
        append(notes(2, device=device.code), survey=cast.survey, device=device)
    with CaptureQueriesContext(connection) as many:
        client.get(DEVICES)
    assert len(many) == len(one)
