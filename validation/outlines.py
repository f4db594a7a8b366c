"""Generated outlines against Shapely: lines of JSON on standard input, from the example `outlines COUNT --lines`.

At least 99 % of what Shapely calls valid must be accepted, and areas must agree. Valid: every polygon and the film, with its
anchors, is; it stays in as many pieces and openings, and loses no area to speak of, when it is shrunk and grown by half of the least
feature and the other way about; every piece shares more than a point with an anchor where there are any.
"""

import json
import sys

from shapely import union_all
from shapely.geometry import Polygon

LEAST_ACCEPTED = 0.99
# Both lie on a grid of 0.01 nm or finer; pieces nearer than 1 nm are made to meet.
WELD_UM = 1e-3


def polygons(rings):
    return [Polygon(r["outer"], r["holes"]) for r in rings]


def pieces(area):
    parts = list(getattr(area, "geoms", [area]))
    parts = [p for p in parts if p.area > 0]
    return len(parts), sum(len(p.interiors) for p in parts)


def valid(case, film, anchors):
    if not film.is_valid or film.is_empty:
        return False
    free = film.difference(anchors)
    material = film.union(anchors)
    if free.area == 0 or not material.is_valid:
        return False
    if not anchors.is_empty:
        for part in getattr(free, "geoms", [free]):
            if part.area > 0 and part.boundary.intersection(anchors.boundary).length <= case["least_um"]:
                return False
    half = 0.5 * case["least_um"]
    as_drawn = pieces(material)
    for way in (-half, half):
        moved = material.buffer(way, join_style="mitre")
        back = moved.buffer(-way, join_style="mitre")
        if not pieces(moved) == pieces(back) == as_drawn:
            return False
        if back.symmetric_difference(material).area > 0.01 * case["least_um"] ** 2:
            return False
    return True


def main():
    called_valid = accepted = compared = 0
    worst = 0.0
    for text in sys.stdin:
        case = json.loads(text)
        if case["undercut_um"] is not None:
            # What an undercut leaves held is checked by the project's own tests.
            continue
        structure, holes = polygons(case["structure"]), polygons(case["holes"])
        anchors = polygons(case["anchors"] or [])
        if not all(p.is_valid for p in structure + holes + anchors):
            continue
        anchors = union_all(anchors)
        film = union_all(structure).difference(union_all(holes))
        if case["area_um2"] is not None:
            free = film.difference(anchors)
            compared += 1
            off = abs(case["area_um2"] - free.area)
            # Edges that lie closer than the weld may have moved by it.
            assert off <= WELD_UM * free.length, f"seed {case['seed']}: {case['area_um2']} µm², Shapely {free.area}"
            worst = max(worst, off / free.area)
        if valid(case, film, anchors):
            called_valid += 1
            if case["refused"] is None:
                accepted += 1
            else:
                print(f"seed {case['seed']} ({case['kind']}): {case['refused']}")
    print(f"{compared} areas compared, the largest difference {worst:.1e} of the area")
    print(f"{accepted} of {called_valid} valid outlines accepted")
    assert called_valid > 0 and accepted >= LEAST_ACCEPTED * called_valid


if __name__ == "__main__":
    main()
