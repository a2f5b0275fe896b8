"""
Simulation-based calibration of the posteriors: a seeded study with its rank histograms.

The truth is drawn from the prior, the results from the truth, and the posterior says how probable it is that the
quantity lies at or below its true value. If the posterior is right these probabilities are uniform, for every kind of
row (Talts et al. 2018, arXiv:1804.06788).

    python benchmarks/rank_study.py                 the study as kept in the documentation (some minutes)
    python benchmarks/rank_study.py --groups 400    a quick look

Writes docs/science/pictures/ranks-of-the-truth.svg and a table in Markdown to stdout.
"""

import argparse
import sys
import time
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
from scipy.special import ndtr
from scipy.stats import binom, chi2

from lapel.statistics import PUBLISHED_SPREAD, Z95, observed, posterior, workers_posterior

PICTURE = Path(__file__).parents[1] / "docs" / "science" / "pictures" / "ranks-of-the-truth.svg"
BINS = 20
MU = (-7.0, 4.0)  # the prior of ln(GM/limit)
WORKERS, REPEATS = 4, 3

MEASURED = "5 measured results"
REPORTED = "5 results, reporting limit at a tenth of the limit"
ERROR = "8 results, measurement error 30 %, some within bounds or below a limit"
UNCERTAIN = "6 results, measurement error anywhere from 5 to 60 %"
BY_WORKER = f"{WORKERS} workers, {REPEATS} results each"


def truths(random, count):
    """Groups drawn from the prior: mu and sigma, shape (count, 1)."""
    mu = random.uniform(*MU, size=(count, 1))
    spread = random.normal(PUBLISHED_SPREAD.mean_ln_sigma, PUBLISHED_SPREAD.sd_ln_sigma, size=(count, 1))
    return mu, np.exp(spread)


def measured_with(random, x, cv):
    """Measured values: the exposure times a lognormal factor of median 1."""
    return x * np.exp(np.sqrt(np.log1p(cv * cv)) * random.standard_normal(x.shape))


def as_rows(x, *, reporting=0.0, bounded=False):
    """Each row of x as one group; the last two columns known within a factor of two either way, where `bounded`."""
    rows = []
    for values in x:
        lower, upper = np.where(values < reporting, 0.0, values), np.maximum(values, reporting)
        if bounded:
            # Bounds that do not depend on where in them the value lies: powers of four.
            steps = np.floor(np.log(values[-2:]) / np.log(4.0))
            lower[-2:], upper[-2:] = 4.0**steps, 4.0 ** (steps + 1.0)
        rows.append(observed(lower=lower, upper=upper))
    return rows


def ranks_of_groups(answer, random, mu, sigma):
    """Quantity -> probability that it lies at or below its true value, shape (count,)."""
    mu, sigma = mu[:, 0], sigma[:, 0]
    true = {
        "GM": ("gm", np.exp(mu)),
        "GSD": ("gsd", np.exp(sigma)),
        "mean": ("mean", np.exp(mu + sigma**2 / 2.0)),
        "95th percentile": ("p95", np.exp(mu + Z95 * sigma)),
        "exceedance": ("exceedance", np.clip(ndtr(mu / sigma), 1e-300, 1.0 - 1e-16)),
    }
    ranks = {name: 1.0 - answer.probability_above(what, value) for name, (what, value) in true.items()}
    new = np.exp(mu + sigma * random.standard_normal(mu.size))
    return ranks | {"next shift": 1.0 - answer.next_shift_probability_above(new)}


def study_of_groups(count, seed):
    """Case -> quantity -> ranks."""
    found = {}
    for number, case in enumerate((MEASURED, REPORTED, ERROR, UNCERTAIN)):
        began = time.perf_counter()
        random = np.random.default_rng([seed, number])
        mu, sigma = truths(random, count)
        n = {MEASURED: 5, REPORTED: 5, ERROR: 8, UNCERTAIN: 6}[case]
        x = np.exp(mu + sigma * random.standard_normal((count, n)))
        if case == ERROR:
            rows, cv = as_rows(measured_with(random, x, 0.3), reporting=0.05, bounded=True), 0.3
        elif case == UNCERTAIN:
            cv = (0.05, 0.60)
            rows = as_rows(measured_with(random, x, random.uniform(*cv, size=(count, 1))))
        else:
            rows, cv = as_rows(x, reporting=0.1 if case == REPORTED else 0.0), None
        found[case] = ranks_of_groups(posterior(rows, limit=1.0, error_cv=cv), random, mu, sigma)
        print(f"{case}: {time.perf_counter() - began:.1f} s", file=sys.stderr)
    return found


def study_of_workers(count, seed):
    """The same for groups whose workers differ; one group at a time."""
    began = time.perf_counter()
    random = np.random.default_rng([seed, 99])
    mu, sigma = truths(random, count)
    ratio = random.uniform(0.0, np.sqrt(0.99), size=(count, 1))
    within, between = sigma * np.sqrt(1.0 - ratio**2), sigma * ratio
    level = mu + between * random.standard_normal((count, WORKERS))
    x = np.exp(level[:, :, None] + within[:, :, None] * random.standard_normal((count, WORKERS, REPEATS)))
    p = (np.arange(400) + 0.5) / 400
    names = ("GM", "GSD", "mean", "95th percentile", "share between", "first worker's own")
    ranks = {name: np.empty(count) for name in names}
    for i in range(count):
        answer = workers_posterior(list(x[i]), limit=1.0)
        m, s = float(mu[i, 0]), float(sigma[i, 0])
        ranks["GM"][i] = 1.0 - answer.probability_above("gm", np.exp(m))
        ranks["GSD"][i] = 1.0 - answer.probability_above("gsd", np.exp(s))
        ranks["mean"][i] = 1.0 - answer.probability_above("mean", np.exp(m + s * s / 2.0))
        ranks["95th percentile"][i] = 1.0 - answer.probability_above("p95", np.exp(m + Z95 * s))
        ranks["share between"][i] = np.interp(ratio[i, 0] ** 2, answer.between_share(p), p, 0.0, 1.0)
        own = float(np.exp(level[i, 0] + Z95 * within[i, 0]))
        ranks["first worker's own"][i] = 1.0 - answer.worker_probability_above("p95", own)[0]
    print(f"{BY_WORKER}: {time.perf_counter() - began:.1f} s", file=sys.stderr)
    return {BY_WORKER: ranks}


