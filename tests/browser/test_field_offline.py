"""What is recorded is kept, whatever happens to network, office, browser, clock and key; and arrives exactly once."""

import json
from itertools import pairwise

import pytest
from field_devices import SURVEY, Device, Office
from patience import PATIENCE_S, until


@pytest.fixture(scope="module")
def works(tmp_path_factory, browser_program):
    """An office with its records; stopped and started by the tests."""
    office = Office(tmp_path_factory.mktemp("field-office")).start()
    yield office
    office.stop()


@pytest.fixture
def office(works):
    if works.process is None:
        works.start()
    return works


@pytest.fixture
def device_of(playwright, office, tmp_path):
    """Make devices; all are switched off afterwards."""
    made = []

    def device(code="phone-1", **more):
        one = Device(playwright, tmp_path / code, office, code)
        made.append(one)
        return one.switch_on(**more).pair()

    yield device
    for one in made:
        one.switch_off()


def arrived(office, ids):
    """How often each entry is in the office's log."""
    found = [row["entry_id"] for row in office.log()]
    return [found.count(one) for one in ids]


def test_with_the_network_cut_the_page_reloads_records_and_delivers_later(device_of, office):
    phone = device_of()
    phone.context.set_offline(True)
    phone.page.reload()
    phone.attach()
    ids = phone.note(20, "offline")
    phone.sync()
    assert phone.ask("field.view.outbox.state") == "unreachable"
    phone.page.goto(office.address + "/field/pair")  # another address of the page, opened offline
    phone.attach()
    assert phone.waiting == 20
    assert set(arrived(office, ids)) == {0}
    phone.context.set_offline(False)
    phone.until_delivered()
    assert set(arrived(office, ids)) == {1}


def test_with_the_office_stopped_and_the_browser_killed_everything_is_there_after_a_cold_start(device_of, office):
    phone = device_of()
    phone.sync()
    office.stop()
    ids = phone.note(60, "killed")
    phone.kill()
    phone.switch_on()
    assert phone.ask("field.view.phase") == "ready"
    assert phone.waiting == 60
    assert phone.ask("field.view.entries.filter((entry) => given.includes(entry.id)).length", ids) == 60
    office.start()
    phone.until_delivered()
    assert set(arrived(office, ids)) == {1}
    sequences = [row["sequence"] for row in office.log() if row["device"] == "phone-1"]
    assert sorted(sequences) == list(range(1, len(sequences) + 1))


def test_answers_that_get_lost_are_asked_for_again_and_nothing_is_doubled(device_of, office):
    phone = device_of()
    lost = []

    def lose(route):
        if len(lost) < 3:
            route.fetch()  # the office has it, and its answer goes nowhere
            lost.append(route.request.post_data)
            route.abort()
        else:
            route.continue_()

    phone.context.route("**/api/v1/entries", lose)
    ids = phone.note(15, "lost")
    phone.until_delivered()
    assert len(lost) == 3
    assert set(arrived(office, ids)) == {1}


def test_entries_sent_in_any_order_and_twice_make_one_log(device_of, office):
    phone = device_of()
    phone.context.set_offline(True)
    ids = phone.note(30, "shuffled")
    sent = phone.ask("(await field.store.waiting()).map((one) => one.entry)")
    phone.context.set_offline(False)
    for part in (sent[20:], sent[:25], sent[10:12]):
        answer = phone.context.request.post(
            office.address + "/api/v1/entries",
            data={"survey": SURVEY, "entries": part[::-1]},
            headers={"Authorization": f"Bearer {office.keys['phone-1']}"},
        )
        assert answer.ok
    phone.until_delivered()
    assert set(arrived(office, ids)) == {1}


def test_two_tabs_record_at_once_in_one_chain_and_one_of_them_delivers(device_of, office):
    phone = device_of()
    sent = []

    def note_answered(request):
        if request.url.endswith("/entries"):
            sent.extend(entry["id"] for entry in json.loads(request.post_data)["entries"])

    phone.context.on("requestfinished", note_answered)
    other = phone.context.new_page()
    other.goto(office.address + "/field/")
    phone.attach(other)
    phone.context.set_offline(True)
    record = """(tab) => { globalThis.done = (async () => {
        for (let n = 0; n < 25; n += 1) await field.record('note', { text: `${tab} ${n}` });
        return true; })(); }"""
    phone.page.evaluate(record, "one")
    other.evaluate(record, "two")
    assert phone.page.evaluate("globalThis.done")
    assert other.evaluate("globalThis.done")
    waiting = phone.ask("(await field.store.waiting()).map((one) => one.entry)")
    assert len(waiting) == 50
    for before, after in pairwise(waiting):
        assert after["sequence"] == before["sequence"] + 1
        assert after["previous_hash"] == before["hash"]
    until(other, "field.view.outbox.waiting === 50")
    phone.context.set_offline(False)
    phone.until_delivered()
    assert set(arrived(office, [entry["id"] for entry in waiting])) == {1}
    assert sorted(sent) == sorted(entry["id"] for entry in waiting)  # tabs do not send the same


