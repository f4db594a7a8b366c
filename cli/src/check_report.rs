//! What `check` understood of a device. In: the device and its outline. Out: a table for people and JSON for programs.
//! Lengths in µm, areas in µm², masses in kg.

use crate::device::Device;
use crate::output::columns::Column;
use crate::output::lines::Lines;
use crate::output::screen::Screen;
use crate::output::table::layout;
use crate::output::units::grouped;
use modalith_mesher::geometry::{Point, Polygon, bounds};
use modalith_mesher::mesh::MirrorAxis;
use modalith_mesher::mirror::ROUND_AXES;
use modalith_mesher::outline::{Flexure, Joins, Mirror, Outline, Part};
use serde_json::{Value, json};

/// Rows of flexures and anchors shown in the table before it says how many more there are.
const ROWS: usize = 40;

/// A named or connected piece of the outline.
struct Piece {
    name: String,
    bounds: [Point; 2],
    area_um2: f64,
    mass_kg: f64,
}

/// What was understood.
pub struct CheckReport<'a> {
    device: &'a Device,
    outline: &'a Outline,
    parts: Vec<Piece>,
    masses: Vec<Piece>,
    remarks: Vec<String>,
}

impl<'a> CheckReport<'a> {
    /// Gathers it; `remarks` are said at the end.
    pub fn new(device: &'a Device, outline: &'a Outline, remarks: Vec<String>) -> Self {
        let piece = |name: String, polygons: &[Polygon]| {
            let area_um2 = polygons.iter().map(Polygon::area).sum::<f64>();
            let mass_kg = device.law.piece_kg(area_um2, device.thickness_um);
            Piece { name, bounds: extent(polygons), area_um2, mass_kg }
        };
        let parts = outline.parts.iter().enumerate();
        let parts = parts.map(|(n, p)| piece(format!("part {}", n + 1), std::slice::from_ref(&p.polygon))).collect();
        let masses = outline.masses.iter().map(|m| piece(m.name.clone(), &m.polygons)).collect();
        Self { device, outline, parts, masses, remarks }
    }

    /// Narrowest flexure, by its number in the outline.
    fn narrowest(&self) -> Option<usize> {
        let flexures = self.outline.flexures.iter().enumerate();
        flexures.min_by(|a, b| a.1.narrowest_um().total_cmp(&b.1.narrowest_um())).map(|(n, _)| n)
    }

    fn narrowest_in_words(&self) -> String {
        self.narrowest().map_or_else(String::new, |n| {
            let flexure = &self.outline.flexures[n];
            let beside = if flexure.is_perforated() { " beside its openings" } else { "" };
            format!("; the narrowest is number {}, {:.3} µm wide{beside}", n + 1, flexure.narrowest_um())
        })
    }

    /// What an end of a flexure joins.
    fn joins(&self, joins: Joins) -> String {
        match joins {
            Joins::Anchor => "anchor".into(),
            Joins::Mass(m) => self.outline.masses.get(m).map_or_else(|| "mass".into(), |m| format!("mass {}", m.name)),
            Joins::Frame => "frame".into(),
            Joins::Flexure(f) => format!("joint with {}", f + 1),
        }
    }

    /// The tables for people.
    pub fn text(&self, screen: Screen) -> Lines {
        let mut t = Lines::new(screen);
        let device = self.device;
        t.sentence(&device.name);
        t.told("Accepted", &format!("{}; it can be meshed", layout(self.outline)));
        t.told("Material", &device.material.in_words());
        let bias = match device.edge_bias_um {
            0.0 => "edges as drawn".to_owned(),
            b => format!("edges moved {} µm {}", b.abs(), if b > 0.0 { "outward" } else { "inward" }),
        };
        t.told("Layer", &format!("{} µm thick, {bias}", device.thickness_um));
        self.pieces(&mut t);
        self.supports(&mut t);
        self.flexures(&mut t);
        if !self.outline.fingers.is_empty() {
            t.told("Fingers", &format!("{} with one free end", count(self.outline.fingers.len(), "slender part")));
        }
        if let Some(limit) = device.holes_below_um {
            t.told(
                "Holes",
                &format!("those below {limit} µm are filled in the beam-shell model, their mass taken off"),
            );
        }
        self.remarks.iter().for_each(|r| t.told("Note", r));
        t
    }

