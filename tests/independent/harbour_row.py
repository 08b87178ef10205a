"""Harbour Row worked out a second time, apart from payspread: its inputs from the study file, its formulas from here.

    python tests/independent/harbour_row.py                 base case; the standard library is enough
    python tests/independent/harbour_row.py --runs 2000000 --write   and a Monte Carlo, into a file; needs NumPy

Prints the base case month by month beside the hourly model's table, and one JSON object.
Formulas work on floats and on NumPy columns alike: x is the module that has sqrt, minimum and maximum.
"""

import argparse
import json
import math
import pathlib
import sys
import tomllib

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))
from quantiles import base_number, base_start, base_value  # noqa: E402

DAYS = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
# The hourly model: due south, 108 L a day, cold water 11.5 and 5.0, boiler in the evening only; kWh and %.
TABLE = {
    "generated": [91, 162, 246, 339, 415, 405, 392, 336, 289, 198, 129, 80],
    "export before": [37, 84, 134, 201, 258, 254, 247, 208, 176, 110, 66, 33],
    "diverted": [32, 67, 102, 140, 158, 151, 151, 138, 117, 81, 55, 28],
    "boiler heat left": [150, 108, 90, 47, 29, 22, 19, 27, 37, 82, 112, 146],
    "days sufficed, %": [5, 16, 30, 56, 69, 77, 79, 70, 60, 31, 14, 3],
}
KWH_PER_LITRE_KELVIN = 4.186 / 3600


class Plain:
    """sqrt, minimum, maximum of floats."""

    sqrt = staticmethod(math.sqrt)
    minimum = staticmethod(min)
    maximum = staticmethod(max)


def cold_water(v, month):
    """Temperature at the middle of the month; the year is coldest on day 41."""
    day = sum(DAYS[:month]) + DAYS[month] / 2
    return v["cold_mean"] - v["cold_half_range"] * math.cos(2 * math.pi * (day - 41) / 365)


def month_of(v, month, sun, x, full_limit=True, displaced=None):
    """One month of one year. `sun` is that year's sun and age of the panels against a new array in a mean year."""
    gas = v["backup"] == "gas"
    kelvin_kwh = v["people"] * v["litres_each"] * v["month_share"][month] * DAYS[month] * KWH_PER_LITRE_KELVIN
    cold = cold_water(v, month)
    loss = v["standing_loss"] * DAYS[month]
    warmth = v["boiler_warmth"] if gas else v["hot"]
    wanted = kelvin_kwh * (warmth - cold) + loss * (warmth - 20) / 45
    room = (kelvin_kwh * (v["hot"] - cold) + loss) * (1 if gas else v["room_after_night"])
    generated = v["panels"] * v["yield_per_kwp"] * v["sun_by_month"][month] / 100
    export = generated * (1 - x.minimum(1.0, v["self_use"] * v["self_use_by_month"][month]))
    offered = export * x.minimum(1.0, v["share_taken"] * v["reach_per_share"]) * sun
    fill = offered / room
    taken = offered / x.sqrt(1 + fill * fill) if full_limit else offered
    per_kwh = (v["displaced"] if displaced is None else displaced) * (1 - v["conversion_loss"])
    useful = taken * per_kwh
    covered = x.minimum(1.0, useful / wanted)
    sunny = covered * x.sqrt(covered)
    pipes = v["pipe_loss"] * DAYS[month] * (1 - 1 / v["hygiene_days"]) if gas else 0.0
    return {
        "generated": generated,
        "export before": export,
        "offered": offered,
        "room": room,
        "heat wanted": wanted,
        "diverted": taken,
        "boiler heat left": wanted - covered * wanted,
        "days sufficed, %": 100 * sunny,
        # Without the limit every kWh is taken to be of use, as a sum on the back of an envelope would have it.
        "heat avoided": (covered * wanted if full_limit else useful) + sunny * pipes,
    }


def year_of(v, sun, x, **how):
    """Diverted electricity and heat avoided in a year, kWh."""
    months = [month_of(v, m, sun, x, **how) for m in range(12)]
    return sum(m["diverted"] for m in months), sum(m["heat avoided"] for m in months)


def in_service(life, year, x):
    return x.minimum(1.0, x.maximum(0.0, life - year))


