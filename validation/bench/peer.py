"""One outside solver on an exported pencil: `peer.py scipy|pardiso FOLDER COUNT`, one line of JSON.

In:   K and M as validation/examples/pencil.rs writes them; numpy, scipy, pypardiso at the versions of requirements.txt.
Out:  seconds by stage and the lowest frequencies, Hz.
"""

import json
import sys
import time

import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as sla


def matrix(folder, name):
    read = lambda what, kind: np.fromfile(f"{folder}/{name}.{what}", kind)
    offsets, rows = read("offsets", np.int64), read("rows", np.int64)
    index = np.int32 if len(rows) < 2**31 else np.int64
    n = len(offsets) - 1
    return sp.csc_matrix((read("values", float), rows.astype(index), offsets.astype(index)), shape=(n, n))


def by_scipy(k, m, count):
    start = time.perf_counter()
    values = sla.eigsh(k, count, m, sigma=0.0, return_eigenvectors=False)
    return values, {"seconds": time.perf_counter() - start}


def by_pardiso(k, m, count):
    import pypardiso

    upper = sp.triu(k, format="csr")
    solver = pypardiso.PyPardisoSolver(mtype=2)
    times, solves = {}, 0

    def stage(name, phase, b):
        start = time.perf_counter()
        solver.set_phase(phase)
        x = solver._call_pardiso(upper, b)
        times[name] = time.perf_counter() - start
        return x

    blank = np.zeros((k.shape[0], 1))
    stage("analysis_s", 11, blank)
    stage("factorization_s", 22, blank)
    solver.set_phase(33)

    def solve(b):
        nonlocal solves
        solves += 1
        return solver._call_pardiso(upper, np.ascontiguousarray(b))

    start = time.perf_counter()
    inverse = sla.LinearOperator(k.shape, solve, dtype=float)
    values = sla.eigsh(k, count, m.tocsr(), sigma=0.0, OPinv=inverse, return_eigenvectors=False)
    times["eigen_s"] = time.perf_counter() - start
    return values, {"seconds": sum(times.values()), "solves": solves, **times}


if __name__ == "__main__":
    kind, folder, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
    found, said = {"scipy": by_scipy, "pardiso": by_pardiso}[kind](matrix(folder, "K"), matrix(folder, "M"), count)
    said["hz"] = sorted((np.sqrt(found) / (2 * np.pi)).tolist())
    print(json.dumps(said))
