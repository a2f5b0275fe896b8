"""
What anybody could know of an exchange inside one group where no second port saw the worker's day.

The best test there is, of somebody who knows every level and every spread, tried on simulated pairs and held against
its closed form. No method finds more. Prints tables in Markdown.

    python benchmarks/swap_limits.py
"""

import argparse
from math import log, sqrt

import numpy as np
from scipy.stats import norm

FALSE_ALARMS = 0.01
BLEND = 0.3
"""Spread of the composition from shift to shift, as in the study of exchanged samples. [ln]"""
PAIRS = 66
"""Pairs among twelve tubes: a report is asked about as a whole."""
PLACES = (("the same volume", 1.0), ("volumes 1 to 1.2", 1.2), ("volumes 1 to 2", 2.0), ("volumes 1 to 5", 5.0))
WORKERS = ((0.0, "nobody's"), (0.25, "a quarter"), (0.5, "half"), (0.75, "three quarters"))


def best_power(apart, spread, false_alarms):
    """
    Chance that the best test finds an exchange of two tubes whose places differ so much.

    ln LR is normal with mean ±(apart/spread)² and variance 2 (apart/spread)², by whether they were exchanged.
    """
    return norm.cdf(sqrt(2.0) * np.abs(apart) / spread - norm.isf(false_alarms))


def simulated_power(volumes, spread, agents, blend, false_alarms, rng, size=200_000):
    """Share of exchanged pairs above the threshold that so many pairs without an exchange rarely pass."""
    delta = log(volumes)
    precision = np.linalg.inv(spread**2 * np.ones((agents, agents)) + blend**2 * np.eye(agents))

    def log_ratio(one, other):
        def log_density(x):
            return -0.5 * np.einsum("ni,ij,nj->n", x, precision, x)

        return log_density(other + delta) + log_density(one - delta) - log_density(one) - log_density(other)

    def pair():
        common = rng.normal(0, spread, (2, size, 1))
        return common + rng.normal(0, blend, (2, size, agents))

    quiet = log_ratio(*pair())
    one, other = pair()
    found = log_ratio(other + delta, one - delta)
    return float(np.mean(found > np.quantile(quiet, 1.0 - false_alarms)))


def main():
    arguments = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[1])
    arguments.add_argument("--seed", type=int, default=7)
    rng = np.random.default_rng(arguments.parse_args().seed)
    spread = log(2.5)
    print("| Two places of one group | one agent | simulated | three agents | simulated | any of 66 pairs |")
    print("|---|---:|---:|---:|---:|---:|")
    for words, ratio in PLACES:
        cells = []
        for agents in (1, 3):
            cells.append(best_power(log(ratio), sqrt(spread**2 + BLEND**2 / agents), FALSE_ALARMS))
            cells.append(simulated_power(ratio, spread, agents, BLEND, FALSE_ALARMS, rng) if ratio > 1.0 else None)
        cells.append(best_power(log(ratio), sqrt(spread**2 + BLEND**2 / 3), FALSE_ALARMS / PAIRS))
        shown = " | ".join("every ratio is 1" if cell is None else f"{cell:.1%}" for cell in cells)
        print(f"| {words} | {shown} |")
    print()
    print("| Share of the variance between workers | one pair | any of 66 pairs |")
    print("|---|---:|---:|")
    for share, words in WORKERS:
        apart = rng.normal(0, spread * sqrt(2.0 * share), 400_000)
        within = spread * sqrt(1.0 - share)
        one, some = (float(np.mean(best_power(apart, within, a))) for a in (FALSE_ALARMS, FALSE_ALARMS / PAIRS))
        print(f"| {words} | {one:.1%} | {some:.1%} |")


if __name__ == "__main__":
    main()
