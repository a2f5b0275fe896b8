"""Whether everything that was sent came back, once, and under a name of ours."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from lapel.assessment.delivered_results import DeliveredResult
from lapel.assessment.reconcile_matters import Matter, SentSampler
from lapel.assessment.sampler_names import NameMatch, UnknownName


def name_matters(matches: Iterable[NameMatch], unknown: Iterable[UnknownName]) -> list[Matter]:
    """Printed names that are nearly one of ours, or none."""
    found = [
        Matter(
            "sampler nearly", "settle", match.sampler, "", f"“{match.printed}”: {match.why}", "our code as we sent it"
        )
        for match in matches
        if match.how == "near"
    ]
    for name in unknown:
        if name.is_quality_control:
            found.append(Matter("laboratory's own control", "note", "", "", f"“{name.printed}” is set aside"))
            continue
        may = "; ".join(f"{code}: {why}" for code, why in name.candidates[:5])
        found.append(
            Matter(
                "sampler unknown",
                "settle",
                "",
                "",
                f"“{name.printed}” is no sampler of this survey" + (f". It may be {may}" if may else ""),
                "our code as we sent it",
                f"Which of our samples is “{name.printed}”? We sent none of this name.",
            )
        )
    return found


def count_matters(
    scope: Sequence[str],
    by_sampler: Mapping[str, Mapping[str, Sequence[DeliveredResult]]],
    sent: Mapping[str, SentSampler],
    names: Mapping[str, str],
) -> list[Matter]:
    """What is missing of a sampler or blank in the scope of the report, and what was not ordered."""
    found = []
    usual = {agent for code in by_sampler if not sent[code].is_blank for agent in by_sampler[code]}
    for code in scope:
        sampler, has = sent[code], by_sampler.get(code, {})
        what = "blank" if sampler.is_blank else "sampler"
        if not has:
            found.append(
                Matter(
                    f"{what} missing",
                    "ask",
                    code,
                    "",
                    f"no result for {what} {code}",
                    "a result for each sent",
                    f"We sent {what if sampler.is_blank else 'sample'} {code} and find no result for it. Did it "
                    "arrive, and in which condition?",
                )
            )
            continue
        wanted = sampler.agents & usual if sampler.is_blank else sampler.agents
        for agent in sorted(wanted - set(has)):
            found.append(
                Matter(
                    "agent missing",
                    "ask",
                    code,
                    agent,
                    f"no {names.get(agent, agent)} on {code}",
                    "every agent ordered",
                    f"{names.get(agent, agent)} was ordered on {code}. What is its result?",
                )
            )
        for agent in sorted(set(has) - sampler.agents):
            found.append(
                Matter(
                    "agent not ordered",
                    "note",
                    code,
                    agent,
                    f"{names.get(agent, agent)} on {code}, which was not ordered",
                )
            )
    return found


def twice_matters(
    matches: Iterable[NameMatch],
    by_sampler: Mapping[str, Mapping[str, Sequence[DeliveredResult]]],
    names: Mapping[str, str],
) -> list[Matter]:
    """Results that came twice, under one name or two."""
    count = Counter(match.sampler for match in matches)
    found = []
    for code, agents in by_sampler.items():
        for agent, results in agents.items():
            if len(results) > 1:
                rows = " and ".join(result.origin for result in results[:3])
                reason = "printed under two names" if count[code] > 1 else "reported twice"
                found.append(
                    Matter(
                        "twice",
                        "settle",
                        code,
                        agent,
                        f"{names.get(agent, agent)} on {code} is {reason}: {rows}",
                        "every result once",
                        f"{names.get(agent, agent)} on {code} is {reason}. Which one counts?",
                    )
                )
    return found
