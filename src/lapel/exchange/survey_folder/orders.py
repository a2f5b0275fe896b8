"""Agents, limits, methods, lots and what was wanted of each sampler."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from lapel.assessment.inputs import Agent, FindingOverride, LimitChoice, MediaLot, Method, SampleOrder
from lapel.exchange.problems import Faults, did_you_mean, quoted
from lapel.exchange.survey_folder.equipment import ordered
from lapel.exchange.survey_folder.tables import Row


def agents_of(rows: Iterable[Row]) -> dict[str, Agent]:
    """Return the agents by key."""
    return {
        row["key"]: Agent(
            row["key"], row["name"], row["cas"] or "", row["molar_mass"], row["effect_groups"] or (), row.origin
        )
        for row in rows
    }


def methods_of(rows: Iterable[Row], media: set[str], faults: Faults) -> dict[str, Method]:
    """Return the methods by code; a medium no lot has is a fault, for it is most often a misspelling."""
    methods = {}
    for row in rows:
        in_order = ordered(row, "flow_min", "flow_max", faults), ordered(row, "volume_min", "volume_max", faults)
        if media and row["medium"] not in media:
            _unknown_medium(row, media, faults)
            continue
        if all(in_order):
            methods[row["code"]] = _method(row)
    return methods


def _unknown_medium(row: Row, media: set[str], faults: Faults) -> None:
    faults.add(
        row.place("medium"),
        quoted(row["medium"]),
        "a medium that stands in media.csv",
        did_you_mean(row["medium"], media) + "Use the same words in both, or add the lot to media.csv.",
    )


def _method(row: Row) -> Method:
    return Method(
        code=row["code"],
        agent=row["agent"],
        medium=row["medium"],
        flow_min_lpm=row["flow_min"],
        flow_max_lpm=row["flow_max"],
        volume_min_l=row["volume_min"],
        volume_max_l=row["volume_max"],
        reporting_limit_ug=row["reporting_limit"],
        analysis_cv=_fraction(row["analysis_cv_percent"]),
        sampling_cv=_fraction(row["sampling_cv_percent"]),
        holding_days=row["holding_days"],
        receipt_max_c=None if row["receipt_max"] is None else round(row["receipt_max"] - 273.15, 6),
        blanks_min=row["blanks_min"],
        blanks_share=None if row["blanks_share_percent"] is None else row["blanks_share_percent"] / 100.0,
        duplicates_min=row["duplicates_min"],
        duplicates_share=_fraction(row["duplicates_share_percent"]),
        two_sections=row["two_sections"],
        source=row["source"] or "",
        origin=row.origin,
    )


def _fraction(percent: float | None) -> float | None:
    return None if percent is None else percent / 100.0


def media_lots_of(rows: Iterable[Row]) -> dict[str, MediaLot]:
    """Return the lots by number."""
    return {
        row["lot"]: MediaLot(
            row["lot"], row["medium"], row["expiry"], row["family"] or "", row["catalogue"] or "", row.origin
        )
        for row in rows
    }


def orders_of(rows: Iterable[Row], methods: Mapping[str, Method], faults: Faults) -> dict[str, SampleOrder]:
    """Return what was wanted of each sampler; two methods for one agent, or for two media, are faults."""
    orders = {}
    for row in rows:
        wanted = [methods[code] for code in row["methods"] if code in methods]
        if len({method.agent for method in wanted}) < len(wanted):
            faults.add(
                row.place("methods"),
                "two methods for one agent",
                "one method an agent",
                "Keep the one the laboratory uses.",
            )
            continue
        if len({method.medium for method in wanted}) > 1:
            faults.add(
                row.place("methods"),
                "methods that want different media: " + ", ".join(sorted({method.medium for method in wanted})),
                "methods of one medium, for a sampler is one medium",
                "Give each medium its own sampler.",
            )
            continue
        orders[row["sampler"]] = SampleOrder(
            row["sampler"],
            row["shift"],
            row["purpose"],
            row["methods"],
            row["averaging_min"],
            row["task"] or "",
            row.origin,
        )
    return orders


def overrides_of(rows: Iterable[Row]) -> tuple[FindingOverride, ...]:
    """Return the findings a person lifted."""
    return tuple(FindingOverride(row["sampler"], row["rule"], row["person"], row["reason"], row.origin) for row in rows)


def limits_of(
    rows: Iterable[Row], packaged: Mapping[str, Mapping[str, Any]], agents: Mapping[str, Agent], faults: Faults
) -> tuple[LimitChoice, ...]:
    """
    Return the limits, those with a reference filled from the packaged row where a cell is empty.

    Parameters
    ----------
    packaged : mapping of str to mapping
        Packaged limits by key, with the same column names and `cas`.
    """
    limits: list[LimitChoice] = []
    first_seen: dict[tuple[str, ...], int] = {}
    for row in rows:
        filled = _filled(row, packaged, agents, faults)
        if filled is None:
            continue
        same = tuple(str(filled[name]) for name in ("agent", "authority", "kind", "unit", "averaging_min"))
        if same in first_seen:
            faults.add(
                row.place("agent"),
                f"the same limit as in row {first_seen[same]} (agent, authority, kind, unit and averaging time)",
                "every limit once",
                "Keep the one that applies.",
            )
            continue
        first_seen[same] = row.number
        limits.append(_limit(filled, row.origin))
    return tuple(limits)


def _filled(
    row: Row, packaged: Mapping[str, Mapping[str, Any]], agents: Mapping[str, Agent], faults: Faults
) -> dict[str, Any] | None:
    values = dict(row.values)
    before = faults.count
    if values["reference"]:
        reference = packaged.get(values["reference"])
        if reference is None:
            faults.add(
                row.place("reference"),
                quoted(values["reference"]),
                "the key of a packaged limit",
                did_you_mean(values["reference"], packaged) + _keys_for(agents.get(values["agent"]), packaged),
            )
            return None
        _check_against(row, values, reference, agents, faults)
        values.update({name: value for name, value in reference.items() if values.get(name) is None})
    for name in ("authority", "kind", "value", "unit"):
        if values[name] is None:
            faults.add(row.place(name), "an empty cell", f"the limit's {name}", "Fill it in, or name a packaged limit.")
    if values["kind"] in ("TWA", "STEL") and values["averaging_min"] is None:
        faults.add(
            row.place("averaging_min"),
            "an empty cell",
            f"the averaging time of a {values['kind']}",
            "Fill it in, as in 480 or 15.",
        )
    agent = agents.get(values["agent"])
    if values["unit"] == "ppm" and agent is not None and agent.molar_mass is None:
        faults.add(
            row.place("unit"),
            "a limit in ppm for an agent without molar mass",
            "the agent's molar mass in agents.csv",
            "Add it, so that ppm and mg/m3 can be turned into each other.",
        )
    return values if faults.count == before else None


def _keys_for(agent: Agent | None, packaged: Mapping[str, Mapping[str, Any]]) -> str:
    keys = [key for key, row in packaged.items() if agent is not None and agent.cas and row["cas"] == agent.cas]
    if not keys:
        return "None is packaged for this agent: fill in the row yourself, with its source."
    return f"Packaged for {agent.name if agent else ''}: {', '.join(keys)}."


def _check_against(
    row: Row,
    values: Mapping[str, Any],
    reference: Mapping[str, Any],
    agents: Mapping[str, Agent],
    faults: Faults,
) -> None:
    """Refuse a row that names a packaged limit and contradicts it, or names that of another substance."""
    for name in ("authority", "kind", "value", "unit", "averaging_min"):
        if values[name] is not None and reference.get(name) is not None and values[name] != reference[name]:
            faults.add(
                row.place(name),
                f"{values[name]}, where the packaged limit has {reference[name]}",
                "an empty cell, or the same as the packaged limit",
                "Leave the cell empty; or take the reference away and give your own source.",
            )
    agent = agents.get(values["agent"])
    if agent is not None and agent.cas and reference.get("cas") and agent.cas != reference["cas"]:
        faults.add(
            row.place("reference"),
            f"a limit of CAS {reference['cas']}",
            f"one of {agent.name}, CAS {agent.cas}",
            "Name the packaged limit of this agent.",
        )


def _limit(values: Mapping[str, Any], origin: str) -> LimitChoice:
    return LimitChoice(
        agent=values["agent"],
        authority=values["authority"],
        kind=values["kind"],
        value=values["value"],
        unit=values["unit"],
        averaging_min=values["averaging_min"],
        source=values["source"] or "",
        as_of=values["as_of"],
        binding=values["binding"] is not False,
        extended_shift_model=values["extended_shift_model"] or "",
        note=values["note"] or "",
        origin=origin,
    )
