"""A folder with a report that was read and accepted goes into the records and out again with the same figures."""

import shutil

from folders import EXAMPLES, copied, without_places

from lapel.assessment.recorded_survey import recorded_survey
from lapel.assessment.survey import assess
from lapel.cli.main import main
from lapel.exchange import read_survey
from lapel.exchange.assessment_json import assessment_as_data
from lapel.exchange.record_export import export_survey
from lapel.exchange.record_transfer import import_survey

ANSWERS = (
    "report.code=AB-26-1187", "laboratory=Alder Bay laboratory (invented)", "report.received_on=2026-05-04",
    "report.samples_received_on=2026-04-22", "report.receipt_temperature=5", "report.receipt_temperature_unit=°C",
    "recovery_corrected_by=laboratory", "blank_corrected_by=nobody",
)  # fmt: skip


def figures(survey):
    return without_places(assessment_as_data(assess(survey)))


def test_an_accepted_report_survives_the_records(fresh_sqlite, tmp_path):
    folder = copied("small", tmp_path)
    shutil.rmtree(folder / "laboratory")
    words = [word for answer in ANSWERS for word in ("--answer", answer)]
    file = EXAMPLES / "small/laboratory/AB-26-1187.csv"
    assert main(["results", str(folder), str(file), *words, "--accept", "--quiet"]) == 0
    wanted = figures(read_survey(folder))
    record = import_survey(folder).survey
    assert figures(recorded_survey(record)) == wanted
    written = export_survey(record, tmp_path / "out")
    assert written.is_whole, (written.problems, written.differences)
    assert figures(read_survey(tmp_path / "out")) == wanted
