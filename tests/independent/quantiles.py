"""Medians of the studies' distributions from the standard library alone, for base values not given in the file."""

import math
from statistics import NormalDist


def beta_cdf(x, a, b):
    """Regularised incomplete beta by Lentz's continued fraction (Abramowitz and Stegun 1964, 26.5.8)."""
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):
        return 1 - beta_cdf(1 - x, b, a)
    front = math.exp(math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)) / a
    c, d = 1.0, 1 / (1 - (a + b) * x / (a + 1))
    h = d
    for m in range(1, 300):
        for k in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d, c = 1 / (1 + k * d), 1 + k / c
            h *= c * d
        if abs(c * d - 1) < 1e-15:
            break
    return front * h


def bisect(cdf, p, low, high):
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if cdf(middle) < p else (low, middle)
    return (low + high) / 2


def quantile(kind, v, p):
    """The p-quantile of a distribution as the study writes it (before cutting)."""
    if kind == "uniform":
        return v["min"] + p * (v["max"] - v["min"])
    if kind == "triangular":
        a, m, b = v["min"], v["mode"], v["max"]
        if p <= (m - a) / (b - a):
            return a + math.sqrt(p * (b - a) * (m - a))
        return b - math.sqrt((1 - p) * (b - a) * (b - m))
    if kind == "pert":
        a, m, b = v["min"], v["mode"], v["max"]
        alpha = 1 + 4 * (m - a) / (b - a)
        return a + (b - a) * bisect(lambda x: beta_cdf(x, alpha, 6 - alpha), p, 0, 1)
    if kind == "beta":
        return bisect(lambda x: beta_cdf(x, v["alpha"], v["beta"]), p, 0, 1)
    if kind == "weibull":
        return v["scale"] * (-math.log1p(-p)) ** (1 / v["shape"])
    if kind == "normal":
        return NormalDist(v["mean"], v["sd"]).inv_cdf(p)
    if kind == "lognormal" and "mean" in v:
        s2 = math.log1p((v["sd"] / v["mean"]) ** 2)
        return v["mean"] * math.exp(-s2 / 2 + math.sqrt(s2) * NormalDist().inv_cdf(p))
    if kind == "lognormal" and "p10" in v:
        middle, spread = math.log(v["p10"] * v["p90"]) / 2, math.log(v["p90"] / v["p10"]) / 2
        return math.exp(middle + spread * NormalDist().inv_cdf(p) / NormalDist().inv_cdf(0.9))
    raise ValueError(kind)


def base_value(row):
    """What the row is worth in the base case: as given, else the median, or the likeliest of separate values."""
    if "base" in row:
        return row["base"]
    for key in ("value", "monthly"):
        if key in row:
            return row[key]
    if "bernoulli" in row:
        return 1.0 if row["bernoulli"]["chance"] > 0.5 else 0.0
    if "discrete" in row:
        pairs = zip(row["discrete"]["weights"], row["discrete"]["values"])
        return max(pairs, key=lambda pair: pair[0])[1]
    for kind in ("uniform", "triangular", "pert", "beta", "weibull", "normal", "lognormal"):
        if kind in row:
            if "truncate" in row:
                raise ValueError("a cut distribution needs a base")
            return quantile(kind, row[kind], 0.5)
    raise ValueError(str(row))


def base_start(path):
    """Base value of a path's start."""
    if "base" in path:
        return path["base"]
    return base_number(path["start"])


def base_number(x):
    return base_value(x) if isinstance(x, dict) else x
