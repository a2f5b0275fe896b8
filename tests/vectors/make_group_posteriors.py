"""Reference answers for the posterior of a group, by converged adaptive quadrature.

Shares no code with the package: the likelihood is written out from its definition with SciPy's general-purpose
routines, the double integral is adaptive (scipy.integrate.quad inside quad, split at every corner of the region),
and quantiles are found by Brent's method. Run from the root of the project:

    python tests/vectors/make_group_posteriors.py

It takes some minutes and writes tests/vectors/group_posteriors.json.
"""

import json
import math
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import log_ndtr, ndtri

Z95 = float(ndtri(0.95))
MU = (-7.0, 4.0)
PROBABILITIES = (0.05, 0.3, 0.5, 0.7, 0.95)
BANDS = (0.01, 0.1, 0.5, 1.0)
GL_X, GL_W = np.polynomial.legendre.leggauss(80)


class Group:
    """One group: ln bounds in units of the limit, ln-scale measurement error per row, and the prior of ln sigma."""

    def __init__(self, lower, upper, prior, tau=0.0):
        with np.errstate(divide="ignore"):
            self.low, self.high = np.log(np.asarray(lower, float)), np.log(np.asarray(upper, float))
        self.tau = np.broadcast_to(np.asarray(tau, float), self.low.shape)
        self.exact = np.equal(lower, upper)
        self.prior = prior
        if "flat" in prior:
            self.u_ends = [math.log(math.log(g)) for g in prior["flat"]]
        else:
            mean, sd = prior["spread"]
            self.u_ends = [mean - 9 * sd, mean + 9 * sd]

    def log_prior(self, u):
        if "flat" in self.prior:
            return 0.0
        mean, sd = self.prior["spread"]
        return -0.5 * ((u - mean) / sd) ** 2

    def log_joint(self, u, mu):
        """Log of likelihood times prior at one u and an array of mu."""
        mu = np.asarray(mu, float)[..., None]
        scale = np.sqrt(math.exp(2 * u) + self.tau**2)
        e = self.exact
        total = np.sum(-0.5 * ((self.low[e] - mu) / scale[e]) ** 2 - np.log(scale[e]), axis=-1)
        low, high = (self.low[~e] - mu) / scale[~e], (self.high[~e] - mu) / scale[~e]
        flip = low > 0
        a, b = np.where(flip, -high, low), np.where(flip, -low, high)
        lb = log_ndtr(b)
        total = total + np.sum(lb + np.log1p(-np.exp(log_ndtr(a) - lb)), axis=-1)
        return total + self.log_prior(u)

    def settle(self):
        """Peak, and a range of u outside which the density is e^-32 of it."""
        u = np.linspace(*self.u_ends, 1200)
        mu = np.linspace(*MU, 2200)
        table = np.array([self.log_joint(x, mu) for x in u])
        self.peak = table.max()
        rows = table.max(axis=1) > self.peak - 32
        i, j = rows.argmax(), len(u) - 1 - rows[::-1].argmax()
        self.u_low, self.u_high = u[max(i - 1, 0)], u[min(j + 1, len(u) - 1)]
        self.mu_grid, self.u_grid, self.table = mu, u, table

    def breakpoints(self, u):
        """Where the likelihood bends in mu, at one u."""
        s = math.exp(u)
        scale = max(s, float(self.tau.max()))
        points = [b + k * scale for b in (*self.low, *self.high) if np.isfinite(b) for k in (-7, -3, 0, 3, 7)]
        e = self.exact
        if e.any():
            w = 1 / (s * s + self.tau[e] ** 2)
            centre, sd = np.sum(w * self.low[e]) / w.sum(), 1 / math.sqrt(w.sum())
            points += [centre + k * sd for k in (-9, -5, -2, 0, 2, 5, 9)]
        return points

    def inner(self, u, cut):
        """Integral over mu from the low end to `cut`: Gauss-Legendre, 80 points in each piece between bends."""
        cut = min(cut, MU[1])
        if cut <= MU[0]:
            return 0.0
        edges = sorted({MU[0], cut, *(p for p in self.breakpoints(u) if MU[0] < p < cut)})
        if len(edges) > 26:  # many rows: every few of the bends are enough
            edges = sorted({edges[0], edges[-1], *edges[:: math.ceil(len(edges) / 26)]})
        left, right = np.array(edges[:-1]), np.array(edges[1:])
        half = 0.5 * (right - left)
        mu = 0.5 * (left + right)[:, None] + half[:, None] * GL_X
        value = np.exp(self.log_joint(u, mu.ravel()) - self.peak).reshape(mu.shape)
        return float(np.sum(half * (value @ GL_W)))

    def outer(self, cut_of_sigma, corners):
        ends = sorted({self.u_low, self.u_high, *(c for c in corners if self.u_low < c < self.u_high)})
        marks = np.linspace(self.u_low, self.u_high, 9)[1:-1]
        ends = sorted({*ends, *marks})
        total = 0.0
        for a, b in pairwise(ends):
            value, _ = quad(
                lambda u: self.inner(u, cut_of_sigma(math.exp(u))), a, b, epsabs=1e-12, epsrel=1e-10, limit=200
            )
            total += value
        return total

    def total(self):
        return self.outer(lambda s: MU[1], ())

    def below(self, what, t):
        """Integral of the joint density where the quantity is at most t."""
        steep = []
        if what == "exceedance" and self.exact.any():
            centre = float(self.low[self.exact].mean())
            if centre * t > 0:
                steep = [math.log(centre / t)]
        if what == "gsd":
            keep, self.u_high = self.u_high, min(self.u_high, t)
            try:
                return self.outer(lambda s: MU[1], ()) if t > self.u_low else 0.0
            finally:
                self.u_high = keep
        cuts = {
            "gm": (lambda s: t, ()),
            "p95": (lambda s: t - Z95 * s, [(t - e) / Z95 for e in MU]),
            "mean": (lambda s: t - 0.5 * s * s, [math.sqrt(max(2 * (t - e), 0)) for e in MU]),
            "exceedance": (lambda s: t * s, [e / t if t else 0 for e in MU]),
        }
        cut, corners = cuts[what]
        return self.outer(cut, [math.log(c) for c in corners if c > 0] + steep)

    def bracket(self, what):
        """Crude quantiles from a grid, to start from."""
        weight = np.exp(self.table - self.peak)
        u, mu = np.meshgrid(self.u_grid, self.mu_grid, indexing="ij")
        s = np.exp(u)
        t = {"gm": mu, "gsd": u, "p95": mu + Z95 * s, "mean": mu + s * s / 2, "exceedance": mu / s}[what].ravel()
        order = np.argsort(t)
        share = np.cumsum(weight.ravel()[order])
        return [t[order][np.searchsorted(share, p * share[-1])] for p in PROBABILITIES]

    def quantile(self, what, p, guess, total):
        def miss(t):
            return self.below(what, t) / total - p

        width = 0.02
        while True:
            low, high = guess - width, guess + width
            if miss(low) < 0 < miss(high):
                return brentq(miss, low, high, xtol=1e-10, rtol=1e-12)
            width *= 3


