"""A survey folder goes into the records and comes out of them saying the same, with the same figures."""

import hashlib
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from django.contrib.auth.models import User
from folders import EXAMPLES, changed_cell, copied, without_places

from lapel.assessment.recorded_survey import recorded_survey
from lapel.assessment.survey import assess
from lapel.exchange import InputProblems, read_survey
from lapel.exchange.assessment_json import assessment_as_data
from lapel.exchange.record_export import export_survey
from lapel.exchange.record_transfer import import_survey
from lapel.exchange.survey_folder.writer_check import differences
from lapel.fieldlog import Entry, chained
from lapel.records.append import append, append_act, append_correction
from lapel.records.entry_frame import new_entry_id
from lapel.records.models import LaboratoryReport, LogEntry, Membership, Meter, Pump, Site, Survey

NAMES = ("small", "hard")


def figures(survey):
    return without_places(assessment_as_data(assess(survey)))


def without_receipts(survey):
    """The examples' log names no receipts; those of the import come in addition."""
    return replace(survey, entries=tuple(replace(entry, received_at=None) for entry in survey.entries))


@pytest.mark.parametrize("name", NAMES)
def test_imported_exported_and_assessed_again_gives_identical_figures(name, fresh_database, tmp_path):
    folder = EXAMPLES / name
    from_folder = figures(read_survey(folder))
    record = import_survey(folder).survey
    assert figures(recorded_survey(record)) == from_folder
    written = export_survey(record, tmp_path / "out")
    assert (written.is_whole, written.rewritten_reports) == (True, ())
    assert figures(read_survey(tmp_path / "out")) == from_folder
    assert from_folder["samples"]


@pytest.mark.parametrize("name", NAMES)
def test_nothing_the_folder_says_is_lost_on_the_way_through_the_records(name, fresh_database, tmp_path):
    given = read_survey(EXAMPLES / name)
    record = import_survey(EXAMPLES / name).survey
    assert differences(given, without_receipts(recorded_survey(record))) == ()
    export_survey(record, tmp_path / "out")
    assert differences(given, without_receipts(read_survey(tmp_path / "out"))) == ()


@pytest.mark.parametrize("name", NAMES)
def test_laboratory_files_come_back_byte_for_byte(name, fresh_sqlite, tmp_path):
    record = import_survey(EXAMPLES / name).survey
    export_survey(record, tmp_path / "out")
    delivered = sorted(path.name for path in (EXAMPLES / name / "laboratory").iterdir())
    assert sorted(path.name for path in (tmp_path / "out/laboratory").iterdir()) == delivered
    for file in delivered:
        before, after = (root / "laboratory" / file for root in (EXAMPLES / name, tmp_path / "out"))
        assert after.read_bytes() == before.read_bytes()


def test_a_device_file_comes_back_with_its_chain_whole(fresh_sqlite, tmp_path):
    record = import_survey(EXAMPLES / "hard").survey
    export_survey(record, tmp_path / "out")
    before = {entry.id: entry.hash for entry in read_survey(EXAMPLES / "hard").entries if entry.hash}
    after = {entry.id: entry.hash for entry in read_survey(tmp_path / "out").entries if entry.hash}
    assert after == before
    assert len(after) > 20


def test_both_examples_live_side_by_side(fresh_database):
    records = [import_survey(EXAMPLES / name).survey for name in NAMES]
    for name, record in zip(NAMES, records, strict=True):
        assert differences(read_survey(EXAMPLES / name), without_receipts(recorded_survey(record))) == ()


def test_importing_twice_is_refused_and_makes_nothing_double(fresh_database):
    record = import_survey(EXAMPLES / "small").survey
    entries = LogEntry.objects.count()
    for code in ("", "another-code"):
        with pytest.raises(InputProblems, match="already"):
            import_survey(EXAMPLES / "small", survey_code=code)
    assert [survey.code for survey in Survey.objects.all()] == [record.code]
    assert (Site.objects.count(), LogEntry.objects.count()) == (1, entries)


