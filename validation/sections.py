"""Section constants from an outside section-property library, sectionproperties, beside ours.

In:   JSON on stdin, as printed by `cargo run --release -p modalith-validation --example sections`; needs sectionproperties
      from PyPI.
Out:  a table on stdout; exit code 1 where a bound is missed.

Isotropic rectangles, leaning walls (parallelograms), tapered walls (trapezoids) and both. Area, centroid, second moments,
torsion and shear centre agree to 0.1 % (lengths: 0.1 % of the root of the area). Both shear centres are the ones where shear does
no work on twist (Trefftz, ZAMM 15 (1935) 220; value of nu immaterial), not where the mean twist of the section vanishes. Shear areas are compared at nu = 0 only,
because the library's shear functions at nu > 0 follow another convention for the stresses across; shear at nu = 0.3 is compared
with Renton's series in validation/tests/published/sections.rs.
"""

import json
import sys

from sectionproperties.analysis import Section
from sectionproperties.pre import Geometry, Material
from shapely import Polygon

BOUND = 1e-3


def theirs(corners, nu):
    material = Material("film", 1.0, nu, 1.0, 1.0, "#aaaaaa")
    geometry = Geometry(Polygon(corners), material=material)
    geometry.create_mesh(mesh_sizes=[Polygon(corners).area / 3000])
    section = Section(geometry)
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    return section


def main():
    missed, slowest = 0, 0.0
    print(f"{'section':<22}{'nu':>5}{'quantity':>22}{'ours':>14}{'theirs':>14}{'diff %':>10}")
    for ours in json.load(sys.stdin):
        nu = ours["poissons_ratio"]
        section = theirs(ours["corners_um"], nu)
        area = section.get_area()
        root = area**0.5
        # Elastic modulus 1: E I is I, and E J over E/G = 2 (1 + nu) per unit of E.
        about_y, about_z, product = section.get_eic()
        centroid, shear_centre = section.get_c(), section.get_sc_t()
        # Offsets are weighed by the root of the area, the product of inertia by the second moments.
        rows = [
            ("area_um2", ours["area_um2"], area, area),
            ("centroid y", ours["centroid_um"][0], centroid[0], root),
            ("centroid z", ours["centroid_um"][1], centroid[1], root),
            ("shear centre y", ours["shear_centre_um"][0], shear_centre[0], root),
            ("shear centre z", ours["shear_centre_um"][1], shear_centre[1], root),
            ("second_moment_z_um4", ours["second_moment_z_um4"], about_y, about_y),
            ("second_moment_y_um4", ours["second_moment_y_um4"], about_z, about_z),
            ("product_moment_um4", ours["product_moment_um4"], product,
             product if abs(product) > 1e-6 * about_y else (about_y * about_z) ** 0.5),
            ("torsion_um4", ours["torsion_um4"], section.get_ej(), section.get_ej()),
        ]
        if nu == 0:
            along_y, along_z = section.get_eas()
            rows += [("shear area y", ours["shear_area_um2"][0], along_y, along_y),
                     ("shear area z", ours["shear_area_um2"][1], along_z, along_z)]
        slowest = max(slowest, ours["milliseconds"])
        for what, a, b, scale in rows:
            difference = (a - b) / scale
            wrong = not abs(difference) <= BOUND
            missed += wrong
            print(f"{ours['name']:<22}{nu:5.1f}{what:>22}{a:14.6f}{b:14.6f}{100 * difference:10.4f}"
                  f"{' MISSED' if wrong else ''}")
    print(f"slowest section {slowest:.0f} ms at best; {missed} bounds missed")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