def cash(v, paths, failures, years, x, **how):
    """Outlay, savings by year, and the parts that the results need."""
    gas = v["backup"] == "gas"
    served = x.maximum(v["life"], v["warranty"])
    outlay = v["controller_price"] + v["fitting_price"] + v["element_needed"] * v["element_price"]
    efficiency = v["boiler_efficiency"] if gas else 1.0
    standby = v["standby"] * 8.76
    grid = paths["average_grid" if v["grid_carbon"] == "average" else "marginal_grid"]
    savings, works, carbon, fuel_first = [], [], 0.0, None
    for t in range(years):
        taken, heat = year_of(v, paths["weather"][t] * (1 - v["ageing"] * t), x, **how)
        fuel = heat / efficiency
        price = paths["gas_price"][t] if gas else paths["import_price"][t] * v["offpeak_share"]
        cost = standby * paths["import_price"][t] + v["upkeep"] + failures[t] * v["element_price"] * v["due_to_diverting"]
        w = in_service(served, t, x)
        savings.append((fuel * price - taken * paths["export_price"][t] - cost) * w)
        works.append(w)
        carbon = carbon + ((taken + standby) * grid[t] - fuel * (v["gas_carbon"] if gas else grid[t])) * w
        fuel_first = fuel * w if t == 0 else fuel_first
    return outlay, savings, works, fuel_first, carbon


def lasting_payback(outlay, savings, works):
    """Last crossing from below zero, within the part of the year in service; infinity when never."""
    before, crossing = -outlay, 0.0 if outlay <= 0 else math.inf
    for t, (s, w) in enumerate(zip(savings, works)):
        after = before + s
        if after < 0:
            crossing = math.inf
        elif before < 0:
            crossing = t + w * -before / s
        before = after
    return crossing


def base_case(study, overrides=None, **how):
    """Every input at its base value, paths on their base course."""
    v = {name: base_value(row) for name, row in study["inputs"].items()} | (overrides or {})
    years = study["years"]
    paths = {}
    for name, path in study["paths"].items():
        growth = base_number(path.get("growth", 0.0))
        assert all(change["chance"] < 0.5 for change in path.get("changes", []))
        paths[name] = [base_start(path) * (1 + growth) ** t for t in range(years)]
    failures = base_failures(v["element_life"], years)
    outlay, savings, works, fuel, carbon = cash(v, paths, failures, years, Plain, **how)
    r = v["discount"]
    payback = lasting_payback(outlay, savings, works)
    discounted = lasting_payback(outlay, [s / (1 + r) ** (t + 1) for t, s in enumerate(savings)], works)
    return v, {
        "npv": sum(s / (1 + r) ** (t + 1) for t, s in enumerate(savings)) - outlay,
        "payback": payback if math.isfinite(payback) else "never",
        "discounted_payback": discounted if math.isfinite(discounted) else "never",
        "pays_back": sum(savings) - outlay >= 0,
        "first_year_saving": savings[0],
        "fuel_avoided": fuel,
        "carbon_change": carbon,
        "outlay": outlay,
    }


def base_failures(life, years):
    """Replacements by year when each element lasts its base life."""
    counts = [0] * years
    t = life
    while t < years:
        counts[int(t)] += 1
        t += life
    return counts


# What the hourly model assumed, where that is not the study's base value.
HOURLY = {
    "yield_per_kwp": 3083 / 3.6,
    "cold_mean": 11.5,
    "cold_half_range": 5.0,
    "hot": 62.0,
    "self_use": 1 - 1806 / 3083,
    "share_taken": 1219 / 1806,
    "displaced": (1802 - 867) / 1219,
    "conversion_loss": 0.0,
}


def print_table(v):
    rows = [month_of(v, m, 1.0, Plain) for m in range(12)]
    for name, known in TABLE.items():
        ours = [row[name] for row in rows]
        total = (lambda xs: sum(xs)) if "%" not in name else (lambda xs: sum(x * d for x, d in zip(xs, DAYS)) / 365)
        ours, known = ours + [total(ours)], known + [total(known)]
        print(f"{name:18s}" + "".join(f"{x:7.0f}" for x in ours))
        print(f"{'  hourly model':18s}" + "".join(f"{x:7.0f}" for x in known))
        gap = [f"{100 * (a / b - 1):+6.0f}%" if "%" not in name else f"{a - b:+6.0f}p" for a, b in zip(ours, known)]
        print(f"{'  gap':18s}" + "".join(gap))


