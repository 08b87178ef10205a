#!/usr/bin/env bash
# Global indices of fifteen inputs: payspread, and SciPy's sobol_indices on the same model in NumPy, in turn.
#
#   benches/compare_indices.sh [rounds]    5 rounds if not given; needs Rust, bash, Python 3.10 or later, a package index
#
# 16,384 rows of each matrix, 278,528 runs (indices.toml, scipy_indices.py). Compared are draws, runs and estimates, without
# starting Python and reading the file; payspread adds 95 % intervals, but for the line without (one replicate, which is
# the same work as SciPy's). The median of 20 calls of each process counts, after
# the first. SciPy uses one thread; payspread uses one, and as many as there are. Processor time is that of the whole
# process, its start taken off: it tells the work where other programs share the machine, which had better have nothing else
# to do. It ends with status 1 if an index differs by more than 0.02.
#
#   PYTHON=... benches/compare_indices.sh    takes a Python that has NumPy and SciPy (1.15 or later)
set -euo pipefail
export LC_ALL=C

rounds="${1:-5}"
root="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
if [ -z "${PYTHON:-}" ]; then
    python3 -m venv "$work/venv"
    PYTHON="$work/venv/bin/python"
    "$PYTHON" -m pip install --quiet --disable-pip-version-check numpy scipy
fi
(cd "$root" && cargo build --release --quiet --example index_speed)
target="${CARGO_TARGET_DIR:-$root/target}"

PYTHONDONTWRITEBYTECODE=1 "$PYTHON" - "$target/release/examples/index_speed" "$root/benches" "$PYTHON" "$rounds" <<'PY'
import json, os, resource, statistics, subprocess, sys

ours, benches, python, rounds = *sys.argv[1:4], int(sys.argv[4])
REPEAT = 20


def call(command, repeat):
    """What it said, and its processor time."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    said = subprocess.run([*command, "--repeat", str(repeat)], check=True, capture_output=True, text=True).stdout
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return json.loads(said), after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def seconds(command):
    said, many = call(command, REPEAT + 1)
    _, one = call(command, 1)
    return said, statistics.median(said["seconds"][1:]), (many - one) / REPEAT


cores = os.cpu_count()
speed = [ours, f"{benches}/indices.toml", "--threads"]
ways = {
    f"payspread, threads: {cores}": [*speed, str(cores)],
    f"payspread without intervals, threads: {cores}": [*speed, str(cores), "--replicates", "1"],
    "payspread, threads: 1": [*speed, "1"],
    "SciPy": [python, f"{benches}/scipy_indices.py"],
    "SciPy with the laws of scipy.stats": [python, f"{benches}/scipy_indices.py", "--scipy-stats"],
}
wall, work, said = {n: [] for n in ways}, {n: [] for n in ways}, {}
for _ in range(rounds):
    for name, command in ways.items():
        said[name], elapsed, worked = seconds(command)
        wall[name].append(elapsed)
        work[name].append(worked)
print(f"Indices of 15 inputs, 16,384 rows, {cores} cores, NumPy {said['SciPy']['numpy']}, SciPy {said['SciPy']['scipy']};")
print(f"milliseconds: median of {rounds} (least to most), then processor time")
for name in ways:
    w = [1000 * x for x in wall[name]]
    print(f"  {name:40s} {statistics.median(w):7.1f} ({min(w):.1f} to {max(w):.1f})   {1000 * statistics.median(work[name]):7.1f}")
for name in list(ways)[:3]:
    for other in list(ways)[3:]:
        ratio = statistics.median(wall[other]) / statistics.median(wall[name])
        best = min(wall[other]) / min(wall[name])
        worked = statistics.median(work[other]) / statistics.median(work[name])
        print(f"{name}: 1/{ratio:.1f} of the time of {other} (least against least 1/{best:.1f}), 1/{worked:.1f} of its processor time")

rows = {row["names"][0]: row for row in said["payspread, threads: 1"]["indices"]["rows"]}
apart = max(abs(rows[n][k]["value"] - x) for k in ("first", "total") for n, x in said["SciPy"][k].items())
print(f"indices are at most {apart:.4f} apart")
sys.exit(apart > 0.02)
PY
