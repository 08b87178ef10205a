"""Makes known_models.json: mean, P10, P90, a share and the standard deviation of two small models, by quadrature.

    python tests/independent/known_models.py        (needs NumPy and SciPy; two minutes)

The two models stand in examples/coverage/models.rs as well; there they are drawn, here they are integrated. Both are the
worth of a purchase less its cost, from eight inputs of unlike distributions.

smooth   heat * share * price * life / efficiency - outlay - fitting - upkeep
         The logarithm of the product has a characteristic function in closed form (Mellin transforms), inverted by Gil-Pelaez
         1951; the three costs are then integrated by Gauss-Legendre. The mean is a closed form.
kinked   min(supply, people * each) * worth + grant - max(outlay, 650) - 60 max(0, 12 - life) - min(upkeep, 200)
         The distribution of the first product is one integral, the four other terms are a tensor product of Gauss-Legendre
         rules, each cut at its kinks, their atoms by themselves. The mean is a sum of one-dimensional integrals.

Each figure is then held to twenty million runs of NumPy's own samplers: five standard errors.
"""

import json
import math
import pathlib

import numpy as np
import scipy
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq
from scipy.special import gamma, gammainc, loggamma, ndtr
from scipy.stats import beta as beta_law

HERE = pathlib.Path(__file__).resolve().parent
Z90 = 1.2815515655446004
SHAPE, SCALE = 3.2, 14.0  # of both lives


def legendre(n, low, high):
    x, w = np.polynomial.legendre.leggauss(n)
    return low + (high - low) * (x + 1) / 2, w * (high - low) / 2


def triangular_rule(low, mode, high, n=40):
    """Nodes and weights of a triangular density."""
    x1, w1 = legendre(n, low, mode)
    x2, w2 = legendre(n, mode, high)
    f1 = 2 * (x1 - low) / (high - low) / (mode - low)
    f2 = 2 * (high - x2) / (high - low) / (high - mode)
    return np.concatenate([x1, x2]), np.concatenate([w1 * f1, w2 * f2])


def lognormal(p10, p90):
    return math.log(p10 * p90) / 2, math.log(p90 / p10) / (2 * Z90)


def expect(f, *rules):
    """Mean of f over independent rules (nodes, weights), as a tensor product."""
    n = len(rules)
    nodes = [x.reshape([-1 if k == i else 1 for k in range(n)]) for i, (x, _) in enumerate(rules)]
    value = f(*nodes)
    for _, w in reversed(rules):
        value = value @ w
    return float(value)


def find(cdf, p, low, high):
    return brentq(lambda y: cdf(y) - p, low, high, xtol=1e-9, rtol=1e-14)


