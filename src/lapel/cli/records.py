"""The way of the commands into the records: Django is set up here, and by nothing else of the command line."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from lapel.cli.faults import say

if TYPE_CHECKING:
    from django.contrib.auth.models import User

    from lapel.records.models import Survey


def records_are_open() -> bool:
    """
    Open the records of this server; make them if there are none yet.

    Returns
    -------
    bool
        False, after words to the person, where they cannot be used as they are.
    """
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lapel.site.settings")
    import django

    django.setup()
    from django.core.management import call_command
    from django.db import DatabaseError, connection
    from django.db.migrations.executor import MigrationExecutor

    try:
        executor = MigrationExecutor(connection)
        if not executor.loader.applied_migrations:
            call_command("migrate", verbosity=0, interactive=False)
        elif executor.migration_plan(executor.loader.graph.leaf_nodes()):
            say(
                "The records were made by an earlier version. Make a backup, then bring them up to date with:\n"
                "  python -m django migrate --settings lapel.site.settings\nNothing was changed."
            )
            return False
    except DatabaseError as problem:
        say(f"The records cannot be opened: {problem}".strip())
        say("They are where LAPEL_HOME and LAPEL_DATABASE say; check both. Nothing was changed.")
        return False
    return True


def survey_on_record(code: str) -> Survey | None:
    """Return a survey by its code; `None`, after words to the person, if there is none."""
    from lapel.records.models import Survey

    survey = Survey.objects.select_related("site").filter(code=code).first()
    if survey is None:
        known = list(Survey.objects.order_by("code").values_list("code", flat=True)[:20])
        listed = f"on record: {', '.join(known)}" if known else "no survey is on record yet; bring one in first"
        say(f"Found no survey “{code}”; {listed}.")
    return survey


def person_named(name: str) -> User | None:
    """Return a person by the name they sign in with; `None`, after words to the person, if there is none."""
    from django.contrib.auth.models import User

    person = User.objects.filter(username=name, is_active=True).first()
    if person is None:
        say(f"Found nobody who signs in as “{name}”.")
    return person
