"""The guest house worked out a second time, from what its simulated half hours come to by month.

    payspread run studies/guest-house.toml --format json > answers.json
    python tests/independent/guest_house.py answers.json            the standard library is enough

Three things: the base case's results from the months of `displaced`, `diverted`, `standby_use`, `exported_before`,
with formulas of its own (to 1e-9); the balance of heat in every month (to 1e-9 of what flows); and the heat drawn from
guests and litres by hand, which the draw-off's chances leave within a few parts in a hundred. The simulation itself
has no second writing here. Ends with 1 where something is off.
"""

import json
import math
import pathlib
import sys
import tomllib

from harbour_row import DAYS, HERE, KWH_PER_LITRE_KELVIN, Plain, base_failures, cold_water, in_service, lasting_payback
from quantiles import base_number, base_start, base_value


def base_results(study, v, home):
    """Results of the base case; `home` has twelve amounts of each output."""
    years = study["years"]
    path = {
        name: [base_start(p) * (1 + base_number(p["growth"])) ** t for t in range(years)]
        for name, p in study["paths"].items()
    }
    apart = v["meter_rule"] == "each apart"
    more = 1 + v["apart_reach"] * (v["apart_exported"] - 1) if apart else 1.0
    taken, heat, standby = more * sum(home["diverted"]), more * sum(home["displaced"]), sum(home["standby_use"])
    failures = base_failures(v["element_life"], years)
    grid = path["average_grid" if v["grid_carbon"] == "average" else "marginal_grid"]
    price = v["controller_price"] + 2 * v["element_price"] + v["fitting_price"] + v["scheme_revised"]
    outlay = price * (1 + v["vat_rate"] * (1 - v["vat_recovered"]))
    savings, works, carbon = [], [], 0.0
    for t in range(years):
        left, w = 1 - v["ageing_reach"] * v["ageing"] * t, in_service(v["life"], t, Plain)
        fuel, sold = heat / v["boiler_efficiency"] * left, taken * left
        cost = standby * path["import_price"][t] + v["upkeep"] + v["inspection"] + 2 * failures[t] * v["element_price"]
        savings.append((fuel * path["gas_price"][t] - sold * path["export_price"][t] - cost) * w)
        works.append(w)
        carbon += ((sold + standby) * grid[t] - fuel * v["gas_carbon"]) * w
    payback = lasting_payback(outlay, savings, works)
    return {
        "npv": sum(s / (1 + v["discount"]) ** (t + 1) for t, s in enumerate(savings)) - outlay,
        "payback": payback if math.isfinite(payback) else "never",
        "pays_back": float(sum(savings) >= outlay),
        "first_year_saving": savings[0],
        "paid_at_first": price * (1 + v["vat_rate"]),
        "share_taken": taken / (sum(home["exported_before"]) * (v["apart_exported"] if apart else 1.0)),
        "displaced": heat / taken,
        "gas_avoided": heat / v["boiler_efficiency"],
        "cool_hours": sum(home["hours_below_comfort"]),
        "carbon_change": carbon,
    }


def drawn_by_hand(v):
    """Heat in the water drawn, by month, each day as usual."""
    cold = [cold_water({"cold_mean": v["cold_mean"], "cold_half_range": 4.5}, month) for month in range(12)]
    guests = [v["rooms"] * share * v["occupancy"] * v["guests_per_room"] for share in v["taken_by_month"]]
    litres = [n * (v["litres_each"] + v["laundry"]) + v["kitchen"] for n in guests]
    return [KWH_PER_LITRE_KELVIN * l * (55 - c) * days for l, c, days in zip(litres, cold, DAYS)]


def imbalance(home, month):
    """Heat in less heat out, as a share of what came in."""
    into = sum(home[k][month] for k in ("heat_from_sun", "heat_from_backup", "heat_from_grid"))
    out = ("heat_drawn", "heat_lost_standing", "heat_lost_circulating", "stored_change")
    return (into - sum(home[k][month] for k in out)) / into


def main():
    answers = json.loads(pathlib.Path(sys.argv[1]).read_text())
    study = tomllib.loads((HERE.parents[1] / "studies" / "guest-house.toml").read_text())
    v = {name: base_value(row) for name, row in study["inputs"].items()}
    home = {row["output"]: row["values"] for row in answers["homes"][0]["months"]}
    wrong = 0
    given = {row["name"]: row["base"] for row in answers["results"]}
    for name, ours in base_results(study, v, home).items():
        same = ours == given[name] if isinstance(ours, str) else abs(ours - given[name]) <= 1e-9 * max(1, abs(ours))
        wrong += not same
        print(f"{name:20s}{ours if isinstance(ours, str) else f'{ours:16.6f}':>16s}  {'the same' if same else given[name]}")
    off = max(abs(imbalance(home, month)) for month in range(12))
    by_hand, drawn = drawn_by_hand(v), home["heat_drawn"]
    gap = sum(drawn) / sum(by_hand) - 1
    print(f"balance of heat within {off:.1e} of what flows")
    print(f"heat drawn {sum(drawn):.0f} kWh, by hand {sum(by_hand):.0f} ({100 * gap:+.1f} %)")
    print("  by month, simulated / by hand: " + " ".join(f"{a:.0f}/{b:.0f}" for a, b in zip(drawn, by_hand)))
    wrong += off > 1e-9
    wrong += abs(gap) > 0.03
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
