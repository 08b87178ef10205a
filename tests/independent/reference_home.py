"""Makes reference_home.json, the figures that the reference home must give, from NumPy alone.

    python tests/independent/reference_home.py [SETS]      (needs NumPy; 40 sets take half a minute)

Each set is a million runs by benches/numpy_reference.py (the "careful" way, whose samplers are NumPy's own) from a
seed of its own. Written: the mean over the sets of each figure; `error`, the standard error of that mean; and
`error_of_a_million`, the standard deviation between sets, which is the standard error of one million random runs.
An implementation passes when it lies within five times sqrt(error^2 + its own error^2) of the figure.
"""

import json
import pathlib
import sys

import numpy as np

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1] / "benches"))
import numpy_reference  # noqa: E402


def collect(sets):
    if isinstance(sets[0], dict):
        return {k: collect([s[k] for s in sets]) for k in sets[0]}
    x = np.array(sets, dtype=float)
    sd = x.std(axis=0, ddof=1)
    each = {"figure": x.mean(axis=0), "error": sd / len(sets) ** 0.5, "error_of_a_million": sd}
    return {k: np.vectorize(lambda v: float(f"{v:.9g}"))(v).tolist() for k, v in each.items()}


def main():
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    sets = []
    for seed in range(1, n + 1):
        sets.append(numpy_reference.simulate(1_000_000, seed, "careful", 1, 8192))
    out = {
        "about": "The reference home: figures and standard errors from NumPy. Years run from 1 to 20; money in EUR.",
        "made_by": f"tests/independent/reference_home.py {n}, NumPy {np.__version__}, {n} sets of a million random runs",
        **collect(sets),
    }
    (HERE / "reference_home.json").write_text(json.dumps(out, indent=1) + "\n")


if __name__ == "__main__":
    main()
