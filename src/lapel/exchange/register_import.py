"""
The register of a site, as a survey folder brings it: groups, workers, pumps, splitters and meters.

What the site has not is added. What it has otherwise is a fault for a person; only certificates and groups that came
after all on record are entered, each with its day.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from django.contrib.auth.models import User
from django.db.models import Model

from lapel.assessment import inputs
from lapel.assessment.recorded_survey import groups_of, meters_of, pumps_of, site_data, splitters_of, workers_of
from lapel.exchange.problems import Faults, Place
from lapel.exchange.record_rows import SiteRows, certified, too_long
from lapel.exchange.record_rows import keep as keep_rows
from lapel.records.models import Site
from lapel.records.renewals import certify, place

DATED: Mapping[str, str] = {"meter": "certified_on", "worker": "since"}
"""What is true from a day on, and the field with that day."""


class NewRecords:
    """
    Records of one import on their way in.

    Attributes
    ----------
    added : dict of str to int
        How many records of each kind are new.
    """

    def __init__(self, faults: Faults, user: User | None, reason: str) -> None:
        self.faults = faults
        self.user = user
        self.reason = reason
        self.added: dict[str, int] = {}

    def keep(self, name: str, rows: Iterable[Any]) -> None:
        """Write new records with their history, unless there is a fault by now."""
        made = list(rows)
        for row in made:
            for field, found, most in too_long(row):
                self.faults.add(
                    origin_place(row.origin if hasattr(row, "origin") else "survey.toml", field),
                    f"{found} signs",
                    f"at most {most} signs",
                    "Shorten it; longer papers can lie beside the folder.",
                )
        if made and not self.faults.count:
            keep_rows(made, self.user, self.reason)
            self.added[name] = len(made)


class RegisterImport:
    """A folder's register on its way into that of a site."""

    def __init__(self, survey: inputs.Survey, site_code: str, new: NewRecords) -> None:
        self._survey = survey
        self._site_code = site_code
        self._new = new
        self._later: list[inputs.Meter | inputs.Worker] = []

    def hold_against(self, site: Site) -> None:
        """Hold what the folder says of the site itself against its record."""
        self._disagreements("site", {site.code: site_data(site)}, {site.code: self._survey.site})

    def add_to(self, site: Site) -> SiteRows:
        """Add to the site's register what it has not; what it has otherwise is a fault."""
        survey, rows = self._survey, SiteRows(site)
        new = site._state.adding  # a site that could not be written has nothing on record
        pairs: tuple[
            tuple[str, Callable[[Site], Mapping[str, Any]], Mapping[str, Any], Callable[[Any], Model]], ...
        ] = (
            ("groups", groups_of, survey.groups, rows.group),
            ("workers", workers_of, survey.workers, rows.worker),
            ("pumps", pumps_of, survey.pumps, rows.pump),
            ("splitters", splitters_of, survey.splitters, rows.splitter),
            ("meters", meters_of, survey.meters, rows.meter),
        )
        for name, on_record, given, made in pairs:
            there = {} if new else on_record(site)
            self._disagreements(name.removesuffix("s"), there, given)
            self._new.keep(name, [made(item) for code, item in given.items() if code not in there])
            fresh = [item for code, item in given.items() if code not in there]
            if name == "workers" and not self._new.faults.count:
                self._new.keep("earlier groups", [row for worker in fresh for row in rows.earlier_places(worker)])
            if name == "meters" and not self._new.faults.count:
                self._new.keep(
                    "earlier certificates", [row for meter in fresh for row in rows.earlier_certificates(meter)]
                )
        self._enter_later(site, rows)
        return rows

    def _enter_later(self, site: Site, rows: SiteRows) -> None:
        """Enter the certificates and groups that came after what is on record."""
        for later in self._later if not self._new.faults.count else ():
            if isinstance(later, inputs.Meter):
                certify(
                    site.meters.get(code=later.code), certified(later), user=self._new.user, reason=self._new.reason
                )
                self._new.added["renewed certificates"] = self._new.added.get("renewed certificates", 0) + 1
            else:
                said = rows.place(later)
                where, job, since = said["group"], said["job"], said["since"]
                worker = rows.workers[later.code]
                place(worker, where, job=job, since=since, user=self._new.user, reason=self._new.reason)
                self._new.added["changes of group"] = self._new.added.get("changes of group", 0) + 1

    def _dated(self, kind: str, found: Any, kept: Any, since: str) -> None:
        """
        Hold the parts of a meter or worker against what is on record of their days.

        A part later than all on record is entered; one before the latest that is not on record could change figures of
        other surveys, so a person enters it.
        """
        on_record = {getattr(one, since): one for one in _in_turn(kept)}
        for part in _in_turn(found):
            day = getattr(part, since)
            if day in on_record:
                self._compare(kind, part, on_record[day], without=("origin", "before"))
            elif day is not None and (getattr(kept, since) is None or day > getattr(kept, since)):
                self._later.append(part)
            else:
                self._new.faults.add(
                    origin_place(part.origin, since),
                    f"{kind} {part.code} with {since.replace('_', ' ')} {day or 'empty'}, which is not on record",
                    f"a day that is on record, or one after {getattr(kept, since)}, the latest there",
                    "Correct the day in the folder; or enter it in the register first, where its history says why.",
                )

    def _disagreements(self, kind: str, there: Mapping[str, Any], given: Mapping[str, Any]) -> None:
        for code in sorted(given.keys() & there.keys()):
            if kind in DATED:
                self._dated(kind, given[code], there[code], DATED[kind])
            else:
                self._compare(kind, given[code], there[code], without=("origin",))

    def _compare(self, kind: str, given: Any, there: Any, *, without: tuple[str, ...]) -> None:
        for part in given.__dataclass_fields__:
            found, kept = getattr(given, part), getattr(there, part)
            if part not in without and found != kept:
                name = getattr(given, "code", self._site_code)
                self._new.faults.add(
                    origin_place(given.origin, part),
                    f"{kind} {name} with {part.replace('_', ' ')} {found!r}, where {kept!r} is on record",
                    "the same as on record",
                    "Correct the folder; or correct the record first, if the folder is right.",
                )


def _in_turn(dated: Any) -> tuple[Any, ...]:
    return dated.certificates() if isinstance(dated, inputs.Meter) else dated.places()


def origin_place(origin: str, column: str) -> Place:
    """Return the place in a folder that a record came from."""
    file, _, row = origin.partition(", row ")
    return Place(file or "survey.toml", int(row) if row.isdecimal() else None, column)
