#!/usr/bin/env bash
# Forty inputs with every distribution, ten links and four linked paths: payspread, and NumPy with SciPy, in turn.
#
#   benches/compare_forty.sh [rounds]    5 rounds if not given; needs Rust, bash 5, Python 3.9 or later, a package index
#
# A million runs each (forty.toml, numpy_forty.py). Compared is the whole process, from start to answers as JSON, and NumPy by
# itself without starting Python. NumPy and SciPy use one thread; payspread uses one, and as many as there are. It ends with
# status 1 if the two disagree by more than five standard errors. The machine should have nothing else to do.
set -euo pipefail
export LC_ALL=C # a point in the clock's seconds

rounds="${1:-5}"
root="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
cores="$(nproc 2>/dev/null || sysctl -n hw.ncpu)"

python3 -m venv "$work/venv"
"$work/venv/bin/pip" install --quiet --disable-pip-version-check numpy scipy
(cd "$root" && cargo build --release --quiet)
target="${CARGO_TARGET_DIR:-$root/target}"

measure() { # name command...
    local name="$1" begin end
    shift
    begin="$EPOCHREALTIME"
    "$@" >"$work/said" 2>"$work/told"
    end="$EPOCHREALTIME"
    printf '%s\t%s\t%s\n' "$name" "$begin" "$end" >>"$work/whole"
}
for ((i = 0; i < rounds; i++)); do
    for threads in "$cores" 1; do
        measure "payspread, threads: $threads" "$target/release/payspread" run "$root/benches/forty.toml" --format json \
            --threads "$threads"
        cp "$work/said" "$work/ours.json"
    done
    measure "NumPy and SciPy" env PYTHONDONTWRITEBYTECODE=1 "$work/venv/bin/python" "$root/benches/numpy_forty.py"
    cp "$work/said" "$work/theirs-$i.json"
done

python3 - "$work" "$cores" <<'PY'
import json, math, pathlib, statistics, sys

work, cores = pathlib.Path(sys.argv[1]), sys.argv[2]
whole = {}
for line in (work / "whole").read_text().splitlines():
    name, begin, end = line.split("\t")
    whole.setdefault(name, []).append(float(end) - float(begin))
theirs = [json.loads(p.read_text()) for p in sorted(work.glob("theirs-*.json"))]
whole["NumPy and SciPy, without starting Python"] = [t for one in theirs for t in one["seconds"]]
print(f"A million runs of forty inputs, {cores} cores, NumPy {theirs[0]['numpy']}, SciPy {theirs[0]['scipy']};")
print(f"seconds: median of {len(theirs)} (least to most)")
for name, xs in whole.items():
    print(f"  {name:42s} {statistics.median(xs):7.3f} ({min(xs):.3f} to {max(xs):.3f})")
for threads in (cores, "1"):
    ours = statistics.median(whole[f"payspread, threads: {threads}"])
    for name in [n for n in whole if n.startswith("NumPy")]:
        print(f"payspread with {threads} threads takes 1/{statistics.median(whole[name]) / ours:.1f} of the time of {name}")

# The same seed each time: one sample of ours, one of theirs.
results = {r["name"]: r for r in json.loads((work / "ours.json").read_text())["results"]}
runs = results["npv"]["runs"]
share = lambda r: (r["success"]["share"]["value"], math.sqrt(r["success"]["share"]["value"] * (1 - r["success"]["share"]["value"]) / runs))
ours = {
    "npv": (results["npv"]["mean"]["value"], results["npv"]["sd"]["value"] / math.sqrt(runs)),
    "npv_good": share(results["npv"]),
    "pays_back": share(results["pays_back"]),
}
apart = 0.0
for key, (value, error) in ours.items():
    other = theirs[0][key]
    off = (value - other["mean"]) / math.hypot(error, other["error"])
    apart = max(apart, abs(off))
    print(f"{key}: {value:.6g} and {other['mean']:.6g}, {off:+.1f} standard errors apart")
sys.exit(apart > 5)
PY
