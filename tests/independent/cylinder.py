"""Writes cylinder.json: a year of eight made-up homes with a cylinder by benches/cylinder_numpy.py, kWh by month.

    python3 tests/independent/cylinder.py      needs NumPy

The homes (examples/varied_homes/mod.rs) differ in cylinder, losses, thermostat, weather and draws. The NumPy program was
written from the description of the physics for its speed, with cumulated sums where the other fills layer by layer.
"""

import json
import pathlib
import subprocess
import sys

here = pathlib.Path(__file__).resolve().parent
program = here.parent.parent / "benches" / "cylinder_numpy.py"
command = [sys.executable, str(program), "--runs", "8", "--block", "8", "--shown", "8"]
said = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
lines = []
for output, homes in said["months"].items():
    rows = ",\n".join("    [" + ", ".join(repr(kwh) for kwh in months) + "]" for months in homes)
    lines.append(f'  "{output}": [\n{rows}\n  ]')
(here / "cylinder.json").write_text("{\n" + ",\n".join(lines) + "\n}\n")
