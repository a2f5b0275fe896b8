"""Field sheets: printed for the day's trains, and typed into the log line by line, once."""

import io
from datetime import date
from zoneinfo import ZoneInfo

import pikepdf
import pytest
from django.urls import reverse

from lapel.documents.field_sheet import SheetPort, field_sheet
from lapel.fieldlog import fold
from lapel.office.paper.typing import NoSuchTime, entries_of, instant_on
from lapel.records.log_reading import entry_of
from lapel.records.models import LogEntry, RefusedEntry

pytestmark = pytest.mark.django_db

DAY = "2026-04-21"


def sheet(train="X1", ports="ABC"):
    return field_sheet(date.fromisoformat(DAY), train, ports=[SheetPort(letter) for letter in ports])


def a_whole_day(of):
    """What a person types of a sheet of three ports, from the pump to the readings after."""
    typed = {"author": "RQ"}
    for name, before, after in (("meter", "M-2", "M-2"), ("temperature", "21.5", "22.4"), ("pressure", "101.0", "101")):
        typed |= {f"before-{name}": before, f"after-{name}": after}
    typed |= {"before-unit": "mL/min", "after-unit": "mL/min"}
    times = {
        "train_prepared": "05:55", "leak_checked": "5:58", "port_prepared": "05:56", "closing_round": "06:20",
        "train_hung": "06:58", "pump_started": "07:01", "pump_checked": "07:25", "pump_stopped": "10:52",
        "post_round": "11:28",
    }  # fmt: skip
    said = {
        "pump": "P-11", "splitter": "D-4", "warm_up_min": "10", "charged_at": "22:30", "passed": "yes",
        "lot": "CH-7714", "tube": "CAL-1", "target": "50", "valve_touched": "no", "recharged": "no",
        "battery_changed": "no", "same_tubes": "yes", "worker": "W-1", "side": "right", "running": "yes",
        "why": "shift end",
    }  # fmt: skip
    counters = {"pump_started": "0", "pump_checked": "24", "pump_stopped": "231"}
    seen_checks = 0
    for part in of.parts:
        for row in part.rows:
            line = row.lines[0]
            port = line.given.get("port", "")
            time = times.get(line.kind, "")
            if line.kind == "flow_read":
                time = "06:10" if part.round_of == "before" else "11:15"
                for one, reading in zip(row.lines, ("50.1", "50.3", "50.2"), strict=True):
                    typed[f"line-{one.number}-reading"] = reading
            elif line.kind == "sampler_fitted" and port:
                time = "07:00"
                typed[f"line-{line.number}-sampler"] = f"L-30{'ABC'.index(port)}"
            elif line.kind == "sampler_removed" and port:
                time = "10:53"
                typed[f"line-{line.number}-sampler"] = f"L-30{'ABC'.index(port)}"
            elif line.kind == "pump_checked":
                seen_checks += 1
                time = time if seen_checks == 1 else ""
            if not time:
                continue
            typed[f"line-{line.number}-time"] = time
            for ask in line.asks:
                if ask == "counter_min" and line.kind in counters:
                    typed[f"line-{line.number}-{ask}"] = counters[line.kind]
                elif ask in said and f"line-{line.number}-{ask}" not in typed:
                    typed[f"line-{line.number}-{ask}"] = said[ask]
    return typed


def address(survey, train="X1"):
    return reverse("field-sheet", args=[survey.code, DAY, train])


def test_a_sheet_typed_in_is_a_whole_day_in_the_log(as_person, cast):
    before = LogEntry.objects.filter(survey=cast.survey).count()
    answer = as_person(cast.technician).post(address(cast.survey), a_whole_day(sheet()))
    assert answer.status_code == 302
    rows = [
        row for row in LogEntry.objects.filter(survey=cast.survey) if row.entry_id.startswith("sheet-2026-04-21-X1")
    ]
    assert LogEntry.objects.filter(survey=cast.survey).count() == before + len(rows)
    day = fold([entry_of(row) for row in rows])
    assert sorted(day.runs) == ["L-300", "L-301", "L-302"]
    for run in day.runs.values():
        [segment] = run.segments
        assert segment.minutes == 231
        assert segment.ended_by == "shift end"
        assert [reading.reading for reading in segment.before.readings] == ["50.1", "50.3", "50.2"]
        assert segment.before.declared
        assert segment.after.declared
        assert segment.after.readings[0].temperature == "22.4"
        assert run.counter_min == 231
    [preparation] = day.trains["X1"].preparations
    zone = ZoneInfo(cast.site.zone)
    assert preparation.charged_at.astimezone(zone).strftime("%Y-%m-%d %H:%M") == "2026-04-20 22:30"
    assert {row.author for row in rows} == {"RQ"}
    assert {row.device for row in rows} == {"paper"}
    assert not day.conflicts
    assert not day.unusable


