"""
A server of its own for the tests of the field screens; on asking it makes places, surveys and devices.

The first line on stdout is the port. Each line on stdin names a survey and a device, as in “belt phone-1”: both are
made if they are new, the survey with an empty log, and the next line on stdout is a code that pairs the device. A
survey whose name begins with “planned” has a plan in force for today.
"""

import os
import re
import shutil
import sys
from importlib import import_module
from pathlib import Path
from tempfile import mkdtemp
from threading import Thread
from typing import TYPE_CHECKING

import django

if TYPE_CHECKING:
    from django.contrib.auth.models import User

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lapel.site.settings")
sys.path.insert(0, str(Path(__file__).parents[1]))


def folder_before_the_day(example: str, title: str = "") -> Path:
    """Copy an example as it was before the day: nothing happened in the field, nothing came from the laboratory."""
    from cast import EXAMPLES

    copy = Path(mkdtemp()) / example
    shutil.copytree(EXAMPLES / example, copy)
    for later in ("log", "laboratory"):
        shutil.rmtree(copy / later)
        (copy / later).mkdir()
    (copy / "overrides.csv").unlink(missing_ok=True)
    if title:
        survey = copy / "survey.toml"
        said = survey.read_text(encoding="utf-8")
        survey.write_text(re.sub(r'^title = ".*"', f'title = "{title}"', said, count=1, flags=re.MULTILINE), "utf-8")
    return copy


def main() -> None:
    """Fill the database, serve, and answer what is asked for on stdin."""
    django.setup()
    from cast import make_cast
    from django.core.management import call_command
    from late import late
    from waitress.server import create_server

    call_command("migrate", verbosity=0, interactive=False)
    call_command("collectstatic", verbosity=0, interactive=False)
    lead = make_cast("small").lead
    from lapel.site.wsgi import application

    import_module("lapel.site.urls")  # now, not at the first request: a page waits 15 s for an answer

    port = int(os.environ.get("LAPEL_TEST_PORT", "0"))
    server = create_server(late(application), host="127.0.0.1", port=port, threads=4)
    Thread(target=server.run, daemon=True).start()
    print(server.effective_port, flush=True)
    for line in sys.stdin:
        print(_pairing_code(lead, *line.split()), flush=True)


def _pairing_code(lead: "User", survey: str, device: str) -> str:
    from django.utils import timezone
    from planned_today import planned_survey

    from lapel.exchange.record_transfer import import_survey
    from lapel.records.models import Device, Survey
    from lapel.records.pairing import new_device, offer_pairing

    record = Survey.objects.filter(code=survey).first()
    if record is None:
        if survey.startswith("planned"):
            record = planned_survey(survey, lead)
        else:
            before = folder_before_the_day("hard", f"Solvents at the belt works, {survey}")
            record = import_survey(before, survey_code=survey, site_code=f"works-{survey}", user=lead).survey
    found = Device.objects.filter(code=device).first()
    found = found or new_device(record.site, name=f"Device {device}", code=device, user=lead)
    return offer_pairing(found, by=lead, at=timezone.now())[1]


if __name__ == "__main__":
    main()
