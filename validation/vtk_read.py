"""Our VTU files read by VTK itself and compared with what must be in them.

In:   FILE.vtu and EXPECT.json, or a folder with such pairs of the same name; VTK from PyPI:
      python3 -m venv target/venv && target/venv/bin/pip install vtk
      cargo run --release -p modalith --example small_vtu -- target/vtk
      target/venv/bin/python validation/vtk_read.py target/vtk
Out:  one line a file; exit code 1 on the first difference.
Bounds: counts, cell types, names and order of arrays equal; coordinates and values 1e-12 of the largest; the area of the
      cells, integrated by VTK's own six-node triangles, 1e-12 of itself.

A key that EXPECT.json leaves out is not checked. Keys: points, cells, cell_type (22: quadratic triangle), area_um2,
point_arrays, cell_arrays, point_values [{at_um, array, value}], cell_values [{cell, array, value}].
"""

import json
import math
import pathlib
import sys
import xml.etree.ElementTree

import vtk
from vtk.util.numpy_support import vtk_to_numpy


class Different(Exception):
    """A file does not hold what it should."""


def equal(what, found, wanted):
    if found != wanted:
        raise Different(f"{what}: {found!r} found, {wanted!r} wanted")


def near(what, found, wanted, scale=1.0):
    if not math.isfinite(found) or abs(found - wanted) > 1e-12 * max(scale, abs(wanted)):
        raise Different(f"{what}: {found!r} found, {wanted!r} wanted")


def area(grid):
    """Area of all cells: VTK's shape functions, six-point quadrature that is exact to degree 4 (Strang and Fix, 1973)."""
    a, b = 0.445948490915965, 0.091576213509771
    rule = [(a, a, 0.223381589678011), (1 - 2 * a, a, 0.223381589678011), (a, 1 - 2 * a, 0.223381589678011),
            (b, b, 0.109951743655322), (1 - 2 * b, b, 0.109951743655322), (b, 1 - 2 * b, 0.109951743655322)]
    total = 0.0
    for number in range(grid.GetNumberOfCells()):
        cell = grid.GetCell(number)
        points = vtk_to_numpy(cell.GetPoints().GetData())
        for r, s, weight in rule:
            slopes = [0.0] * 12
            cell.InterpolationDerivs([r, s, 0.0], slopes)
            xr, yr = (sum(slopes[i] * points[i][c] for i in range(6)) for c in (0, 1))
            xs, ys = (sum(slopes[6 + i] * points[i][c] for i in range(6)) for c in (0, 1))
            total += 0.5 * weight * (xr * ys - xs * yr)
    return total


def check(file, expected):
    reader = vtk.vtkXMLUnstructuredGridReader()
    reader.SetFileName(str(file))
    reader.Update()
    if reader.GetErrorCode():
        raise Different(f"VTK cannot read it (error {reader.GetErrorCode()})")
    grid = reader.GetOutput()
    if "points" in expected:
        equal("points", grid.GetNumberOfPoints(), expected["points"])
    if "cells" in expected:
        equal("cells", grid.GetNumberOfCells(), expected["cells"])
    if "cell_type" in expected:
        equal("cell types", {grid.GetCellType(i) for i in range(grid.GetNumberOfCells())}, {expected["cell_type"]})
    if "area_um2" in expected:
        near("area", area(grid), expected["area_um2"])
    of_points, of_cells = grid.GetPointData(), grid.GetCellData()
    for key, data in (("point_arrays", of_points), ("cell_arrays", of_cells)):
        if key in expected:
            equal(key, [data.GetArrayName(i) for i in range(data.GetNumberOfArrays())], expected[key])
    points = vtk_to_numpy(grid.GetPoints().GetData())
    size = float(abs(points).max())
    for wish in expected.get("point_values", []):
        x, y = wish["at_um"]
        i = int(((points[:, 0] - x) ** 2 + (points[:, 1] - y) ** 2).argmin())
        for name, found, wanted in zip("xyz", points[i], (x, y, 0.0)):
            near(f"{name} of the point", float(found), wanted, size)
        array = of_points.GetArray(wish["array"])
        equal("components", array.GetNumberOfComponents(), len(wish["value"]))
        for found, wanted in zip(array.GetTuple(i), wish["value"]):
            near(f"{wish['array']} at ({x}, {y})", found, wanted)
    for wish in expected.get("cell_values", []):
        found = of_cells.GetArray(wish["array"]).GetTuple1(wish["cell"])
        near(f"{wish['array']} of cell {wish['cell']}", found, wish["value"])


def check_collection(file):
    """Every grid that a collection file lists is there, and its times grow."""
    entries = xml.etree.ElementTree.parse(file).getroot().findall("./Collection/DataSet")
    times = [float(e.get("timestep")) for e in entries]
    if not entries or times != sorted(set(times)):
        raise Different(f"times of the collection: {times}")
    for entry in entries:
        if not (file.parent / entry.get("file")).is_file():
            raise Different(f"{entry.get('file')} is listed but not there")


def main(arguments):
    if len(arguments) == 2:
        pairs = [tuple(map(pathlib.Path, arguments))]
    elif len(arguments) == 1 and pathlib.Path(arguments[0]).is_dir():
        pairs = [(f, f.with_suffix(".json")) for f in sorted(pathlib.Path(arguments[0]).glob("*.vtu"))]
    else:
        sys.exit("usage: vtk_read.py FILE.vtu EXPECT.json | vtk_read.py FOLDER")
    if not pairs:
        sys.exit("no .vtu files there")
    collections = sorted(pathlib.Path(arguments[0]).glob("*.pvd")) if len(arguments) == 1 else []
    for file, expected in pairs + [(f, None) for f in collections]:
        try:
            if expected is None:
                check_collection(file)
            else:
                check(file, json.loads(expected.read_text(encoding="utf-8")))
        except Different as difference:
            sys.exit(f"{file}: {difference}")
        print(f"{file}: as it should be")


if __name__ == "__main__":
    main(sys.argv[1:])