def sample(study, runs, seed):
    """Draws of every input and path, with NumPy's own samplers."""
    import numpy as np

    rng = np.random.default_rng(seed)

    def draw(kind, p):
        if kind == "uniform":
            return rng.uniform(p["min"], p["max"], runs)
        if kind == "triangular":
            return rng.triangular(p["min"], p["mode"], p["max"], runs)
        if kind == "pert":
            alpha = 1 + 4 * (p["mode"] - p["min"]) / (p["max"] - p["min"])
            return p["min"] + (p["max"] - p["min"]) * rng.beta(alpha, 6 - alpha, runs)
        if kind == "beta":
            return rng.beta(p["alpha"], p["beta"], runs)
        if kind == "weibull":
            return p["scale"] * rng.weibull(p["shape"], runs)
        if kind == "normal":
            return rng.normal(p["mean"], p["sd"], runs)
        if kind == "lognormal":
            s2 = math.log1p((p["sd"] / p["mean"]) ** 2)
            return rng.lognormal(math.log(p["mean"]) - s2 / 2, math.sqrt(s2), runs)
        if kind == "discrete":
            w = np.array(p["weights"], dtype=float)
            return rng.choice(np.array(p["values"], dtype=float), runs, p=w / w.sum())
        return (rng.random(runs) < p["chance"]).astype(float)  # bernoulli

    def number(row):
        if not isinstance(row, dict):
            return np.full(runs, float(row))
        kind = next(k for k in row if k not in ("truncate", "base"))
        x = draw(kind, row[kind])
        cut = row.get("truncate", {})
        while (out := (x < cut.get("min", -math.inf)) | (x > cut.get("max", math.inf))).any():
            x[out] = draw(kind, row[kind])[: np.count_nonzero(out)]
        return x

    kinds = {"uniform", "triangular", "pert", "beta", "weibull", "normal", "lognormal", "discrete", "bernoulli"}
    v = {}
    for name, row in study["inputs"].items():
        told = {k: row[k] for k in row if k in kinds or k == "truncate"}
        v[name] = number(told) if set(told) & kinds else base_value(row)
    if "element_life" in v:
        v["failures"] = [np.zeros(runs) for _ in range(study["years"])]
        t = v["element_life"].copy()
        while (t < study["years"]).any():
            for year in range(study["years"]):
                v["failures"][year] += (t >= year) & (t < year + 1)
            t += draw("weibull", study["inputs"]["element_life"]["weibull"])
    return v, sample_paths(study, runs, rng, number)


def sample_paths(study, runs, rng, number):
    import numpy as np

    linked = study["correlations"][0]["between"]
    r = 2 * math.sin(math.pi * study["correlations"][0]["rank"] / 6)
    root = np.linalg.cholesky(np.full((len(linked), len(linked)), r) + (1 - r) * np.eye(len(linked)))
    years, first = study["years"], study["first_year"]
    shocks = {n: [None] * years for n in study["paths"]}
    for t in range(years):
        z = root @ rng.standard_normal((len(linked), runs))
        for n in study["paths"]:
            shocks[n][t] = z[linked.index(n)] if n in linked else rng.standard_normal(runs)
    paths = {}
    for name, path in study["paths"].items():
        start, growth = number(path["start"]), number(path.get("growth", 0.0))
        vol, process = path.get("volatility", 0.0), path["process"]
        phi, s = 1.0, vol
        if process == "mean reverting":
            kappa = math.log(2) / path["half_life"]
            phi = math.exp(-kappa)
            s = vol * math.sqrt((1 - phi * phi) / (2 * kappa))
        d, variance, out = np.zeros(runs), 0.0, []
        for t in range(years):
            if process == "independent":
                d, variance = vol * shocks[name][t], vol * vol
            elif t:
                d, variance = phi * d + s * shocks[name][t], phi * phi * variance + s * s
            out.append(start * (1 + growth) ** t * np.exp(d - variance / 2))
        for change in path.get("changes", []):
            comes = rng.random(runs) < change["chance"]
            year, scale = number(change["year"]), number(change["scale"])
            for t in range(years):
                out[t] = np.where(comes & (first + t >= year), out[t] * scale, out[t])
        paths[name] = out
    return paths


def monte_carlo(study, drawn, overrides=None, **how):
    import numpy as np

    v, paths = drawn[0] | (overrides or {}), drawn[1]
    return summary(v["discount"], *cash(v, paths, v["failures"], study["years"], np, **how))


