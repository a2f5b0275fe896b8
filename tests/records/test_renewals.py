"""A certificate and a worker's group count from their day on: what was measured before keeps its figures."""

import json
from dataclasses import replace
from datetime import date

import pytest
from folders import EXAMPLES, changed_cell, copied, without_places

from lapel.assessment.recorded_survey import recorded_survey, with_input_hash
from lapel.assessment.survey import assess
from lapel.exchange import InputProblems, read_survey
from lapel.exchange.assessment_json import assessment_as_data
from lapel.exchange.record_export import export_survey
from lapel.exchange.record_transfer import import_survey
from lapel.exchange.survey_folder.writer_check import differences
from lapel.records.audit import history_of, history_on
from lapel.records.models import EarlierCertificate, EarlierPlace, ExposureGroup, Meter, Worker
from lapel.records.renewals import AlreadyThere, certify, place

DOUBLE = [[0.001, 0.002], [0.5, 1.0]]
"""A certificate that finds every flow twice as large as shown."""

RENEWED = {"certificate": "K-27-0003", "certified_on": date(2027, 1, 8), "due_on": date(2028, 1, 7), "curve": DOUBLE}


def figures(survey):
    return without_places(assessment_as_data(assess(survey)))


def litres(survey):
    return {one.sampler: one.volume.value for one in assess(survey).samples if one.volume is not None}


def with_row(folder, file, line):
    with (folder / file).open("a", encoding="utf-8") as table:
        table.write(line + "\n")


def test_a_renewed_certificate_changes_no_figure_of_a_survey_before_it(fresh_database, tmp_path):
    record = import_survey(EXAMPLES / "small").survey
    before, hash_before = figures(recorded_survey(record)), with_input_hash(recorded_survey(record)).input_sha256
    certify(Meter.objects.get(code="M-2"), RENEWED, user=None, reason="yearly")
    meter = Meter.objects.get(code="M-2")
    assert (meter.certificate, meter.relative_u, meter.curve) == ("K-27-0003", None, DOUBLE)
    assert figures(recorded_survey(record)) == before
    assert with_input_hash(recorded_survey(record)).input_sha256 == hash_before
    export_survey(record, tmp_path / "out")
    assert figures(read_survey(tmp_path / "out")) == before


def test_a_reading_counts_by_the_certificate_in_force_on_its_day(fresh_sqlite):
    """The shown flow is twice the true one's half: doubling it doubles every volume, by V = Q·t."""
    record = import_survey(EXAMPLES / "small").survey
    before = litres(recorded_survey(record))
    certify(
        Meter.objects.get(code="M-2"), {"certified_on": date(2026, 4, 1), "curve": DOUBLE}, user=None, reason="repaired"
    )
    after = litres(recorded_survey(record))
    assert after == {sampler: pytest.approx(2.0 * volume, rel=1e-12) for sampler, volume in before.items()}
    certify(Meter.objects.get(code="M-2"), {"certified_on": date(2025, 4, 1)}, user=None, reason="found in a drawer")
    assert litres(recorded_survey(record)) == after


def test_two_certificates_of_a_meter_have_two_doubts(fresh_sqlite):
    record = import_survey(EXAMPLES / "small").survey
    certify(
        Meter.objects.get(code="M-2"), {"certified_on": date(2026, 4, 1), "relative_u": 0.02}, user=None, reason="anew"
    )
    causes = json.dumps(figures(recorded_survey(record)))
    assert "certificate of meter M-2 (certified 2026-04-01)" in causes


def test_a_certificate_is_expired_or_not_on_the_day_of_the_reading(tmp_path):
    folder = copied("small", tmp_path)
    changed_cell(folder, "equipment/meters.csv", 2, "due_on", "2026-04-20")
    with_row(folder, "equipment/meters.csv", "M-2,piston,K-26-0700,2026-05-02,2027-05-01,5,500,mL/min,1.0,2,actual")
    assessment = assess(read_survey(folder))
    rules = {finding.rule for sample in assessment.samples for finding in sample.standing.findings}
    assert any("certificate" in rule and "missing" not in rule for rule in rules), rules
    changed_cell(folder, "equipment/meters.csv", 3, "certified_on", "2026-04-21")
    assessment = assess(read_survey(folder))
    later = {finding.rule for sample in assessment.samples for finding in sample.standing.findings}
    assert later == {rule for rule in rules if "certificate" not in rule}


def test_a_reading_before_the_first_certificate_says_so(tmp_path):
    folder = copied("small", tmp_path)
    plain = figures(read_survey(folder))
    changed_cell(folder, "equipment/meters.csv", 2, "certified_on", "2026-05-02")
    data = figures(read_survey(folder))
    assert "before its first certificate on record, of 2026-05-02" in json.dumps(data, ensure_ascii=False)
    assert "before its first certificate" not in json.dumps(plain)
    assert [one["volume"]["value"] for one in data["samples"]] == [one["volume"]["value"] for one in plain["samples"]]


