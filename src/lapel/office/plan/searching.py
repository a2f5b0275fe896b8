"""
The search for a plan, in a process of its own.

The page asks for it and starts the process; the process says in the records how far it is, and leaves there what it
found. A plan found is put in force, unless somebody edited the one in force by hand: then it waits to be taken.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from typing import Any

from django.db import close_old_connections
from django.utils import timezone

from lapel.assessment.plan_bend import bend
from lapel.assessment.plan_by_hand import hand_trains
from lapel.assessment.planned import groundwork, plan_survey
from lapel.assessment.recorded_plan import recorded_plan
from lapel.exchange.plan_folder.agreement import problems_of
from lapel.exchange.plan_now import kept, outcome_of, plan_now
from lapel.records.models import PlanSearch, Survey
from lapel.records.plans import in_order, kept_trains, put_in_force

HEARD_EVERY_S = 5.0
STOP_EVERY_S = 1.0
Standing = PlanSearch.Standing


class StopAsked(Exception):  # noqa: N818 - nothing went wrong
    """Somebody asked the search to stop."""


def start(search: PlanSearch) -> None:
    """Start the process that works on a search; it outlives this request, and this server if need be."""
    environment = os.environ | {"DJANGO_SETTINGS_MODULE": "lapel.site.settings"}
    subprocess.Popen(
        [sys.executable, "-m", "django", "search_plan", str(search.pk)],
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


def work_on(number: int, *, watched: bool = True) -> None:
    """
    Work on a search until it is done, stopped or has failed.

    Parameters
    ----------
    number : int
        Of the search on record.
    watched : bool
        Whether to listen for a wish to stop, and to end this process on it: the solver listens to nobody.
    """
    search = PlanSearch.objects.select_related("survey__site", "asked_by").get(pk=number)
    if search.standing != Standing.WAITING:
        return
    _say(number, standing=Standing.WORKING, words="Reading what the plan is made from.")
    over = threading.Event()
    if watched:
        threading.Thread(target=_listen, args=(number, over), daemon=True).start()
    try:
        _search(search)
    except StopAsked:
        _end(number, Standing.STOPPED, "Stopped. Nothing was changed.")
    except Exception as problem:  # the person must hear of it, whatever it is
        _end(number, Standing.FAILED, f"The search broke off: {problem}".replace("`", ""))
        raise
    finally:
        over.set()


def _search(search: PlanSearch) -> None:
    survey = search.survey

    def tell(words: str) -> None:
        if PlanSearch.objects.filter(pk=search.pk, stop_asked=True).exists():
            raise StopAsked
        _say(search.pk, words=words)

    if search.bend is not None:
        _bend(search, survey, tell)
        return
    inputs = recorded_plan(survey)
    problems = problems_of(inputs)
    if problems:
        _end(search.pk, Standing.FAILED, f"Something is still needed. {problems[0].remedy}")
        return
    plan = plan_survey(inputs, seconds=search.seconds, tell=tell)
    outcome = outcome_of(plan.campaign, hand_trains(plan), groundwork(inputs))
    if plan.faults:  # pragma: no cover - the search and the checker disagree: never yet, and then nobody may work it
        words = "; ".join(f"{fault.where}: {fault.words}" for fault in plan.faults[:3])
        _end(search.pk, Standing.FAILED, f"The independent checker refuses the plan found: {words}")
        return
    free = not is_edited(survey)
    _end(search.pk, Standing.DONE, plan.campaign.proof, input_sha256=inputs.input_sha256, outcome=outcome)
    if free:
        put_in_force(survey, outcome["trains"], user=search.asked_by, reason=f"found by search {search.pk}")


def _bend(search: PlanSearch, survey: Survey, tell: Any) -> None:
    now = plan_now(survey)
    asked: dict[str, Any] = search.bend or {}
    if now.plan is None or now.ground is None or not now.trains:
        _end(search.pk, Standing.FAILED, "There is no plan in force that could be changed.")
        return
    tell("Looking for the plan that changes least.")
    bent = bend(
        now.plan,
        from_day=asked["from_day"],
        pumps_lost=asked["pumps_lost"],
        absent=asked["absent"],
        seconds=search.seconds,
    )
    outcome = outcome_of(bent.found.plan, bent.trains, now.ground)
    outcome |= {
        "words": bent.words,
        "moves": [[move.day, move.worker, move.before, move.after] for move in bent.moves],
        "faults": [[fault.where, fault.words] for fault in bent.plan.faults],
        "before": kept(now.trains, now.ground),
    }
    _end(search.pk, Standing.DONE, bent.words, input_sha256=now.inputs.input_sha256, outcome=outcome)


def is_edited(survey: Survey) -> bool:
    """Whether the trains in force are others than the last search put there; a search never throws them away."""
    trains = kept_trains(survey)
    if not trains:
        return False
    found = survey.plan_searches.filter(standing=Standing.DONE, bend__isnull=True).first()
    return found is None or in_order(found.outcome["trains"]) != trains


def _listen(number: int, over: threading.Event) -> None:
    """Say that the process lives, and end it when somebody asks: nothing it does is half done."""
    since = 0.0
    while not over.wait(STOP_EVERY_S):
        close_old_connections()
        search = PlanSearch.objects.filter(pk=number).only("stop_asked", "standing").first()
        if search is None or (search.stop_asked and search.standing == Standing.WORKING):
            if search is not None:
                _end(number, Standing.STOPPED, "Stopped. Nothing was changed.")
            os._exit(0)
        since += STOP_EVERY_S
        if since >= HEARD_EVERY_S:
            since = 0.0
            _say(number)


def _say(number: int, **values: Any) -> None:
    PlanSearch.objects.filter(pk=number).update(heard_at=timezone.now(), **values)


def _end(number: int, standing: str, words: str, **values: Any) -> None:
    _say(number, standing=standing, words=words, ended_at=timezone.now(), **values)
