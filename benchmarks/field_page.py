"""
How fast the field page is: cold offline starts, entries recorded and delivered, and what a full day costs to draw.

    python benchmarks/field_page.py [ENTRIES]

Needs Chromium. Starts a server of its own in a temporary folder; the figures go to stdout.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1] / "tests" / "browser"), str(Path(__file__).parents[1] / "tests")]

import chromium as browsers  # noqa: E402
from field_devices import Device, Office  # noqa: E402
from playwright.sync_api import sync_playwright  # noqa: E402

DAY = """async () => {
  const acts = [];
  const act = (kind, fields, minute) => acts.push({ kind, fields, at: new Date(start + minute * 60000) });
  const start = Date.now() - 6 * 3600_000;
  for (let n = 1; n <= 10; n += 1) {
    const train = `T${n}`;
    act('train_prepared', { train, pump: `P-${n}`, splitter: `H-${n}`, warm_up_min: '10' }, -60);
    for (const port of 'ABC') {
      act('port_prepared', { train, port, tube: `c${port}`, target: '100', target_unit: 'mL/min' }, -55);
    }
    for (const phase of ['setting', 'closing']) for (const port of 'ABC') for (let k = 0; k < 3; k += 1) {
      act('flow_read', { train, port, phase, meter: 'M-1', reading: String(99 + k), unit: 'mL/min' }, -40 + k);
    }
    act('closing_round', { train, ports: 'A B C', valve_touched: 'no' }, -30);
    act('train_hung', { train, worker: `W-0${n}` }, -10);
    for (const port of 'ABC') act('sampler_fitted', { train, port, sampler: `X-${n}${port}` }, -5);
    act('pump_started', { train, counter_min: '0' }, 0);
    for (let k = 1; k < 4; k += 1) act('pump_checked', { train, running: 'yes', counter_min: String(90 * k) }, 90 * k);
  }
  const before = performance.now();
  await field.recordAll(acts);
  return [acts.length, performance.now() - before];
}"""

REDRAW = """async () => {
  const { trainsNow } = await import(new URL('./now/trains.js', document.querySelector('script[type=module]').src));
  const { fold } = await import(new URL('./fold/day.js', document.querySelector('script[type=module]').src));
  const times = { fold: [], numbers: [], screen: [] };
  location.hash = '#/run';
  await new Promise((drawn) => setTimeout(drawn, 100));
  for (let n = 0; n < 20; n += 1) {
    let from = performance.now();
    const day = fold(field.view.entries);
    times.fold.push(performance.now() - from);
    from = performance.now();
    trainsNow(day, field.view.pack, [], Date.now());
    times.numbers.push(performance.now() - from);
    from = performance.now();
    dispatchEvent(new HashChangeEvent('hashchange'));
    times.screen.push(performance.now() - from);
  }
  return times;
}"""

RECORD = """async ([count, together]) => {
  const reading = { train: 'T1', port: 'A', phase: 'check', meter: 'M-1', reading: '0.1', unit: 'L/min' };
  const from = performance.now();
  for (let n = 0; n < count; n += together) {
    await Promise.all(Array.from({ length: together }, () => field.record('flow_read', reading)));
  }
  return performance.now() - from;
}"""

DELIVER = """async () => {
  const from = performance.now();
  let delivered = null;
  const look = () => (delivered ??= field.view.outbox.waiting === 0 ? performance.now() - from : null);
  const stop = field.subscribe(look);
  while (look() === null) await field.sync();
  stop();
  return [delivered, performance.now() - from];
}"""


def main() -> None:
    """Measure, and say what was measured."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    if browsers.program() is None:
        raise SystemExit(browsers.HOW_TO_GET_IT)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        office = Office(Path(folder) / "office")
        office.home.mkdir()
        office.start()
        phone = Device(playwright, Path(folder) / "phone", office, "phone-1")
        try:
            _measure(phone.switch_on().pair(), office, count)
        finally:
            phone.switch_off()
            office.stop()


def _measure(phone: Device, office: Office, count: int) -> None:
    phone.sync()
    phone.context.set_offline(True)
    ready = []
    for _ in range(5):
        phone.page.reload()
        ready.append(phone.page.evaluate("performance.getEntriesByType('navigation')[0].loadEventEnd"))
    print(f"page ready offline, median of 5: {statistics.median(ready):.0f} ms")
    phone.attach()
    acts, took = phone.page.evaluate(DAY)
    print(f"a day of ten pumps, {acts} entries, kept in one transaction: {took:.0f} ms")
    times = phone.page.evaluate(REDRAW)
    for part, words in (("fold", "folded anew"), ("numbers", "worked out"), ("screen", "drawn again")):
        print(f"that day {words}: median {statistics.median(times[part]):.1f} ms, worst {max(times[part]):.1f} ms")
    recorded = phone.page.evaluate(RECORD, [count, 1]) / 1000
    print(f"{count} entries recorded one after the other, each on disk before the next: {recorded:.2f} s")
    phone.context.set_offline(False)
    delivered, done = (ms / 1000 for ms in phone.page.evaluate(DELIVER))
    print(f"{count + acts} entries delivered and confirmed: {delivered:.2f} s, with the day read back: {done:.2f} s")
    print(f"recorded and delivered together: {recorded + delivered:.2f} s; with reading back: {recorded + done:.2f} s")
    times = phone.page.evaluate(REDRAW)
    print(f"{count + acts} entries folded: median {statistics.median(times['fold']):.1f} ms")
    phone.context.set_offline(True)
    together = phone.page.evaluate(RECORD, [200, 20])
    print(f"200 entries that come 20 at a time: {together / 200:.2f} ms each; alone: {1000 * recorded / count:.2f} ms")
    assert len(office.log()) == count + acts


if __name__ == "__main__":
    main()
