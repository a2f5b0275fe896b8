"""Rows of the records made of a survey's plain data, and how new ones are written with their history."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import fields
from datetime import UTC, datetime, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.db.models import Model
from simple_history.utils import bulk_create_with_history

from lapel.assessment import inputs
from lapel.exchange.survey_folder.writer_laboratory import Delivered
from lapel.records import models

AT_ONCE = 500
"""Rows written by one statement."""


def keep(rows: Sequence[Model], user: User | None, reason: str) -> None:
    """Write new records of one kind, each with the first version of its history."""
    bulk_create_with_history(
        list(rows), type(rows[0]), batch_size=AT_ONCE, default_user=user, default_change_reason=reason
    )


def too_long(row: Model) -> Iterator[tuple[str, int, int]]:
    """Name the fields whose text is longer than the database keeps: field, signs found, signs kept."""
    for field in row._meta.concrete_fields:
        most = field.max_length
        value = getattr(row, field.attname)
        if most is not None and isinstance(value, str) and len(value) > most:
            yield field.name, len(value), most


def keep_beside(report: models.LaboratoryReport, beside: Mapping[str, bytes]) -> None:
    """Write files that stand beside a report; each content once a survey."""
    for place, content in beside.items():
        original, _ = models.OriginalFile.objects.get_or_create(
            survey=report.survey, sha256=hashlib.sha256(content).hexdigest(), defaults={"content": content}
        )
        models.FileBesideReport.objects.create(report=report, place=place, original=original)


class SiteRows:
    """Makes rows of a site's register; knows the groups and workers that are there and those it made."""

    def __init__(self, site: models.Site) -> None:
        self._site = site
        new = site._state.adding
        self._groups = {} if new else {group.code: group for group in site.groups.all()}
        self._meters: dict[str, models.Meter] = {}
        self.workers: dict[str, models.Worker] = {} if new else {worker.code: worker for worker in site.workers.all()}

    def group(self, group: inputs.Group) -> models.ExposureGroup:
        """Make a similar exposure group."""
        self._groups[group.code] = models.ExposureGroup(site=self._site, **_plain(group))
        return self._groups[group.code]

    def worker(self, worker: inputs.Worker) -> models.Worker:
        """Make a worker; the group was made before."""
        row = models.Worker(site=self._site, code=worker.code, **self.place(worker))
        self.workers[worker.code] = row
        return row

    def earlier_places(self, worker: inputs.Worker) -> list[models.EarlierPlace]:
        """Make the groups a worker belonged to before; the worker was made before."""
        row = self.workers[worker.code]
        return [models.EarlierPlace(worker=row, **self.place(one)) for one in worker.places()[:-1]]

    def place(self, worker: inputs.Worker) -> dict[str, Any]:
        """Return what is said of a worker's place: group, job, since when."""
        return {**_plain(worker, without=("code", "before")), "group": self._groups[worker.group]}

    def pump(self, pump: inputs.Pump) -> models.Pump:
        """Make a pump."""
        return models.Pump(site=self._site, **_plain(pump))

    def splitter(self, splitter: inputs.Splitter) -> models.Splitter:
        """Make a splitter."""
        values = _plain(splitter, without=("ports",))
        return models.Splitter(site=self._site, ports=" ".join(splitter.ports), **values)

    def meter(self, meter: inputs.Meter) -> models.Meter:
        """Make a meter under its latest certificate."""
        row = models.Meter(site=self._site, code=meter.code, kind=meter.kind, origin=meter.origin, **certified(meter))
        self._meters[meter.code] = row
        return row

    def earlier_certificates(self, meter: inputs.Meter) -> list[models.EarlierCertificate]:
        """Make the certificates a meter had before; the meter was made before."""
        row = self._meters[meter.code]
        return [
            models.EarlierCertificate(meter=row, origin=one.origin, **certified(one))
            for one in meter.certificates()[:-1]
        ]


def certified(meter: inputs.Meter) -> dict[str, Any]:
    """Return what a certificate says of a meter, by the fields of its record."""
    air = meter.calibrated_at
    return {
        **_plain(meter, without=("code", "kind", "calibrated_at", "curve", "origin", "before")),
        "calibrated_at_k": air.temperature_k if air else None,
        "calibrated_at_kpa": air.pressure_kpa if air else None,
        "curve": [list(pair) for pair in meter.curve],
    }