class Smooth:
    mu, sigma = lognormal(0.065, 0.12)
    heat = (2400 / 400) ** 2, 400**2 / 2400
    nu = 0.55 * 0.45 / 0.1**2 - 1
    share = 0.55 * nu, 0.45 * nu
    efficiency = 0.7, 0.9

    def __init__(self):
        # Characteristic function of the logarithm of the product.
        t = np.linspace(0, 45, 90_001)[1:] - 0.00025
        it = 1j * t
        (k, theta), (a, b) = self.heat, self.share
        lo, hi = self.efficiency
        ln = it * math.log(theta) + loggamma(k + it) - loggamma(k)
        ln += loggamma(a + it) - loggamma(a) + loggamma(a + b) - loggamma(a + b + it)
        ln += it * self.mu - 0.5 * (self.sigma * t) ** 2
        ln += it * math.log(SCALE) + loggamma(1 + it / SHAPE)
        phi = np.exp(ln) * (hi ** (1 - it) - lo ** (1 - it)) / ((1 - it) * (hi - lo))
        x = np.linspace(math.log(1.0), math.log(60_000.0), 6001)
        cdf = np.empty_like(x)
        step = t[1] - t[0]
        for i, at in enumerate(x):
            cdf[i] = 0.5 - step * np.sum((np.exp(-it * at) * phi).imag / t) / math.pi
        self.product = CubicSpline(x, cdf)
        self.costs = [
            triangular_rule(900.0, 1300.0, 2100.0),
            self.normal(250.0, 40.0),
            self.exponential(120.0),
        ]

    @staticmethod
    def normal(mean, sd):
        z, w = legendre(60, -8.5, 8.5)
        return mean + sd * z, w * np.exp(-z * z / 2) / math.sqrt(2 * math.pi)

    @staticmethod
    def exponential(mean):
        x, w = legendre(60, 0.0, 40.0)
        return mean * x, w * np.exp(-x)

    def cdf(self, y):
        def below(a, b, c):
            m = y + a + b + c
            return np.where(m <= 1.0, 0.0, self.product(np.log(np.maximum(m, 1.0))))

        return expect(below, *self.costs)

    def moments(self):
        (k, theta), (a, b) = self.heat, self.share
        lo, hi = self.efficiency
        first = k * theta * a / (a + b) * math.exp(self.mu + self.sigma**2 / 2)
        first *= SCALE * gamma(1 + 1 / SHAPE) * math.log(hi / lo) / (hi - lo)
        second = k * (k + 1) * theta**2 * a * (a + 1) / ((a + b) * (a + b + 1)) * math.exp(2 * self.mu + 2 * self.sigma**2)
        second *= SCALE**2 * gamma(1 + 2 / SHAPE) * (1 / lo - 1 / hi) / (hi - lo)
        outlay = 900.0, 1300.0, 2100.0
        lo, m, hi = outlay
        outlay_var = (lo * lo + m * m + hi * hi - lo * m - lo * hi - m * hi) / 18
        mean = first - sum(outlay) / 3 - 250 - 120
        return mean, math.sqrt(second - first**2 + outlay_var + 40.0**2 + 120.0**2)

    def draw(self, rng, n):
        y = rng.gamma(*self.heat, n) * rng.beta(*self.share, n) * rng.lognormal(self.mu, self.sigma, n)
        y *= SCALE * rng.weibull(SHAPE, n) / rng.uniform(*self.efficiency, n)
        return y - rng.triangular(900, 1300, 2100, n) - rng.normal(250, 40, n) - rng.exponential(120, n)


