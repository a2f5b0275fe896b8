"""Whose pumps must be certified: the worker's own area, or the site's where the worker has none."""

from dataclasses import replace
from pathlib import Path

from lapel.assessment.planned import groundwork
from lapel.exchange.plan_folder.reader import read_plan

PLAN = Path(__file__).parents[2] / "examples" / "plan"


def test_a_classified_site_classifies_everybody_who_has_no_area_of_their_own():
    inputs = read_plan(PLAN)
    classified = replace(inputs, site=replace(inputs.site, area_class="spray hall"))
    areas = {worker.code: worker.area for worker in groundwork(classified).demand.workers}
    assert areas.pop("P-08") == "ink store"
    assert set(areas.values()) == {"spray hall"}
    plain = {worker.code: worker.area for worker in groundwork(inputs).demand.workers}
    assert plain.pop("P-08") == "ink store"
    assert set(plain.values()) == {None}
