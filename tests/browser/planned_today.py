"""A survey with a plan in force for today: two trains, three ports, field blanks of two media."""

import re
import shutil
from datetime import datetime
from pathlib import Path
from tempfile import mkdtemp
from zoneinfo import ZoneInfo

from cast import EXAMPLES

from lapel.assessment.plan_by_hand import HandTrain
from lapel.assessment.planned import groundwork
from lapel.exchange.plan_folder.reader import read_plan
from lapel.exchange.plan_now import kept
from lapel.exchange.record_transfer import import_survey
from lapel.records.plans import put_in_force

TOLUENE, FORMALDEHYDE = "K1", "K2"


def planned_survey(code, user):
    """The example of a plan with its days begun today; what it names is in its own files but for the day."""
    folder = Path(mkdtemp()) / "plan"
    shutil.copytree(EXAMPLES / "plan", folder)
    zone = re.search(r'zone = "([^"]+)"', (folder / "survey.toml").read_text(encoding="utf-8"))
    today = datetime.now(ZoneInfo(zone[1])).date().isoformat()
    for file, old, new in (
        ("plan/days.csv", "2026-06-08", today),
        ("plan/workers.csv", "2026-06-08", today),
        ("media.csv", "2026-11-30", "2036-11-30"),
    ):
        said = (folder / file).read_text(encoding="utf-8")
        assert old in said, file
        (folder / file).write_text(said.replace(old, new), encoding="utf-8")
    title = (folder / "survey.toml").read_text(encoding="utf-8")
    (folder / "survey.toml").write_text(title.replace("Solvents", f"Solvents, {code},", 1), encoding="utf-8")
    ground = groundwork(read_plan(folder))
    survey = import_survey(folder, survey_code=code, site_code=f"works-{code}", user=user).survey
    trains = (
        HandTrain(today, "L-01", "P-11", "D-1", "TA", 330, (("A", TOLUENE, 0.012), ("B", FORMALDEHYDE, 0.04))),
        HandTrain(today, "L-02", "P-12", "D-2", "TA", 350, (("A", TOLUENE, 0.011),)),
    )
    put_in_force(survey, kept(trains, ground), user=None, reason="set by hand")
    return survey
