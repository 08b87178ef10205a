"""Ways to warm water worked out a second time, apart from payspread: inputs from the study file, formulas from here.

    python tests/independent/ways_to_warm_water.py                  base case of each way; the standard library is enough
    python tests/independent/ways_to_warm_water.py --runs 1000000 --write   and a Monte Carlo, into a file; needs NumPy

Prints the energy and money of each way, the sums by the hour behind `drawn_warmth`, `dawn_warmth` and `boost`, and one JSON object.
Costs are put together otherwise than in the study: each piece of equipment is followed from its purchase to its end.
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
from harbour_row import DAYS, KWH_PER_LITRE_KELVIN, Plain, cold_water, finish, over_sets, sample_paths, spread  # noqa: E402
from quantiles import base_number, base_start, base_value  # noqa: E402

# What each way has, written anew: (timer as now, insulation, bought controller in year or None, battery kWh, heater).
WAYS = {
    "study": (0, 0, None, 0, "boiler"),
    "as_now": (1, 0, None, 0, "boiler"),
    "insulation": (0, 1, None, 0, "boiler"),
    "controller": (0, 0, 0, 0, "boiler"),
    "controller_without_timer": (1, 0, 0, 0, "boiler"),
    "battery": (0, 0, None, 5, "boiler"),
    "off_peak": (0, 0, None, 0, "off-peak"),
    "heat_pump": (0, 0, None, 0, "heat pump"),
    "wait": (0, 0, 2, 0, "boiler"),
}
LIVES = {
    "controller_life": ("controller_usual_life", 2.5),
    "battery_life": ("battery_usual_life", 4),
    "pump_life": ("pump_usual_life", 3),
}


def weibull_scale(mean, shape):
    return mean / math.gamma(1 + 1 / shape)


def energy(v, way, year, sun, x):
    """A year's energy, kWh: gas, gas spared at the radiators, electricity at night and by day, export given up."""
    dawn, insulated, bought, battery, heater = way
    boiler = heater == "boiler"
    has_sun = bought is not None and year >= bought
    out = dict.fromkeys(["gas", "spared", "night", "grid", "export", "drawn", "taken", "stored"], 0.0)
    for m in range(12):
        per_kelvin = v["people"] * v["litres_each"] * v["month_share"][m] * DAYS[m] * KWH_PER_LITRE_KELVIN
        cold = cold_water(v, m)
        full_loss = v["standing_loss"] * (1 - v["loss_cut"] if insulated else 1) * DAYS[m]
        store = v["drawn_warmth"] + (v["dawn_warmth"] if dawn and boiler else 0)
        lost = full_loss * (store - 20) / 45
        drawn = per_kelvin * (v["drawn_warmth"] - cold)
        need = drawn + lost
        own = x.minimum(1.0, v["self_use"] * v["self_use_by_month"][m])
        export = v["generated"] * v["sun_by_month"][m] / 100 * (1 - own) * sun
        pipes = 0.0
        if boiler:
            pipes = v["pipe_loss"] * DAYS[m]
            if insulated:
                pipes = pipes * (1 - v["pipe_cut"])
            if dawn:
                pipes = pipes * (1 + v["dawn_pipes"])
        if has_sun:
            room = per_kelvin * (v["hot"] - cold) + full_loss
            if dawn:
                room = room * v["room_after_dawn"]
            offered = export * v["reach"]
            # 1/taken^2 = 1/offered^2 + 1/room^2, without dividing by an offer of nothing
            taken = offered / x.sqrt(1 + (offered / room) ** 2)
            cover = x.minimum(1.0, taken * v["displaced"] / need)
            rest = 1 - 1 / v["hygiene_days"]
            pipes = pipes - pipes * rest * cover * x.sqrt(cover)
            out["taken"] = out["taken"] + taken
            out["export"] = out["export"] + taken
            out["grid"] = out["grid"] + v["standby"] / 1000 * 24 * DAYS[m]
        else:
            cover = 0.0
        if battery:
            cycle = battery * DAYS[m]
            through = cycle * export / x.sqrt(cycle * cycle + export * export)
            out["stored"] = out["stored"] + through
            out["export"] = out["export"] + through
            out["grid"] = out["grid"] - v["round_trip"] * through
        if boiler:
            out["gas"] = out["gas"] + (need - cover * need + pipes) / v["boiler_efficiency"]
        elif heater == "off-peak":
            litres = v["people"] * v["litres_each"]
            day = x.minimum(1.0, x.maximum(0.0, v["boost"] * (litres - 72) / 36))
            out["night"] = out["night"] + need * (1 - day)
            out["grid"] = out["grid"] + need * day
        else:
            electric = need / v["cop"]
            own_sun = v["pump_from_sun"] * x.minimum(electric, export)
            out["grid"] = out["grid"] + electric - own_sun
            out["export"] = out["export"] + own_sun
        heating = v["heating_season"][m] * v["useful_loss"] / (v["boiler_efficiency"] + 0.107)
        out["spared"] = out["spared"] + (lost + pipes) * heating
        out["drawn"] = out["drawn"] + drawn
    return out


