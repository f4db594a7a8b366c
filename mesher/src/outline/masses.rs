//! Named masses: united by name, moved with the etched edges and cut to the free material.

use super::OutlineError;
use crate::boolean::{Join, Region};
use crate::geometry::{NamedArea, Point, Polygon};

/// Overlaps thinner than this are rounding, µm.
const SLIVER_UM: f64 = 0.001;

fn some_point(region: &Region) -> Point {
    let ring = region.polygons().into_iter().next().map(|p| p.outer).unwrap_or_default();
    let n = ring.len().max(1) as f64;
    ring.iter().fold([0.0; 2], |s, p| [s[0] + p[0] / n, s[1] + p[1] / n])
}

/// A mass drawn flush with the structure follows its edges when they are biased; masses that share a border keep it.
pub(super) fn cut(drawn: &[NamedArea], free: &Region, bias: f64) -> Result<Vec<NamedArea>, OutlineError> {
    let grid = free.grid;
    let mut names: Vec<&str> = Vec::new();
    for mass in drawn {
        if !names.contains(&mass.name.as_str()) {
            names.push(&mass.name);
        }
    }
    let of =
        |name: &str| drawn.iter().filter(|m| m.name == name).flat_map(|m| m.polygons.iter()).collect::<Vec<&Polygon>>();
    let areas: Vec<Region> = names.iter().map(|n| Region::of(grid, of(n))).collect();
    for (i, a) in areas.iter().enumerate() {
        for (j, b) in areas.iter().enumerate().skip(i + 1) {
            let both = a.common(b).grown(-0.5 * SLIVER_UM, Join::Mitre);
            if !both.shapes.is_empty() {
                let (first, second) = (names[i].to_string(), names[j].to_string());
                return Err(OutlineError::MassesOverlap { first, second, at: some_point(&both) });
            }
        }
    }
    let mut taken = Region::empty(grid);
    let all = areas.iter().fold(Region::empty(grid), |all, a| all.union(a)).grown(bias.min(0.0), Join::Mitre);
    let mut out = Vec::new();
    for (i, area) in areas.iter().enumerate() {
        let mut own = area.grown(bias.max(0.0), Join::Mitre).minus(&taken);
        if bias > 0.0 {
            for (_, other) in areas.iter().enumerate().filter(|(j, _)| *j != i) {
                own = own.minus(other);
            }
        }
        let own = if bias < 0.0 { own.common(&all) } else { own }.common(free);
        if own.grown(-0.5 * SLIVER_UM, Join::Mitre).shapes.is_empty() {
            let at = of(names[i]).first().and_then(|p| p.outer.first()).copied();
            return Err(OutlineError::EmptyMass { name: names[i].to_string(), at });
        }
        out.push(NamedArea { name: names[i].to_string(), polygons: own.polygons() });
        taken = taken.union(&own);
    }
    Ok(out)
}