def test_two_devices_see_each_others_entries_and_both_acts_of_two_people(device_of, office):
    phone, tablet = device_of(), device_of("tablet-2")
    for one in (phone, tablet):
        one.ask("await field.record('train_prepared', { train: 'T9', pump: 'P-9', warm_up_min: '10' })")
        one.ask("await field.record('train_hung', { train: 'T9', worker: 'W-01' })")
    for one in (phone, tablet, phone):
        one.until_delivered()
    for one in (phone, tablet):
        day = one.ask("({ hung: field.view.day.trains.T9.preparations.length, "
                      "conflicts: field.view.day.conflicts.filter((each) => each.train === 'T9') })")  # fmt: skip
        assert day["hung"] == 1
        assert [conflict["about"] for conflict in day["conflicts"]] == ["recorded twice", "recorded twice"]


def test_a_clock_two_hours_ahead_is_measured_and_shown_and_refused_nowhere(device_of, office):
    phone = device_of()
    phone.page.evaluate("const real = Date.now; Date.now = () => real() + 7_200_000")
    (entry,) = phone.note(1, "ahead")
    phone.until_delivered()
    assert phone.ask("field.view.clock.ahead_s") == pytest.approx(7200, abs=PATIENCE_S)  # the way there included
    assert arrived(office, [entry]) == [1]
    phone.until_delivered()
    assert phone.ask("field.view.day.clocks['phone-1'].ahead_s") == pytest.approx(7200, abs=2 * PATIENCE_S)


def test_a_key_that_was_withdrawn_keeps_everything_and_asks_for_pairing_anew(device_of, office):
    phone = device_of()
    ids = phone.note(3, "no key")
    phone.until_delivered()
    office.run("from lapel.records.devices import revoke_device; revoke_device(Device.objects.get(code='phone-1'))")
    more = phone.note(4, "kept")
    until(phone.page, "field.sync().then(() => field.view.outbox.state === 'pair again')")
    assert phone.waiting == 4
    key = office.run(
        "from lapel.records.devices import pair_device\n"
        "device = Device.objects.get(code='phone-1')\n"
        "print(json.dumps(pair_device(device.site, code='phone-1', user=device.paired_by)[1]))"
    )
    office.keys["phone-1"] = key
    (office.home / "keys.json").write_text(json.dumps(office.keys))
    phone.pair()
    phone.until_delivered()
    assert set(arrived(office, ids + more)) == {1}


def test_an_entry_the_office_refuses_stays_and_says_why(device_of, office):
    phone = device_of()
    phone.ask(
        """await (async () => {
            const entry = await field.record('note', { text: 'changed on the disk' });
            const [row] = (await field.store.waiting()).filter((one) => one.entry.id === entry.id);
            row.entry.fields.text = 'somebody changed it';
            await field.store.database.put('outbox', row);
        })()"""
    )
    until(phone.page, "field.sync().then(() => field.load()).then(() => field.view.outbox.refused.length > 0)")
    (refused,) = phone.ask("field.view.outbox.refused")
    assert refused["problems"][0]["field"] == "hash"
    assert phone.waiting == 1


def test_a_full_disk_is_said_and_nothing_counts_as_kept(device_of):
    phone = device_of()
    before = phone.waiting
    said = phone.ask(
        """await (async () => {
            const real = IDBObjectStore.prototype.add;
            IDBObjectStore.prototype.add = () => { throw new DOMException('full', 'QuotaExceededError') };
            try { await field.record('note', { text: 'lost?' }); return 'kept' }
            catch (why) { return { name: why.name, words: why.words, full: field.view.storage.full } }
            finally { IDBObjectStore.prototype.add = real }
        })()"""
    )
    assert said["name"] == "DiskProblem"
    assert said["full"]
    assert "Nothing of the last act was kept" in said["words"]
    assert phone.waiting == before
    phone.note(1, "room again")
    assert phone.ask("field.view.storage.full") is False
    waiting = phone.ask("(await field.store.waiting()).map((one) => one.sequence)")
    assert waiting == sorted(set(waiting))


def test_an_office_restored_from_an_older_backup_gets_everything_again(device_of, office):
    tablet = device_of("tablet-2")
    kept = tablet.note(5, "before the backup")
    tablet.until_delivered()
    office.copy_records()
    lost = tablet.note(7, "after the backup")
    tablet.until_delivered()
    office.stop()
    office.put_back_records()
    office.start()
    assert set(arrived(office, lost)) == {0}
    tablet.until_delivered()
    assert set(arrived(office, kept + lost)) == {1}


