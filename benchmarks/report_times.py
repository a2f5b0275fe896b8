"""How long documents of a large survey take, and how long the pages of its groups do while they are being judged.

    python benchmarks/make_big_folder.py /tmp/big --samples 500
    python benchmarks/report_times.py /tmp/big

The folder is imported into a database of its own. The list of groups is asked for at once, while the groups are being
judged, then until all are; then the page of the group with the most results, 15 times; then each document, from the
request to its last byte, by asking again as a page does. One process: what judges and what answers share two cores or
fewer, and one interpreter.
"""

from __future__ import annotations

import argparse
import os
import re
import statistics
import sys
import tempfile
import time
from pathlib import Path

WANTED_PAGE_MS, WANTED_REPORT_S = 300.0, 15.0
TIMES = 15


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, help="a survey folder")
    folder = parser.parse_args().folder
    os.environ.setdefault("LAPEL_HOME", tempfile.mkdtemp(prefix="lapel-reports-"))
    os.environ["DJANGO_SETTINGS_MODULE"] = "lapel.site.settings"

    import django

    django.setup()
    from django.contrib.auth.models import User
    from django.core.management import call_command
    from django.test import Client

    from lapel.assessment.held import held_assessment
    from lapel.assessment.judged_groups import group_questions
    from lapel.exchange.record_transfer import import_survey
    from lapel.exchange.signing import sign
    from lapel.records.models import SampleOrder

    call_command("migrate", verbosity=0, interactive=False)
    call_command("collectstatic", verbosity=0, interactive=False)
    lead = User.objects.create_user("lead")
    survey = import_survey(folder, survey_code="big", site_code="works", user=lead).survey
    client = Client(headers={"host": "localhost"})
    client.force_login(lead)

    def timed(address: str) -> tuple[float, bytes, int]:
        start = time.perf_counter()
        answer = client.get(address)
        return time.perf_counter() - start, answer.content, answer.status_code

    assessed, _, _ = timed("/surveys/big/samples/")
    questions = group_questions(held_assessment(survey))
    print(f"{SampleOrder.objects.count()} samples, {len(questions)} questions of groups; assessed in {assessed:.1f} s")
    begun = time.perf_counter()
    while_judging = []
    while True:
        took, body, _ = timed("/surveys/big/groups/")
        while_judging.append(took)
        if b"still being judged" not in body:
            break
        time.sleep(0.5)
    first, middle = while_judging[0] * 1e3, statistics.median(while_judging) * 1e3
    print(f"all judged after {time.perf_counter() - begun:.1f} s; the list meanwhile: first {first:.0f} ms, median "
          f"{middle:.0f} ms (200 ms of it is waiting)")  # fmt: skip
    start = time.perf_counter()
    sign(survey, held_assessment(survey), person=lead, role="author")
    signed = time.perf_counter() - start
    print(f"signed in {signed:.1f} s; the page of signatures first {timed('/surveys/big/review/')[0]:.1f} s")
    slow = []
    largest = max(questions, key=lambda one: len(one.rows))
    for name, address in (
        ("list of groups", "/surveys/big/groups/"),
        (f"group of {len(largest.rows)} results", f"/surveys/big/groups/{largest.key}/"),
        ("report", "/surveys/big/report/"),
        ("review", "/surveys/big/review/"),
    ):
        times = [timed(address)[0] for _ in range(TIMES)]
        again = statistics.median(times) * 1e3
        print(f"{name:<28}{again:8.0f} ms, worst {max(times) * 1e3:.0f} ms")
        slow += [name] if again > WANTED_PAGE_MS else []
    for paper in ("survey-report.pdf", "survey-report.docx", "summary.pdf", "calculation-record.pdf", "letters.zip"):
        start = time.perf_counter()
        while True:
            _, body, status = timed(f"/surveys/big/report/papers/{paper}")
            if status == 200:
                break
            if status != 202:
                print(re.sub(r"<[^>]+>", " ", body.decode())[-500:])
                return 1
            time.sleep(0.25)
        took = time.perf_counter() - start
        print(f"{paper:<28}{took:8.1f} s, {len(body) / 1024:.0f} kB")
        slow += [paper] if paper.startswith("survey-report") and took > WANTED_REPORT_S else []
    print("slower than wanted: " + ", ".join(slow) if slow else "all as fast as wanted")
    return 1 if slow else 0


if __name__ == "__main__":
    sys.exit(main())
