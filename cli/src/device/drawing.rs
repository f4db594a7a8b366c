//! From a device file to the drawing and the outline that the mesher knows: shapes to polygons, µm.

use super::layout::{Held, LayerNumber, Layout, Stream};
use super::node::Read;
use super::shapes::DrawnShape;
use super::{Device, InputError};
use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::gdsii::{self, GdsError, LayerPlan, LayerSpec, Limits, Notes};
use modalith_mesher::geometry::{NamedArea, Polygon, bounds};
use modalith_mesher::layout::{CHORD_ERROR_UM, MOST_CORNERS};
use modalith_mesher::outline::{Etch, Outline, OutlineError, Part};

impl Device {
    /// The drawing of the device and remarks on it, with its proportions and the masses it names checked.
    ///
    /// # Errors
    /// For a shape that cannot be drawn, proportions that show a wrong unit, and unknown masses.
    pub fn drawing(&self) -> Read<(Drawing, Vec<String>)> {
        let mut remarks = Vec::new();
        let mut drawing = match &self.layout {
            Layout::Shapes { structure, holes, held } => Drawing {
                film: Film::Drawn { structure: self.polygons(structure)?, holes: self.polygons(holes)? },
                anchoring: match held {
                    Held::Drawn(anchors) => Anchoring::Drawn(self.polygons(anchors)?),
                    Held::ByRelease(undercut_um) => Anchoring::LeftByRelease { undercut_um: *undercut_um },
                    Held::Free => Anchoring::Free,
                },
                masses: Vec::new(),
                electrodes: Vec::new(),
            },
            Layout::Gds(stream) => {
                let (drawing, notes) = self.read_stream(stream)?;
                remarks = in_words(&notes);
                drawing
            }
        };
        for (name, shapes) in &self.masses {
            if drawing.masses.iter().any(|m| m.name == *name) {
                let what = format!("the mass \"{name}\" is named by a text of the stream too");
                return Err(self.error(&format!("/masses/{}", escaped(name)), what, "keep one of the two"));
            }
            drawing.masses.push(NamedArea { name: name.clone(), polygons: self.polygons(shapes)? });
        }
        let names: Vec<&str> = drawing.masses.iter().map(|m| m.name.as_str()).collect();
        self.check_masses(&names)?;
        let extent = match &drawing.film {
            Film::Drawn { structure, .. } => bounds(structure.iter().flat_map(|p| &p.outer)),
            Film::Trenches { window, .. } => Some(*window),
        };
        if let Some(extent) = extent {
            self.check_proportions(extent)?;
        }
        Ok((drawing, remarks))
    }

    fn read_stream(&self, stream: &Stream) -> Read<(Drawing, Notes)> {
        let bytes = self.stream.as_deref().unwrap_or_default();
        let fault = |e: GdsError| {
            let pointer = match &e {
                GdsError::UnknownCell { .. } => "/layout/cell",
                GdsError::BadWindow { .. } => "/layout/window",
                GdsError::EmptyLayer { .. } => "/layout/layers",
                _ => "/layout/gds",
            };
            self.fault(pointer, &format!("{}: {e}", stream.path.display()))
        };
        let specs = |layers: &[LayerNumber]| -> Vec<LayerSpec> {
            layers.iter().map(|&(layer, datatype)| LayerSpec { layer, datatype }).collect()
        };
        let (anchors, release_undercut_um) = match &stream.held {
            Held::Drawn(layers) => (specs(layers), None),
            Held::ByRelease(um) => (Vec::new(), Some(*um)),
            Held::Free => (Vec::new(), None),
        };
        let film = specs(&stream.film);
        let plan = LayerPlan {
            cell: stream.cell.clone(),
            window: stream.window,
            structure: if stream.trenches { Vec::new() } else { film.clone() },
            trenches: if stream.trenches { film } else { Vec::new() },
            holes: specs(&stream.holes),
            anchors,
            masses: specs(&stream.masses),
            electrodes: specs(&stream.electrodes),
            labels: specs(&stream.labels),
            release_undercut_um,
            free: stream.held == Held::Free,
            limits: Limits {
                points: MOST_CORNERS.saturating_sub(self.written_corners()) as usize,
                ..Limits::default()
            },
        };
        let library = gdsii::read(bytes).map_err(fault)?;
        gdsii::drawing(&library, &plan).map_err(fault)
    }

