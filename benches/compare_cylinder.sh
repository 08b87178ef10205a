#!/usr/bin/env bash
# Years of half hours of a cylinder, its controller and its boiler: payspread, and the same loop in NumPy over runs, in turn.
#
#   benches/compare_cylinder.sh [rounds] [runs] [days]    3 rounds of 10,000 runs of 365 days if not given; needs Rust, bash,
#                                                         Python 3.10 or later, a package index
#
# The same homes, days and physics (cylinder_speed.rs, cylinder_numpy.py); compared is the time in the cylinder, without
# starting, and without making the days; beside it processor time, that of the same program without the cylinder taken off:
# it tells the work where other programs share the machine, which had better have nothing else to do. NumPy, on one thread, has all runs in one column and, to be fair, blocks of several
# sizes; payspread has one thread, and as many as there are. The median of the rounds counts. It ends with status 1 if the
# two differ by more than 1e-9 in any month of the first 40 homes.
#
#   PYTHON=... benches/compare_cylinder.sh    takes a Python that has NumPy
set -euo pipefail
export LC_ALL=C

rounds="${1:-3}" runs="${2:-10000}" days="${3:-365}"
root="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
if [ -z "${PYTHON:-}" ]; then
    python3 -m venv "$work/venv"
    PYTHON="$work/venv/bin/python"
    "$PYTHON" -m pip install --quiet --disable-pip-version-check numpy
fi
if [ -z "${OURS:-}" ]; then
    (cd "$root" && cargo build --release --quiet --example cylinder_speed)
    OURS="${CARGO_TARGET_DIR:-$root/target}/release/examples/cylinder_speed"
fi

PYTHONDONTWRITEBYTECODE=1 "$PYTHON" - "$OURS" "$root/benches/cylinder_numpy.py" "$PYTHON" "$rounds" "$runs" "$days" <<'PY'
import json, os, resource, statistics, subprocess, sys

ours, numpy, python, rounds, runs, days = *sys.argv[1:4], int(sys.argv[4]), sys.argv[5], sys.argv[6]
size = ["--runs", runs, "--days", days]
cores = os.cpu_count()
ways = {f"payspread, threads: {n}": [ours, *size, "--threads", str(n)] for n in sorted({1, cores})}
ways["payspread, threads: 1, no vector extensions"] = [ours, *size, "--vectors", "baseline"]
for block in dict.fromkeys([runs, "4096", "1024", "512"]):
    ways[f"NumPy, blocks of {block}"] = [python, numpy, *size, "--block", block]


def call(command):
    """What it said, and its processor time."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    said = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return said, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


seconds, work, said = {n: [] for n in ways}, {n: [] for n in ways}, {}
for _ in range(rounds):
    for name, command in ways.items():
        _, idle = call([*command, "--idle", "yes"])
        said[name], busy = call(command)
        seconds[name].append(said[name]["seconds"])
        work[name].append(busy - idle)
median = {n: statistics.median(s) for n, s in seconds.items()}
worked = {n: statistics.median(s) for n, s in work.items()}
print(f"{runs} runs of {days} days of 48 half hours, {cores} cores; median of {rounds} (least to most), then processor time")
for name, s in seconds.items():
    pace = said[name]["steps"] / worked[name] / 1e6
    print(f"  {name:46s} {median[name]:8.2f} s ({min(s):.2f} to {max(s):.2f})  {worked[name]:8.2f} s: {pace:.1f} million half hours a second of a core")
best = min((n for n in ways if n.startswith("NumPy")), key=median.get)
whole = f"NumPy, blocks of {runs}"
for name in ways:
    if not name.startswith("NumPy"):
        print(f"{name}: 1/{median[whole] / median[name]:.1f} of the time of whole columns, 1/{median[best] / median[name]:.1f} of {best}, 1/{worked[best] / worked[name]:.1f} of its processor time")
a, b = said["payspread, threads: 1"]["months"], said[whole]["months"]
pairs = [(x, y) for key in b for p, q in zip(a[key], b[key]) for x, y in zip(p, q)]
apart = max(abs(x - y) / max(1e-3, abs(y)) for x, y in pairs)
print(f"{len(pairs)} months of heat and electricity are at most {apart:.1e} apart")
sys.exit(apart > 1e-9)
PY
