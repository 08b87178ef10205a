"""The study of forty inputs (forty.toml) in NumPy and SciPy, for comparing its speed with payspread's.

    python benches/numpy_forty.py [--runs N] [--seed S] [--block N] [--repeat N] [--scipy-stats]

Prints one JSON object: the time taken (or each of several), means with standard errors, percentiles of both results and of
cumulative cash by year. Random sampling with the generator SFC64.

It is meant to be the fastest natural way, not a straw man: blocks that stay in the cache, each buffer of a block used at once;
inputs without a link by NumPy's own samplers; linked inputs by a Gaussian copula, that is normal scores mixed by a Cholesky
factor, those of normals and lognormals used as they are, the others through inverse distribution functions of scipy.special
(which scipy.stats calls after checks of its own; --scipy-stats goes that way, and is slower); truncated ones and the metalog by
closed forms on whole blocks; percentiles by partitions in place (see numpy_reference.py).
"""

import argparse
import json
import math
import os
import time

import numpy as np
import scipy
from numpy_reference import percentiles
from scipy import stats
from scipy.special import betaincinv, gammaincinv, ndtr, ndtri

YEARS = 20
Z90 = 1.2815515655446004
LEVELS = (0.10, 0.25, 0.50, 0.75, 0.90)
PERCENTILES = (0.01, 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95, 0.99)


def factor(size, r):
    """Cholesky factor of a matrix whose every correlation is r."""
    return np.linalg.cholesky(np.full((size, size), r) + (1 - r) * np.eye(size))


FOUR = factor(4, 0.4)
# P(N <= k) of the linked Poisson.
PEOPLE = np.cumsum([math.exp(-3.0) * 3.0**k / math.factorial(k) for k in range(40)])
# Observed, in order, and the probability of each (type 7 of Hyndman and Fan 1996).
LOSSES = np.array([52, 61, 68, 74, 79, 83, 88, 91, 95, 100, 104, 109, 113, 119, 126, 133, 142, 155, 173, 198]) / 1000
LOSSES_AT = np.linspace(0, 1, LOSSES.size)
PERMIT = np.repeat([0.0, 60.0, 150.0, 400.0], [50, 25, 15, 10])


def metalog(p10, p50, p90):
    """Keelin 2016: a1 + a2 L + a3 (y - 1/2) L through three values."""
    wide = math.log(9)
    return p50, (p90 - p10) / (2 * wide), (p10 + p90 - 2 * p50) / (0.8 * wide)


SUN = metalog(*(math.log(x / (1 - x)) for x in (0.44, 0.55, 0.68)))


class SpecialLaws:
    """Inverse distribution functions from scipy.special."""

    def beta(self, u, a, b):
        return betaincinv(a, b, u)

    def gamma(self, u, shape, scale):
        x = gammaincinv(shape, u)
        x *= scale
        return x

    def weibull(self, z, shape, scale):
        x = ndtr(-z)
        np.log(x, out=x)
        np.negative(x, out=x)
        np.power(x, 1 / shape, out=x)
        x *= scale
        return x

    def triangular(self, u, low, mode, high):
        left = u * ((high - low) * (mode - low))
        np.sqrt(left, out=left)
        left += low
        right = (1 - u) * ((high - low) * (high - mode))
        np.sqrt(right, out=right)
        np.subtract(high, right, out=right)
        return np.where(u <= (mode - low) / (high - low), left, right)


class StatsLaws:
    """The same from scipy.stats."""

    def beta(self, u, a, b):
        return stats.beta.ppf(u, a, b)

    def gamma(self, u, shape, scale):
        return stats.gamma.ppf(u, shape, scale=scale)

    def weibull(self, z, shape, scale):
        return stats.weibull_min.ppf(ndtr(z), shape, scale=scale)

    def triangular(self, u, low, mode, high):
        return stats.triang.ppf(u, (mode - low) / (high - low), loc=low, scale=high - low)


def beta_shapes(mean, sd):
    nu = mean * (1 - mean) / sd**2 - 1
    return mean * nu, (1 - mean) * nu


def lognormal(mean, sd):
    variance = math.log1p((sd / mean) ** 2)
    return math.log(mean) - variance / 2, math.sqrt(variance)


def pert_shapes(low, mode, high):
    return 1 + 4 * (mode - low) / (high - low), 1 + 4 * (high - mode) / (high - low)


