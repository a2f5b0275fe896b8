"""Which air a reading or a sample was taken in: as recorded, else the site's usual, else an assumption that is said."""

from __future__ import annotations

import itertools
import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from uncertainties import ufloat

from lapel.assessment.inputs import Site
from lapel.fieldlog.state import Conditions, FlowReading
from lapel.figures import Figure, Source, canonical, number, reading
from lapel.hygiene import NTP, Air, mean_over_run
from lapel.hygiene.air import BETWEEN_RECORDS, OVER_THE_RUN
from lapel.said import said

RECORDED_U = (0.5, 0.2)
"""Standard uncertainty of a recorded temperature [K] and pressure [kPa]; working defaults, judgement."""

USUAL_U = (2.9, 1.0)
"""The same for a site's usual air: ±5 K rectangular, and the weather's swing of pressure. Judgement."""

ASSUMED_U = (5.8, 3.0)
"""The same where nothing is known: ±10 K rectangular, and some 300 m of height. Judgement."""

STALE = timedelta(hours=12)
"""Conditions recorded longer ago or later than this say nothing about a sample."""

AROUND = timedelta(hours=1)
"""Humidity recorded this long before or after a sample still counts for it."""


MOST_TERMS = 8
"""Records of a run that its working lists one by one; the mean of more is one figure that says how many they were."""


class _Series:
    """One quantity over time: each record stands for the minutes nearer to it than to any other."""

    def __init__(self, records: Sequence[Conditions], values: Sequence[float]) -> None:
        self.records = records
        self.values = values
        self.instants = [record.at for record in records]
        self._middles = [a + (b - a) / 2 for a, b in itertools.pairwise(self.instants)]
        doses = (
            value * ((after - before) / timedelta(minutes=1))
            for value, (before, after) in zip(values[1:], itertools.pairwise(self._middles), strict=False)
        )
        self._until = list(itertools.accumulate(doses, initial=0.0))  # of the records 1 to k

    def minutes(self, first: int, last: int, start: datetime, stop: datetime) -> list[float]:
        """Minutes of a time that the records from `first` up to before `last` stand for. [min]"""
        edges = [start, *self._middles[first : last - 1], stop]
        return [(after - before) / timedelta(minutes=1) for before, after in itertools.pairwise(edges)]

    def mean(self, first: int, last: int, start: datetime, stop: datetime) -> float:
        """Mean over a time of two records or more, without going through those between its first and its last."""
        length = (stop - start) / timedelta(minutes=1)
        head = (self._middles[first] - start) / timedelta(minutes=1)
        tail = (stop - self._middles[last - 2]) / timedelta(minutes=1)
        between = self._until[last - 2] - self._until[first]
        return (self.values[first] * head + between + self.values[last - 1] * tail) / length