    /// Parts and named masses.
    fn pieces(&self, t: &mut Lines) {
        let parts = &self.outline.parts;
        let holes: usize = parts.iter().map(Part::openings).sum();
        t.told("Parts", &format!("{}, {}", count(parts.len(), "connected piece"), count(holes, "opening")));
        let all = || self.parts.iter().chain(&self.masses);
        let size = |[low, high]: [Point; 2]| format!("{:.2} × {:.2}", high[0] - low[0], high[1] - low[1]);
        t.table(vec![
            Column::texts("name", all().map(|p| &p.name)),
            Column::figures("size µm", all().map(|p| size(p.bounds))).rank(3),
            Column::figures("area µm²", all().map(|p| format!("{:.1}", p.area_um2))).rank(2),
            Column::figures("mass kg", all().map(|p| format!("{:.4e}", p.mass_kg))).rank(1),
            Column::texts("about µm", all().map(|p| at(middle(p.bounds)))).rank(4),
        ]);
    }

    /// What holds it, what is set aside, and mirror axes.
    fn supports(&self, t: &mut Lines) {
        let Outline { anchors, idle_anchors, islands, mirrors, .. } = self.outline;
        t.told("Anchors", &format!("{} hold the device, {} touch nothing", anchors.len(), idle_anchors.len()));
        for (what, list) in [("anchor", anchors), ("idle, ignored:", idle_anchors)] {
            for polygon in list.iter().take(ROWS) {
                t.told("", &format!("{what} about {}", at(middle(extent(std::slice::from_ref(polygon))))));
            }
            more(t, list.len());
        }
        t.told("Islands", &format!("{} held all over and set aside", count(islands.len(), "piece")));
        if mirrors.is_empty() {
            t.told("Mirrors", "no mirror axis");
        }
        let exact = |m: &Mirror| format!("{}, exact to {:.4} µm", axis(&m.axis), m.deviation_um);
        t.all_told("Mirrors", mirrors.iter().map(exact));
        if mirrors.len() == ROUND_AXES {
            t.told("", "of a round outline no more are listed");
        }
    }

    /// Flexures, and slender strips that are none.
    fn flexures(&self, t: &mut Lines) {
        let Outline { flexures, unrecognised, covered, .. } = self.outline;
        if flexures.is_empty() && unrecognised.is_empty() && covered.is_empty() {
            t.told("Flexures", "no slender part");
        } else {
            t.told("Flexures", &format!("{}{}", count(flexures.len(), "flexure"), self.narrowest_in_words()));
        }
        if !flexures.is_empty() {
            t.table(self.flexure_columns());
            more(t, flexures.len());
        }
        if let Some(strip) = unrecognised.first() {
            let strips = count(unrecognised.len(), "slender strip");
            t.told("", &format!("{strips} not recognised as flexures, one at {}", at(*strip)));
        }
        if let Some(strip) = covered.first() {
            let strips = count(covered.len(), "slender strip");
            t.told(
                "",
                &format!("{strips} to anchors under named masses, not taken for flexures, one at {}", at(*strip)),
            );
        }
    }

    fn flexure_columns(&self) -> Vec<Column> {
        let all = || self.outline.flexures.iter().take(ROWS);
        let between = |f: &Flexure| {
            let [one, other] = f.ends.map(|e| self.joins(e.joins));
            format!("{one} to {other}")
        };
        let mut columns = vec![
            Column::figures("flexure", (1..=all().count()).map(|n| n.to_string())),
            Column::figures("length µm", all().map(|f| format!("{:.2}", f.length_um))),
            Column::figures("width µm", all().map(widths)),
        ];
        // No section describes such a flexure: this is never left out.
        if all().any(|f| f.ligament_um.is_some()) {
            let left = |f: &Flexure| f.ligament_um.map_or_else(String::new, |um| format!("openings leave {um:.3} µm"));
            columns.push(Column::texts("", all().map(left)));
        }
        columns.push(Column::texts("between", all().map(between)).rank(1));
        let place = |f: &Flexure| at(middle(extent(std::slice::from_ref(&f.area))));
        columns.push(Column::texts("about µm", all().map(place)).rank(2));
        columns
    }

