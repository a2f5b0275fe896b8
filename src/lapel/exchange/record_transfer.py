"""
A survey folder into the records, and a recorded survey out as a folder.

In: everything is checked first and every fault is told at once; then all of it is written in one transaction, or
nothing. What is on record already is never changed by a folder: where the two disagree, that is a fault for a person.
Out: coded, the delivered laboratory files byte for byte. Names have no place in a folder and never leave with one.
"""

from __future__ import annotations

import hashlib
import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.db.models import Model
from django.utils import timezone

from lapel.assessment import inputs
from lapel.assessment.planned import groundwork
from lapel.assessment.recorded_survey import (
    ROWS_AT_ONCE,
    groups_of,
    meters_of,
    pumps_of,
    recorded_survey,
    site_data,
    splitters_of,
    workers_of,
)
from lapel.exchange.plan_folder.hand import read_hand
from lapel.exchange.plan_folder.layout import TRAINS
from lapel.exchange.plan_folder.reader import PlanFolder, is_planned_only, survey_before_its_samples
from lapel.exchange.plan_folder.writer import in_force, plan_texts
from lapel.exchange.plan_now import kept, plan_now
from lapel.exchange.plan_records import PlanRows
from lapel.exchange.problems import Faults, Place, quoted
from lapel.exchange.record_rows import SiteRows, SurveyRows, certified, keep, too_long
from lapel.exchange.survey_folder.folder import read_survey
from lapel.exchange.survey_folder.log_chains import Ranges, ranges_of
from lapel.exchange.survey_folder.writer import PlanPart, Written, write_survey
from lapel.exchange.survey_folder.writer import is_planned_only as is_planned_only_on_record
from lapel.exchange.survey_folder.writer_check import plan_differences
from lapel.exchange.survey_folder.writer_laboratory import Delivered, kept_as_delivered
from lapel.fieldlog import Entry
from lapel.records.append import append
from lapel.records.models import LogEntry, Membership, RefusedEntry, Site, Survey
from lapel.records.plans import put_in_force
from lapel.records.renewals import certify, place

DATED: Mapping[str, str] = {"meter": "certified_on", "worker": "since"}
"""What is true from a day on, and the field with that day."""

_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")


@dataclass(frozen=True, slots=True)
class Imported:
    """
    What an import made.

    Attributes
    ----------
    survey : Survey
        The record.
    new_site : bool
        Whether the site was made too.
    added : mapping of str to int
        How many records of each kind are new.
    remarks : tuple of str
        What a person should know.
    """

    survey: Survey
    new_site: bool
    added: Mapping[str, int]
    remarks: tuple[str, ...]


def import_survey(
    folder: str | Path,
    *,
    survey_code: str = "",
    site_code: str = "",
    user: User | None = None,
    received_at: datetime | None = None,
    progress: Callable[[str], None] | None = None,
) -> Imported:
    """
    Bring a survey folder into the records, all of it or nothing.

    Parameters
    ----------
    folder : str or Path
        The survey folder.
    survey_code : str
        What the survey is called in addresses; made of the folder's name if left out.
    site_code : str
        Code of the site it belongs to; made of the site's name if left out. A site that is not there yet is made, and
        `user` becomes its lead hygienist. Whoever calls checks that the user may add to a site that is there.
    user : User, optional
        Who brings it in, for the histories and receipts.
    received_at : datetime, optional
        When the office received the log; now, if left out. It stands in only where the folder says nothing of receipt.
    progress : callable, optional
        Told what is being done.

    Returns
    -------
    Imported

    Raises
    ------
    InputProblems
        With every fault of the folder, and everything in it that disagrees with what is on record. Nothing was kept.
    """
    tell = progress or (lambda _words: None)
    root = Path(folder)
    plan = PlanFolder(root) if (root / "plan").is_dir() else None
    if plan is not None and is_planned_only(root):
        survey = survey_before_its_samples(plan)
    else:
        survey = read_survey(root, progress=tell)
    faults = Faults()
    delivered = _delivered(root, survey, faults)
    codes = (
        _code(survey_code, root.resolve().name, "the survey", faults),
        _code(site_code, survey.site.name, "the site", faults),
    )
    faults.raise_any()
    at, remarks = _receipt(survey, received_at or timezone.now())
    tell("writing the records")
    try:
        with transaction.atomic():
            imported = _Import(survey, delivered, codes, user, faults, plan).run()
            faults.raise_any()
            tell("writing the field log")
            receipts = append(survey.entries, survey=imported.survey, user=user, received_at=at)
            for entry in survey.entries:
                for problem in receipts.refused[entry.id].problems if entry.id in receipts.refused else ():
                    place = _place(entry.origin, problem.field)
                    faults.add(place, problem.found, problem.wanted, "Correct it in the folder.")
            faults.raise_any()
    except IntegrityError as problem:
        place = Place("survey.toml")
        faults.add(place, f"records that came in meanwhile ({problem})".strip(), "nothing of the kind", "Try again.")
        faults.raise_any()
    chain = tuple(f"Chain of a device: {broken}" for broken in receipts.chain)
    added = dict(imported.added) | {"log entries": len(receipts.added)}
    return replace(imported, added=added, remarks=(*imported.remarks, *remarks, *chain))


