"""A server of its own for the browser tests: a new database with the cast, answered by waitress as on a real one."""

import os
import sys
from datetime import timedelta
from importlib import import_module
from pathlib import Path
from typing import Any

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lapel.site.settings")
sys.path.insert(0, str(Path(__file__).parents[1]))


def make_devices(cast: Any) -> None:
    """Pair a phone with entries still on it, enter one that is not paired yet, and have the log refuse two entries."""
    from django.utils import timezone

    from lapel.records.append import Unreadable, append
    from lapel.records.devices import heard_of, pair_device
    from lapel.records.pairing import new_device

    phone, _ = pair_device(cast.site, code="phone-3", name="Phone 3, yellow case", user=cast.lead)
    heard_of(phone, at=timezone.now(), sent_at=timezone.now(), last_made=12)
    new_device(cast.site, name="Tablet of the second shift", user=cast.lead)
    append([Unreadable({"id": f"broken-{n}", "at": "yesterday"}, ()) for n in range(2)], survey=cast.survey)


def make_accounts(cast: Any) -> None:
    """Let somebody be signed in twice, with one change of their account read and one unread."""
    from django.utils import timezone

    from lapel.records.models import AccountChange
    from lapel.records.sessions import SessionStore, begin

    for agent in ("Firefox/140.0 (Windows NT 10.0)", "Chrome/140.0 (Android 15)"):
        session = SessionStore()
        session["_auth_user_id"] = str(cast.outsider.pk)
        begin(session, agent=agent, lasting=timedelta(hours=12))
        session.create()
    now = timezone.now()
    at = {"user": cast.outsider, "at": now, "by": "lead"}
    AccountChange.objects.create(**at, what="second factor ended", noticed_at=now)
    AccountChange.objects.create(**at, what="role changed", about=f"{cast.other_site}: lead hygienist")


def plan_a_survey(lead) -> None:
    """Put the example's plan on record and in force, as a search leaves it."""
    from cast import EXAMPLES

    from lapel.exchange.record_transfer import import_survey
    from lapel.office.plan.searching import work_on
    from lapel.records.plans import ask_for_search

    survey = import_survey(EXAMPLES / "plan", survey_code="planned", site_code="lacquer", user=lead).survey
    work_on(ask_for_search(survey, user=lead, seconds=30).pk, watched=False)


def main() -> None:
    """Fill the database, then serve; the first line on stdout is the port."""
    django.setup()
    from cast import make_cast
    from django.core.management import call_command
    from late import late
    from parcels_and_files import fill
    from waitress.server import create_server

    call_command("migrate", verbosity=0, interactive=False)
    call_command("collectstatic", verbosity=0, interactive=False)
    cast = make_cast("hard")
    make_devices(cast)
    make_accounts(cast)
    plan_a_survey(cast.lead)
    fill(cast)
    from lapel.site.wsgi import application

    import_module("lapel.site.urls")  # now, not at the first request: a page waits 15 s for an answer

    server = create_server(
        late(application), host="127.0.0.1", port=int(os.environ.get("LAPEL_TEST_PORT", "0")), threads=4
    )
    print(server.effective_port, flush=True)
    server.run()


if __name__ == "__main__":
    main()
