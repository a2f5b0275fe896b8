"""The examples can be read, and say what their README tells."""

from pathlib import Path

import pytest

from lapel.exchange import check_survey_folder, read_survey
from lapel.fieldlog import check_entry

EXAMPLES = Path(__file__).parents[2] / "examples"


WORKED = sorted(path.name for path in EXAMPLES.iterdir() if (path / "log").is_dir())  # examples/plan is not, yet


@pytest.mark.parametrize("name", WORKED)
def test_an_example_has_no_fault_and_every_entry_fits_its_kind(name):
    assert check_survey_folder(EXAMPLES / name) == ()
    survey = read_survey(EXAMPLES / name)
    assert [str(problem) for entry in survey.entries for problem in check_entry(entry)] == []
    assert {result.sampler for result in survey.results} >= set(survey.orders)
