"""
What goes to the laboratory: which samplers and blanks, what it must know of each, by when they must be there.

A parcel is what the field log says was sealed. What was drawn and lies in no parcel is missing; what lies in one and
was never drawn, or lies in two, does not fit. Nothing is shipped silently: every disagreement is a matter in words.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal, TypeAlias
from zoneinfo import ZoneInfo

from lapel.assessment.inputs import LimitChoice, Method, Survey
from lapel.assessment.volumes import volumes_of
from lapel.fieldlog import Entry
from lapel.fieldlog.signatures import Signature, signature_in
from lapel.fieldlog.state import CustodyHop, Day, Parcel
from lapel.figures import first_of
from lapel.hygiene import NTP, to_mg_m3
from lapel.hygiene.rulebook import RuleBook
from lapel.planning.volume_window import expected_mass

Weight: TypeAlias = Literal["stop", "look", "note"]
"""Stop: nothing is shipped before it is settled. Look: a person should know. Note: for the record."""

SHARES = (0.1, 1.0)
"""Shares of a limit between which the laboratory is told to expect a mass: a tenth, and the limit itself."""

MOST_NAMED = 8
"""Samplers named in a sentence; the rest is counted."""

WHOLE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Request:
    """
    One analyte asked for on one sampler.

    `reporting_limit_ug` is the one promised for the plan; `low_ug` and `high_ug` what a tenth of the lowest limit and
    the limit itself would leave on the sampler, None where no limit in mass can be worked out.
    """

    agent: str
    name: str
    cas: str
    method: str
    reporting_limit_ug: float | None
    low_ug: float | None
    high_ug: float | None


@dataclass(frozen=True, slots=True)
class SentSample:
    """
    One sampler or blank as the laboratory is told of it; nothing here says who wore it.

    Attributes
    ----------
    kind : str
        “air sample”, or a blank by its use.
    taken_on : date or None
        Day it was taken off, or the blank was closed.
    hold_until : datetime or None
        When the shortest holding time of its methods ends, counted from when it was taken off.
    receipt_max_c : float or None
        Highest temperature on receipt that its methods state. [°C]
    """

    sampler: str
    kind: str
    medium: str
    lot: str
    taken_on: date | None
    minutes: float | None
    volume_l: float | None
    requests: tuple[Request, ...]
    hold_until: datetime | None
    receipt_max_c: float | None


@dataclass(frozen=True, slots=True)
class HandOver:
    """
    A parcel changed hands, and how the two signed for it.

    Attributes
    ----------
    giver_signature, receiver_signature : Signature or None
        None where nobody signed.
    corrected : bool
        Whether something of it was corrected later: what was signed said otherwise.
    """

    hop: CustodyHop
    giver_firm: str = ""
    giver_signature: Signature | None = None
    receiver_firm: str = ""
    receiver_signature: Signature | None = None
    corrected: bool = False


@dataclass(frozen=True, slots=True)
class DispatchMatter:
    """Something that does not fit, with what to do."""

    kind: str
    weight: Weight
    samplers: tuple[str, ...]
    words: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Shipment:
    """
    One parcel, ready or not.

    Attributes
    ----------
    latest_arrival : datetime or None
        When the first holding time in it ends.
    receipt_max_c : float or None
        The strictest of its methods. [°C]
    """

    parcel: Parcel
    samples: tuple[SentSample, ...]
    matters: tuple[DispatchMatter, ...]
    hands: tuple[HandOver, ...]
    latest_arrival: datetime | None
    receipt_max_c: float | None

    @property
    def may_go(self) -> bool:
        """Whether nothing stops it."""
        return not any(matter.weight == "stop" for matter in self.matters)

    @property
    def counts(self) -> tuple[int, int]:
        """How many air samples and how many blanks."""
        air = sum(1 for sample in self.samples if sample.kind == "air sample")
        return air, len(self.samples) - air


def shipments(survey: Survey, day: Day, book: RuleBook) -> tuple[Shipment, ...]:
    """Return every parcel of a survey's log, in the order in which they were sealed."""
    packer = _Packer(survey, day, book)
    ordered = sorted(day.parcels.values(), key=lambda parcel: (parcel.sealed_at is None, parcel.sealed_at, parcel.code))
    return tuple(packer.shipment(parcel) for parcel in ordered)


def not_packed(survey: Survey, day: Day) -> tuple[str, ...]:
    """Samplers that drew air and blanks that were opened, and lie in no parcel."""
    packed = {code for parcel in day.parcels.values() for code in parcel.samplers}
    drawn = [code for code, run in day.runs.items() if run.segments]
    return tuple(code for code in (*drawn, *day.blanks) if code not in packed)