def test_a_sheet_typed_in_twice_is_kept_once_and_another_content_is_kept_apart(as_person, cast):
    client = as_person(cast.technician)
    typed = a_whole_day(sheet())
    client.post(address(cast.survey), typed)
    count = LogEntry.objects.count()
    client.post(address(cast.survey), typed)
    assert LogEntry.objects.count() == count
    number = next(line.number for line in sheet().lines if line.kind == "pump_stopped")
    answer = client.post(address(cast.survey), typed | {f"line-{number}-counter_min": "213"}, follow=True)
    assert LogEntry.objects.count() == count
    assert RefusedEntry.objects.count() == 1
    assert "kept apart" in answer.content.decode()


def test_every_fault_is_said_beside_its_row_and_nothing_is_kept(as_person, cast):
    typed = a_whole_day(sheet())
    numbers = {line.kind: line.number for line in reversed(sheet().lines)}
    typed[f"line-{numbers['pump_started']}-time"] = "7 h"
    typed[f"line-{numbers['leak_checked']}-time"] = ""
    typed[f"line-{numbers['train_prepared']}-warm_up_min"] = "ten"
    before = LogEntry.objects.count()
    answer = as_person(cast.technician).post(address(cast.survey), typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Found “7 h”" in page
    assert "Found no time" in page
    assert "Warm up min" in page
    assert "3 faults" in page
    assert 'value="L-300"' in page  # what was typed is still there
    assert LogEntry.objects.count() == before


def test_an_empty_sheet_is_no_sheet(as_person, cast):
    answer = as_person(cast.technician).post(address(cast.survey), {"author": "RQ"})
    assert answer.status_code == 422
    assert "Found no line with a time" in answer.content.decode()


def test_strangers_see_nothing_and_viewers_type_nothing(as_person, cast):
    assert as_person(cast.outsider).get(address(cast.survey)).status_code == 404
    assert as_person(cast.outsider).get(reverse("field-sheets", args=[cast.survey.code])).status_code == 404
    assert as_person(cast.viewer).get(reverse("field-sheets", args=[cast.survey.code])).status_code == 200
    assert as_person(cast.viewer).post(address(cast.survey), a_whole_day(sheet())).status_code == 403


def test_the_boxes_stand_in_the_order_of_the_sheet(as_person, cast):
    page = as_person(cast.technician).get(address(cast.survey)).content.decode()
    places = [page.index(f'name="line-{line.number}-{line.asks[0]}"') for line in sheet().lines]
    assert places == sorted(places)


def test_the_sheets_of_a_day_are_printed_two_sides_each_with_their_ids(as_person, cast):
    answer = as_person(cast.viewer).get(reverse("field-sheets-pdf", args=[cast.survey.code, DAY]))
    assert answer["Content-Type"] == "application/pdf"
    with pikepdf.open(io.BytesIO(answer.content)) as pdf:
        assert len(pdf.pages) % 2 == 0
        assert pdf.Root.MarkInfo.Marked  # PDF/UA: tagged


def test_a_time_that_came_twice_needs_its_offset_and_one_jumped_over_is_refused():
    denver = ZoneInfo("America/Denver")
    night = field_sheet(date(2026, 10, 31), "T-301", ports=[SheetPort("A")])
    assert instant_on(night, "00:40 +1", denver).isoformat() == "2026-11-01T00:40:00-06:00"
    with pytest.raises(NoSuchTime, match=r"came twice.*-06:00 or -07:00"):
        instant_on(night, "01:40 +1", denver)
    assert instant_on(night, "01:40 +1 -07:00", denver).isoformat() == "2026-11-01T01:40:00-07:00"
    spring = field_sheet(date(2026, 3, 8), "T-1", ports=[SheetPort("A")])
    with pytest.raises(NoSuchTime, match="jumped over"):
        instant_on(spring, "02:30", denver)
    with pytest.raises(NoSuchTime, match="wanted a time"):
        instant_on(spring, "25:00", denver)


def test_readings_left_blank_are_fewer_readings_and_no_fault():
    of = sheet(ports="A")
    row = next(row for part in of.parts for row in part.rows if row.lines[0].kind == "flow_read")
    first = row.lines[0].number
    typed = {
        f"line-{first}-time": "06:10",
        f"line-{first}-reading": "50.1",
        "before-meter": "M-2",
        "before-unit": "mL/min",
        "before-temperature": "21.5",
        "before-pressure": "83.4",
    }
    entries, faults = entries_of(of, typed, zone=ZoneInfo("UTC"), author="RQ")
    assert faults == []
    assert [entry.fields["reading"] for entry in entries] == ["50.1"]
    air = {name: text for name, text in entries[0].fields.items() if name.startswith(("temperature", "pressure"))}
    assert air == {"temperature": "21.5", "temperature_unit": "°C", "pressure": "83.4", "pressure_unit": "kPa"}
