"""Taking what was looked up into the survey: the agents ticked, with the limits and methods ticked, nothing else."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.contrib.auth.models import User
from django.db import transaction

from lapel.assessment.scope import AgentScope, Law, is_law
from lapel.exchange.survey_folder.packaged import limit_key, packaged_limits
from lapel.records import models
from lapel.records.audit import signed
from lapel.records.models import Survey
from lapel.reference import Library, Limit, MethodRow, Substance

REASON = "chosen on the scope page"


@dataclass(frozen=True, slots=True)
class Taken:
    """How many agents, limits and methods came in."""

    agents: int
    limits: int
    methods: int


def is_usable(limit: Limit) -> bool:
    """Whether a survey can be judged by a packaged limit."""
    return limit.value is not None and limit_key(limit) in packaged_limits()


def suggested(each: AgentScope) -> frozenset[str]:
    """Keys of the limits ticked before a person looks: the binding one and the stricter one of each question."""
    limits = [limit for argument in each.arguments for limit in (argument.binding, argument.stricter) if limit]
    return frozenset(limit_key(limit) for limit in limits if is_usable(limit))


def medium_of(row: MethodRow) -> str:
    """A medium in words, from a method's page: the sampler and its sections."""
    sections = [f"{mass:g}" for mass in (row.sorbent_front_mg, row.sorbent_back_mg) if mass]
    sampler = re.sub(r"\s*\([^)]*\)", "", row.sampler).strip()
    return f"{sampler} {'/'.join(sections)}".strip()[:120]


def method_code(row: MethodRow, key: str) -> str:
    """A code for a method of a survey: its number and the agent, as in 1501-toluene."""
    return f"{re.sub(r'[^A-Za-z0-9._]+', '-', row.method_id)}-{key}"[:64]


def key_of(substance: Substance, taken: Iterable[str]) -> str:
    """A short key for a substance, free in this survey."""
    base = re.sub(r"[^a-z0-9]+", "-", substance.name.lower()).strip("-")[:40] or "agent"
    key, number = base, 1
    while key in set(taken):
        number += 1
        key = f"{base}-{number}"
    return key


def take(
    survey: Survey,
    library: Library,
    *,
    agents: Sequence[str],
    limits: Sequence[str],
    methods: Sequence[str],
    law: Law,
    user: User,
) -> Taken:
    """
    Take agents with their limits and methods into a survey.

    Parameters
    ----------
    survey : Survey
        Access was checked by whoever got it (act "plan").
    library : Library
    agents : sequence of str
        CAS numbers.
    limits : sequence of str
        Keys of packaged limits.
    methods : sequence of str
        As ``CAS|method``.
    law : Law
        Whose limits are law here, for which limits are marked as binding.
    user : User

    Returns
    -------
    Taken
        What is in the survey already is left as it is.
    """
    packaged = packaged_limits()
    made = [0, 0, 0]
    with transaction.atomic():
        keys = {agent.cas: agent for agent in survey.agents.all()}
        for cas in agents:
            substance = library.substance(cas)
            if substance.cas not in keys:
                agent = models.Agent(
                    survey=survey, code=key_of(substance, (a.code for a in keys.values())), name=substance.name,
                    cas=substance.cas, molar_mass=substance.molar_mass,
                )  # fmt: skip
                signed(agent, user, REASON).save()
                keys[substance.cas] = agent
                made[0] += 1
        printed = {limit_key(limit): limit for limit in library.limits if limit.value is not None}
        there = {
            (limit.agent_id, limit.authority, limit.kind, limit.value, limit.unit)
            for limit in models.LimitChoice.objects.filter(survey=survey)
        }
        for key in limits:
            row = packaged.get(key)
            if row is None or row["cas"] not in keys:
                continue
            agent = keys[row["cas"]]
            if (agent.pk, row["authority"], row["kind"], row["value"], row["unit"]) in there:
                continue
            values = {name: value for name, value in row.items() if name not in ("cas", "binding")}
            binding = is_law(printed[key], law)
            signed(models.LimitChoice(survey=survey, agent=agent, binding=binding, **values), user, REASON).save()
            made[1] += 1
        taken = set(survey.methods.values_list("code", flat=True))
        for word in methods:
            cas, _, name = word.partition("|")
            row_of = next((row for row in library.methods_for(cas) if row.method_id == name), None)
            if row_of is None or cas not in keys or method_code(row_of, keys[cas].code) in taken:
                continue
            signed(_method(survey, keys[cas], row_of), user, REASON).save()
            taken.add(method_code(row_of, keys[cas].code))
            made[2] += 1
    return Taken(*made)


def _method(survey: Survey, agent: models.Agent, row: MethodRow) -> models.Method:
    """A method as its page states it; the reporting limit is the laboratory's to state, and stays empty."""
    return models.Method(
        survey=survey,
        agent=agent,
        code=method_code(row, agent.code),
        medium=medium_of(row),
        flow_min_lpm=row.flow_min_lpm,
        flow_max_lpm=row.flow_max_lpm,
        volume_min_l=row.volume_min_l,
        volume_max_l=row.volume_max_l,
        holding_days=row.stability_days,
        two_sections=row.sorbent_back_mg is not None,
        source=str(row.source),
    )