    pub(super) fn polygons(&self, shapes: &[DrawnShape]) -> Read<Vec<Polygon>> {
        let chord_error_um = self.chord_error_um.unwrap_or(CHORD_ERROR_UM);
        let mut polygons = Vec::new();
        for shape in shapes {
            polygons.extend(shape.polygons(chord_error_um).map_err(|e| self.fault(&shape.pointer, &e.to_string()))?);
        }
        Ok(polygons)
    }

    /// What etching does to the drawing.
    pub fn etch(&self) -> Etch {
        let least = Etch::default().smallest_feature_um;
        Etch { edge_bias_um: self.edge_bias_um, smallest_feature_um: self.minimum_feature_um.unwrap_or(least) }
    }

    /// The outline of the device's drawing.
    ///
    /// # Errors
    /// For everything that is wrong with the layout, with its place.
    pub fn outline(&self, drawing: &Drawing) -> Read<Outline> {
        let outline = Outline::build(drawing, &self.etch()).map_err(|e| {
            let mass = |name: &str| {
                let written = self.masses.iter().any(|(n, _)| n == name);
                if written { format!("/masses/{}", escaped(name)) } else { "/layout/layers/masses".to_owned() }
            };
            let pointer = match &e {
                OutlineError::BiasCuts { .. } | OutlineError::BiasCloses { .. } => "/process/edge_bias_um".to_owned(),
                OutlineError::EmptyWindow { .. } => "/layout/window".to_owned(),
                OutlineError::NoAnchor { .. } if matches!(self.layout, Layout::Shapes { .. }) => {
                    "/layout/anchors".to_owned()
                }
                OutlineError::EmptyMass { name, .. } => mass(name),
                OutlineError::MassesOverlap { second, .. } => mass(second),
                _ => "/layout".to_owned(),
            };
            self.fault(&pointer, &e.to_string())
        })?;
        // Rigid motions of pieces of different sizes are zero to different roundings, and no one place parts them from what bends.
        if drawing.anchoring == Anchoring::Free && outline.parts.len() > 1 {
            let about =
                |p: &Part| bounds(&p.polygon.outer).map_or([0.0; 2], |[a, b]| [0, 1].map(|k| 0.5 * (a[k] + b[k])));
            let [first, second] = [0, 1].map(|i| about(&outline.parts[i]));
            let what = format!(
                "{} pieces float apart from each other, one about ({:.1}, {:.1}) µm and one about ({:.1}, {:.1}) µm",
                outline.parts.len(),
                first[0],
                first[1],
                second[0],
                second[1]
            );
            return Err(self.error(
                "/layout",
                what,
                "each has modes of its own: draw one of them at a time, or hold them",
            ));
        }
        Ok(outline)
    }

    /// An error of the mesher about the value at a pointer: its message says what is wrong, then, after the last
    /// semicolon or full stop, what to do.
    pub fn fault(&self, pointer: &str, message: &str) -> InputError {
        let split = ["; ", ". "].iter().filter_map(|mark| message.rfind(mark)).max();
        let (what, hint) = match split {
            Some(at) => (&message[..at], &message[at + 2..]),
            None => (message, "change the layout at this place"),
        };
        self.error(pointer, what, hint)
    }
}

/// What was cut or left out of a stream.
fn in_words(notes: &Notes) -> Vec<String> {
    let cut = notes.cut.iter().map(|c| format!("{} polygons of layer {} cut at the window", c.count, c.layer));
    let left_out = [
        (notes.zero_width_paths, "paths without a width"),
        (notes.zero_area_shapes, "shapes without an area"),
        (notes.empty_texts, "texts that say nothing"),
    ];
    let left_out = left_out.into_iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what} left out"));
    cut.chain(left_out).collect()
}

/// A name as a step of a JSON Pointer.
pub fn escaped(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}
