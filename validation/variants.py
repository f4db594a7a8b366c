"""The table of a batch of variants, read by DuckDB, against its CSV and its plan; Sobol points against SciPy's.

Builds nothing: takes target/release/modalith. The device (a beam) is invented. Bounds: every number of the Parquet table equals that of
the CSV; plan, version and seed are in the metadata; the points of one plan are SciPy's unscrambled Sobol points (Joe and Kuo 2008)
up to one digital shift for each variable, exactly.
"""

import csv
import json
import pathlib
import subprocess
import tempfile

import duckdb
import numpy
from scipy.stats import qmc

ROOT = pathlib.Path(__file__).resolve().parent.parent
PROGRAM = ROOT / "target/release/modalith"
BEAM = {
    "format": "modalith.device/1",
    "name": "beam",
    "layout": {
        "unit": "um",
        "structure": [{"rect": [[0, -20], [1000, 20]]}],
        "anchors": [{"rect": [[-50, -40], [0, 40]]}],
    },
    "process": {"thickness_um": 5.0},
    "material": {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.2},
    "modes": {"count": 2},
    "mesh": {"largest_um": 200},
}


def run(folder, plan, *options):
    (folder / "beam.json").write_text(json.dumps(BEAM))
    (folder / "plan.json").write_text(json.dumps(plan))
    subprocess.run([PROGRAM, "variants", "plan.json", "--out", "out", *options], cwd=folder, check=True, capture_output=True)
    return folder / "out"


def table(home):
    plan = {
        "format": "modalith.plan/1",
        "device": "beam.json",
        "command": "modes",
        "vary": {
            "/process/thickness_um": {"list": [5, -1, 6.25]},
            "/name": {"list": ["a, \"quoted\"", "b"]},
        },
        "sampling": {"method": "grid"},
        "keep": {"first_hz": "/modes/0/frequency_hz", "verified": "/count_verified"},
    }
    out = run(home, plan)
    source = f"'{out / 'results.parquet'}'"
    rows = duckdb.sql(f"select * from {source} order by point").fetchall()
    names = [d[0] for d in duckdb.sql(f"describe select * from {source}").fetchall()]
    kinds = [d[1] for d in duckdb.sql(f"describe select * from {source}").fetchall()]
    assert kinds == ["BIGINT", "DOUBLE", "VARCHAR", "DOUBLE", "DOUBLE", "VARCHAR"], kinds
    with open(out / "results.csv", newline="") as file:
        written = list(csv.reader(file))
    assert written[0] == names == ["point", *plan["vary"], *plan["keep"], "error"], names
    assert len(rows) == len(written) - 1 == 6
    for row, line in zip(rows, written[1:]):
        for value, text in zip(row, line):
            same = text == "" if value is None else text == value if isinstance(value, str) else float(text) == value
            assert same, (value, text)
    failed = duckdb.sql(f"select count(*) from {source} where error <> '' and first_hz is null").fetchall()[0][0]
    assert failed == 2, failed
    notes = {k.decode(): v.decode() for k, v in duckdb.sql(f"select key, value from parquet_kv_metadata({source})").fetchall()}
    assert json.loads(notes["modalith.plan"]) == plan
    version = subprocess.run([PROGRAM, "--version"], check=True, capture_output=True, text=True).stdout.split()[-1]
    assert notes["modalith.version"] == version and notes["modalith.seed"] == "0", notes
    print(f"6 rows of {len(names)} columns as DuckDB {duckdb.__version__} reads them; 2 failed points")


def sobol(home):
    points, variables = 64, 21
    # Keys that mean nothing take any value: 21 variables without 21 parameters.
    vary = {f"/notes/{v:02}": {"uniform": {"low": 0, "high": 1}} for v in range(variables)}
    BEAM["notes"] = {}
    plan = {
        "format": "modalith.plan/1",
        "device": "beam.json",
        "command": "modes",
        "vary": vary,
        "sampling": {"method": "sobol", "points": points, "seed": 11},
        "keep": {"first_hz": "/modes/0/frequency_hz"},
    }
    out = run(home, plan)
    with open(out / "results.csv", newline="") as file:
        written = list(csv.DictReader(file))
    own = numpy.array([[float(row[name]) for name in vary] for row in written]) * 2.0**32 - 0.5
    own = own.round().astype(numpy.uint64)
    # Both take the first 2^k points; SciPy's in the order of Gray's code, so row i of SciPy is index i ^ (i >> 1).
    outside = (qmc.Sobol(variables, scramble=False, bits=32).random(points) * 2.0**32).astype(numpy.uint64)
    for i in range(points):
        shift = own[i ^ (i >> 1)] ^ outside[i]
        assert (shift == own[0]).all(), i
    print(f"{points} Sobol points of {variables} variables are SciPy's up to a digital shift")


with tempfile.TemporaryDirectory() as folder:
    for check in (table, sobol):
        home = pathlib.Path(folder) / check.__name__
        home.mkdir()
        check(home)
