"""A survey made larger, to hold that pages ask the database the same number of questions whatever its size."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from lapel.assessment.recorded_survey import recorded_survey
from lapel.exchange.record_rows import keep
from lapel.fieldlog import Entry
from lapel.records.append import append
from lapel.records.models import LaboratoryResult, SampleOrder, Shift, Survey

CODES = ("train", "sampler", "samplers", "worker", "parcel")


def grow(survey: Survey, copies: int) -> None:
    """Add copies of everything sampled in a survey: shifts, samplers, results and the log, each under new codes."""
    data = recorded_survey(survey)
    workers = {worker.code: worker for worker in survey.site.workers.all()}
    reports = {report.code: report for report in survey.laboratoryreports.all()}
    for number in range(1, copies + 1):
        tail = f"-{number}"
        shifts = [
            Shift(
                survey=survey,
                code=shift.code + tail,
                worker=workers[shift.worker],
                start=shift.start + timedelta(days=number),
                start_offset_min=0,
                end=shift.end + timedelta(days=number),
                end_offset_min=0,
                reference_min=shift.reference_min,
                unsampled=shift.unsampled,
            )
            for shift in data.shifts.values()
        ]
        keep(shifts, None, "grown")
        by_code = {shift.code: shift for shift in Shift.objects.filter(survey=survey)}
        orders = [
            SampleOrder(
                survey=survey,
                code=order.sampler + tail,
                shift=by_code[order.shift + tail],
                purpose=order.purpose,
                methods=list(order.methods),
                averaging_min=order.averaging_min,
                task=order.task,
            )
            for order in data.orders.values()
        ]
        keep(orders, None, "grown")
        results = [
            LaboratoryResult(
                survey=survey,
                report=reports[one.report],
                sampler=one.sampler + tail,
                agent=one.agent,
                front_ug=one.front_ug,
                front_below=one.front_below,
                back_ug=one.back_ug,
                back_below=one.back_below,
                reporting_limit_ug=one.reporting_limit_ug,
            )
            for one in data.results
            if one.sampler in data.orders
        ]
        keep(results, None, "grown")
        append([_copied(entry, number, set(data.orders)) for entry in data.entries], survey=survey)


def _copied(entry: Entry, number: int, samplers: set[str]) -> Entry:
    """An entry of a paper sheet of its own, some days later; blanks and corrections follow their samplers."""
    tail = f"-{number}"
    fields = dict(entry.fields)
    for name in ("train", "sampler", "parcel", "blank"):
        if fields.get(name):
            fields[name] += tail
    if fields.get("samplers"):
        fields["samplers"] = " ".join(code + tail for code in fields["samplers"].split())
    return replace(
        entry,
        id=entry.id + tail,
        at=entry.at + timedelta(days=number),
        device=f"sheet{tail}",
        sequence=0,
        fields=fields,
        corrects=entry.corrects + tail if entry.corrects else None,
        previous_hash="",
        hash="",
        received_at=None,
    )