class Block:
    """One block of runs."""

    def __init__(self, rng, laws):
        self.rng = rng
        self.laws = laws

    def pert(self, low, mode, high, n):
        x = self.rng.beta(*pert_shapes(low, mode, high), size=n)
        x *= high - low
        x += low
        return x

    def linked_pert(self, z, low, mode, high):
        x = self.laws.beta(ndtr(z), *pert_shapes(low, mode, high))
        x *= high - low
        x += low
        return x

    def cut_exponential(self, mean, most, n):
        x = self.rng.random(n)
        x *= math.expm1(-most / mean)
        np.log1p(x, out=x)
        x *= -mean
        return x

    def cut_normal(self, mean, sd, low, high, n):
        a, b = ndtr((low - mean) / sd), ndtr((high - mean) / sd)
        x = self.rng.random(n)
        x *= b - a
        x += a
        x = ndtri(x)
        x *= sd
        x += mean
        return x

    def pair(self, n, r):
        z = self.rng.standard_normal((2, n))
        z[1] *= math.sqrt(1 - r * r)
        z[1] += r * z[0]
        return z

    def uses(self, n):
        """Heat of all uses, kWh a year."""
        rng, laws = self.rng, self.laws
        z = FOUR @ rng.standard_normal((4, n))
        mu, sigma = lognormal(400, 120)
        total = np.exp(mu + sigma * z[0]) * rng.beta(*beta_shapes(0.6, 0.1), n)
        total += laws.gamma(ndtr(z[1]), (300 / 90) ** 2, 90**2 / 300) * rng.beta(2, 3, n)
        total += (350 + 60 * z[2]) * self.pert(0.3, 0.5, 0.8, n)
        total += laws.weibull(z[3], 3, 350) * rng.triangular(0.2, 0.5, 0.7, n)
        z = self.pair(n, 0.3)
        total += self.linked_pert(z[0], 200, 300, 600) * rng.uniform(0.4, 0.8, n)
        total += rng.triangular(150, 300, 500, n) * self.cut_normal(0.5, 0.2, 0, 1, n)
        total += self.cut_exponential(200, 1000, n) * rng.beta(*beta_shapes(0.45, 0.12), n)
        total += rng.uniform(200, 500, n) * rng.triangular(0.1, 0.3, 0.6, n)
        people = np.searchsorted(PEOPLE, ndtr(z[1])).astype(float)
        total += people * rng.lognormal(math.log(250), math.log(1.3), n)
        total += rng.binomial(12, 0.3, n) * rng.gamma((60 / 25) ** 2, 25**2 / 60, n)
        return total

    def losses(self, n):
        return np.interp(self.rng.random(n), LOSSES_AT, LOSSES)

    def sun(self, z):
        """Metalog of three terms in the logit of the value, on 0 to 1."""
        u = ndtr(z)
        level = np.log(u / (1 - u))
        u -= 0.5
        u *= SUN[2]
        u += SUN[1]
        level *= u
        level += SUN[0]
        np.negative(level, out=level)
        np.exp(level, out=level)
        level += 1.0
        return np.reciprocal(level, out=level)

    def storm_cost(self, n):
        rng = self.rng
        usual = rng.lognormal(*lognormal(200, 60), n)
        return np.where(rng.random(n) < 0.7, usual, rng.uniform(300, 900, n))

    def outlay(self, n):
        rng = self.rng
        z = self.pair(n, 0.5)
        total = self.laws.triangular(ndtr(z[0]), 400.0, 550.0, 900.0)
        total += np.exp(math.log(300 * 700) / 2 + math.log(700 / 300) / (2 * Z90) * z[1])
        total += rng.gamma(4, 40, n)
        total += PERMIT[rng.integers(0, 100, size=n, dtype=np.uint8)]
        total += (rng.random(n) < 0.2) * self.storm_cost(n)
        total += 80 * rng.weibull(2, n)
        total -= rng.triangular(0, 200, 500, n)
        return total

    def paths(self, n):
        """Shocks are drawn year by year; yields the prices of gas, power, export and carbon."""
        rng = self.rng
        vol = np.array([0.1, 0.08, 0.0, 0.0])
        phi = np.exp(-math.log(2) / np.array([np.inf, np.inf, 2.0, 4.0]))
        for i, (v, half_life) in ((2, (0.18, 2.0)), (3, (0.2, 4.0))):
            kappa = math.log(2) / half_life
            vol[i] = v * math.sqrt(-math.expm1(-2 * kappa) / (2 * kappa))
        mix = vol[:, None] * FOUR
        start = [
            math.log(0.065 * 0.12) / 2 + math.log(0.12 / 0.065) / (2 * Z90) * rng.standard_normal(n),
            math.log(0.22 * 0.34) / 2 + math.log(0.34 / 0.22) / (2 * Z90) * rng.standard_normal(n),
            rng.triangular(0.03, 0.07, 0.14, n),
            self.pert(0.005, 0.012, 0.03, n),
        ]
        growth = np.empty((2, n))
        for row, mean, sd, v in ((growth[0], 0.01, 0.015, 0.1), (growth[1], 0.005, 0.01, 0.08)):
            rng.standard_normal(out=row)
            row *= sd
            row += mean
            np.log1p(row, out=row)
            row -= v * v / 2
        level = np.zeros((4, n))
        level[0], level[1] = start[0], start[1]
        for t in range(YEARS):
            if t:
                level[2] *= phi[2]
                level[3] *= phi[3]
                level += mix @ rng.standard_normal((4, n))
                level[:2] += growth
            price = np.exp(level)
            price[2] *= start[2]
            price[3] *= start[3]
            yield price

    def run(self, cash, npv, payback):
        """Fills cumulative cash (years x n), net present value and payback."""
        n = npv.size
        rng = self.rng
        outlay = self.outlay(n)
        from_sun = self.uses(n)
        z = self.pair(n, 0.2)
        efficiency = self.linked_pert(z[0], 0.68, 0.78, 0.87)
        from_sun *= self.sun(z[1])
        from_sun *= 1 - self.losses(n)
        from_sun *= 1 - self.cut_exponential(0.03, 0.2, n)
        home = rng.beta(*beta_shapes(0.7, 0.1), n)
        life = 14 * rng.weibull(3.2, n)
        z = self.pair(n, 0.3)
        costs = rng.poisson(0.4, n) * self.linked_pert(z[1], 40, 70, 150)
        costs += 30 + 6 * z[0]
        costs += rng.normal(11, 3 / Z90, n)
        of_gas = from_sun * home
        of_gas /= efficiency
        of_rest = from_sun * (1 - home)
        discount = 1 / (1 + rng.uniform(0.02, 0.06, n))
        present = np.ones(n)
        np.multiply(rng.exponential(80, n), 0.1, out=npv)
        npv -= outlay
        before = -outlay
        # Year end before the lasting crossing, and where in the next year it falls.
        payback.fill(0.0)
        for t, (gas, power, export, carbon) in enumerate(self.paths(n)):
            gas += carbon
            gas *= of_gas
            power *= 0.2
            export *= 0.8
            power += export
            power *= of_rest
            gas += power
            gas -= costs
            served = np.clip(life - t, 0.0, 1.0)
            gas *= served
            here = np.add(before, gas, out=cash[t])
            present *= discount
            npv += gas * present
            crossing = (before < 0) & (here >= 0)
            np.copyto(payback, t + served * (-before / np.where(crossing, gas, 1.0)), where=crossing)
            before = here
        payback[before < 0] = math.inf