def renewals(first_year, ends, years, x):
    """Pieces replaced in each year and the age of the last one in the end; `ends` is failures by year, from purchase."""
    counts = [0.0] * min(first_year, years) + list(ends[: years - first_year])
    age = 0.0
    for t in range(first_year, years):
        # x.where is not in Plain: counts are whole numbers, so the smaller of the count and 1 says whether any failed
        failed = x.minimum(1.0, counts[t])
        age = failed * 0.5 + (1 - failed) * (age + 1)
    return counts, age


def cost(v, paths, fails, way, years, x):
    """Outlay, cost of each later year, and parts for the reader."""
    dawn, insulated, bought, battery, heater = way
    element = v["element_price"]
    outlay = 0.0
    by_year, first = [0.0] * years, None
    left = 0.0
    for t in range(years):
        e = energy(v, way, t, paths["weather"][t], x)
        gas, day, out = paths["gas_price"][t], paths["import_price"][t], paths["export_price"][t]
        c = (e["gas"] - e["spared"]) * gas + e["grid"] * day + e["night"] * day * v["offpeak_share"] + e["export"] * out
        if heater == "off-peak":
            c = c + v["tariff_effect"] + fails["element_life"][t] * element
        if battery:
            c = c - v["battery_other"]
        if heater == "heat pump":
            c = c + v["pump_upkeep"]
        if bought is not None and t >= bought:
            c = c + v["upkeep"] + fails["element_life"][t] * element * v["due_to_diverting"]
        by_year[t] = c
        if t == 0:
            first = {"first_year_cost": c, "first_year_gas": e["gas"]} | {k: e[k] for k in ("spared", "taken", "stored", "grid", "export", "drawn")}
    fall = 1 - v["price_fall"]

    def follow(start, life, price_then, usual):
        counts, age = renewals(start, fails[life], years, x)
        for t in range(years):
            by_year[t] = by_year[t] + counts[t] * price_then(t + 1)
        return x.maximum(0.0, 1 - age / v[usual]) * price_then(years)

    if bought is not None:
        at = lambda n: v["controller_price"] * fall**n + v["fitting_price"]  # noqa: E731
        if bought == 0:
            outlay = at(0) + v["element_needed"] * element
        else:
            by_year[bought - 1] = by_year[bought - 1] + at(bought) + v["element_needed"] * element
        left = left + follow(bought, "controller_life", at, "controller_usual_life")
    if battery:
        at = lambda n: battery * v["battery_price"] * fall**n  # noqa: E731
        outlay = outlay + at(0)
        left = left + follow(0, "battery_life", at, "battery_usual_life")
    if heater == "heat pump":
        at = lambda n: v["pump_price"]  # noqa: E731
        outlay = outlay + at(0)
        left = left + follow(0, "pump_life", at, "pump_usual_life")
    if heater == "off-peak":
        outlay = outlay + v["switch_price"] + v["element_needed"] * element
    if insulated:
        outlay = outlay + v["insulation_price"]
        left = left + max(0.0, 1 - years / v["insulation_life"]) * v["insulation_price"]
    by_year[-1] = by_year[-1] - left
    return outlay, by_year, first | {"left": left}


def results(v, paths, fails, way, years, x):
    outlay, by_year, first = cost(v, paths, fails, way, years, x)
    r = v["discount"]
    present = outlay + sum(c / (1 + r) ** (t + 1) for t, c in enumerate(by_year))
    annual = present / sum((1 + r) ** -(t + 1) for t in range(years))
    return {"annual_cost": annual, "present_cost": present, "money_down": outlay} | first


