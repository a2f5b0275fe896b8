"""What the page is made of below its screens, part by part, without an office: disk, writing, delivery, telling."""

from itertools import pairwise

import pytest
from field_modules import HERE, open_modules

WRITER = {"device": "phone-1", "zone": "Europe/Berlin", "author": "RK", "survey": "demo"}
SETUP = f"""const from = (name) => import('{HERE}' + name);
  const {{ openStore }} = await from('store.js');
  const {{ Writing }} = await from('writing.js');
  const {{ Delivery }} = await from('delivery.js');
  const store = await openStore('core', () => {{}});
  const writing = new Writing(store, () => Date.now());
  const note = (text) => ({{ kind: 'note', fields: {{ text }} }});
  const write = (acts) => writing.write(acts, given.writer);"""


@pytest.fixture
def page(chromium):
    context, page = open_modules(chromium)
    yield page
    context.close()


def run(page, program, **given):
    """Run a program with the parts at hand; what it returns."""
    return page.evaluate(f"async (given) => {{ {SETUP} {program} }}", {"writer": WRITER, **given})


def test_acts_that_come_while_one_is_written_share_the_next_transaction(page):
    made, writes = run(
        page,
        """let writes = 0;
        const keep = store.keep.bind(store);
        store.keep = (...all) => { writes += 1; return keep(...all) };
        const acts = Array.from({ length: 40 }, (_, n) => write([note(`${n}`)]));
        const made = (await Promise.all(acts)).flat();
        return [made, writes];""",
    )
    assert writes == 2  # the first alone, the others together
    assert [entry["fields"]["text"] for entry in made] == [str(number) for number in range(40)]
    assert [entry["sequence"] for entry in made] == list(range(1, 41))
    assert all(after["previous_hash"] == before["hash"] for before, after in pairwise(made))


def test_an_act_is_on_the_disk_before_it_counts_as_kept(page):
    """The browser says of each transaction that it is complete, and only then is any of its acts kept."""
    kept, durabilities = run(
        page,
        """const complete = [];
        const durabilities = [];
        const real = IDBDatabase.prototype.transaction;
        IDBDatabase.prototype.transaction = function (...all) {
          const tx = real.apply(this, all);
          if (tx.mode === 'readwrite') {
            const number = durabilities.push(tx.durability);
            tx.addEventListener('complete', () => complete.push(number));
          }
          return tx;
        };
        const kept = [];
        for (let n = 1; n <= 20; n += 1) {
          await write([note(`${n}`)]);
          kept.push([n, complete.at(-1)]);
        }
        return [kept, durabilities];""",
    )
    assert kept == [[number, number] for number in range(1, 21)]
    assert durabilities == ["strict"] * 20


@pytest.mark.parametrize("how", ["throw new DOMException('full', 'QuotaExceededError')", "this.transaction.abort()"])
def test_of_several_acts_none_is_kept_when_the_disk_fails_at_the_second(page, how):
    said, waiting, chain, after = run(
        page,
        f"""await write([note('before')]);
        const real = IDBObjectStore.prototype.add;
        let adds = 0;
        IDBObjectStore.prototype.add = function (...all) {{
          adds += 1;
          if (adds === 2) {{ {how} }}
          return real.apply(this, all);
        }};
        const said = await write([note('one'), note('two'), note('three')]).then(() => 'kept', (why) => why.name);
        IDBObjectStore.prototype.add = real;
        const waiting = (await store.waiting()).map((one) => one.entry.fields.text);
        const chain = await store.setting('chain', null);
        await write([note('after')]);
        return [said, waiting, chain.sequence, (await store.waiting()).map((one) => one.sequence)];""",
    )
    assert said == "DiskProblem"
    assert waiting == ["before"]
    assert chain == 1
    assert after == [1, 2]


def test_two_that_write_at_once_without_knowing_of_each_other_make_one_chain(page):
    rows = run(
        page,
        """const second = new Writing(await openStore('core', () => {}), () => Date.now());
        const ten = async (one, name) => {
          for (let n = 0; n < 10; n += 1) await one.write([note(`${name} ${n}`)], given.writer);
        };
        await Promise.all([ten(writing, 'first'), ten(second, 'second')]);
        return (await store.waiting()).map((one) => one.entry);""",
    )
    assert [entry["sequence"] for entry in rows] == list(range(1, 21))
    assert all(after["previous_hash"] == before["hash"] for before, after in pairwise(rows))
    texts = {entry["fields"]["text"] for entry in rows}
    assert texts == {f"{who} {number}" for who in ("first", "second") for number in range(10)}


DELIVERY = """const told = [];
  const sent = [];
  const link = {
    whoAmI: async () => ({ last_sequence: 0 }),
    day: async () => ({ last_receipt: 0, more: false, entries: [] }),
    pack: async () => null,
    deliver: async (survey, entries, lastMade) => {
      if (sent.length > 50) throw new Error('sent without end');
      sent.push({ survey, ids: entries.map((one) => one.id), lastMade });
      const named = answer(entries, sent.length);
      const receipts = Object.fromEntries(named.taken.map((one) => [one.id, one.sequence]));
      const refused = Object.fromEntries((named.refused ?? []).map((one) => [one.id, { number: 1, problems: [] }]));
      return { receipts, refused, clock_ahead_s: null };
    },
  };
  const who = () => ({ device: 'phone-1', zone: '', survey: 'demo', paired: true });
  const tell = async (change) => { told.push(change) };
  const delivery = new Delivery(store, link, { who, tell, now: () => Date.now() });"""