class Kinked:
    mu, sigma = lognormal(0.65, 1.2)
    supply = (1500 / 450) ** 2, 450**2 / 1500
    people = [(1, 0.2), (2, 0.4), (3, 0.25), (4, 0.15)]
    each = 300.0, 500.0, 900.0

    def __init__(self):
        lo, m, hi = self.each
        self.ab = 1 + 4 * (m - lo) / (hi - lo), 1 + 4 * (hi - m) / (hi - lo)
        z = np.linspace(-8.5, 8.5, 20_001)
        w = np.exp(-z * z / 2)
        w /= w.sum()
        factor = np.exp(-self.mu - self.sigma * z)
        t = np.linspace(0.0, 12_000.0, 6001)
        self.product = CubicSpline(t, [float(np.dot(w, self.least(at * factor))) for at in t])
        x, w = legendre(40, 650.0, 700.0)
        x2, w2 = legendre(40, 700.0, 1200.0)
        # Triangular 500, 700, 1200, lifted to 650: an atom there of (150)^2 / (700 * 200).
        outlay = (
            np.concatenate([[650.0], x, x2]),
            np.concatenate([[150.0**2 / 140_000], w * 2 * (x - 500) / 140_000, w2 * 2 * (1200 - x2) / 350_000]),
        )
        x, w = legendre(60, 0.0, 12.0)
        density = SHAPE / SCALE * (x / SCALE) ** (SHAPE - 1) * np.exp(-((x / SCALE) ** SHAPE))
        repair = np.append(60 * (12 - x), 0.0), np.append(w * density, math.exp(-((12 / SCALE) ** SHAPE)))
        x, w = legendre(24, 0.0, 200.0)
        upkeep = np.append(x, 200.0), np.append(w * np.exp(-x / 100) / 100, math.exp(-2.0))
        x, w = legendre(16, 0.0, 300.0)
        self.rest = [outlay, repair, upkeep, (x, w / 300)]

    def least(self, m):
        """P(min(supply, demand) <= m)."""
        k, theta = self.supply
        lo, _, hi = self.each
        demand = sum(w * beta_law.cdf((m / n - lo) / (hi - lo), *self.ab) for n, w in self.people)
        return 1 - (1 - gammainc(k, m / theta)) * (1 - demand)

    def cdf(self, y):
        def below(o, r, u, g):
            t = y + o + r + u - g
            return np.where(t <= 0, 0.0, self.product(np.clip(t, 0.0, 12_000.0)))

        return expect(below, *self.rest)

    def moments(self):
        # E min and E min^2 by the integral of the survival function, in panels between the demand's ends.
        ends = sorted({0.0, 8000.0, *(n * e for n, _ in self.people for e in (300.0, 900.0))})
        first = second = 0.0
        for low, high in zip(ends, ends[1:]):
            x, w = legendre(200, low, high)
            s = 1 - self.least(x)
            first += np.dot(w, s)
            second += np.dot(w, 2 * x * s)
        first *= math.exp(self.mu + self.sigma**2 / 2)
        second *= math.exp(2 * self.mu + 2 * self.sigma**2)
        mean, var = first, second - first**2
        for (x, w), sign in zip(self.rest, (-1, -1, -1, 1)):
            assert abs(w.sum() - 1) < 1e-9, w.sum()
            m = np.dot(w, x)
            mean += sign * m
            var += np.dot(w, (x - m) ** 2)
        return float(mean), math.sqrt(var)

    def draw(self, rng, n):
        lo, _, hi = self.each
        weights = [w for _, w in self.people]
        demand = rng.choice([1.0, 2.0, 3.0, 4.0], n, p=weights) * (lo + (hi - lo) * rng.beta(*self.ab, n))
        y = np.minimum(rng.gamma(*self.supply, n), demand) * rng.lognormal(self.mu, self.sigma, n)
        y -= np.maximum(rng.triangular(500, 700, 1200, n), 650.0)
        y -= 60 * np.maximum(0.0, 12 - SCALE * rng.weibull(SHAPE, n))
        return y - np.minimum(rng.exponential(100, n), 200.0) + rng.uniform(0, 300, n)


def check(model, known):
    rng = np.random.Generator(np.random.SFC64(20261127))
    n, lots = 500_000, 40
    got = {key: [] for key in known}
    for _ in range(lots):
        y = model.draw(rng, n)
        got["mean"].append(y.mean())
        got["sd"].append(y.std())
        got["p10"].append(np.quantile(y, 0.1))
        got["p90"].append(np.quantile(y, 0.9))
        got["share"].append(np.mean(y >= 0))
    for key, values in got.items():
        error = np.std(values, ddof=1) / math.sqrt(lots)
        off = (np.mean(values) - known[key]) / error
        print(f"  {key:5s} {known[key]:.9g}, sampled {np.mean(values):.9g}: {off:+.2f} standard errors")
        assert abs(off) < 5, key


def main():
    out = {
        "about": "Two models with eight inputs: figures by quadrature; share is that at or above 0.",
        "made_by": f"tests/independent/known_models.py, NumPy {np.__version__}, SciPy {scipy.__version__}",
    }
    for name, model in (("smooth", Smooth()), ("kinked", Kinked())):
        mean, sd = model.moments()
        known = {"mean": mean, "sd": sd}
        known["p10"] = find(model.cdf, 0.1, -3000.0, 3000.0)
        known["p90"] = find(model.cdf, 0.9, -3000.0, 9000.0)
        known["share"] = 1 - model.cdf(0.0)
        print(name)
        check(model, known)
        out[name] = {key: float(f"{value:.12g}") for key, value in known.items()}
    (HERE / "known_models.json").write_text(json.dumps(out, indent=1) + "\n")


if __name__ == "__main__":
    main()