def export_survey(survey: Survey, folder: str | Path) -> Written:
    """
    Write a recorded survey as a folder.

    Parameters
    ----------
    survey : Survey
        The record; access was checked by whoever got it (act "export").
    folder : str or Path
        Where; it must not be there yet, or be empty.

    Returns
    -------
    Written
        With what the folder could not say, if anything.

    Raises
    ------
    InputProblems
        It could not be written; nothing was.
    """
    delivered = {
        report.code: Delivered(report.file, bytes(report.original), report.mapping)
        for report in survey.laboratoryreports.order_by("id")
        if report.original is not None and report.mapping
    }
    plain = recorded_survey(survey)
    plan = _plan_part(survey)
    if plan is not None and is_planned_only_on_record(plain):
        plain = _without_retired(survey, plain)
    return write_survey(plain, folder, delivered=delivered, elsewhere=_elsewhere(survey, plain.entries), plan=plan)


PARTS_OF_A_PLAN = ("planquestions", "offered_shifts", "plantechnicians", "planned_trains", "products")
"""A survey with none of these has no plan, whatever its terms say."""


def _plan_part(survey: Survey) -> PlanPart | None:
    """Write the plan of a survey that has one, the plan in force too."""
    if not any(getattr(survey, part).exists() for part in PARTS_OF_A_PLAN):
        return None
    now = plan_now(survey)
    trains = in_force(now.plan, now.trains) if now.plan is not None else ()
    lost = len(now.trains) - len(trains)

    def read_back(root: Path) -> tuple[str, ...]:
        found = plan_differences(now.inputs, PlanFolder(root).inputs)
        if lost:
            found = (*found, f"plan in force: {lost} trains carry samplers no question asks for any more: left out")
        return found

    return PlanPart(plan_texts(now.inputs, trains), read_back)


def _without_retired(survey: Survey, plain: inputs.Survey) -> inputs.Survey:
    """Leave retired equipment out of a folder that only plans: nothing in it could use it."""
    pumps, splitters = (
        set(getattr(survey.site, kind).filter(retired_on__isnull=False).values_list("code", flat=True))
        for kind in ("pumps", "splitters")
    )
    return replace(
        plain,
        pumps={code: pump for code, pump in plain.pumps.items() if code not in pumps},
        splitters={code: one for code, one in plain.splitters.items() if code not in splitters},
    )


def _elsewhere(survey: Survey, entries: Iterable[Entry]) -> dict[str, Ranges]:
    """Find which sequences of the survey's devices stand in other surveys, or among the entries that were refused."""
    last: dict[str, int] = {}
    for entry in entries:
        if entry.hash:
            last[entry.device] = max(entry.sequence, last.get(entry.device, 0))
    found: dict[str, set[int]] = defaultdict(set)
    others = LogEntry.objects.filter(device__in=last).exclude(survey=survey).exclude(hash="")
    refused = RefusedEntry.objects.filter(device__in=last, sequence__gt=0)
    for rows in (others, refused):
        for device, sequence in rows.values_list("device", "sequence").iterator(ROWS_AT_ONCE):
            if sequence <= last[device]:
                found[device].add(sequence)
    for entry in entries:
        found[entry.device].discard(entry.sequence)
    return {device: ranges_of(sequences) for device, sequences in found.items()}