class _Packer:
    """Knows the survey, so that each parcel is described by the same words."""

    def __init__(self, survey: Survey, day: Day, book: RuleBook) -> None:
        self._survey = survey
        self._day = day
        self._zone = ZoneInfo(survey.site.zone)
        self._volumes = volumes_of(survey, day, book)
        self._limits = _lowest_limits(survey)
        self._in_parcels = Counter(code for parcel in day.parcels.values() for code in parcel.samplers)
        self._entries = {entry.id: entry for entry in survey.entries if entry.kind == "custody_handed"}
        self._corrected = {entry.corrects for entry in survey.entries if _changes(entry)}

    def shipment(self, parcel: Parcel) -> Shipment:
        samples = tuple(self._sample(code) for code in dict.fromkeys(parcel.samplers))
        holds = [sample.hold_until for sample in samples if sample.hold_until is not None]
        warm = [sample.receipt_max_c for sample in samples if sample.receipt_max_c is not None]
        return Shipment(
            parcel,
            samples,
            tuple(self._matters(parcel, samples)),
            tuple(self._hand_over(hop) for hop in parcel.hops),
            min(holds, default=None),
            min(warm, default=None),
        )

    def _hand_over(self, hop: CustodyHop) -> HandOver:
        said = self._entries[hop.entry_id].fields
        return HandOver(
            hop,
            said.get("from_firm", "").strip(),
            signature_in(said.get("from_signature", "")),
            said.get("to_firm", "").strip(),
            signature_in(said.get("to_signature", "")),
            hop.entry_id in self._corrected,
        )

    def _sample(self, code: str) -> SentSample:
        blank = self._day.blanks.get(code)
        if blank is not None:
            lot = self._survey.media_lots.get(blank.lot)
            medium = blank.medium or (lot.medium if lot else "")
            methods = [m for m in self._survey.methods.values() if m.medium == medium]
            closed = blank.closed_at or blank.opened_at
            return self._described(
                code, f"{blank.use or 'field'} blank", medium, blank.lot, methods, closed, None, None
            )
        run, order = self._day.runs.get(code), self._survey.orders.get(code)
        methods = [self._survey.methods[name] for name in order.methods] if order else []
        stops = [segment.stop for segment in run.segments if segment.stop] if run else []
        lot_code = run.lot if run else ""
        lot = self._survey.media_lots.get(lot_code)
        medium = (run.medium if run else "") or (lot.medium if lot else "") or (methods[0].medium if methods else "")
        minutes = run.clock_min if run else None
        stop = max(stops, default=None)
        return self._described(code, "air sample", medium, lot_code, methods, stop, minutes, self._volumes.get(code))

    def _described(
        self,
        code: str,
        kind: str,
        medium: str,
        lot: str,
        methods: Sequence[Method],
        taken: datetime | None,
        minutes: float | None,
        volume_l: float | None,
    ) -> SentSample:
        days = [method.holding_days for method in methods if method.holding_days is not None]
        warm = [method.receipt_max_c for method in methods if method.receipt_max_c is not None]
        return SentSample(
            code,
            kind,
            medium,
            lot,
            taken.astimezone(self._zone).date() if taken else None,
            minutes,
            volume_l,
            tuple(self._request(method, volume_l) for method in methods),
            taken + min(days) * WHOLE_DAY if taken and days else None,
            min(warm, default=None),
        )

    def _request(self, method: Method, volume_l: float | None) -> Request:
        agent = self._survey.agents[method.agent]
        limit = self._limits.get(method.agent)
        low, high = (
            (None, None)
            if limit is None or not volume_l
            else (float(expected_mass.raw(limit, volume_l, limit_share=share)) for share in SHARES)
        )
        return Request(agent.key, agent.name, agent.cas, method.code, method.reporting_limit_ug, low, high)

    def _matters(self, parcel: Parcel, samples: Sequence[SentSample]) -> Iterable[DispatchMatter]:
        known = {*self._day.runs, *self._day.blanks}
        strange = tuple(s.sampler for s in samples if s.sampler not in known)
        if strange:
            yield DispatchMatter(
                "extra", "stop", strange,
                f"In the parcel, but never fitted or opened by the log: {first_of(strange, MOST_NAMED)}.",
                "Check the labels; record what happened, or take them out and seal the parcel anew.",
            )  # fmt: skip
        twice = tuple(code for code, count in Counter(parcel.samplers).items() if count > 1)
        elsewhere = tuple(s.sampler for s in samples if self._in_parcels[s.sampler] > 1 and s.sampler not in twice)
        if twice or elsewhere:
            both = (*twice, *elsewhere)
            yield DispatchMatter(
                "twice", "stop", both, f"In more than one place: {first_of(both, MOST_NAMED)}.",
                "One sampler lies in one parcel: correct the entry of the other.",
            )  # fmt: skip
        bulk = tuple(s.sampler for s in samples if "bulk" in s.medium.casefold())
        if bulk and len(bulk) < len(samples):
            yield DispatchMatter(
                "bulk", "stop", bulk,
                f"Bulk samples ({first_of(bulk, MOST_NAMED)}) lie with air samples: their vapour would end up on every "
                "sampler of the parcel.", "Pack bulk apart, and ship it apart.",
            )  # fmt: skip
        yield from self._left_behind(samples)
        yield from self._without_blank(samples)
        yield from _unwritten(samples)

    def _left_behind(self, samples: Sequence[SentSample]) -> Iterable[DispatchMatter]:
        """Samplers and blanks of the same days that lie in no parcel."""
        days = {sample.taken_on for sample in samples if sample.taken_on}
        missing = tuple(code for code in not_packed(self._survey, self._day) if self._sample(code).taken_on in days)
        if missing:
            yield DispatchMatter(
                "missing", "stop", missing, f"Of the same days, and in no parcel: {first_of(missing, MOST_NAMED)}.",
                "Pack them, or record that and why they are not sent.",
            )  # fmt: skip

    def _without_blank(self, samples: Sequence[SentSample]) -> Iterable[DispatchMatter]:
        """A lot of which samples go without a blank of the same lot, in this parcel or another."""
        lots = {sample.lot for sample in samples if sample.kind == "air sample" and sample.lot}
        with_blank = {blank.lot for blank in self._day.blanks.values()}
        bare = tuple(sorted(lots - with_blank))
        if bare:
            yield DispatchMatter(
                "blank", "look", (), f"No blank of lot {first_of(bare, MOST_NAMED)} was recorded.",
                "Add blanks of the same lot before you seal; most methods ask for two or more a batch.",
            )  # fmt: skip


