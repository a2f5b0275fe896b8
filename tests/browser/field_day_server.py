"""
A server of its own for the tests of the field screens: the cast, and a survey whose log is still empty.

The first line on stdout is the port; the next ones give a pairing code for each device.
"""

import os
import shutil
import sys
from pathlib import Path
from tempfile import mkdtemp

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lapel.site.settings")
sys.path.insert(0, str(Path(__file__).parents[1]))

BEFORE_THE_DAY = "belt"
DEVICES = ("phone-1", "tablet-2", "phone-4", "tablet-5", "phone-6", "tablet-7")


def folder_before_the_day(example: str) -> Path:
    """Copy an example as it was before the day: nothing happened in the field, nothing came from the laboratory."""
    from cast import EXAMPLES

    copy = Path(mkdtemp()) / example
    shutil.copytree(EXAMPLES / example, copy)
    for later in ("log", "laboratory"):
        shutil.rmtree(copy / later)
        (copy / later).mkdir()
    (copy / "overrides.csv").unlink(missing_ok=True)
    return copy


def main() -> None:
    """Fill the database, then serve."""
    django.setup()
    from cast import make_cast
    from django.core.management import call_command
    from django.utils import timezone
    from waitress.server import create_server

    from lapel.exchange.record_transfer import import_survey
    from lapel.records.pairing import new_device, offer_pairing

    call_command("migrate", verbosity=0, interactive=False)
    call_command("collectstatic", verbosity=0, interactive=False)
    cast = make_cast("small")
    survey = import_survey(
        folder_before_the_day("hard"), survey_code=BEFORE_THE_DAY, site_code="belts", user=cast.lead
    ).survey
    from lapel.site.wsgi import application

    codes = []
    for code in DEVICES:
        device = new_device(survey.site, name=f"Device {code}", code=code, user=cast.lead)
        codes.append(offer_pairing(device, by=cast.lead, at=timezone.now())[1])
    port = int(os.environ.get("LAPEL_TEST_PORT", "0"))
    server = create_server(application, host="127.0.0.1", port=port, threads=4)
    print(server.effective_port, *codes, sep="\n", flush=True)
    server.run()


if __name__ == "__main__":
    main()