class _Import:
    """One import on its way into the records; lives inside one transaction."""

    def __init__(
        self,
        survey: inputs.Survey,
        delivered: Mapping[str, Delivered],
        codes: tuple[str, str],
        user: User | None,
        faults: Faults,
        plan: PlanFolder | None,
    ) -> None:
        self._plan = plan
        self._survey = survey
        self._delivered = delivered
        self._survey_code, self._site_code = codes
        self._user = user
        self._faults = faults
        self._reason = f"came with the survey folder {self._survey_code}"
        self._added: dict[str, int] = {}
        self._later: list[inputs.Meter | inputs.Worker] = []

    def run(self) -> Imported:
        self._refuse_doubles()
        site, new_site = self._site()
        register = self._register(site)
        record = Survey(
            site=site,
            code=self._survey_code,
            title=self._survey.title,
            purpose=self._survey.purpose,
            prepared_by=self._survey.prepared_by,
            assessed_on=self._survey.assessed_on,
            rule_book=self._survey.rule_book,
            compared_rule_books=list(self._survey.compared_rule_books),
            notes=dict(self._survey.notes),
            origin=_folder_origin(self._survey),
        )
        self._keep("surveys", [record])
        rows = SurveyRows(self._survey, record, register.workers, self._delivered)
        for name, made in rows.in_order():
            self._keep(name, made)
        if self._plan is not None and not self._faults.count:
            for name, made in PlanRows(self._plan.inputs, record).in_order():
                self._keep(name, made)
            self._trains_in_force(self._plan, record)
        return Imported(record, new_site, self._added, ())

    def _trains_in_force(self, plan: PlanFolder, record: Survey) -> None:
        """Take over the plan in force, if the folder has one; whether it can be worked is for the checker to say."""
        file = plan.root / TRAINS.file
        if not file.exists():
            return
        ground = groundwork(plan.inputs)
        trains = read_hand(file, plan, frozenset(ground.kinds))
        new, _ = put_in_force(record, kept(trains, ground), user=self._user, reason=self._reason)
        self._added["planned trains"] = new

    def _refuse_doubles(self) -> None:
        if Survey.objects.filter(code=self._survey_code).exists():
            self._faults.add(
                Place("survey.toml"),
                f"a survey {quoted(self._survey_code)} on record already",
                "a code that is not taken",
                "Correct the records there, or bring this folder in under another code.",
            )
        same = Survey.objects.filter(origin=_folder_origin(self._survey)).first()
        if same is not None and same.code != self._survey_code:
            self._faults.add(
                Place("survey.toml"),
                f"a folder that was brought in already, as {quoted(same.code)}",
                "a folder that is not on record",
                "Nothing need be done; its survey is there.",
            )

    def _site(self) -> tuple[Site, bool]:
        given = self._survey.site
        site = Site.objects.filter(code=self._site_code).first()
        if site is not None:
            self._disagreements("site", {site.code: site_data(site)}, {site.code: given})
            return site, False
        site = Site(
            code=self._site_code,
            name=given.name,
            zone=given.zone,
            temperature_k=given.air.temperature_k if given.air else None,
            pressure_kpa=given.air.pressure_kpa if given.air else None,
            area_class=given.area_class,
            origin=given.origin,
        )
        self._keep("sites", [site])
        if self._user is not None:
            self._keep("members", [Membership(user=self._user, site=site, role=Membership.Role.LEAD)])
        return site, True

    def _register(self, site: Site) -> SiteRows:
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
            self._keep(name, [made(item) for code, item in given.items() if code not in there])
            fresh = [item for code, item in given.items() if code not in there]
            if name == "workers" and not self._faults.count:
                self._keep("earlier groups", [row for worker in fresh for row in rows.earlier_places(worker)])
            if name == "meters" and not self._faults.count:
                self._keep("earlier certificates", [row for meter in fresh for row in rows.earlier_certificates(meter)])
        self._enter_later(site, rows)
        return rows

    def _enter_later(self, site: Site, rows: SiteRows) -> None:
        """Enter the certificates and groups that came after what is on record."""
        for later in self._later if not self._faults.count else ():
            if isinstance(later, inputs.Meter):
                certify(site.meters.get(code=later.code), certified(later), user=self._user, reason=self._reason)
                self._added["renewed certificates"] = self._added.get("renewed certificates", 0) + 1
            else:
                said = rows.place(later)
                where, job, since = said["group"], said["job"], said["since"]
                worker = rows.workers[later.code]
                place(worker, where, job=job, since=since, user=self._user, reason=self._reason)
                self._added["changes of group"] = self._added.get("changes of group", 0) + 1

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
                self._faults.add(
                    _place(part.origin, since),
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
                self._faults.add(
                    _place(given.origin, part),
                    f"{kind} {name} with {part.replace('_', ' ')} {found!r}, where {kept!r} is on record",
                    "the same as on record",
                    "Correct the folder; or correct the record first, if the folder is right.",
                )

    def _keep(self, name: str, rows: Iterable[Any]) -> None:
        """Write new records with their history, unless there is a fault by now."""
        made = list(rows)
        for row in made:
            for field, found, most in too_long(row):
                self._faults.add(
                    _place(row.origin if hasattr(row, "origin") else "survey.toml", field),
                    f"{found} signs",
                    f"at most {most} signs",
                    "Shorten it; longer papers can lie beside the folder.",
                )
        if made and not self._faults.count:
            keep(made, self._user, self._reason)
            self._added[name] = len(made)


def _in_turn(dated: Any) -> tuple[Any, ...]:
    return dated.certificates() if isinstance(dated, inputs.Meter) else dated.places()


def _folder_origin(survey: inputs.Survey) -> str:
    return f"survey folder, SHA-256 {survey.input_sha256}"


def _receipt(survey: inputs.Survey, now: datetime) -> tuple[datetime, tuple[str, ...]]:
    """
    Return when the log counts as received, and what to say of it.

    A folder says nothing of how far off a device's clock was: that is known of what a device sends itself. So a receipt
    made up for a folder must never lie before an act in it, which would move acts.
    """
    last = max((entry.at for entry in survey.entries), default=now)
    if last <= now:
        return now, ()
    words = (
        f"The log's last act, {last.isoformat(timespec='minutes')}, is later than this server's clock: it counts as "
        "received then. Check the clock, or the dates."
    )
    return last.astimezone(UTC), (words,)


def _delivered(root: Path, survey: inputs.Survey, faults: Faults) -> dict[str, Delivered]:
    """Fetch every report's delivered file and the document that reads it."""
    found: dict[str, Delivered] = {}
    for report in survey.reports.values():
        try:
            came = kept_as_delivered(root, report)
            if came is None:
                content, document = (root / report.file).read_bytes(), (root / report.origin).read_bytes()
                if hashlib.sha256(content).hexdigest() != report.sha256:
                    raise OSError(0, "it changed while it was read")
                came = Delivered(report.file, content, document.decode("utf-8-sig"))
        except (OSError, UnicodeError) as problem:
            reason = getattr(problem, "strerror", None) or str(problem)
            faults.add(Place(report.file), reason, "the file as delivered", "Read the folder again.")
            continue
        found[report.code] = came
    return found


def _code(given: str, otherwise: str, about: str, faults: Faults) -> str:
    """Return a code for addresses: the given one as it is, or one made of a name."""
    if not given:
        made = re.sub(r"[^A-Za-z0-9._]+", "-", otherwise).strip("-._").lower()[:64].rstrip("-._")
        if made:
            return made
    if not _CODE.fullmatch(given):
        faults.add(
            Place("survey.toml"),
            f"{quoted(given)} as the code of {about}",
            "letters a to z, digits and . _ -, at most 64, beginning with a letter or digit",
            "Name a code of this form.",
        )
    return given


def _place(origin: str, column: str) -> Place:
    file, _, row = origin.partition(", row ")
    return Place(file or "survey.toml", int(row) if row.isdecimal() else None, column)
