#!/usr/bin/env python3
"""The file of runs as pyarrow and pandas read it: names, units, labels, and figures against answers.json.

usage: runs_checks.py PAYSPREAD STUDY...   (needs pyarrow and pandas)
"""

import json
import math
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq


def near(a, b):
    return a == b or abs(a - b) <= 1e-9 * max(abs(a), abs(b), 1e-9)


def figure(value):
    return math.inf if value == "never" else value


def check(program, study):
    with tempfile.TemporaryDirectory() as out:
        subprocess.run([program, "run", "--quiet", "--save-runs", "--runs", "2048", "--out", out, study], check=True)
        file = Path(out) / "runs.parquet"
        answers = json.loads((Path(out) / "answers.json").read_text())
        manifest = json.loads((Path(out) / "manifest.json").read_text())
        assert any(entry["file"] == "runs.parquet" for entry in manifest["files"])
        metadata = {k.decode(): v.decode() for k, v in pq.read_metadata(file).metadata.items()}
        columns = {column["name"]: column for column in json.loads(metadata["payspread.columns"])}
        frame = pd.read_parquet(file)
        table = pq.read_table(file)
        assert list(frame.columns)[2:] == list(columns), "every column is told, in its order"
        assert len(frame) == answers["sampling"]["runs"] == int(metadata["payspread.runs"])
        assert list(frame.iloc[:, 0]) == list(range(len(frame)))
        assert metadata["payspread.study_sha256"] == manifest["study"]["sha256"]
        assert metadata["payspread.seed"] == str(answers["sampling"]["seed"])
        for name, column in columns.items():
            kind = table.schema.field(name).type
            wanted = {"label": pa.string(), "yes-no": pa.bool_()}.get(column["kind"], pa.float64())
            assert kind == wanted, (name, kind)
        units = {row["name"]: row["unit"] for row in answers["inputs"]}
        for name, column in columns.items():
            if name in units:
                assert column["unit"] == units[name], (name, column["unit"], units[name])
        one = pq.read_table(file, columns=[list(columns)[0]])
        assert one.num_columns == 1, "a column by itself, dots in its name or not"
        compared = 0
        for result in answers["results"]:
            values = frame[result["name"]].astype(float).to_numpy()
            assert columns[result["name"]]["unit"] == result["unit"]
            assert columns[result["name"]]["role"] == "result"
            if result["mean"] is not None:
                assert near(np.nanmean(values), result["mean"]["value"]), result["name"]
                compared += 1
            known = np.sort(values[~np.isnan(values)])
            for q in result["percentiles"]:
                at = (len(known) - 1) * q["p"]
                low = int(at)
                a, b = known[low], known[min(low + 1, len(known) - 1)]
                own = a if a == b or at == low else a + (at - low) * (b - a)
                assert near(own, figure(q["estimate"]["value"])), (result["name"], q, own)
                compared += 1
            if result["never"] is not None:
                assert near(np.isinf(values).mean(), result["never"]["value"])
                compared += 1
        print(f"{Path(study).name}: {len(frame)} runs, {len(columns)} columns, {compared} figures agree, "
              f"{file.stat().st_size} bytes")


def main():
    program, *studies = sys.argv[1:]
    for study in studies:
        check(program, study)


main()
