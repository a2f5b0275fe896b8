"""How long the server works on each office page of a survey of thousands of samples: first time, and after that.

    python benchmarks/make_big_folder.py /tmp/big --samples 5000
    python benchmarks/page_times.py /tmp/big

The folder is imported into a database of its own (SQLite in a temporary LAPEL_HOME, or what LAPEL_DATABASE names), and
every page is asked for in process, as a lead: server time without the network. “First” includes reading the log and
assessing the survey; “again” is the median of the next 15, and “worst” the longest of them. The order is that of the
table: what one page works out the next may find held.

Then one thing is changed at a time, as people do: a look at a pump, a reading, a correction, a record of the air, a
finding lifted by a person. Told is the first page of samples after it, beside the first of all, in the same run: the
ratio is what does not hang on how busy the machine is.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path

WANTED_MS = 300.0
TIMES = 15


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, help="a survey folder")
    folder = parser.parse_args().folder
    os.environ.setdefault("LAPEL_HOME", tempfile.mkdtemp(prefix="lapel-pages-"))
    os.environ["DJANGO_SETTINGS_MODULE"] = "lapel.site.settings"

    import django

    django.setup()
    from django.contrib.auth.models import User
    from django.core.management import call_command
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    from lapel.exchange.record_transfer import import_survey
    from lapel.records.models import LogEntry, SampleOrder

    call_command("migrate", verbosity=0, interactive=False)
    call_command("collectstatic", verbosity=0, interactive=False)
    lead = User.objects.create_user("lead")
    start = time.perf_counter()
    survey = import_survey(folder, survey_code="big", site_code="works", user=lead).survey
    print(f"{connection.vendor}: {SampleOrder.objects.count()} samples, {LogEntry.objects.count()} entries of the log, "
          f"imported in {time.perf_counter() - start:.1f} s")  # fmt: skip
    client = Client(headers={"host": "localhost"})
    client.force_login(lead)
    sampler = survey.sampleorders.order_by("id")[0].code
    entry = LogEntry.objects.filter(survey=survey, kind="flow_read").order_by("receipt")[0].entry_id
    pump = survey.site.pumps.order_by("id")[0].code
    pages = {
        "road": "/surveys/big/",
        "samples": "/surveys/big/samples/",
        "samples, page 20": "/surveys/big/samples/?page=20",
        "samples, void only": "/surveys/big/samples/?standing=void",
        "one sample": f"/surveys/big/samples/{sampler}/",
        "shifts and limits": "/surveys/big/judge/",
        "shifts, page 30": "/surveys/big/judge/?page=30",
        "field": "/surveys/big/field/",
        "prepare": "/surveys/big/prepare/",
        "log": "/surveys/big/log/",
        "one entry": f"/surveys/big/log/{entry}/",
        "equipment": "/sites/works/equipment/",
        "one pump": f"/sites/works/equipment/pump/{pump}/",
    }
    slow = []
    print(f"{'page':<20}{'first, ms':>12}{'again, ms':>12}{'worst, ms':>12}{'queries':>9}{'kB':>7}")
    for name, address in pages.items():
        first = timed(client, address)[0]
        times = [timed(client, address)[0] for _ in range(TIMES)]
        with CaptureQueriesContext(connection) as asked:
            size = timed(client, address)[1]
            queries = len(asked)
        again = statistics.median(times)
        print(f"{name:<20}{first:>12.0f}{again:>12.0f}{max(times):>12.0f}{queries:>9}{size / 1024:>7.0f}")
        if again > WANTED_MS:
            slow.append(name)
    after_changes(client, survey, lead)
    if slow:
        print(f"More than {WANTED_MS:.0f} ms: {', '.join(slow)}", file=sys.stderr)
    return 1 if slow else 0


def after_changes(client, survey, lead) -> None:
    """Change one thing at a time, and tell how long the next page takes beside one that works everything."""
    from lapel.assessment import held
    from lapel.fieldlog import Entry
    from lapel.records.append import append
    from lapel.records.models import FindingOverride, LogEntry

    def copy_of(kind: str, **other: str) -> Entry:
        row = LogEntry.objects.filter(survey=survey, kind=kind).order_by("-receipt")[0]
        at = row.at + timedelta(minutes=1)
        return Entry(f"new {kind}", kind, at, "paper", 0, "lead", {**row.fields, **other})

    def correction() -> Entry:
        row = LogEntry.objects.filter(survey=survey, kind="flow_read").order_by("receipt")[7]
        said = {"field": "reading", "value": f"{float(row.fields['reading']) * 1.01:.4g}"}
        return Entry("new correction", "correction", row.at, "paper", 0, "lead", said, row.entry_id, "misread")

    def lifted() -> None:
        sampler = survey.sampleorders.order_by("id")[2].code
        FindingOverride.objects.create(survey=survey, sampler=sampler, rule="flow-change", person="lead", reason="seen")

    changes = {
        "a look at a pump": lambda: append([copy_of("pump_checked")], survey=survey, user=lead),
        "a flow reading": lambda: append([copy_of("flow_read")], survey=survey, user=lead),
        "a correction": lambda: append([correction()], survey=survey, user=lead),
        "a record of the air": lambda: append([copy_of("conditions", temperature="31")], survey=survey, user=lead),
        "a finding lifted": lifted,
    }
    page = "/surveys/big/samples/"
    held._held.clear()
    everything = timed(client, page)[0]
    print(f"\n{'first page of samples after':<28}{'ms':>8}{'of working everything':>24}")
    print(f"{'nothing was held':<28}{everything:>8.0f}{1.0:>24.3f}")
    for name, change in changes.items():
        change()
        took = timed(client, page)[0]
        print(f"{name:<28}{took:>8.0f}{took / everything:>24.3f}")


def timed(client, address: str) -> tuple[float, int]:
    start = time.perf_counter()
    answer = client.get(address)
    took = 1000.0 * (time.perf_counter() - start)
    if answer.status_code != 200:
        raise SystemExit(f"{address} answered {answer.status_code}")
    return took, len(answer.content)


if __name__ == "__main__":
    sys.exit(main())
