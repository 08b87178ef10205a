"""A first look worked out a second time: see harbour_row.py, whose sampling and payback this shares.

    python tests/independent/first_look.py [--runs 2000000 --write]      (runs need NumPy)
"""

import argparse
import json
import math
import tomllib

from harbour_row import HERE, Plain, finish, in_service, lasting_payback, over_sets, sample, summary, variants
from quantiles import base_number, base_start, base_value

KWH_PER_LITRE_KELVIN = 4.186 / 3600


def heat(v, x):
    """Electricity diverted and gas avoided in a full year, kWh."""
    kelvin_kwh = v["people"] * v["litres_each"] * 365 * KWH_PER_LITRE_KELVIN
    loss = 1.7 * 365
    wanted = kelvin_kwh * 32 + loss * 24 / 45
    room = 0.65 * (kelvin_kwh * 49 + loss)
    offered = 0.80 * v["export_now"]
    taken = offered / x.sqrt(1 + (offered / room) ** 2)
    covered = x.minimum(1.0, taken * v["displaced"] / wanted)
    return taken, (covered * wanted + covered * x.sqrt(covered) * 0.77 * 365) / v["boiler_efficiency"]


def cash(v, paths, years, x):
    taken, fuel = heat(v, x)
    works = [in_service(v["life"], t, x) for t in range(years)]
    savings = [
        (fuel * paths["gas_price"][t] - taken * paths["export_price"][t] - v["running_cost"]) * w
        for t, w in enumerate(works)
    ]
    return v["outlay"], savings, works, fuel, taken * v["grid_carbon"] - fuel * 0.183


def main():
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--runs", type=int, default=0)
    ask.add_argument("--write", action="store_true", help="into a file of this name ending in .json")
    got = ask.parse_args()
    study = tomllib.loads((HERE.parents[1] / "studies" / "first-look.toml").read_text())
    years, out = study["years"], {}
    v = {name: base_value(row) for name, row in study["inputs"].items()}
    paths = {
        name: [base_start(p) * (1 + base_number(p["growth"])) ** t for t in range(years)]
        for name, p in study["paths"].items()
    }
    outlay, savings, works, fuel, carbon = cash(v, paths, years, Plain)
    payback = lasting_payback(outlay, savings, works)
    out["base"] = {
        "taken": heat(v, Plain)[0],
        "npv": sum(s / (1 + v["discount"]) ** (t + 1) for t, s in enumerate(savings)) - outlay,
        "payback": payback if math.isfinite(payback) else "never",
        "pays_back": sum(savings) >= outlay,
        "first_year_saving": savings[0],
        "fuel_avoided": fuel,
        "carbon_change": carbon,
    }

    def one(seed, size):
        import numpy as np

        drawn, paths = sample(study, size, seed)
        return {
            k: summary((drawn | change)["discount"], *cash(drawn | change, paths, years, np))
            for k, change in ({"as it is": {}} | variants(study)).items()
        }

    if got.runs:
        out["monte_carlo"] = over_sets(one, got.runs)
    finish(out, got, "first_look")


if __name__ == "__main__":
    main()