RESULTS = ["annual_cost", "present_cost", "money_down", "first_year_cost", "first_year_gas"]


def base_inputs(study):
    v = {}
    for name, row in study["inputs"].items():
        if name in LIVES:
            usual, shape = LIVES[name]
            assert row["weibull"] == {"mean": usual, "shape": shape}, name
            v[name] = weibull_scale(study["inputs"][usual]["value"], shape) * math.log(2) ** (1 / shape)
        else:
            v[name] = base_value(row)
    years = study["years"]
    paths = {}
    for name, path in study["paths"].items():
        assert all(change["chance"] < 0.5 for change in path.get("changes", []))
        growth = base_growth(path)
        paths[name] = [base_start(path) * (1 + growth) ** t for t in range(years)]
    fails = {}
    for name in [*LIVES, "element_life"]:
        fails[name] = [0] * years
        t = v[name]
        while t < years:
            fails[name][int(t)] += 1
            t += v[name]
    return v, paths, fails


def base_growth(path):
    return base_number(path.get("growth", 0.0))


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
            a = 1 + 4 * (p["mode"] - p["min"]) / (p["max"] - p["min"])
            return p["min"] + (p["max"] - p["min"]) * rng.beta(a, 6 - a, runs)
        if kind == "beta":
            if "alpha" in p:
                return rng.beta(p["alpha"], p["beta"], runs)
            nu = p["mean"] * (1 - p["mean"]) / p["sd"] ** 2 - 1
            return rng.beta(p["mean"] * nu, (1 - p["mean"]) * nu, runs)
        if kind == "weibull":
            mean = study["inputs"][p["mean"]]["value"] if "mean" in p else None
            scale = p["scale"] if mean is None else weibull_scale(mean, p["shape"])
            return scale * rng.weibull(p["shape"], runs)
        if kind == "normal":
            return rng.normal(p["mean"], p["sd"], runs)
        if kind == "lognormal":
            s2 = math.log1p((p["sd"] / p["mean"]) ** 2)
            return rng.lognormal(math.log(p["mean"]) - s2 / 2, math.sqrt(s2), runs)
        if kind == "discrete":
            w = np.array(p["weights"], dtype=float)
            return rng.choice(np.array(p["values"], dtype=float), runs, p=w / w.sum())
        return (rng.random(runs) < p["chance"]).astype(float)  # bernoulli

    kinds = {"uniform", "triangular", "pert", "beta", "weibull", "normal", "lognormal", "discrete", "bernoulli"}

    def number(row):
        if not isinstance(row, dict):
            return np.full(runs, float(row))
        kind = next(k for k in row if k in kinds)
        x = draw(kind, row[kind])
        cut = row.get("truncate", {})
        while (out := (x < cut.get("min", -math.inf)) | (x > cut.get("max", math.inf))).any():
            x[out] = draw(kind, row[kind])[: np.count_nonzero(out)]
        return x

    v = {n: number(row) if set(row) & kinds else base_value(row) for n, row in study["inputs"].items()}
    fails = {}
    for name in [*LIVES, "element_life"]:
        counts = [np.zeros(runs) for _ in range(study["years"])]
        t = v[name].copy()
        while (t < study["years"]).any():
            for year in range(study["years"]):
                counts[year] += (t >= year) & (t < year + 1)
            t += draw("weibull", study["inputs"][name]["weibull"])
        fails[name] = counts
    return v, sample_paths(study, runs, rng, number), fails


def monte_carlo(study, drawn, discount):
    import numpy as np

    v, paths, fails = drawn
    v = v | {"discount": discount}
    cost_of = {n: results(v, paths, fails, way, study["years"], np)["annual_cost"] for n, way in WAYS.items()}
    best = np.min(np.array(list(cost_of.values())), axis=0)
    out = {}
    for name, c in cost_of.items():
        gain = cost_of["study"] - c
        out[name] = {
            "annual_cost": spread(c),
            "best": float((c == best).mean()),
            "gain": spread(gain),
            "better_than_study": float((gain > 0).mean()),
            "regret": float((c - best).mean()),
        }
    return out


# ------------------------------------------------------------------------------------- sums by the hour

