"""
A laboratory's report held against what was sent: everything there, once, of the right kind, and of a size that can be.

Nothing is changed here. What does not agree becomes a matter, in words, with the question to put to the laboratory.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from lapel.assessment.delivered_results import DeliveredResult
from lapel.assessment.inputs import LaboratoryResult, Survey
from lapel.assessment.reconcile_counts import count_matters, name_matters, twice_matters
from lapel.assessment.reconcile_matters import Matter, SentSampler, Weight
from lapel.assessment.reconcile_sizes import size_matters
from lapel.assessment.sampler_names import NameMatch, UnknownName, matched_names
from lapel.fieldlog.state import Day


@dataclass(frozen=True, slots=True)
class Reconciliation:
    """
    A report held against what was sent.

    Attributes
    ----------
    in_scope : tuple of str
        Samplers and blanks this report should have, in the order of the survey.
    matches, unknown : tuple
        Printed names that are ours, and those that are not.
    """

    in_scope: tuple[str, ...]
    matches: tuple[NameMatch, ...]
    unknown: tuple[UnknownName, ...]
    matters: tuple[Matter, ...]
    agents: Mapping[str, str]

    @property
    def near(self) -> tuple[NameMatch, ...]:
        """Near-matches a person has yet to confirm."""
        return tuple(match for match in self.matches if match.how == "near")

    @property
    def is_settled(self) -> bool:
        """Whether the report may be taken over: no matter is left that a person has to settle first."""
        return not any(matter.weight == "settle" for matter in self.matters)

    def of_weight(self, weight: Weight) -> tuple[Matter, ...]:
        """Return the matters of one weight."""
        return tuple(matter for matter in self.matters if matter.weight == weight)


def sent_samplers(survey: Survey, day: Day, volumes_l: Mapping[str, float | None]) -> dict[str, SentSampler]:
    """
    Gather what was sent.

    Parameters
    ----------
    volumes_l : mapping of str to float
        By sampler, as worked out from the field log. [L]
    """
    zone = ZoneInfo(survey.site.zone)
    sent: dict[str, SentSampler] = {}
    by_medium: dict[str, set[str]] = defaultdict(set)
    for method in survey.methods.values():
        by_medium[method.medium].add(method.agent)
    for code, order in survey.orders.items():
        run = day.runs.get(code)
        methods = [survey.methods[name] for name in order.methods]
        lot = survey.media_lots.get(run.lot) if run and run.lot else None
        stops = [segment.stop for segment in run.segments if segment.stop] if run else []
        sent[code] = SentSampler(
            code,
            False,
            frozenset(method.agent for method in methods),
            (run.medium or (lot.medium if lot else "")) if run else "",
            run.parcel if run else "",
            volumes_l.get(code),
            max(stops).astimezone(zone).date() if stops else None,
            {m.agent: m.reporting_limit_ug for m in methods if m.reporting_limit_ug},
        )
    for code, blank in day.blanks.items():
        lot = survey.media_lots.get(blank.lot) if blank.lot else None
        medium = blank.medium or (lot.medium if lot else "")
        limits = {
            m.agent: m.reporting_limit_ug
            for m in survey.methods.values()
            if m.medium == medium and m.reporting_limit_ug
        }
        sent[code] = SentSampler(
            code, True, frozenset(by_medium.get(medium, ())), medium, blank.parcel, reporting_limits_ug=limits
        )
    return sent


def reconcile(
    delivered: Sequence[DeliveredResult],
    sent: Mapping[str, SentSampler],
    survey: Survey,
    *,
    confirmed: Mapping[str, str] | None = None,
    ignored: Collection[str] = (),
    already: Collection[str] = (),
    duplicates: Iterable[str] = (),
    progress: Callable[[str, int, int], None] | None = None,
) -> Reconciliation:
    """
    Hold a report against what was sent.

    Parameters
    ----------
    delivered : sequence of DeliveredResult
        All results of the report.
    sent : mapping of str to SentSampler
        All samplers of the survey.
    survey : Survey
        For agents and limits.
    confirmed : mapping of str to str, optional
        Near-matches a person confirmed.
    ignored : collection of str
        Printed names a person has set aside.
    already : collection of str
        Samplers other reports of this survey have results for: they are not missing here.
    duplicates : iterable of str
        What the reader of the file found to be said twice.
    progress : callable, optional
        Told what is being done, how much of it is done, and how much there is.
    """
    printed = [name for name in dict.fromkeys(result.sampler for result in delivered) if name not in set(ignored)]
    matches, unknown = matched_names(printed, sent, confirmed)
    code_of = {match.printed: match.sampler for match in matches}
    by_sampler: dict[str, dict[str, list[DeliveredResult]]] = defaultdict(lambda: defaultdict(list))
    for result in delivered:
        if result.sampler in code_of:
            by_sampler[code_of[result.sampler]][result.agent].append(result)
    scope = _scope(by_sampler, sent, already)
    names = {key: agent.name for key, agent in survey.agents.items()}
    matters = [*name_matters(matches, unknown), *count_matters(scope, by_sampler, sent, names)]
    matters += [
        Matter("twice", "settle", "", "", words, "every result once", f"{words}. Which one counts?")
        for words in duplicates
    ]
    matters += twice_matters(matches, by_sampler, names)
    for done, (code, agents) in enumerate(by_sampler.items()):
        if progress is not None and done % 200 == 0:
            progress("holding the report against what was sent", done, len(by_sampler))
        for agent, results in agents.items():
            for result in results[:1]:
                matters += _of_result(result, sent[code], agent, survey)
    return Reconciliation(scope, matches, unknown, tuple(_gathered(matters)), names)


def accepted_results(
    report: str, delivered: Iterable[DeliveredResult], matches: Iterable[NameMatch]
) -> tuple[tuple[LaboratoryResult, ...], tuple[tuple[str, str, str], ...]]:
    """
    Turn a settled report's results into results of the survey.

    Returns
    -------
    tuple
        The results; and sampler, agent and reason of those the laboratory did not analyse.
    """
    code_of = {match.printed: match.sampler for match in matches if match.how != "near"}
    results, lost = [], []
    for row in delivered:
        code = code_of.get(row.sampler)
        if code is None:
            continue
        if row.front_ug is None:
            lost.append((code, row.agent, row.not_analysed or "no mass reported"))
            continue
        flags = f"laboratory's marks: {', '.join(row.flags)}" if row.flags else ""
        results.append(
            LaboratoryResult(
                report=report,
                sampler=code,
                agent=row.agent,
                front_ug=row.front_ug,
                front_below=row.front_below,
                back_ug=row.back_ug,
                back_below=row.back_below,
                reporting_limit_ug=row.reporting_limit_ug,
                recovery=row.recovery,
                relative_u=row.relative_u,
                volume_l=row.volume_l,
                concentration_mg_m3=None if row.concentration_below else row.concentration_mg_m3,
                medium=row.medium,
                remark="; ".join(part for part in (row.remark, flags) if part),
                analysed_on=row.analysed_on,
                origin=row.origin,
            )
        )
    return tuple(results), tuple(lost)


def _scope(
    by_sampler: Mapping[str, Mapping[str, object]], sent: Mapping[str, SentSampler], already: Collection[str]
) -> tuple[str, ...]:
    """
    Samplers this report should have.

    Those of the same parcels, and of no parcel, on which an agent was ordered that the report has results for; a survey
    may send its media to several laboratories, and a report bring a part of them.
    """
    agents = {agent for found in by_sampler.values() for agent in found}
    media = {sent[code].medium for code in by_sampler if sent[code].medium}
    parcels = {sent[code].parcel for code in by_sampler if sent[code].parcel}
    done = set(already)
    return tuple(
        code
        for code, sampler in sent.items()
        if code in by_sampler
        or (
            code not in done
            and bool(sampler.agents & agents)
            and (not media or not sampler.medium or sampler.medium in media)
            and (not parcels or not sampler.parcel or sampler.parcel in parcels)
        )
    )


def _of_result(result: DeliveredResult, sampler: SentSampler, agent: str, survey: Survey) -> list[Matter]:
    name = survey.agents[agent].name if agent in survey.agents else agent
    found = list(size_matters(result, sampler, survey, name))
    code, origin = sampler.code, result.origin
    if result.front_ug is None:
        why = result.not_analysed or "no mass is printed"
        found.append(
            Matter(
                "not analysed",
                "ask",
                code,
                agent,
                f"{name} on {code}: {why}",
                "a mass",
                f"{name} on {code} has no mass ({why}). Can it still be had?",
                origin,
            )
        )
    if result.medium and sampler.medium and not _same_words(result.medium, sampler.medium):
        found.append(
            Matter(
                "medium",
                "ask",
                code,
                "",
                f"{code} was seen as {result.medium}; {sampler.medium} was sent",
                sampler.medium,
                f"You describe {code} as {result.medium}; we sent {sampler.medium}. "
                "Please look at the sampler and its label.",
                origin,
            )
        )
    if sampler.is_blank and result.volume_l:
        found.append(
            Matter(
                "blank with air",
                "ask",
                code,
                agent,
                f"blank {code} is reported with {result.volume_l:g} L",
                "no volume",
                f"{code} is a blank: no air was drawn through it. Please take its volume out.",
                origin,
            )
        )
    if result.analysed_on and sampler.sampled_on and result.analysed_on < sampler.sampled_on:
        found.append(
            Matter(
                "analysed before sampling",
                "ask",
                code,
                agent,
                f"{name} on {code} analysed on {result.analysed_on}, before it was taken on {sampler.sampled_on}",
                "a day after sampling",
                f"The day of analysis of {code}, {result.analysed_on}, lies before the day "
                "of sampling. Which day is right?",
                origin,
            )
        )
    for flag in dict.fromkeys(result.flags):
        if flag in _FLAG_MATTERS:
            found.append(
                Matter(
                    "laboratory's mark",
                    "note",
                    code,
                    agent,
                    f"{name} on {code} is marked {flag}: {_FLAG_MATTERS[flag]}",
                    origin=origin,
                )
            )
    return found


_FLAG_MATTERS = {
    "J": "an estimate",
    "B": "also found in the laboratory's blank",
    "E": "above the calibrated range, an estimate",
    "H": "analysed after the holding time",
    "N": "identified tentatively",
    "R": "rejected by the laboratory",
}


def _same_words(one: str, other: str) -> bool:
    plain = ["".join(sign for sign in text.casefold() if sign.isalnum()) for text in (one, other)]
    return plain[0] in plain[1] or plain[1] in plain[0]


def _gathered(matters: Iterable[Matter]) -> list[Matter]:
    """Each once, the heaviest first; the order within a weight is that of the report."""
    weights: tuple[Weight, ...] = ("settle", "ask", "note")
    once = list({(m.kind, m.weight, m.sampler, m.found): m for m in reversed(list(matters))}.values())[::-1]
    return [matter for weight in weights for matter in once if matter.weight == weight]