def bins_of(ranks):
    """Fewer bins for fewer groups: at least 30 expected in each, at most BINS."""
    return int(min(BINS, ranks.size // 30)) or 1


def uniformity(ranks):
    """Counts in each bin, and the chance of counts as uneven as these if the ranks are uniform."""
    bins = bins_of(ranks)
    counts = np.histogram(ranks, bins=bins, range=(0.0, 1.0))[0]
    expected = ranks.size / bins
    return counts, float(chi2.sf(np.sum((counts - expected) ** 2) / expected, bins - 1))


def table(found, seed):
    lines = [f"Chance of ranks as uneven as these if the posterior is right (chi-square); seed {seed}.", ""]
    for case, by_quantity in found.items():
        cells = [f"{name} {uniformity(ranks)[1]:.2g}" for name, ranks in by_quantity.items()]
        count = next(iter(by_quantity.values())).size
        lines.append(f"| {case} ({count} groups) | " + " | ".join(cells) + " |")
    every = [uniformity(ranks)[1] for by_quantity in found.values() for ranks in by_quantity.values()]
    lines += [
        "",
        f"Smallest of {len(every)}: {min(every):.2g}; by chance alone about {1 / len(every):.2g} is expected.",
    ]
    return "\n".join(lines)


# The picture, written by hand so that the study needs no plotting library: a row a case, a column a quantity.

WIDTH, LEFT, TOP, PANEL, GAP, ROW, DEEP = 960, 24, 78, 138, 16, 128, 66


def text(x, y, words, *, size=12, anchor="start", weight="normal", fill="#222"):
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}" fill="{fill}" '
        f'font-weight="{weight}">{escape(words)}</text>'
    )


def histogram(left, base, ranks):
    """One panel: bars, and the band in which 99 of 100 bars lie by chance."""
    counts, _ = uniformity(ranks)
    bins, n = counts.size, ranks.size
    unit = DEEP / (2.0 * n / bins)  # the expected count stands at half the panel's height
    low, high = binom.ppf([0.005, 0.995], n, 1.0 / bins)
    marks = [
        f'<rect x="{left}" y="{base - unit * high:.1f}" width="{PANEL}" height="{unit * (high - low):.1f}" '
        'fill="#dfe6ec"/>'
    ]
    for k, count in enumerate(counts):
        x = left + PANEL * k / bins
        marks.append(
            f'<rect x="{x + 0.6:.1f}" y="{base - unit * count:.1f}" width="{PANEL / bins - 1.2:.1f}" '
            f'height="{unit * count:.1f}" fill="#1b4f9c" fill-opacity="0.75"/>'
        )
    marks.append(f'<path d="M{left} {base - DEEP / 2:.1f}h{PANEL}" stroke="#222" stroke-dasharray="5 4"/>')
    marks.append(f'<path d="M{left} {base}h{PANEL}" stroke="#222"/>')
    return marks


def picture(found):
    height = TOP + ROW * len(found) + 10
    marks = []
    for row, (case, by_quantity) in enumerate(found.items()):
        top = TOP + ROW * row
        count = next(iter(by_quantity.values())).size
        marks.append(text(LEFT, top + 8, f"{case}; {count} groups", weight="bold"))
        for column, (name, ranks) in enumerate(by_quantity.items()):
            left = LEFT + column * (PANEL + GAP)
            marks += histogram(left, top + 22 + DEEP, ranks)
            marks.append(text(left + PANEL / 2, top + 38 + DEEP, name, anchor="middle"))
    title = "Where the truth lies in its own posterior: rank histograms"
    description = (
        "Rows are kinds of groups, columns quantities. Each histogram counts how often the posterior probability below "
        "the true value fell into each part of 0 to 1. A right posterior gives level histograms; nearly all bars stay "
        "within the grey band, in which 99 of 100 lie by chance."
    )
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" '
            'aria-labelledby="title description" font-family="sans-serif">',
            f'<title id="title">{escape(title)}</title>',
            f'<desc id="description">{escape(description)}</desc>',
            f'<rect width="{WIDTH}" height="{height}" fill="#fff"/>',
            text(LEFT, 28, title, size=16, weight="bold"),
            text(LEFT, 50, "Level is right (dashed). Grey: where 99 of 100 bars lie by chance.", size=13),
            *marks,
            "</svg>",
            "",
        ]
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--groups", type=int, default=2000, help="groups of each kind (default 2000)")
    parser.add_argument("--by-worker", type=int, default=400, help="groups with workers (default 400)")
    parser.add_argument("--seed", type=int, default=1804, help="default 1804")
    parser.add_argument("--picture", type=Path, default=PICTURE)
    chosen = parser.parse_args()
    found = study_of_groups(chosen.groups, chosen.seed) | study_of_workers(chosen.by_worker, chosen.seed)
    chosen.picture.parent.mkdir(parents=True, exist_ok=True)
    chosen.picture.write_text(picture(found), encoding="utf-8")
    print(table(found, chosen.seed))


if __name__ == "__main__":
    main()