HOURS = [0.009, 0.005, 0.003, 0.003, 0.009, 0.028, 0.093, 0.121, 0.084, 0.051, 0.037, 0.033]
HOURS += [0.037, 0.033, 0.028, 0.033, 0.047, 0.070, 0.079, 0.065, 0.047, 0.042, 0.028, 0.015]


def by_the_hour(study, fire, below, to=61.0, litres=108.0, volume=180.0, loss=1.7, steps=4, boost=0.0):
    """A mixed cylinder without sun, heated at the hours `fire` when it is colder than `below`, and from 07:00 on by 1 K
    whenever it is colder than `boost`; sums and means of a year."""
    share = study["inputs"]["month_share"]["monthly"]
    capacity = volume * KWH_PER_LITRE_KELVIN
    t, got = 50.0, None
    for _year in range(2):  # the second has forgotten the start
        got = {"heat": 0.0, "warmth": 0.0, "loss": 0.0, "drawn at": 0.0, "firings": 0, "boosted": 0.0}
        day = drawn = 0
        for m, days in enumerate(DAYS):
            for _ in range(days):
                cold = 11.5 - 5 * math.cos(2 * math.pi * (day + 0.5 - 41) / 365)
                for hour, part in enumerate(HOURS):
                    if hour in fire and t < below:
                        got["heat"] += capacity * (to - t)
                        got["firings"] += 1
                        t = to
                    for _ in range(steps):
                        if hour >= 7 and t < boost:
                            got["boosted"] += capacity
                            t += 1
                        v = litres * share[m] * part / steps
                        lost = loss / 24 / steps * (t - 20) / 45
                        got["loss"] += lost
                        got["warmth"] += t / (8760 * steps)
                        got["drawn at"] += t * v
                        drawn += v
                        t += v / volume * (cold - t) - lost / capacity
                day += 1
        got["drawn at"] /= drawn
    return got


def print_hours(study):
    print("A mixed cylinder by the hour, no sun, 108 L a day: kWh, degC")
    for name, fire, below in [("17:00", [17], 50), ("06:00 and 17:00", [6, 17], 50), ("at night, 04:00", [4], 61)]:
        got = by_the_hour(study, fire, below)
        print(f"  {name:18s}" + "".join(f"  {k} {x:.1f}" for k, x in got.items()))
    shares = []
    for litres in (72, 108, 144, 180):
        got = by_the_hour(study, [4], 61, litres=litres, boost=38)
        shares.append(f"{got['boosted'] / (got['heat'] + got['boosted']):.2f}")
    print("  heated at night, share that must come by day to stay above 38 degC, at 72, 108, 144, 180 L:", *shares)


def print_ways(all_ways):
    keys = [*RESULTS, "drawn", "taken", "stored", "grid", "export", "spared", "left"]
    print(f"\n{'Base case':26s}" + "".join(f"{k[:12]:>13s}" for k in keys))
    for name, got in all_ways.items():
        print(f"{name:26s}" + "".join(f"{got[k]:13.2f}" for k in keys))


def main():
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--runs", type=int, default=0)
    ask.add_argument("--write", action="store_true", help="into a file of this name ending in .json")
    got = ask.parse_args()
    study = tomllib.loads((HERE.parents[1] / "studies" / "ways-to-warm-water.toml").read_text())
    assert set(study["alternatives"]) | {"study"} == set(WAYS)
    v, paths, fails = base_inputs(study)
    years = study["years"]
    print_hours(study)
    full = {n: results(v, paths, fails, way, years, Plain) for n, way in WAYS.items()}
    print_ways(full)
    only = lambda rows: {n: {k: row[k] for k in RESULTS} for n, row in rows.items()}  # noqa: E731
    out = {"base": only(full), "base_choices": {}}
    rates = study["inputs"]["discount"]["choice"]
    for rate in rates:
        if rate != v["discount"]:
            at = {n: results(v | {"discount": rate}, paths, fails, way, years, Plain) for n, way in WAYS.items()}
            out["base_choices"][f"discount = {rate}"] = only(at)

    def one(seed, size):
        drawn = sample(study, size, seed)
        return {f"discount = {rate}": monte_carlo(study, drawn, rate) for rate in rates}

    if got.runs:
        out["monte_carlo"] = over_sets(one, got.runs, 50_000)
    finish(out, got, "ways_to_warm_water")


if __name__ == "__main__":
    main()
