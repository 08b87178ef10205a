#!/usr/bin/env bash
# The reference home by payspread and by NumPy, in turn, on this machine.
#
#   benches/compare.sh [rounds]          5 rounds if not given; needs Rust, bash 5, Python 3.9 or later, a package index
#
# Compared is the whole process, from start to answers (as JSON; once with charts and files too), and NumPy by itself
# without starting Python (its own clock). NumPy runs in three ways, explained in numpy_reference.py: plain (whole columns),
# careful (blocks, the library's samplers) and tuned (samplers by hand). payspread uses all cores; NumPy uses one
# and, with threads, as many as there are. "payspread, 1 thread" against "careful, 1 thread" is the figure per core.
# The machine should have nothing else to do.
set -euo pipefail
export LC_ALL=C # a point in the clock's seconds

rounds="${1:-5}"
root="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
cores="$(nproc 2>/dev/null || sysctl -n hw.ncpu)"

python3 -m venv "$work/venv"
"$work/venv/bin/pip" install --quiet --disable-pip-version-check numpy
(cd "$root" && cargo build --release --quiet)
target="${CARGO_TARGET_DIR:-$root/target}"

numpy() { # way threads
    "$work/venv/bin/python" "$root/benches/numpy_reference.py" --way "$1" --threads "$2"
}
ours() { # threads: all answers as JSON on the standard output, as NumPy's process gives its own
    "$target/release/payspread" run "$root/studies/reference-home.toml" --format json --threads "$1"
}
in_full() { # threads: charts, tables and files too
    "$target/release/payspread" run "$root/studies/reference-home.toml" --quiet --threads "$1" --out "$work/out"
}
measure() { # name command...
    local name="$1" begin end
    shift
    begin="$EPOCHREALTIME"
    "$@" >"$work/said"
    end="$EPOCHREALTIME"
    printf '%s\t%s\t%s\n' "$name" "$begin" "$end" >>"$work/whole"
    case "$name" in NumPy*) cp "$work/said" "$work/$(date +%s%N).json" ;; esac
}
for ((i = 0; i < rounds; i++)); do
    measure "payspread, $cores threads" ours "$cores"
    measure "NumPy careful, 1 thread" numpy careful 1
    measure "payspread, 1 thread" ours 1
    measure "payspread, $cores threads, charts and files too" in_full "$cores"
    measure "NumPy tuned, 1 thread" numpy tuned 1
    measure "NumPy plain, 1 thread" numpy plain 1
    measure "NumPy careful, $cores threads" numpy careful "$cores"
done

python3 - "$work" "$cores" <<'PY'
import json, pathlib, statistics, sys

work, cores = pathlib.Path(sys.argv[1]), sys.argv[2]
whole, inside = {}, {}
for line in (work / "whole").read_text().splitlines():
    name, begin, end = line.split("\t")
    whole.setdefault(name, []).append(float(end) - float(begin))
for path in work.glob("*.json"):
    said = json.loads(path.read_text())
    name = f"NumPy {said['way']}, {said['threads']} thread" + ("s" if said["threads"] > 1 else "")
    inside.setdefault(name, []).extend(said["seconds"])
print(f"A million runs of the reference home, {cores} cores, seconds: median of {len(next(iter(whole.values())))} (least to most)")
for name, xs in whole.items():
    line = f"  {name:46s} {statistics.median(xs):7.3f} ({min(xs):.3f} to {max(xs):.3f})"
    if name in inside:
        line += f"   without starting Python {statistics.median(inside[name]):.3f}"
    print(line)
for ours in [n for n in whole if n.startswith("payspread")]:
    fast = statistics.median(whole[ours])
    print(f"{ours}, whole process against whole process:")
    for name in inside:
        print(f"  {statistics.median(whole[name]) / fast:6.2f} times as fast as {name}")
PY
