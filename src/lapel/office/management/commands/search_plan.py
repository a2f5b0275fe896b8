"""Work on one search for a plan, in a process of its own, so that no page waits for it."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from lapel.office.plan.searching import work_on


class Command(BaseCommand):
    """Search for a plan; what comes of it, and how far it is, stands in the records."""

    help = "Work on one search for a plan. Pages start it; there is no need to."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the number of the search."""
        parser.add_argument("search", type=int)

    def handle(self, *args: Any, **options: Any) -> None:
        """Work on it."""
        work_on(options["search"])
