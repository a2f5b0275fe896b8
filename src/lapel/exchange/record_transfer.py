"""
A survey folder into the records.

Everything is checked first and every fault is told at once; then all of it is written in one transaction, or nothing.
What is on record already is never changed by a folder: where the two disagree, that is a fault for a person.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.utils import timezone

from lapel.assessment import inputs
from lapel.assessment.planned import groundwork
from lapel.exchange.plan_folder.hand import read_hand
from lapel.exchange.plan_folder.layout import TRAINS
from lapel.exchange.plan_folder.reader import PlanFolder, is_planned_only, survey_before_its_samples
from lapel.exchange.plan_now import kept
from lapel.exchange.plan_records import PlanRows
from lapel.exchange.problems import Faults, Place, quoted
from lapel.exchange.record_rows import SurveyRows
from lapel.exchange.register_import import NewRecords, RegisterImport, origin_place
from lapel.exchange.survey_folder.folder import read_survey
from lapel.exchange.survey_folder.writer_laboratory import Delivered, kept_as_delivered
from lapel.records.append import append
from lapel.records.models import Membership, Site, Survey
from lapel.records.plans import put_in_force

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
                    place = origin_place(entry.origin, problem.field)
                    faults.add(place, problem.found, problem.wanted, "Correct it in the folder.")
            faults.raise_any()
    except IntegrityError as problem:
        place = Place("survey.toml")
        faults.add(place, f"records that came in meanwhile ({problem})".strip(), "nothing of the kind", "Try again.")
        faults.raise_any()
    chain = tuple(f"Chain of a device: {broken}" for broken in receipts.chain)
    added = dict(imported.added) | {"log entries": len(receipts.added)}
    return replace(imported, added=added, remarks=(*imported.remarks, *remarks, *chain))


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
        self._faults = faults
        self._new = NewRecords(faults, user, f"came with the survey folder {self._survey_code}")
        self._register = RegisterImport(survey, self._site_code, self._new)

    def run(self) -> Imported:
        self._refuse_doubles()
        site, new_site = self._site()
        register = self._register.add_to(site)
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
        self._new.keep("surveys", [record])
        rows = SurveyRows(self._survey, record, register.workers, self._delivered)
        for name, made in rows.in_order():
            self._new.keep(name, made)
        if not self._faults.count:
            rows.keep_files_beside()
        if self._plan is not None and not self._faults.count:
            for name, made in PlanRows(self._plan.inputs, record).in_order():
                self._new.keep(name, made)
            self._trains_in_force(self._plan, record)
        return Imported(record, new_site, self._new.added, ())

    def _trains_in_force(self, plan: PlanFolder, record: Survey) -> None:
        """Take over the plan in force, if the folder has one; whether it can be worked is for the checker to say."""
        file = plan.root / TRAINS.file
        if not file.exists():
            return
        ground = groundwork(plan.inputs)
        trains = read_hand(file, plan, frozenset(ground.kinds))
        new, _ = put_in_force(record, kept(trains, ground), user=self._new.user, reason=self._new.reason)
        self._new.added["planned trains"] = new

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
            self._register.hold_against(site)
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
        self._new.keep("sites", [site])
        if self._new.user is not None:
            self._new.keep("members", [Membership(user=self._new.user, site=site, role=Membership.Role.LEAD)])
        return site, True


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
            found[report.code] = kept_as_delivered(root, report)
        except (OSError, UnicodeError) as problem:
            reason = getattr(problem, "strerror", None) or str(problem)
            faults.add(Place(report.file), reason, "the file as delivered", "Read the folder again.")
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
