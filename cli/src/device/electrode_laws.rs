//! Electrodes of a device on its outline: what each covers, and the law of its capacitance. In: drawing, outline. Out: electrodes, SI.

use super::Device;
use super::drawing::escaped;
use super::electrodes::{CombSizes, Electrode, ElectrodeKind, PlateArea};
use super::node::Read;
use modalith_mesher::boolean::intersection;
use modalith_mesher::comb::drawn_gaps;
use modalith_mesher::drawing::Drawing;
use modalith_mesher::geometry::Polygon;
use modalith_mesher::outline::Outline;
use modalith_solver::electrode::{self, Comb, Law, Plate, Side, shared_um2};

/// Plates on one side that share more than this of the smaller one overlap; less is the rounding of two borders that touch.
const SHARED: f64 = 1e-6;

impl Device {
    /// The electrodes on an outline, in the order of the device file.
    ///
    /// # Errors
    /// For an electrode over nothing, a name that is not in the stream, an unknown mass, a window without a comb.
    pub(super) fn electrodes_on(&self, drawing: &Drawing, outline: &Outline) -> Read<Vec<electrode::Electrode>> {
        let all: Vec<electrode::Electrode> =
            self.electrodes.iter().map(|e| self.electrode_on(e, drawing, outline)).collect::<Read<_>>()?;
        self.plates_lie_apart(&all)?;
        Ok(all)
    }

    /// Two plates on one side of the layer cannot lie in the same place: both would be counted in full.
    fn plates_lie_apart(&self, all: &[electrode::Electrode]) -> Read<()> {
        let face = |e: &electrode::Electrode| match e.law {
            Law::Plate(Plate { face, .. }) => Some(face),
            _ => None,
        };
        let plates: Vec<_> = all.iter().filter(|e| face(e).is_some()).collect();
        for (k, one) in plates.iter().enumerate() {
            for other in plates[..k].iter().filter(|other| face(other) == face(one)) {
                let (shared, share) = shared_um2(one, other);
                if share > SHARED {
                    let name = escaped(&one.name);
                    let what =
                        format!("the plate shares {shared:.1} µm² with plate \"{}\" on the same side", other.name);
                    return Err(self.error(&format!("/electrodes/{name}"), what, "draw them apart, or make them one"));
                }
            }
        }
        Ok(())
    }

    /// What a plate covers: shapes as written or of the stream, over something that moves.
    fn plate_over(&self, area: &PlateArea, (drawing, outline): (&Drawing, &Outline), name: &str) -> Read<Vec<Polygon>> {
        let (polygons, key) = match area {
            PlateArea::Shapes(shapes) => (self.polygons(shapes)?, "shapes"),
            PlateArea::LayerName(layer_name) => {
                let named = drawing.electrodes.iter().filter(|a| a.name == *layer_name);
                (named.flat_map(|a| a.polygons.clone()).collect(), "layer_name")
            }
        };
        if polygons.is_empty() {
            let names: Vec<&str> = drawing.electrodes.iter().map(|a| a.name.as_str()).collect();
            let known = if names.is_empty() { "none".to_owned() } else { names.join(", ") };
            let hint = format!("names on the electrodes layer: {known}");
            return Err(self.error(&pointer(name, key), "no polygon of the stream has this name", hint));
        }
        let parts: Vec<Polygon> = outline.parts.iter().map(|p| p.polygon.clone()).collect();
        if intersection(&polygons, &parts).is_empty() {
            let what = format!("electrode \"{}\" is over nothing: no part that moves lies within it", name);
            return Err(self.error(&pointer(name, key), what, "move it, or take it out"));
        }
        Ok(polygons)
    }

    /// A comb as stated, or as the fingers in its window are drawn.
    fn comb_law(&self, direction: [f64; 2], sizes: &CombSizes, outline: &Outline, name: &str) -> Read<Comb> {
        let thickness_m = self.thickness_um * 1e-6;
        Ok(match sizes {
            CombSizes::Stated { gap_um, overlap_um, fingers, tip_gap_um } => Comb {
                tip_gap_m: tip_gap_um.map(|um| um * 1e-6),
                ..Comb::even(direction, thickness_m, *fingers, gap_um * 1e-6, overlap_um * 1e-6)
            },
            CombSizes::Drawn(window) => {
                let drawn = drawn_gaps(outline, &self.polygons(window)?, direction);
                if drawn.is_empty() {
                    let what = format!("electrode \"{}\": no finger in the window faces a fixed one", name);
                    let hint = "the window must hold moving fingers that point along \"direction\" between fingers of an island";
                    return Err(self.error(&pointer(name, "shapes"), what, hint));
                }
                Comb::drawn(direction, thickness_m, &drawn)
            }
        })
    }

    fn electrode_on(&self, e: &Electrode, drawing: &Drawing, outline: &Outline) -> Read<electrode::Electrode> {
        let of_mass = |name: &str| -> Read<Vec<Polygon>> {
            let found = outline.masses.iter().find(|m| m.name == name).map(|m| m.polygons.clone());
            found.ok_or_else(|| {
                let names: Vec<&str> = outline.masses.iter().map(|m| m.name.as_str()).collect();
                let hint = format!("masses of this device: {}", names.join(", "));
                self.error(&pointer(&e.name, "mass"), format!("there is no mass \"{name}\""), hint)
            })
        };
        let thickness_m = self.thickness_um * 1e-6;
        let (law, over) = match &e.kind {
            ElectrodeKind::Plate { area, gap_um, face } => {
                let over = self.plate_over(area, (drawing, outline), &e.name)?;
                (Law::Plate(Plate { gap_m: gap_um * 1e-6, face: *face }), over)
            }
            ElectrodeKind::Comb { direction, mass, sizes } => {
                let over = of_mass(mass)?;
                let law = self.comb_law(*direction, sizes, outline, &e.name)?;
                (Law::Comb(law), over)
            }
            ElectrodeKind::Side { direction, mass, gap_um, length_um } => {
                let side = Side::along_layer(*direction, gap_um * 1e-6, length_um * 1e-6, thickness_m);
                (Law::Side(side), of_mass(mass)?)
            }
        };
        Ok(electrode::Electrode {
            name: e.name.clone(),
            law,
            over,
            bias_v: e.bias_v,
            stated_gradient_f_per_m: e.gradient_f_per_m,
        })
    }
}

/// Where a key of an electrode stands, or the electrode itself without one.
fn pointer(name: &str, key: &str) -> String {
    let name = escaped(name);
    if key.is_empty() { format!("/electrodes/{name}") } else { format!("/electrodes/{name}/{key}") }
}