def test_a_folder_with_a_fault_leaves_nothing(fresh_database, tmp_path):
    folder = copied("small", tmp_path)
    changed_cell(folder, "agents.csv", 2, "name", "x" * 201)
    changed_cell(folder, "workers.csv", 3, "job", "y" * 201)
    with pytest.raises(InputProblems) as refused:
        import_survey(folder)
    assert [(fault.where.file, fault.where.row, fault.where.column) for fault in refused.value] == [
        ("agents.csv", 2, "name"),
        ("workers.csv", 3, "job"),
    ]
    counts = [model.objects.count() for model in (Site, Survey, LogEntry, Pump)]
    assert counts == [0, 0, 0, 0]
    assert Site.history.count() == 0


def test_a_log_that_cannot_be_written_leaves_nothing_either(fresh_database, monkeypatch):
    def breaks(*_args, **_named):
        raise OSError("disk full")

    monkeypatch.setattr("lapel.exchange.record_transfer.append", breaks)
    with pytest.raises(OSError, match="disk full"):
        import_survey(EXAMPLES / "small")
    assert [model.objects.count() for model in (Site, Survey, Pump)] == [0, 0, 0]


def test_a_second_folder_of_the_site_adds_only_what_is_new(fresh_sqlite, tmp_path):
    import_survey(EXAMPLES / "small")
    folder = copied("small", tmp_path)
    toml = folder / "survey.toml"
    toml.write_text(toml.read_text(encoding="utf-8").replace("one morning", "another morning"), encoding="utf-8")
    pumps = folder / "equipment/pumps.csv"
    pumps.write_text(pumps.read_text(encoding="utf-8") + "P-99,5,500,mL/min\n", encoding="utf-8")
    second = import_survey(folder, survey_code="second")
    assert not second.new_site
    assert second.added["pumps"] == 1
    assert "meters" not in second.added
    assert Site.objects.count() == 1


def test_a_folder_that_disagrees_with_the_register_is_refused_with_every_place(fresh_sqlite, tmp_path):
    import_survey(EXAMPLES / "small")
    folder = copied("small", tmp_path)
    changed_cell(folder, "equipment/meters.csv", 2, "certificate", "K-27-0001")
    changed_cell(folder, "workers.csv", 2, "job", "Foreman")
    with pytest.raises(InputProblems) as refused:
        import_survey(folder, survey_code="second")
    told = {(fault.where.file, fault.where.row, fault.where.column) for fault in refused.value}
    assert told == {("equipment/meters.csv", 2, "certificate"), ("workers.csv", 2, "job")}
    assert Meter.objects.get().certificate == "K-26-0118"


def test_a_correction_entered_in_the_records_changes_the_figure_as_the_folder_would(fresh_database, tmp_path):
    folder = copied("small", tmp_path)
    changed_cell(folder, "log/flow_read.csv", 3, "reading", "51.2")
    record = import_survey(EXAMPLES / "small").survey
    before = figures(recorded_survey(record))
    wanted = figures(read_survey(folder))
    assert before != wanted
    misread = next(e for e in record.entries.filter(kind="flow_read") if e.origin == "log/flow_read.csv, row 3")
    author = User.objects.create_user("corrector", password="long enough to be one")
    append_correction(misread, author=author, reason="misread: the sheet says 51.2", field="reading", value="51.2")
    assert figures(recorded_survey(record)) == wanted
    written = export_survey(record, tmp_path / "out")
    assert written.is_whole, (written.problems, written.differences)
    assert figures(read_survey(tmp_path / "out")) == wanted
    assert LogEntry.objects.get(pk=misread.pk).fields["reading"] == "50.2"


