"""
`.raw` of the formulas on arrays of a million against the same line in plain NumPy, and the price of one full call.

Run: python benchmarks/raw_formulas.py
Wanted: every ratio at most 1.5; a call with figures a few microseconds. Exit code 1 if a ratio is over.
"""

import sys
from collections.abc import Callable
from time import perf_counter

import numpy as np

from lapel.figures import reading
from lapel.hygiene import (
    NTP,
    Air,
    BareAir,
    breakthrough_fraction,
    collected_mass,
    concentration,
    concentration_at,
    rotameter_flow,
    sample_flow,
    sample_volume,
    standard_to_ambient_flow,
    to_mg_m3,
    to_ppm,
    total_mass,
    volume_at,
    volume_time_flow,
)

SIZE = 1_000_000
ROUNDS = 15
ALLOWED = 1.5
R = 8.314462618


def best(work: Callable[[], object]) -> float:
    """Shortest of several rounds, the one least disturbed."""
    times = []
    for _ in range(ROUNDS):
        start = perf_counter()
        work()
        times.append(perf_counter() - start)
    return min(times)


def pairs() -> dict[str, tuple[Callable[[], object], Callable[[], object]]]:
    rng = np.random.default_rng(1)
    flow, post, minutes, front, back, blank, recovery, kelvin, kilopascal = (
        rng.uniform(low, high, SIZE)
        for low, high in (
            (0.02, 0.2), (0.02, 0.2), (15, 480), (10, 500), (0, 10), (0, 2), (0.8, 1.0), (270, 310), (75, 103),
        )
    )  # fmt: skip
    volume, level, air, molar_mass = flow * minutes, front / 12, Air(285.0, 84.0), 92.14
    field = BareAir(kelvin, kilopascal)  # one air a sample
    return {
        "volume_time_flow": (lambda: volume_time_flow.raw(volume, minutes), lambda: 60.0 * volume / minutes),
        "rotameter_flow": (
            lambda: rotameter_flow.raw(flow, calibrated_at=NTP, used_at=field),
            lambda: flow * ((101.325 * kelvin) / (kilopascal * 298.15)) ** 0.5,
        ),
        "standard_to_ambient_flow": (
            lambda: standard_to_ambient_flow.raw(flow, standard=NTP, ambient=field),
            lambda: flow * ((101.325 / kilopascal) * (kelvin / 298.15)),
        ),
        "sample_flow": (lambda: sample_flow.raw(flow, post), lambda: (flow + post) / 2.0),
        "sample_volume": (lambda: sample_volume.raw(flow, minutes), lambda: flow * minutes),
        "volume_at": (
            lambda: volume_at.raw(volume, measured=air, reference=NTP),
            lambda: volume * ((84.0 / 101.325) * (298.15 / 285.0)),
        ),
        "total_mass": (lambda: total_mass.raw(front, back), lambda: front + back),
        "breakthrough_fraction": (lambda: breakthrough_fraction.raw(front, back), lambda: back / front),
        "collected_mass": (
            lambda: collected_mass.raw(front, blank_ug=blank, recovery=recovery),
            lambda: (front - blank) / recovery,
        ),
        "concentration": (
            lambda: concentration.raw(front, volume, blank_ug=blank, recovery=recovery),
            lambda: (front - blank) / (recovery * volume),
        ),
        "to_ppm": (lambda: to_ppm.raw(level, molar_mass), lambda: level * 24.45 / molar_mass),
        "to_mg_m3": (lambda: to_mg_m3.raw(level, molar_mass), lambda: level * molar_mass / 24.45),
        "concentration_at": (
            lambda: concentration_at.raw(level, measured=air, reference=NTP),
            lambda: level * ((101.325 / 84.0) * (285.0 / 298.15)),
        ),
    }


def call_prices() -> dict[str, float]:
    """Microseconds for one full call with figures: checks, uncertainty, derivation."""
    flow = reading(0.1, "L/min", name="flow", uncertainty=0.001)
    mass = reading(50.0, "ug", name="mass", uncertainty=2.0)
    volume = sample_volume(flow, 240.0)
    calls: dict[str, Callable[[], object]] = {
        "sample_volume": lambda: sample_volume(flow, 240.0),
        "sample_flow": lambda: sample_flow(flow, 0.098),
        "concentration": lambda: concentration(mass, volume, recovery=0.95),
        "to_ppm": lambda: to_ppm(10.0, 92.14),
    }
    number = 5_000
    return {
        name: best(lambda call=call: [call() for _ in range(number)]) / number * 1e6  # type: ignore[misc]
        for name, call in calls.items()
    }


def main() -> int:
    worst = 0.0
    print(f"{'formula':<26}{'raw, ms':>10}{'numpy, ms':>12}{'ratio':>8}")
    for name, (raw, plain) in pairs().items():
        raw(), plain()
        ours, theirs = best(raw), best(plain)
        worst = max(worst, ours / theirs)
        print(f"{name:<26}{ours * 1e3:>10.2f}{theirs * 1e3:>12.2f}{ours / theirs:>8.2f}")
    print()
    for name, price in call_prices().items():
        print(f"one call of {name:<20}{price:>6.1f} us")
    print(f"\nworst ratio {worst:.2f}, allowed {ALLOWED}")
    return 0 if worst <= ALLOWED else 1


if __name__ == "__main__":
    sys.exit(main())
