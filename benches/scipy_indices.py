"""The study of fifteen inputs (indices.toml) in NumPy, its global indices by scipy.stats.sobol_indices.

    python benches/scipy_indices.py [--points N] [--seed S] [--block N] [--repeat N] [--scipy-stats]

Prints one JSON object: the seconds of each call of sobol_indices (draws, runs, estimates), first orders and totals.

It is meant to be the fastest natural way, not a straw man: the model works in place on blocks that stay in the cache, powers
by year are running products, and the inverse distribution functions are closed forms and scipy.special's ndtri on whole
columns (--scipy-stats takes those of scipy.stats, with its checks, and is slower). sobol_indices uses one thread.
"""

import argparse
import json
import math
import os
import time

import numpy as np
import scipy
from scipy import stats
from scipy.special import ndtri

YEARS = 20
DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
MIDDLES = np.cumsum(DAYS) - DAYS / 2
# kWh that warm a litre by a kelvin.
LITRE = 4.186 / 3600


def wave(day):
    return [math.cos(2 * math.pi * (d - day) / 365) for d in MIDDLES]


COLD, SUN = wave(41), wave(10)


class Normal:
    def __init__(self, mean, sd):
        self.mean, self.sd = mean, sd

    def ppf(self, u):
        z = ndtri(u)
        z *= self.sd
        z += self.mean
        return z


class Lognormal(Normal):
    def __init__(self, median, gsd):
        super().__init__(math.log(median), math.log(gsd))

    def ppf(self, u):
        z = super().ppf(u)
        return np.exp(z, out=z)


class Uniform:
    def __init__(self, low, high):
        self.low, self.width = low, high - low

    def ppf(self, u):
        x = u * self.width
        x += self.low
        return x


class Triangular:
    def __init__(self, low, mode, high):
        self.low, self.mode, self.high = low, mode, high

    def ppf(self, u):
        low, mode, high = self.low, self.mode, self.high
        left = low + np.sqrt(u * ((high - low) * (mode - low)))
        right = high - np.sqrt((1 - u) * ((high - low) * (high - mode)))
        return np.where(u < (mode - low) / (high - low), left, right)


def laws(by_stats):
    if not by_stats:
        normal, lognormal, uniform, triangular = Normal, Lognormal, Uniform, Triangular
    else:
        normal = stats.norm
        lognormal = lambda median, gsd: stats.lognorm(math.log(gsd), scale=median)
        uniform = lambda low, high: stats.uniform(low, high - low)
        triangular = lambda low, mode, high: stats.triang((mode - low) / (high - low), low, high - low)
    return {
        "people": triangular(1, 3, 5),
        "litres": lognormal(36, 1.2),
        "hot": normal(52, 2),
        "cold": normal(12, 1.5),
        "swing": uniform(3, 6),
        "sun": uniform(0.4, 0.7),
        "sun_swing": uniform(0.1, 0.3),
        "losses": triangular(0.02, 0.05, 0.12),
        "efficiency": triangular(0.68, 0.8, 0.88),
        "price": lognormal(0.1, 1.25),
        "dearer": normal(0.01, 0.015),
        "fading": uniform(0.002, 0.01),
        "upkeep": lognormal(25, 1.4),
        "outlay": triangular(900, 1300, 2100),
        "discount": uniform(0.02, 0.06),
    }


def npv(x, out):
    people, litres, hot, cold, swing, sun, sun_swing, losses, efficiency, price, dearer, fading, upkeep, outlay, discount = x
    warmer = hot - cold
    from_sun = np.zeros_like(hot)
    heat, share = np.empty((2, hot.size))
    for days, c, s in zip(DAYS, COLD, SUN):
        np.multiply(swing, c, out=heat)
        heat += warmer
        heat *= float(days)
        np.multiply(sun_swing, -s, out=share)
        share += sun
        heat *= share
        from_sun += heat
    from_sun *= people
    from_sun *= litres
    from_sun *= LITRE
    from_sun *= 1 - losses
    from_sun /= efficiency
    value = from_sun * price
    step = (1 + dearer) * (1 - fading)
    factor = 1 / (1 + discount)
    present = np.ones_like(hot)
    np.negative(outlay, out=out)
    for t in range(YEARS):
        if t > 0:
            value *= step
        present *= factor
        np.subtract(value, upkeep, out=heat)
        heat *= present
        out += heat


def main():
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--points", type=int, default=16_384)
    ask.add_argument("--seed", type=int, default=4711)
    ask.add_argument("--block", type=int, default=8192)
    ask.add_argument("--repeat", type=int, default=1)
    ask.add_argument("--scipy-stats", action="store_true")
    got = ask.parse_args()
    dists = laws(got.scipy_stats)

    def model(x):
        x = x.reshape(x.shape[0], -1)
        out = np.empty(x.shape[1])
        for lo in range(0, out.size, got.block):
            npv(x[:, lo : lo + got.block], out[lo : lo + got.block])
        return out

    seconds = []
    for _ in range(got.repeat):
        begin = time.perf_counter()
        found = stats.sobol_indices(func=model, n=got.points, dists=list(dists.values()), rng=np.random.default_rng(got.seed))
        seconds.append(time.perf_counter() - begin)
    first = dict(zip(dists, found.first_order.ravel().tolist()))
    total = dict(zip(dists, found.total_order.ravel().tolist()))
    about = {"cores": os.cpu_count(), "numpy": np.__version__, "scipy": scipy.__version__}
    print(json.dumps({**about, "seconds": seconds, "first": first, "total": total}))


if __name__ == "__main__":
    main()