def _changes(entry: Entry) -> bool:
    """Whether an entry changes what another one says; one that says two are two acts does not."""
    return entry.kind == "correction" and bool(entry.fields.get("field"))


def _unwritten(samples: Sequence[SentSample]) -> Iterable[DispatchMatter]:
    """What the laboratory needs and nobody recorded."""
    no_volume = tuple(s.sampler for s in samples if s.kind == "air sample" and s.volume_l is None)
    if no_volume:
        yield DispatchMatter(
            "volume", "look", no_volume, f"The volume of {first_of(no_volume, MOST_NAMED)} is not known.",
            "Record the missing flows and times; the laboratory can start without, the result cannot.",
        )  # fmt: skip
    unasked = tuple(s.sampler for s in samples if not s.requests)
    if unasked:
        yield DispatchMatter(
            "request", "stop", unasked, f"Nothing is asked for on {first_of(unasked, MOST_NAMED)}.",
            "Order a method for them in the plan, or take them out.",
        )  # fmt: skip


def _lowest_limits(survey: Survey) -> dict[str, float]:
    """Lowest long-term limit of each agent, binding before recommended, in mg/m3 at 25 °C and 101.325 kPa."""
    found: dict[str, list[LimitChoice]] = defaultdict(list)
    for limit in survey.limits:
        if limit.kind == "TWA":
            found[limit.agent].append(limit)
    lowest: dict[str, float] = {}
    for agent, limits in found.items():
        binding = [limit for limit in limits if limit.binding] or limits
        values = [value for limit in binding if (value := _in_mass(limit, survey)) is not None]
        if values:
            lowest[agent] = min(values)
    return lowest


def _in_mass(limit: LimitChoice, survey: Survey) -> float | None:
    if limit.unit == "mg/m3":
        return limit.value
    molar = survey.agents[limit.agent].molar_mass
    return None if molar is None else to_mg_m3(limit.value, molar, air=NTP).value


def days_left(until: datetime | None, now: datetime) -> float | None:
    """Days from now to an instant, negative when it is over; None where there is none."""
    return None if until is None else (until - now) / WHOLE_DAY


def by_parcel(all_shipments: Iterable[Shipment]) -> Mapping[str, Shipment]:
    """Shipments by the parcel's number."""
    return {shipment.parcel.code: shipment for shipment in all_shipments}