def answers(group):
    group.settle()
    total = group.total()
    result = {}
    for what in ("gm", "gsd", "p95", "mean", "exceedance"):
        guesses = group.bracket(what)
        result[what] = [group.quantile(what, p, g, total) for p, g in zip(PROBABILITIES, guesses, strict=True)]
    below = [group.below("p95", math.log(edge)) / total for edge in BANDS]
    result["bands"] = np.diff([0.0, *below, 1.0]).tolist()
    return result


def uncertain_answers(lower, upper, prior, cv_range):
    """Unknown measurement error, uniform over a range: 40 groups, one for each point of a Gauss-Legendre rule."""
    x, w = np.polynomial.legendre.leggauss(40)
    cvs = 0.5 * sum(cv_range) + 0.5 * (cv_range[1] - cv_range[0]) * x
    groups = [Group(lower, upper, prior, math.sqrt(math.log1p(cv * cv))) for cv in cvs]
    for group in groups:
        group.settle()
    peak = max(group.peak for group in groups)
    weights = [wi * math.exp(group.peak - peak) for wi, group in zip(w, groups, strict=True)]
    totals = sum(wi * group.total() for wi, group in zip(weights, groups, strict=True))
    result = {}
    for what in ("gsd", "p95"):
        guess = groups[20].bracket(what)
        result[what] = []
        for p, g in zip(PROBABILITIES, guess, strict=True):

            def miss(t, what=what, p=p):
                pairs = zip(weights, groups, strict=True)
                return sum(wi * group.below(what, t) for wi, group in pairs) / totals - p

            result[what].append(brentq(miss, g - 0.5, g + 0.5, xtol=1e-8))
    return result