def test_certificates_and_groups_of_other_days_go_through_folder_and_records_without_loss(fresh_database, tmp_path):
    folder = copied("small", tmp_path)
    with_row(folder, "equipment/meters.csv", "M-2,piston,K-25-0007,2025-01-10,2026-01-09,5,400,mL/min,1.5,2,actual")
    with_row(folder, "groups.csv", "PACK,Packers,packs")
    (folder / "workers.csv").write_text(
        "code,group,job,since\nW-1,LAM,Laminator,2026-04-01\nW-2,LAM,Laminator,\nW-1,PACK,Packer,\n", encoding="utf-8"
    )
    given = read_survey(folder)
    assert [one.certified_on for one in given.meters["M-2"].certificates()] == [date(2025, 1, 10), date(2026, 1, 12)]
    assert [one.group for one in given.workers["W-1"].places()] == ["PACK", "LAM"]
    record = import_survey(folder).survey
    assert (EarlierCertificate.objects.count(), EarlierPlace.objects.count()) == (1, 1)
    on_record = recorded_survey(record)
    bare = replace(on_record, entries=tuple(replace(one, received_at=None) for one in on_record.entries))
    assert differences(given, bare) == ()
    export_survey(record, tmp_path / "out")
    assert differences(bare, read_survey(tmp_path / "out")) == ()
    assert figures(given) == figures(on_record)


def test_a_worker_belongs_to_the_group_of_the_day(fresh_sqlite):
    record = import_survey(EXAMPLES / "small").survey
    packing = ExposureGroup.objects.create(site=record.site, code="PACK", name="Packers")
    hash_before = with_input_hash(recorded_survey(record)).input_sha256
    place(Worker.objects.get(code="W-1"), packing, job="Packer", since=date(2026, 6, 1), user=None, reason="moved")
    worker = recorded_survey(record).workers["W-1"]
    assert worker.group == "PACK"
    assert worker.on(date(2026, 5, 31)).group == "LAM"
    assert worker.on(date(2026, 6, 1)).group == "PACK"
    assert worker.on(date(1999, 1, 1)).group == "LAM"
    assert with_input_hash(recorded_survey(record)).input_sha256 == hash_before


def test_one_certificate_and_one_group_a_day(fresh_sqlite):
    import_survey(EXAMPLES / "small")
    meter, worker = Meter.objects.get(code="M-2"), Worker.objects.get(code="W-1")
    with pytest.raises(AlreadyThere, match="2026-01-12"):
        certify(meter, {"certified_on": date(2026, 1, 12)}, user=None, reason="again")
    certify(meter, {}, user=None, reason="an old one, its day unknown")
    with pytest.raises(AlreadyThere, match="no day"):
        certify(meter, {}, user=None, reason="again")
    with pytest.raises(AlreadyThere, match="no day"):
        place(worker, worker.group, since=None, user=None, reason="again")


def test_a_renewal_is_told_in_the_history_with_its_reason(fresh_sqlite):
    record = import_survey(EXAMPLES / "small").survey
    certify(Meter.objects.get(code="M-2"), RENEWED, user=None, reason="yearly, by the maker")
    last = history_of(Meter.objects.get(code="M-2"))[-1]
    assert last.reason == "yearly, by the maker"
    assert ("certificate", "K-26-0118", "K-27-0003") in [(one.field, one.before, one.after) for one in last.fields]
    told = [change.record for change in history_on(record.site) if change.reason == "yearly, by the maker"]
    assert "earlier certificate M-2: K-26-0118 of 2026-01-12" in told


def test_a_later_folder_brings_the_renewal_and_an_older_one_still_agrees(fresh_sqlite, tmp_path):
    first = import_survey(EXAMPLES / "small").survey
    before = figures(recorded_survey(first))
    later = copied("small", tmp_path)
    changed_cell(later, "equipment/meters.csv", 2, "certificate", "K-27-0003")
    changed_cell(later, "equipment/meters.csv", 2, "certified_on", "2027-01-08")
    changed_cell(later, "equipment/meters.csv", 2, "due_on", "2028-01-07")
    came = import_survey(later, survey_code="later", site_code=first.site.code)
    assert came.added["renewed certificates"] == 1
    assert Meter.objects.get(code="M-2").certificate == "K-27-0003"
    assert figures(recorded_survey(first)) == before
    again = copied("small", tmp_path, to="again")
    (again / "README.md").write_text("another copy", encoding="utf-8")
    with (again / "groups.csv").open("a", encoding="utf-8") as table:
        table.write("PACK,Packers,packs\n")
    assert import_survey(again, survey_code="again", site_code=first.site.code).added.get("meters") is None


def test_a_folder_cannot_slip_a_certificate_in_between(fresh_sqlite, tmp_path):
    first = import_survey(EXAMPLES / "small").survey
    certify(Meter.objects.get(code="M-2"), RENEWED, user=None, reason="yearly")
    between = copied("small", tmp_path)
    changed_cell(between, "equipment/meters.csv", 2, "certified_on", "2026-03-01")
    with pytest.raises(InputProblems, match="2026-03-01, which is not on record"):
        import_survey(between, survey_code="between", site_code=first.site.code)


def test_rows_of_one_meter_are_of_different_days_and_one_kind(tmp_path):
    folder = copied("small", tmp_path)
    with_row(folder, "equipment/meters.csv", "M-2,piston,K-26-0118,2026-01-12,2027-01-11,5,500,mL/min,1.0,2,actual")
    with pytest.raises(InputProblems, match="with certified_on 2026-01-12, which row 2 has too"):
        read_survey(folder)
    changed_cell(folder, "equipment/meters.csv", 3, "certified_on", "2025-01-12")
    changed_cell(folder, "equipment/meters.csv", 3, "due_on", "2026-01-11")
    changed_cell(folder, "equipment/meters.csv", 3, "kind", "rotameter")
    with pytest.raises(InputProblems, match="another instrument has another code"):
        read_survey(folder)