    /// The same as JSON, ending in a line break.
    pub fn json(&self) -> String {
        let piece =
            |p: &Piece| json!({"name": p.name, "bounds_um": p.bounds, "area_um2": p.area_um2, "mass_kg": p.mass_kg});
        let places = |list: &[Polygon]| -> Vec<Value> {
            list.iter().map(|p| json!({"bounds_um": extent(std::slice::from_ref(p)), "area_um2": p.area()})).collect()
        };
        let o = self.outline;
        let flexures: Vec<Value> = o
            .flexures
            .iter()
            .enumerate()
            .map(|(n, f)| {
                json!({"index": n + 1, "length_um": f.length_um, "width_um": f.width_um, "widest_um": f.widest_um(),
                   "joins": f.ends.map(|e| self.joins(e.joins)), "root_lines_um": f.ends.map(|e| e.root),
                   "bounds_um": extent(std::slice::from_ref(&f.area)), "centre_line_um": f.centre_line,
                   "widths_um": f.widths_um, "ligament_um": f.ligament_um})
            })
            .collect();
        let mirrors: Vec<Value> = o
            .mirrors
            .iter()
            .map(|m| json!({"point_um": m.axis.point, "angle_deg": m.axis.angle_deg, "deviation_um": m.deviation_um}))
            .collect();
        let value = json!({
            "format": "modalith.check/1",
            "device": self.device.name,
            "input_sha256": self.device.input_sha256,
            "material": self.device.material.in_words(),
            "thickness_um": self.device.thickness_um,
            "edge_bias_um": self.device.edge_bias_um,
            "parts": self.parts.iter().map(piece).collect::<Vec<_>>(),
            "masses": self.masses.iter().map(piece).collect::<Vec<_>>(),
            "anchors": places(&o.anchors),
            "idle_anchors": places(&o.idle_anchors),
            "islands": places(&o.islands),
            "mirrors": mirrors,
            "narrowest_flexure_um": self.narrowest().map(|n| o.flexures[n].narrowest_um()),
            "flexures": flexures,
            "fingers": o.fingers.len(),
            "remarks": self.remarks,
        });
        format!("{value:#}\n")
    }
}

/// Says how many rows are not shown.
fn more(t: &mut Lines, rows: usize) {
    if rows > ROWS {
        t.told("", &format!("and {} more", rows - ROWS));
    }
}

/// The width, or narrowest to widest where it tapers by more than a hundredth.
fn widths(f: &Flexure) -> String {
    let widest = f.widest_um();
    if widest > 1.01 * f.width_um { format!("{:.3} to {widest:.3}", f.width_um) } else { format!("{:.3}", f.width_um) }
}

fn count(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

fn extent(polygons: &[Polygon]) -> [Point; 2] {
    bounds(polygons.iter().flat_map(|p| &p.outer)).unwrap_or_default()
}

fn middle([low, high]: [Point; 2]) -> Point {
    [0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1])]
}

fn at(p: Point) -> String {
    format!("({}, {})", grouped(p[0], 2, ' '), grouped(p[1], 2, ' '))
}

fn axis(axis: &MirrorAxis) -> String {
    match axis.angle_deg {
        0.0 => format!("y = {} µm", grouped(axis.point[1], 4, ' ')),
        90.0 => format!("x = {} µm", grouped(axis.point[0], 4, ' ')),
        angle => format!("through {} µm at {angle:.3}° from x", at(axis.point)),
    }
}