def data_sets():
    """The groups: results as shares of the limit, from 3 to 60 of them, with every kind of censoring."""
    rng = np.random.default_rng(20240611)
    default, flat = {"spread": [0.5 * (math.log(math.log(2)) + math.log(math.log(3))), 0.5]}, {"flat": [1.05, 10]}
    sets = []

    def add(name, lower, upper, prior=default, cv=None):
        sets.append({"name": name, "lower": list(lower), "upper": list(upper), "prior": prior, "error_cv": cv})

    def draw(n, gm, gsd):
        return np.round(np.exp(rng.normal(math.log(gm), math.log(gsd), size=n)), 6)

    def censor(x, share, limits=1):
        x = np.sort(x)
        k = round(share * len(x))
        cut = x[k - 1] * 1.02 if k else 0
        lower, upper = x.copy(), x.copy()
        loqs = [cut * f for f in (1.0, 1.25, 0.9)[:limits]]
        for i in range(k):
            lower[i], upper[i] = 0.0, max(loqs[i % limits], x[i] * 1.001)
        return lower, upper

    for n in (3, 6, 12, 30, 60):
        x = draw(n, 0.15, 2.4)
        add(f"{n} measured", x, x)
    for n, share, limits in (
        (3, 0.33, 1),
        (6, 0.33, 1),
        (10, 0.3, 2),
        (10, 0.6, 1),
        (15, 0.6, 3),
        (20, 0.8, 1),
        (60, 0.8, 2),
    ):
        add(f"{n} results, {round(100 * share)} % non-detects", *censor(draw(n, 0.1, 2.8), share, limits))
    add("3 non-detects", [0] * 3, [0.1] * 3)
    add("6 non-detects, two reporting limits", [0] * 6, [0.05] * 4 + [0.2] * 2)
    add("30 non-detects", [0] * 30, [0.02] * 30)
    x = draw(5, 0.2, 2.5)
    add("intervals and numbers", [*x, 0.05, 0.2, 0.1], [*x, 0.25, 0.6, 0.1001])
    add("intervals only", [0.05, 0.1, 0.02, 0.2], [0.3, 0.2, 0.15, 0.5])
    add("a right-censored row", [0.1, 0.2, 0.15, 0.6], [0.1, 0.2, 0.15, math.inf])
    x = draw(12, 0.02, 1.25)
    add("limit many spreads away", x, x)
    x = draw(60, 0.004, 1.3)
    add("limit many spreads away, 60 results", x, x)
    x = draw(6, 0.002, 2.2)
    add("geometric mean below limit/300", x, x)
    add("geometric mean below limit/300, 60 % non-detects", *censor(draw(10, 0.0025, 2.5), 0.6))
    add(
        "few near-equal detects among non-detects",
        [0.101, 0.1, 0.0995, 0, 0, 0, 0, 0],
        [0.101, 0.1, 0.0995] + [0.08] * 5,
    )
    x = draw(6, 0.3, 2.0)
    add("6 measured, flat prior", x, x, flat)
    add("10 results, 60 % non-detects, flat prior", *censor(draw(10, 0.1, 2.8), 0.6), flat)
    add("4 non-detects, flat prior", [0] * 4, [0.1] * 4, flat)
    x = draw(8, 0.2, 1.8)
    add("measurement error of 25 %", x, x, default, 0.25)
    cvs = [0.1, 0.3, 0.2, 0.15, 0.25, 0.1]
    x = draw(6, 0.2, 2.0)
    add("measurement error by row, a non-detect", [*x[:5], 0], [*x[:5], 0.1], default, cvs)
    x = draw(7, 0.2, 1.6)
    add("measurement error between 5 and 35 %", x, x, default, {"range": [0.05, 0.35]})
    return sets


def main():
    target = Path(__file__).with_name("group_posteriors.json")
    out = []
    for entry in data_sets():
        upper = [math.inf if u is None else u for u in entry["upper"]]
        cv = entry["error_cv"]
        if isinstance(cv, dict):
            entry["answers"] = uncertain_answers(entry["lower"], upper, entry["prior"], cv["range"])
        else:
            tau = np.sqrt(np.log1p(np.square(0.0 if cv is None else cv)))
            entry["answers"] = answers(Group(entry["lower"], upper, entry["prior"], tau))
        entry["upper"] = [None if math.isinf(u) else u for u in upper]
        out.append(entry)
        print(entry["name"], file=sys.stderr, flush=True)
    text = {
        "made_by": "tests/vectors/make_group_posteriors.py",
        "scale": "ln of gm, mean, p95 in units of the limit; ln ln GSD; probit of the exceedance",
        "probabilities": PROBABILITIES,
        "band_edges": BANDS,
        "groups": out,
    }
    target.write_text(json.dumps(text, indent=1) + "\n")


if __name__ == "__main__":
    main()