class PlaceAir:
    """
    Finds the air for readings and samples.

    What was written alike shares its doubt, as one thermometer read twice does; each figure names its own entry. With
    `earlier`, the air of the same site worked before, it does so also with what was written then.
    """

    def __init__(self, site: Site, conditions: Sequence[Conditions], *, earlier: PlaceAir | None = None) -> None:
        self._site = site
        self._zone = ZoneInfo(site.zone)
        self._conditions = sorted(conditions, key=lambda record: record.at)
        self._instants = [record.at for record in self._conditions]
        self._known: dict[tuple[str, str, str, str], Air] = earlier._known if earlier else {}
        self._named: dict[tuple[tuple[str, str, str, str], str], Air] = earlier._named if earlier else {}
        self._humidity: dict[tuple[datetime, datetime], list[float | None]] = {}
        same = earlier if earlier is not None and earlier._conditions == self._conditions else None
        self._means: dict[tuple[str, datetime, datetime], Figure | float | None] = same._means if same else {}
        self._known_series: dict[str, _Series] = same._known_series if same else {}
        self._common: dict[str, Any] = same._common if same else {}
        self._fallback: Air | None = earlier._fallback if earlier else None

    @property
    def zone(self) -> ZoneInfo:
        """Zone of the clock on the site's wall."""
        return self._zone

    def of_reading(self, read: FlowReading, assumptions: list[str]) -> Air:
        """Air a flow was read in."""
        return self._from(read, assumptions) or self.between(read.at, read.at, assumptions)

    def between(self, start: datetime, stop: datetime, assumptions: list[str]) -> Air:
        """
        Air of a time: the mean over it of the conditions recorded in it, each for the minutes nearest to it.

        Where none was recorded in it the nearest within half a day stands, else the site's.
        """
        first, last = bisect_left(self._instants, start), bisect_right(self._instants, stop)
        if last - first > 1:
            return self._over(start, stop, assumptions)
        nearby = self._conditions[max(0, first - 1) : first + 1]
        best = min(nearby, key=lambda record: _away(record.at, start, stop), default=None)
        if best is not None and _away(best.at, start, stop) <= STALE:
            found = self._from(best, assumptions)
            if found is not None:
                return found
        return self._usual(assumptions)

    def _over(self, start: datetime, stop: datetime, assumptions: list[str]) -> Air:
        """Mean air of a time in which several conditions were recorded."""
        temperature = self._mean("K", start, stop)
        pressure = self._mean("kPa", start, stop)
        usual = self._usual(assumptions) if temperature is None or pressure is None else None
        return Air(
            usual.temperature_k if temperature is None else temperature,  # type: ignore[union-attr]
            usual.pressure_kpa if pressure is None else pressure,  # type: ignore[union-attr]
        )

    def _mean(self, unit: str, start: datetime, stop: datetime) -> Figure | float | None:
        """Mean of one quantity over the records made of it in a time; None where there is none."""
        key = (unit, start, stop)
        if key not in self._means:
            self._means[key] = self._mean_worked(unit, start, stop)
        return self._means[key]

    def _mean_worked(self, unit: str, start: datetime, stop: datetime) -> Figure | float | None:
        series = self._series(unit)
        first, last = bisect_left(series.instants, start), bisect_right(series.instants, stop)
        if first == last:
            return None
        if last - first > MOST_TERMS:
            return self._mean_of_many(unit, series, first, last, start, stop)
        values = [self._recorded(series.records[k], unit) for k in range(first, last)]
        if len(values) == 1:
            return values[0]
        return mean_over_run(values, series.minutes(first, last, start, stop), unit=unit)

    def _recorded(self, record: Conditions, unit: str) -> Figure | float:
        air = self._from(record, [])
        assert air is not None  # a series holds only records that say something
        found: Figure | float = air.temperature_k if unit == "K" else air.pressure_kpa
        return found

    def _mean_of_many(
        self, unit: str, series: _Series, first: int, last: int, start: datetime, stop: datetime
    ) -> Figure:
        """The same mean and doubt in one figure: of very many records a working lists none."""
        within = series.values[first:last]
        half_range = (max(within) - min(within)) / (2.0 * math.sqrt(3.0))
        spread: Any = ufloat(0.0, half_range, tag=BETWEEN_RECORDS[unit]) if half_range else 0.0
        if unit not in self._common:
            self._common[unit] = ufloat(0.0, RECORDED_U[0 if unit == "K" else 1], tag="air temperature and pressure")
        amount = series.mean(first, last, start, stop) + self._common[unit] + spread
        return Figure(
            amount,
            unit,
            name=OVER_THE_RUN[unit],
            source=(
                "mean over time of {n} records, entries {first} to {last}",
                str(last - first),
                series.records[first].entry_id,
                series.records[last - 1].entry_id,
            ),
        )

    def _series(self, unit: str) -> _Series:
        if unit not in self._known_series:
            kept = [record for record in self._conditions if (record.temperature if unit == "K" else record.pressure)]
            self._known_series[unit] = _Series(kept, [number(self._recorded(record, unit)) for record in kept])
        return self._known_series[unit]

    def humidity_between(self, start: datetime, stop: datetime) -> float | None:
        """Highest relative humidity recorded in a time. [%]"""
        known = self._humidity.get((start, stop))
        if known is None:
            first = bisect_left(self._instants, start - AROUND)
            last = bisect_right(self._instants, stop + AROUND)
            around = (record.humidity_percent for record in self._conditions[first:last])
            known = self._humidity[start, stop] = [max((float(text) for text in around if text), default=None)]
        return known[0]

    def _from(self, record: FlowReading | Conditions, assumptions: list[str]) -> Air | None:
        if not record.temperature and not record.pressure:
            return None
        key = (record.temperature, record.temperature_unit, record.pressure, record.pressure_unit)
        usual = None if record.temperature and record.pressure else self._usual(assumptions)
        found = self._named.get((key, record.entry_id))
        if found is not None:
            return found
        source = ("entry {entry}", record.entry_id)
        known = self._known.get(key)
        if known is None:
            found = self._known[key] = Air(
                _figure(canonical(record.temperature, record.temperature_unit, "temperature"), "K", source=source)
                if record.temperature
                else usual.temperature_k,  # type: ignore[union-attr]
                _figure(canonical(record.pressure, record.pressure_unit, "pressure"), "kPa", source=source)
                if record.pressure
                else usual.pressure_kpa,  # type: ignore[union-attr]
            )
        else:
            found = Air(
                _from_entry(known.temperature_k, source=source) if record.temperature else known.temperature_k,
                _from_entry(known.pressure_kpa, source=source) if record.pressure else known.pressure_kpa,
            )
        self._named[key, record.entry_id] = found
        return found

    def _usual(self, assumptions: list[str]) -> Air:
        if self._site.air is not None:
            assumptions.append(said("air not recorded with it: the site's usual temperature and pressure taken"))
            air, spread = self._site.air, USUAL_U
        else:
            assumptions.append(said("air neither recorded nor stated for the site: 25 °C and 101.3 kPa taken"))
            air, spread = NTP, ASSUMED_U
        if self._fallback is None:
            stated = ("site's usual air; {origin}", self._site.origin)
            source = stated if self._site.air is not None else "assumed"
            self._fallback = Air(
                _figure(number(air.temperature_k), "K", spread[0], source=source),
                _figure(number(air.pressure_kpa), "kPa", spread[1], source=source),
            )
        return self._fallback


def _figure(value: float, unit: str, u: float | None = None, *, source: Source) -> Figure:
    recorded = RECORDED_U[0 if unit == "K" else 1]
    return reading(
        value,
        unit,
        name="air temperature" if unit == "K" else "air pressure",
        uncertainty=recorded if u is None else u,
        cause="air temperature and pressure",
        source=source,
    )


def _from_entry(figure: Figure | float, *, source: Source) -> Figure | float:
    """Return the same number with the same doubt, from the entry it stands in."""
    if not isinstance(figure, Figure):
        return figure
    return Figure(figure.amount, figure.unit, name=figure.name, sense=figure.sense, source=source)


def _away(at: datetime, start: datetime, stop: datetime) -> timedelta:
    """Return how far an instant lies outside a time."""
    return max(start - at, at - stop, timedelta(0))