def figures(x):
    return {"mean": float(x.mean()), "error": float(x.std() / math.sqrt(x.size))}


def simulate(runs, seed, laws, size):
    cash = np.empty((YEARS, runs))
    npv, payback = np.empty((2, runs))
    block = Block(np.random.Generator(np.random.SFC64(seed)), laws)
    for lo in range(0, runs, size):
        hi = min(lo + size, runs)
        block.run(cash[:, lo:hi], npv[lo:hi], payback[lo:hi])
    said = {
        "npv": figures(npv),
        "npv_good": figures((npv >= 0).astype(float)),
        "pays_back": figures((payback < math.inf).astype(float)),
        "paid_by_year": [float(np.mean(payback <= t)) for t in range(1, YEARS + 1)],
    }
    said["npv_percentiles"] = [float(x) for x in percentiles(npv, PERCENTILES)]
    said["cash"] = [[float(x) for x in percentiles(row, LEVELS)] for row in cash]
    finite = payback[payback < math.inf]
    said["payback_p05"] = float(percentiles(payback, (0.05,))[0]) if finite.size > 0.06 * runs else None
    return said


def main():
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--runs", type=int, default=1_000_000)
    ask.add_argument("--seed", type=int, default=4711)
    ask.add_argument("--block", type=int, default=8192)
    ask.add_argument("--repeat", type=int, default=1)
    ask.add_argument("--scipy-stats", action="store_true")
    got = ask.parse_args()
    laws = StatsLaws() if got.scipy_stats else SpecialLaws()
    seconds = []
    for _ in range(got.repeat):
        begin = time.perf_counter()
        said = simulate(got.runs, got.seed, laws, got.block)
        seconds.append(time.perf_counter() - begin)
    about = {"runs": got.runs, "cores": os.cpu_count(), "numpy": np.__version__, "scipy": scipy.__version__}
    print(json.dumps({**about, "seconds": seconds, **said}, indent=1))


if __name__ == "__main__":
    main()