def test_a_long_outbox_goes_in_lots_of_200_and_every_entry_once(page):
    sent, left, confirmed = run(
        page,
        f"""const answer = (entries) => ({{ taken: entries }});
        {DELIVERY}
        await write(Array.from({{ length: 450 }}, (_, n) => note(`${{n}}`)));
        await delivery.run();
        return [sent, (await store.waiting()).length, (await store.confirmed()).map((one) => one.sequence)];""",
    )
    assert [len(lot["ids"]) for lot in sent] == [200, 200, 50]
    assert len({one for lot in sent for one in lot["ids"]}) == 450
    assert {lot["lastMade"] for lot in sent} == {450}
    assert left == 0
    assert confirmed == list(range(1, 451))


def test_what_an_answer_does_not_name_stays_and_is_sent_again(page):
    sent, left = run(
        page,
        f"""const answer = (entries, turn) => ({{ taken: turn === 1 ? entries.filter((one, n) => n % 3) : entries }});
        {DELIVERY}
        const made = await write(Array.from({{ length: 210 }}, (_, n) => note(`${{n}}`)));
        await delivery.run();
        return [sent.map((lot) => lot.ids.map((id) => made.findIndex((one) => one.id === id))),
          (await store.waiting()).length];""",
    )
    assert sent == [list(range(200)), list(range(200, 210)), list(range(0, 200, 3))]
    assert left == 0


def test_an_answer_that_names_nothing_ends_the_delivery_and_nothing_is_lost(page):
    sent, state, left = run(
        page,
        f"""const answer = (entries, turn) => ({{ taken: turn === 1 ? entries : [] }});
        {DELIVERY}
        await write(Array.from({{ length: 450 }}, (_, n) => note(`${{n}}`)));
        await delivery.run();
        delivery.stop();
        return [sent.length, told.at(-1).outbox.state, (await store.waiting()).length];""",
    )
    assert (sent, state, left) == (2, "unreachable", 250)


def test_refused_entries_stay_where_they_are_and_hold_up_nothing_behind_them(page):
    sent, refused, left = run(
        page,
        f"""const answer = (entries, turn) => (turn < 3 ? {{ taken: [], refused: entries }} : {{ taken: entries }});
        {DELIVERY}
        await write(Array.from({{ length: 400 }}, (_, n) => note(`${{n}}`)));
        await delivery.run();
        const refused = (await store.waiting()).filter((one) => one.refusal).length;
        await write([note('behind')], given.writer);
        await delivery.run();
        return [sent.map((lot) => lot.ids.length), refused, (await store.waiting()).length];""",
    )
    assert sent == [200, 200, 1]
    assert refused == left == 400


def test_each_delivery_is_of_one_survey(page):
    sent, left = run(
        page,
        f"""const answer = (entries) => ({{ taken: entries }});
        {DELIVERY}
        for (const survey of ['demo', 'other', 'demo']) {{
          await writing.write([note(survey), note(survey)], {{ ...given.writer, survey }});
        }}
        await delivery.run();
        return [sent.map((lot) => [lot.survey, lot.ids.length]), (await store.waiting()).length];""",
    )
    assert sent == [["demo", 2], ["other", 2], ["demo", 2]]
    assert left == 0


TELLING = f"""async () => {{
  const {{ Listeners }} = await import('{HERE}listeners.js');
  let newest = 0;
  globalThis.heard = [];
  globalThis.listeners = new Listeners(() => newest);
  listeners.add((told) => heard.push(told));
  globalThis.change = () => {{ newest += 1; listeners.tellSoon() }};
}}"""


def test_many_changes_at_once_are_told_a_few_times_and_the_last_one_always(page):
    page.clock.install()
    page.evaluate(TELLING)
    page.evaluate("async () => { for (let n = 0; n < 500; n += 1) { change(); await null } }")
    page.clock.run_for(2000)
    heard = page.evaluate("heard")
    assert heard[-1] == 500
    assert len(heard) <= 3


@pytest.mark.parametrize(("where", "soon_ms"), [("before the frame", 100), ("within the frame", 3000)])
def test_after_a_sleep_of_hours_the_listeners_hear_of_changes_soon(page, where, soon_ms):
    """The clock jumps while a telling is being measured, as when a phone lies in a pocket until the afternoon."""
    page.clock.install()
    page.clock.pause_at(page.evaluate("Date.now() / 1000 + 1"))  # no frame comes by itself
    page.evaluate(TELLING)
    page.evaluate("() => { change(); requestAnimationFrame(() => { globalThis.framed = true }) }")
    while where == "within the frame" and not page.evaluate("globalThis.framed"):
        page.clock.run_for(1)
    page.clock.fast_forward("04:00:00")
    page.clock.run_for(100)
    page.evaluate("change()")
    page.clock.run_for(soon_ms)
    assert page.evaluate("heard") == [1, 2]
