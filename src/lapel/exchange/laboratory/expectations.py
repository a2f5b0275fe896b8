"""What we know before a report is opened: our samplers, our agents and their other names."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from lapel.assessment.inputs import Agent, Survey
from lapel.exchange.laboratory.role_words import plain_words

NOT_USED = "-"
"""Stands for the agent of a name a person has set aside."""
CAS = re.compile(r"\b(\d{2,7}-\d{2}-\d)\b")


@dataclass(frozen=True, slots=True)
class Expected:
    """
    What a report of this survey may speak of.

    Attributes
    ----------
    samplers : frozenset of str
        Codes of samples and blanks.
    agents : AgentNames
        By every name they have.
    sampled_until : date or None
        Last day of sampling, to see which of two days can be.
    normal : mapping of str to str
        Codes by their normal form.
    ordered : mapping of str to frozenset of str
        By normal form of a sample: agents ordered on it.
    """

    samplers: frozenset[str]
    agents: AgentNames
    sampled_until: date | None = None
    normal: Mapping[str, str] = field(default_factory=dict)
    ordered: Mapping[str, frozenset[str]] = field(default_factory=dict)


def expected_of(survey: Survey, blanks: Iterable[str]) -> Expected:
    """Gather what a survey expects of its laboratories."""
    samplers = frozenset(survey.orders) | frozenset(blanks)
    ends = [shift.end.date() for shift in survey.shifts.values()]
    return Expected(
        samplers,
        AgentNames(survey.agents.values()),
        max(ends, default=None),
        {normal(code): code for code in samplers},
        {
            normal(code): frozenset(survey.methods[method].agent for method in order.methods)
            for code, order in survey.orders.items()
        },
    )


def normal(code: str) -> str:
    """Return a code without what people add or drop: case, blanks, dashes, leading zeros of its numbers."""
    return re.sub(r"(?<![0-9])0+(?=[0-9])", "", re.sub(r"[^0-9a-z]+", "", code.casefold()))


class AgentNames:
    """
    Agents by key, name, CAS number, and the other names of their substance in the packaged reference data.

    Parameters
    ----------
    agents : iterable of Agent
        Of the survey.
    told : mapping of str to str, optional
        Further names, and the agents a person said they are; empty for one that is not used.
    """

    def __init__(self, agents: Iterable[Agent], told: Mapping[str, str] | None = None) -> None:
        self.agents = {agent.key: agent for agent in agents}
        self._by_cas = {agent.cas: agent.key for agent in self.agents.values() if agent.cas}
        names: dict[str, set[str]] = {}
        for agent in self.agents.values():
            for name in _names_of(agent):
                plain = plain_words(name)
                if plain:
                    names.setdefault(plain, set()).add(agent.key)
        self._by_name = {name: next(iter(keys)) for name, keys in names.items() if len(keys) == 1}
        self._by_name |= {plain_words(name): key or NOT_USED for name, key in (told or {}).items() if plain_words(name)}
        self._found: dict[str, tuple[str, str]] = {}

    def with_names(self, told: Mapping[str, str]) -> AgentNames:
        """Return the same agents under further names."""
        return AgentNames(self.agents.values(), told) if told else self

    def key(self, text: str) -> str:
        """Return the agent a text names and nothing else; empty where it names none."""
        agent, rest = self.within(text)
        return agent if not rest or CAS.fullmatch(rest.strip(" ()")) else ""

    def within(self, text: str) -> tuple[str, str]:
        """Find an agent in a longer text; its key and the words left over, or empty and the text itself."""
        found = self._found.get(text)
        if found is None:
            found = self._found[text] = self._within(text)
        return found

    def _within(self, text: str) -> tuple[str, str]:
        cas = CAS.search(text)
        if cas and cas[1] in self._by_cas:
            agent = self._by_cas[cas[1]]
            rest = text.replace(cas[1], " ")
            named, left = self._by_words(rest)
            return agent, (left if named == agent else "" if not re.search(r"\w", rest) else rest)
        return self._by_words(text)

    def _by_words(self, text: str) -> tuple[str, str]:
        words = plain_words(text)
        if words in self._by_name:
            return self._by_name[words], ""
        tokens = words.split()
        for size in range(min(6, len(tokens)), 0, -1):
            for start in range(len(tokens) - size + 1):
                name = " ".join(tokens[start : start + size])
                key = self._by_name.get(name)
                if key and len(name) > 2:
                    return key, " ".join(tokens[:start] + tokens[start + size :])
        return "", text


def _names_of(agent: Agent) -> set[str]:
    names = {agent.key, agent.name, re.sub(r"\([^()]*\)", " ", agent.name)}
    names |= set(re.findall(r"\(([^()]+)\)", agent.name))
    if agent.cas:
        from lapel.reference import library  # the packaged tables, read once

        for substance in library().substances:
            if substance.cas != agent.cas:
                continue
            names |= {substance.name, *substance.synonyms}
    return names