def summary(discount, outlay, savings, works, fuel, carbon):
    """What runs say: shares and percentiles."""
    import numpy as np

    runs, years = savings[0].size, len(savings)
    npv, total, last = -outlay, -outlay, np.full(savings[0].size, np.inf)
    for t, (s, w) in enumerate(zip(savings, works)):
        npv = npv + s / (1 + discount) ** (t + 1)
        after = total + s
        with np.errstate(divide="ignore", invalid="ignore"):
            last = np.where(after < 0, np.inf, np.where(total < 0, t + w * -total / s, last))
        total = after
    ordered = np.sort(last)
    return {
        "npv": spread(npv) | {"share_at_least_zero": float((npv >= 0).mean())},
        "pays_back": float((total >= 0).mean()),
        "payback": {f"p{round(100 * p)}": float(ordered[int(p * (runs - 1))]) for p in (0.1, 0.25, 0.5)},
        "paid_back_by_year": [float((last <= t).mean()) for t in range(1, years + 1)],
        "first_year_saving": spread(savings[0]),
        "fuel_avoided": spread(fuel),
        "carbon_change": spread(carbon) | {"share_at_most_zero": float((carbon <= 0).mean())},
    }


def spread(x):
    import numpy as np

    got = np.quantile(x, (0.1, 0.5, 0.9))
    return {"p10": float(got[0]), "p50": float(got[1]), "p90": float(got[2]), "mean": float(x.mean()), "sd": float(x.std())}


WITHOUT = {
    "as it is": {},
    "without 'heat displaced'": {"displaced": 1.0},
    "without the full cylinder": {"full_limit": False},
    "without either": {"displaced": 1.0, "full_limit": False},
}


def over_sets(one, runs, size=100_000):
    """Mean over sets of runs, each from its own seed, and the standard error of that mean, figure by figure."""
    import numpy as np

    sets = [one(seed, size) for seed in range(1, max(2, runs // size) + 1)]

    def collect(xs):
        if isinstance(xs[0], dict):
            return {k: collect([x[k] for x in xs]) for k in xs[0]}
        if isinstance(xs[0], list):
            return [collect(list(x)) for x in zip(*xs)]
        if not all(map(math.isfinite, xs)):
            return {"figure": "never"}
        error = np.std(xs, ddof=1) / math.sqrt(len(xs))
        return {"figure": float(f"{np.mean(xs):.7g}"), "error": float(f"{error:.2g}")}

    return {"sets": len(sets), "runs": len(sets) * size, **collect(sets)}


def variants(study):
    """Each value of each choice that is not its base value, all else as it is."""
    rows = study["inputs"].items()
    return {f"{n} = {c}": {n: c} for n, row in rows if "choice" in row for c in row["choice"] if c != row["base"]}


def main():
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--runs", type=int, default=0)
    ask.add_argument("--write", action="store_true", help="into a file of this name ending in .json")
    got = ask.parse_args()
    study = tomllib.loads((HERE.parents[1] / "studies" / "harbour-row.toml").read_text())
    v, base = base_case(study)
    print("The study's base case beside the hourly model")
    print_table(v)
    print("\nThe study at the hourly model's own settings beside it")
    print_table(v | HOURLY)
    out = {"base": base, "base_without": {k: base_case(study, **how)[1] for k, how in WITHOUT.items()}}
    out["base_choices"] = {k: base_case(study, change)[1] for k, change in variants(study).items()}
    out["base_months"] = [month_of(v, m, 1.0, Plain) for m in range(12)]

    def one(seed, size):
        drawn = sample(study, size, seed)
        without = {k: monte_carlo(study, drawn, **how) for k, how in WITHOUT.items()}
        choices = {k: monte_carlo(study, drawn, change) for k, change in variants(study).items()}
        return {"without": without, "choices": choices}

    if got.runs:
        out["monte_carlo"] = over_sets(one, got.runs)
    finish(out, got, "harbour_row")


def finish(out, got, name):
    text = json.dumps(out, indent=1) + "\n"
    if got.write:
        about = {"about": f"Made by tests/independent/{name}.py --runs {got.runs} --write; error is a standard error"}
        (HERE / f"{name}.json").write_text(json.dumps(about | out, indent=1) + "\n")
    else:
        print(text, end="")


if __name__ == "__main__":
    main()
