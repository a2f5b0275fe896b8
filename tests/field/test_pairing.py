"""Pairing: a code counts once, for a quarter of an hour, in whatever way it is typed; wrong ones are made to wait."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from django.contrib.auth.models import User
from django.core.cache import cache
from django.test import Client
from django.utils import timezone
from log_entries import a_survey, notes

from lapel.field.pairing import WRONG_CODES
from lapel.fieldlog import entry_record
from lapel.records.devices import device_with_key, revoke_device
from lapel.records.models import Device, DeviceContact, DevicePairing, Membership
from lapel.records.pairing import (
    ALPHABET,
    GOOD_FOR,
    SIGNS,
    NoSuchPairing,
    claim_pairing,
    new_device,
    offer_pairing,
    plain_code,
    shown_code,
)

NOW = datetime(2026, 5, 4, 6, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def nobody_waits():
    cache.clear()
    yield
    cache.clear()


class Office:
    def __init__(self):
        self.survey = a_survey()
        self.site = self.survey.site
        self.lead = User.objects.create(username="lead")
        Membership.objects.create(user=self.lead, site=self.site, role="lead")

    def device(self, name="Phone 1"):
        return new_device(self.site, name=name, user=self.lead)

    def offer(self, device=None, at=NOW):
        return offer_pairing(device or self.device(), by=self.lead, at=at)


@pytest.fixture
def office(db):
    return Office()


def pair(code, **more):
    return Client().post("/api/v1/pair", json.dumps({"code": code}), content_type="application/json", **more)


def test_a_code_is_traded_for_a_key_that_delivers(fresh_database):
    office = Office()
    _, code = office.offer(at=timezone.now())
    answer = pair(code)
    assert answer.status_code == 200
    key = answer.json()["key"]
    assert answer.json()["device"] | {"surveys": []} == {
        "code": "phone-1",
        "name": "Phone 1",
        "site": office.site.name,
        "zone": office.site.zone,
        "last_sequence": 0,
        "last_hash": "",
        "surveys": [],
    }
    sent = Client().post(
        "/api/v1/entries",
        json.dumps(
            {"survey": office.survey.code, "entries": [entry_record(one) for one in notes(3, device="phone-1")]}
        ),
        content_type="application/json",
        headers={"Authorization": f"Bearer {key}"},
    )
    assert len(sent.json()["confirmed"]) == 3
    assert device_with_key(key).paired_by == office.lead


@pytest.mark.parametrize("typed", ["{}", " {} ", "{}\n"])
def test_small_letters_blanks_and_hyphens_do_not_matter(office, typed):
    _, code = office.offer()
    device, _ = claim_pairing(typed.format(shown_code(code).lower()), at=NOW)
    assert device.code == "phone-1"


def test_letters_taken_for_digits_are_understood():
    assert plain_code("oIlL0-1ab") == "011101AB"
    assert not set("ILOU") & set(ALPHABET)
    assert len(ALPHABET) ** SIGNS == 2**50


def test_a_code_counts_once(office):
    _, code = office.offer(at=timezone.now())
    assert pair(code).status_code == 200
    again = pair(code)
    assert again.status_code == 404
    assert "does not count" in again.json()["detail"]


def test_a_code_counts_for_a_quarter_of_an_hour(office):
    _, code = office.offer()
    with pytest.raises(NoSuchPairing):
        claim_pairing(code, at=NOW + GOOD_FOR)
    claim_pairing(code, at=NOW + GOOD_FOR - timedelta(seconds=1))


def test_a_newer_code_withdraws_the_one_before(office):
    device = office.device()
    _, first = office.offer(device)
    _, second = office.offer(device)
    with pytest.raises(NoSuchPairing):
        claim_pairing(first, at=NOW)
    assert claim_pairing(second, at=NOW)[0] == device


def test_pairing_again_ends_the_old_key_only_when_the_code_is_used(office):
    device = office.device()
    _, old = claim_pairing(office.offer(device)[1], at=NOW)
    _, code = office.offer(device)
    assert device_with_key(old) == device
    _, new = claim_pairing(code, at=NOW)
    assert device_with_key(old) is None
    assert device_with_key(new) == device


def test_revoking_withdraws_a_code_that_waits(office):
    device = office.device()
    _, key = claim_pairing(office.offer(device)[1], at=NOW)
    _, code = office.offer(Device.objects.get())
    revoke_device(Device.objects.get(), by=office.lead, reason="left in a taxi")
    assert device_with_key(key) is None
    with pytest.raises(NoSuchPairing):
        claim_pairing(code, at=NOW)
    assert Device.objects.get().revoked_because == "left in a taxi"


def test_a_code_of_somebody_who_may_no_longer_pair_does_not_count(office):
    _, code = office.offer()
    Membership.objects.all().delete()
    with pytest.raises(NoSuchPairing):
        claim_pairing(code, at=NOW)


def test_neither_code_nor_key_is_kept(office):
    offer, code = office.offer()
    _, key = claim_pairing(code, at=NOW)
    kept = json.dumps([list(map(str, row)) for model in (Device, DevicePairing) for row in model.objects.values_list()])
    assert code not in kept
    assert key not in kept
    assert offer.code_hash in kept


def test_whoever_sends_wrong_codes_has_to_wait_and_others_do_not(office):
    _, code = office.offer(at=timezone.now())
    answers = [pair("0" * SIGNS).status_code for _ in range(WRONG_CODES + 1)]
    assert answers == [404] * WRONG_CODES + [429]
    waiting = pair(code)
    assert waiting.status_code == 429
    assert int(waiting["Retry-After"]) > 0
    assert pair(code, REMOTE_ADDR="192.0.2.7").status_code == 200


def test_a_device_tells_what_it_made_and_what_its_clock_says(office):
    _, key = claim_pairing(office.offer()[1], at=NOW)
    headers = {"Authorization": f"Bearer {key}"}
    ahead = (timezone.now() + timedelta(minutes=5)).isoformat()
    Client().get("/api/v1/device", {"last_made": 57, "sent_at": ahead}, headers=headers)
    contact = DeviceContact.objects.get()
    assert contact.last_made == 57
    assert contact.ahead_s == pytest.approx(300.0, abs=5.0)
    Client().get("/api/v1/device", {"last_made": 58}, headers=headers)
    assert DeviceContact.objects.get().last_made == 58
    assert Client().get("/api/v1/device", {"last_made": "many"}, headers=headers).status_code == 422


def test_a_name_makes_a_code_of_its_own(office):
    assert [office.device("Phone 3, yellow").code for _ in range(3)] == [
        "phone-3-yellow",
        "phone-3-yellow-2",
        "phone-3-yellow-3",
    ]
