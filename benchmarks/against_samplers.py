"""One group's posterior by quadrature against general-purpose samplers: time, and error of the 95th percentile.

The samplers are no dependency of the project. To run this, in an environment of its own:

    python -m venv /tmp/samplers && /tmp/samplers/bin/pip install pymc nutpie emcee
    /tmp/samplers/bin/pip install -e .
    /tmp/samplers/bin/python benchmarks/against_samplers.py

The model is the same throughout: six results, two of them below the reporting limit, the default prior. Times are of
the processor, not of the clock; those of the samplers leave out compiling the model, which would only add. Sampler and
quadrature are timed in turn, three times each, and the best of each counts, so that a busy machine is busy for both.
The truth is the quadrature of tests/vectors/make_group_posteriors.py; the time of ours is per group, in a call of 1000
alike.
"""

import logging
import math
import os
import sys
import time
import warnings
from pathlib import Path

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import numpy as np  # noqa: E402

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "vectors"))
from make_group_posteriors import Group  # noqa: E402

from lapel.statistics import observed, posterior  # noqa: E402
from lapel.statistics.priors import PUBLISHED_SPREAD as PRIOR  # noqa: E402

warnings.filterwarnings("ignore")
logging.disable(logging.WARNING)

DETECTS = np.array([0.21, 0.4, 0.12, 0.33])
LOQ, CENSORED = 0.1, 2
Z95 = 1.6448536269514722
P = (0.05, 0.5, 0.95)
DRAWS, CHAINS = 1000, 4
ROUNDS = 3


def truth() -> np.ndarray:
    lower = [*DETECTS, *[0.0] * CENSORED]
    upper = [*DETECTS, *[LOQ] * CENSORED]
    group = Group(lower, upper, {"spread": [PRIOR.mean_ln_sigma, PRIOR.sd_ln_sigma]})
    group.settle()
    total = group.total()
    guesses = np.interp(P, (0.05, 0.3, 0.5, 0.7, 0.95), group.bracket("p95"))
    return np.exp([group.quantile("p95", p, g, total) for p, g in zip(P, guesses, strict=True)])


def by_quadrature():
    rows = observed([*DETECTS, *[np.nan] * CENSORED], upper=[*[np.nan] * len(DETECTS), *[LOQ] * CENSORED])
    groups = [rows] * 1000
    posterior(groups[:50], limit=1.0).quantiles("p95", P)
    best = math.inf
    for _ in range(5):
        start = time.process_time()
        answer = posterior(groups, limit=1.0).quantiles("p95", P)
        best = min(best, (time.process_time() - start) / 1000)
    return best, answer[0]


def pymc_model():
    import pymc as pm

    with pm.Model() as model:
        mu = pm.Uniform("mu", -7.0, 4.0)
        u = pm.Normal("u", PRIOR.mean_ln_sigma, PRIOR.sd_ln_sigma)
        sigma = pm.math.exp(u)
        y = np.log([*DETECTS, *[LOQ] * CENSORED])
        pm.Censored("y", pm.Normal.dist(mu, sigma), lower=math.log(LOQ), upper=None, observed=y)
        pm.Deterministic("ln_p95", mu + Z95 * sigma)
    return model


def quantiles_of(trace):
    return np.exp(np.quantile(trace.posterior["ln_p95"].values.ravel(), P))


def by_pymc():
    import pymc as pm

    with pymc_model():
        pm.sample(20, tune=20, chains=1, cores=1, progressbar=False, random_seed=1)
        start = time.process_time()
        trace = pm.sample(DRAWS, tune=1000, chains=CHAINS, cores=1, progressbar=False, random_seed=2)
        return time.process_time() - start, quantiles_of(trace)


def by_nutpie():
    import nutpie

    compiled = nutpie.compile_pymc_model(pymc_model())
    nutpie.sample(compiled, draws=20, tune=20, chains=1, cores=1, progress_bar=False, seed=1)
    start = time.process_time()
    trace = nutpie.sample(compiled, draws=DRAWS, tune=400, chains=CHAINS, cores=1, progress_bar=False, seed=2)
    return time.process_time() - start, quantiles_of(trace)


def by_emcee():
    import emcee
    from scipy.special import log_ndtr

    y, loq = np.log(DETECTS), math.log(LOQ)

    def log_density(points):
        mu, u = points[:, 0], points[:, 1]
        s = np.exp(u)
        value = -0.5 * (((y - mu[:, None]) / s[:, None]) ** 2).sum(axis=1) - len(y) * u
        value += CENSORED * log_ndtr((loq - mu) / s)
        value -= 0.5 * ((u - PRIOR.mean_ln_sigma) / PRIOR.sd_ln_sigma) ** 2
        return np.where((mu > -7) & (mu < 4), value, -np.inf)

    rng = np.random.default_rng(3)
    start_points = np.stack([rng.normal(-2, 0.3, 32), rng.normal(PRIOR.mean_ln_sigma, 0.3, 32)], axis=1)
    sampler = emcee.EnsembleSampler(32, 2, log_density, vectorize=True)
    start = time.process_time()
    sampler.run_mcmc(start_points, 100 + DRAWS * CHAINS // 32 * 4)
    seconds = time.process_time() - start
    points = sampler.get_chain(discard=100, flat=True)
    return seconds, np.exp(np.quantile(points[:, 0] + Z95 * np.exp(points[:, 1]), P))


def main() -> None:
    expected = truth()
    _, found = by_quadrature()
    error = np.max(np.abs(found / expected - 1))
    print(f"reference: {expected}; quadrature: largest relative error {error:.1e}")
    for name, work in (("PyMC, NUTS, 4 x 1000", by_pymc), ("nutpie, NUTS, 4 x 1000", by_nutpie), ("emcee", by_emcee)):
        try:
            rounds = [(work(), by_quadrature()[0]) for _ in range(ROUNDS)]
        except ImportError as problem:
            print(f"{name}: not installed ({problem.name})")
            continue
        took, ours = min(sampled[0] for sampled, _ in rounds), min(seconds for _, seconds in rounds)
        off = np.max(np.abs(rounds[0][0][1] / expected - 1))
        print(
            f"{name}: {took:.3f} s against {ours * 1e6:.0f} us a group, {took / ours:,.0f} times as long; "
            f"error {off:.1e}, {off / error:,.0f} times"
        )


if __name__ == "__main__":
    main()