class SurveyRows:
    """Makes rows of what belongs to one survey, those that others name first."""

    def __init__(
        self,
        survey: inputs.Survey,
        record: models.Survey,
        workers: Mapping[str, models.Worker],
        delivered: Mapping[str, Delivered],
    ) -> None:
        self._survey = survey
        self._record = record
        self._workers = workers
        self._delivered = delivered
        self._reports: dict[str, models.LaboratoryReport] = {}

    def in_order(self) -> Iterator[tuple[str, Iterable[Model]]]:
        """Give each kind with its rows; each is to be written before the next is asked for."""
        survey, record = self._survey, self._record
        agents = {key: self._agent(agent) for key, agent in survey.agents.items()}
        yield "agents", agents.values()
        yield (
            "limits",
            [
                models.LimitChoice(survey=record, agent=agents[limit.agent], **_plain(limit, without=("agent",)))
                for limit in survey.limits
            ],
        )
        yield (
            "methods",
            [
                models.Method(survey=record, agent=agents[method.agent], **_plain(method, without=("agent",)))
                for method in survey.methods.values()
            ],
        )
        yield (
            "media lots",
            [
                models.MediaLot(survey=record, code=lot.lot, **_plain(lot, without=("lot",)))
                for lot in survey.media_lots.values()
            ],
        )
        shifts = {code: self._shift(shift, self._workers[shift.worker]) for code, shift in survey.shifts.items()}
        yield "shifts", shifts.values()
        yield "samples ordered", [self._order(order, shifts[order.shift]) for order in survey.orders.values()]
        self._reports = reports = {code: self._report(report) for code, report in survey.reports.items()}
        yield "laboratory reports", reports.values()
        yield (
            "laboratory results",
            [
                models.LaboratoryResult(
                    survey=record, report=reports[result.report], **_plain(result, without=("report",))
                )
                for result in survey.results
            ],
        )
        yield "overrides", [models.FindingOverride(survey=record, **_plain(override)) for override in survey.overrides]

    def _agent(self, agent: inputs.Agent) -> models.Agent:
        values = _plain(agent, without=("key", "effect_groups"))
        return models.Agent(survey=self._record, code=agent.key, effect_groups=list(agent.effect_groups), **values)

    def _shift(self, shift: inputs.Shift, worker: models.Worker) -> models.Shift:
        return models.Shift(
            survey=self._record,
            worker=worker,
            start=shift.start.astimezone(UTC),
            start_offset_min=_offset_min(shift.start),
            end=shift.end.astimezone(UTC),
            end_offset_min=_offset_min(shift.end),
            **_plain(shift, without=("worker", "start", "end")),
        )

    def keep_files_beside(self) -> None:
        """Write what stands beside the reports; they were written before."""
        for code, report in self._reports.items():
            keep_beside(report, self._delivered[code].beside if code in self._delivered else {})

    def _order(self, order: inputs.SampleOrder, shift: models.Shift) -> models.SampleOrder:
        values = _plain(order, without=("sampler", "shift", "methods"))
        return models.SampleOrder(
            survey=self._record, code=order.sampler, shift=shift, methods=list(order.methods), **values
        )

    def _report(self, report: inputs.LaboratoryReport) -> models.LaboratoryReport:
        came = self._delivered.get(report.code)
        values = _plain(report, without=("file", "sha256"))
        if came is None:
            return models.LaboratoryReport(survey=self._record, file=report.file, sha256=report.sha256, **values)
        return models.LaboratoryReport(
            survey=self._record,
            file=came.file,
            sha256=hashlib.sha256(came.content).hexdigest(),
            original=came.content,
            mapping=came.document or came.answers,
            **values,
        )


def _plain(data: Any, *, without: tuple[str, ...] = ()) -> dict[str, Any]:
    """Return the fields that a row has by the same name."""
    return {field.name: getattr(data, field.name) for field in fields(data) if field.name not in without}


def _offset_min(at: datetime) -> int:
    return int((at.utcoffset() or timedelta()).total_seconds() // 60)