def test_a_result_corrected_in_the_records_changes_the_figure_and_keeps_the_delivered_file_beside_it(
    fresh_database, tmp_path
):
    folder = copied("small", tmp_path)
    record = import_survey(folder).survey
    delivered = (folder / "laboratory/AB-26-1187.csv").read_bytes()
    result = record.results.get(sampler="L-101", agent="styrene")
    result.front_ug += 12.5
    result.save()
    corrected = figures(recorded_survey(record))
    written = export_survey(record, tmp_path / "out")
    assert (written.is_whole, written.rewritten_reports) == (True, ("AB-26-1187",))
    assert figures(read_survey(tmp_path / "out")) == corrected
    beside = tmp_path / "out/laboratory/as-delivered/AB-26-1187/AB-26-1187.csv"
    assert beside.read_bytes() == delivered
    again = import_survey(tmp_path / "out", survey_code="again").survey
    kept = LaboratoryReport.objects.get(survey=again)
    assert bytes(kept.original) == delivered
    assert kept.sha256 == hashlib.sha256(delivered).hexdigest()
    assert figures(recorded_survey(again)) == corrected
    export_survey(again, tmp_path / "out-again")
    assert (tmp_path / "out-again/laboratory/as-delivered/AB-26-1187/AB-26-1187.csv").read_bytes() == delivered


def test_a_phone_that_served_two_surveys_leaves_with_each(fresh_database, tmp_path):
    records = [import_survey(EXAMPLES / name).survey for name in NAMES]
    first, second = records
    start = read_survey(EXAMPLES / "small").entries[0].at
    chain = chained(
        Entry(
            id=new_entry_id(),
            kind="note",
            at=start + timedelta(minutes=number),
            device="phone-8",
            sequence=number,
            author="NK",
            fields={"text": f"note {number}"},
        )
        for number in range(1, 9)
    )
    for survey, some in ((second, chain[:2]), (first, chain[2:4]), (second, chain[4:7]), (first, chain[7:])):
        assert append(some, survey=survey).refused == {}
    written = export_survey(first, tmp_path / "out")
    assert written.is_whole, (written.problems, written.differences)
    lines = (tmp_path / "out/log/phone-8.jsonl").read_text(encoding="utf-8").splitlines()
    assert json.loads(lines[0]) == {"device": "phone-8", "elsewhere": "1-2 5-7"}
    assert [json.loads(line)["sequence"] for line in lines[1:]] == [3, 4, 8]


def test_a_slip_on_a_phone_and_its_correction_leave_together(fresh_sqlite, tmp_path):
    """A reading of 8190 mL/min is implausible; nothing can take it out of the log, and the correction counts."""
    survey = import_survey(EXAMPLES / "hard").survey
    last = survey.entries.filter(device="phone-3", kind="flow_read").last()
    entry = append_act(
        "flow_read",
        last.fields | {"reading": "81900"},
        survey=survey,
        author=User.objects.create_user("typist"),
        at=last.at,
    )
    append_correction(entry, author=User.objects.get(), reason="slip", withdraw=True)
    written = export_survey(survey, tmp_path / "out")
    assert written.is_whole, (written.problems, written.differences)
    assert figures(read_survey(tmp_path / "out")) == figures(recorded_survey(survey))


def test_whoever_brings_a_new_site_in_leads_it_and_stands_in_every_history(fresh_sqlite):
    user = User.objects.create_user("importer", password="long enough to be one")
    record = import_survey(EXAMPLES / "small", user=user).survey
    assert Membership.objects.get(site=record.site, user=user).role == Membership.Role.LEAD
    version = Pump.history.get(code="P-11")
    assert (version.history_user, version.history_change_reason) == (user, "came with the survey folder small")
    assert set(record.entries.values_list("received_by", flat=True)) == {user.pk}


def test_a_log_later_than_the_servers_clock_moves_no_act_and_is_told(fresh_sqlite):
    early = datetime(2020, 1, 1, tzinfo=UTC)
    imported = import_survey(EXAMPLES / "hard", received_at=early)
    assert "later than this server's clock" in " ".join(imported.remarks)
    assert figures(recorded_survey(imported.survey)) == figures(read_survey(EXAMPLES / "hard"))


def test_an_export_is_never_written_over_anything(fresh_sqlite, tmp_path):
    record = import_survey(EXAMPLES / "small").survey
    (tmp_path / "there").mkdir()
    (tmp_path / "there/mine.txt").write_text("mine")
    with pytest.raises(InputProblems, match="already"):
        export_survey(record, tmp_path / "there")
    assert [path.name for path in tmp_path.joinpath("there").iterdir()] == ["mine.txt"]
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]
