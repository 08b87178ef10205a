"""payspread's answers beside the same studies worked out in Python (see tests/independent/).

    python second_opinion.py COPY ANSWERS

COPY holds benches, studies and tests/independent; ANSWERS a folder for each study with its answers.json. Three
comparisons: base cases (to 1e-9), payspread's figures with the figures kept in tests/independent, and those with
a fresh, smaller simulation. The last two pass within five standard errors of the difference.
"""

import json
import math
import pathlib
import subprocess
import sys

copy, folder = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
independent = copy / "tests" / "independent"
FRESH = {"first_look": 1_000_000, "harbour_row": 500_000}
KEPT_RUNS = 2_000_000
REFERENCE_SETS = 4
PERCENTILES = {"p10": 0.1, "p25": 0.25, "p50": 0.5, "p90": 0.9}
compared, wrong = 0, []


def near(what, ours, theirs, error):
    """Within five standard errors; never equals never alone."""
    global compared
    compared += 1
    if ours == theirs:
        return
    if "never" in (ours, theirs) or not abs(ours - theirs) <= 5 * error:
        wrong.append(f"{what}: {ours} against {theirs}, standard error {error}")


def deviation(low, high):
    """Standard error from the ends of a 95 % interval; too large rather than too small."""
    numbers = isinstance(low, (int, float)) and isinstance(high, (int, float))
    return (high - low) / (2 * 1.96) if numbers else math.inf


def share(what, ours, kept):
    near(what, ours["value"], kept["figure"], math.hypot(kept["error"], deviation(ours["low"], ours["high"])))


def estimate(what, ours, kept):
    error = math.hypot(kept.get("error", 0.0), deviation(ours["low"], ours["high"]))
    near(what, ours["value"], kept["figure"], error)


def result(what, ours, kept):
    """A result's summary beside what is kept of it."""
    if "figure" in kept:
        return share(what, ours["success"]["share"], kept)
    for name, figure in kept.items():
        if name in PERCENTILES:
            found = next(p for p in ours["percentiles"] if p["p"] == PERCENTILES[name])
            estimate(f"{what}, {name}", found["estimate"], figure)
        elif name == "mean":
            estimate(f"{what}, mean", ours["mean"], figure)
        elif name.startswith("share_"):
            share(f"{what}, {name}", ours["success"]["share"], figure)


def results(what, ours, kept):
    by_name = {r["name"]: r for r in ours}
    for name, figures in kept.items():
        if name in by_name:
            result(f"{what}, {name}", by_name[name], figures)


def fresh(what, new, kept, ratio):
    """Figures of a fresh simulation beside those kept; the fresh one's error is `ratio` times as large."""
    if isinstance(kept, dict) and "figure" in kept:
        pairs = [(kept["figure"], new["figure"], kept.get("error", 0.0))]
        if isinstance(kept["figure"], list):
            pairs = zip(kept["figure"], new["figure"], kept["error"])
        for old, again, error in pairs:
            # Rare events: a share near 0 has an error of its own kind.
            near(what, again, old, error * math.hypot(1, ratio) + (3e-6 if "paid" in what else 0))
    elif isinstance(kept, dict):
        for key, value in kept.items():
            if isinstance(value, (dict, list)):
                fresh(f"{what}, {key}", new[key], value, ratio)
    elif isinstance(kept, list):
        for k, value in enumerate(kept):
            fresh(f"{what}, {k + 1}", new[k], value, ratio)


def base_case(what, ours, kept):
    by_name = {r["name"]: r["base"] for r in ours}
    for name in by_name.keys() & kept.keys():
        theirs = kept[name]
        scale = 0.0 if theirs == "never" else abs(float(theirs)) * 1e-9 / 5
        near(f"{what}, {name}", by_name[name], theirs, scale)


def answers(study):
    return json.loads((folder / study / "answers.json").read_text())


def run(name, *args):
    said = subprocess.run([sys.executable, f"{name}.py", *args], cwd=independent, check=True, text=True, capture_output=True)
    return said.stdout


def a_study(name, as_it_is, choices):
    ours = answers(name.replace("_", "-"))
    kept = json.loads((independent / f"{name}.json").read_text())
    text = run(name, "--runs", str(FRESH[name]))
    new = json.loads(text[text.index("\n{\n") + 1 :] if not text.startswith("{") else text)
    base_case(f"{name}, base case", ours["results"], new["base"])
    if new["base"] != kept["base"]:
        wrong.append(f"{name}: its base case is not the one kept")
    of_kept = as_it_is(kept["monte_carlo"])
    results(name, ours["results"], of_kept)
    for k, figure in enumerate(of_kept["paid_back_by_year"]):
        # A share of no run has no error that could be told from its runs.
        floor = {"figure": figure["figure"], "error": max(figure["error"], 1e-4)}
        share(f"{name}, paid back by year {k + 1}", ours["bands"]["paid_back"][k], floor)
    for other in ours["choices"]:
        label = f"{other['choice']} = {other['value'].split(' ')[0]}"
        key = next((k for k in choices(kept["monte_carlo"]) if k.startswith(label)), None)
        if key and not other["is_base"]:
            results(f"{name}, {key}", other["results"], choices(kept["monte_carlo"])[key])
    fresh(f"{name}, fresh", new["monte_carlo"], kept["monte_carlo"], math.sqrt(KEPT_RUNS / FRESH[name]))


def reference_home():
    kept = json.loads((independent / "reference_home.json").read_text())
    run("reference_home", str(REFERENCE_SETS))  # writes in the copy
    new = json.loads((independent / "reference_home.json").read_text())
    fresh("reference_home, fresh", new, kept, math.sqrt(40 / REFERENCE_SETS))
    ours = answers("reference-home")
    npv = {k: {"figure": v["figure"], "error": v["error"]} for k, v in kept["npv"].items()}
    results("reference_home", ours["results"], {"npv": npv})
    for k, (figure, error) in enumerate(zip(kept["paid_back_by_year"]["figure"], kept["paid_back_by_year"]["error"])):
        share(f"reference_home, paid back by year {k + 1}", ours["bands"]["paid_back"][k], {"figure": figure, "error": error})
    for name, figures in kept["cumulative_cash"].items():
        for k, (figure, error) in enumerate(zip(figures["figure"], figures["error"])):
            row = ours["bands"]["cash"][k + 1]
            found = next(p for p in row["percentiles"] if p["p"] == {"p75": 0.75, **PERCENTILES}[name])
            estimate(f"reference_home, cash {name}, year {k + 1}", found["estimate"], {"figure": figure, "error": error})


def guest_house():
    run("guest_house", str((folder / "guest-house" / "answers.json").resolve()))  # fails where something is off


a_study("first_look", lambda m: m["as it is"], lambda m: m)
a_study("harbour_row", lambda m: m["without"]["as it is"], lambda m: m["choices"])
reference_home()
guest_house()
print(f"{compared} figures compared, {len(wrong)} apart")
print("\n".join(wrong))
sys.exit(bool(wrong))