def test_what_waits_leaves_as_a_file_and_the_offices_receipts_come_back(device_of, office):
    phone = device_of()
    phone.context.set_offline(True)
    ids = phone.note(6, "by hand")
    (file,) = phone.ask("await field.exportWaiting()")
    head, *entries = map(json.loads, file["text"].splitlines())
    assert head == {"lapel": "entries", "version": 1, "survey": SURVEY, "device": "phone-1"} | {
        name: head[name] for name in ("sent_at", "last_made")
    }
    assert [entry["id"] for entry in entries] == ids
    assert file["count"] == phone.waiting == 6
    (office.home / "carried.json").write_text(json.dumps(entries))
    receipts = office.run(
        "from django.conf import settings\nfrom lapel.fieldlog import entry_from_record\n"
        "from lapel.records.append import append\n"
        "entries = [entry_from_record(one) for one in json.loads((settings.HOME / 'carried.json').read_text())]\n"
        "print(json.dumps(append(entries, survey=Survey.objects.get(code='demo')).confirmed))"
    )
    said = {"lapel": "receipts", "version": 1, "survey": SURVEY, "device": "phone-1", "receipts": receipts}
    assert phone.ask("await field.takeReceipts(given)", json.dumps(said | {"confirmed": ids, "refused": {}})) == 6
    assert phone.waiting == 0
    assert phone.ask("await field.takeReceipts('{}').catch((why) => why.message)").startswith("This is no file")


CHANGED = """(old) => {
    const changed = document.querySelector('script[type=module]')?.src !== old;
    if (!changed) document.getElementById('field')?.field?.applyUpdate();
    return changed }"""
"""Whether a tab has the new version; if not, the change is asked for once more, as somebody would who sees none."""

LAME_DUCK_S = 360
"""Chromium lets a worker that is still at work be replaced only after five minutes."""


def test_a_new_version_waits_while_a_pump_runs_and_takes_over_in_all_tabs_when_asked(device_of, office):
    phone = device_of()
    phone.sync()
    old = phone.page.evaluate("document.querySelector('script[type=module]').src")
    phone.ask("await field.record('sampler_fitted', { train: 'T8', port: 'A', sampler: 'G-901' })")
    phone.ask("await field.record('pump_started', { train: 'T8' })")
    office.stop()
    office.start("a new edition")
    offered = "navigator.serviceWorker.getRegistration().then((one) => one.update().then(() => one.waiting !== null))"
    until(phone.page, offered)
    other = phone.context.new_page()
    other.goto(office.address + "/field/")
    assert other.evaluate("document.querySelector('script[type=module]').src") == old
    until(other, "document.getElementById('field').field?.view.update.offered")
    until(phone.page, "field.view.update.offered")  # this one is still its first visit, without a reload
    assert phone.ask("field.view.update") == {
        "offered": True,
        "blocked": True,
        "why": "A pump is running. The page is changed when all have stopped.",
    }
    asked = """() => { const real = field.takeOver; let asked = false;
        field.takeOver = () => { asked = true }; field.applyUpdate(); field.takeOver = real; return asked }"""
    assert phone.page.evaluate(asked) is False
    phone.ask("await field.record('pump_stopped', { train: 'T8', why: 'shift end' })")
    assert phone.page.evaluate(asked) is True
    phone.page.evaluate("field.applyUpdate()")
    for page in (phone.page, other):
        until(page, CHANGED, old, seconds=LAME_DUCK_S)
    until(phone.page, "caches.keys().then((all) => all.filter((one) => one.startsWith('lapel-field-')).length === 1)")
    phone.attach()
    phone.until_delivered()
    office.stop()


def test_nothing_of_the_interface_is_ever_in_the_cache(device_of):
    phone = device_of()
    phone.note(2, "x")
    phone.until_delivered()
    kept = phone.page.evaluate(
        """async () => {
            const all = await Promise.all((await caches.keys()).map(async (name) => (await caches.open(name)).keys()));
            return all.flat().map((request) => new URL(request.url).pathname) }"""
    )
    assert "/field/" in kept
    assert not [path for path in kept if path.startswith("/api/")]


def test_a_device_is_paired_by_its_link_and_keeps_its_key_to_itself(playwright, office, tmp_path):
    code = office.run(
        "from django.utils import timezone\nfrom lapel.records.pairing import new_device, offer_pairing\n"
        "known = Device.objects.get(code='phone-1')\n"
        "made = new_device(known.site, name='phone of the day', code='phone-3', user=known.paired_by)\n"
        "print(json.dumps(offer_pairing(made, by=known.paired_by, at=timezone.now())[1]))"
    )
    phone = Device(playwright, tmp_path / "phone-3", office, "phone-3")
    try:
        phone.switch_on(f"/field/pair#{code}")
        assert phone.ask("location.hash") == ""  # taken out of the address at once
        assert phone.ask("field.view.pairing") == {"code": code, "needs_consent": False}
        assert phone.ask("await field.pair('WRONGCODE0').catch((why) => why.name)") == "PairingProblem"
        phone.ask("await field.pair(field.view.pairing.code)")
        assert phone.ask("field.view.phase") == "choosing"
        assert phone.ask("field.view.device.code") == "phone-3"
        assert phone.ask("field.view.pairing") == {"code": "", "needs_consent": True}
        assert [one["code"] for one in phone.ask("field.view.surveys")] == [SURVEY]
        phone.ask("await field.choose({ survey: given, author: 'Jo' })", SURVEY)
        phone.note(2, "paired")
        phone.until_delivered()
        until(phone.page, "field.view.pack?.survey.code === 'demo'")
    finally:
        phone.switch_off()
