//! Electrodes of a device file: plates under or over the part, combs, and walls that face it in the plane. In: the object
//! `electrodes`. Out: electrodes in µm as written, and, on an outline, in the solver's terms.

use super::intent::unknown_mass;
use super::keys;
use super::node::{Node, Object, Read};
use super::shapes::{DrawnShape, shapes};
use modalith_solver::electrode::Face;
use modalith_solver::sensor::{Facing, FacingElectrode};

/// What an electrode is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// It keeps up the motion.
    Drive,
    /// It reads a motion.
    Sense,
    /// It shifts frequencies or takes away couplings.
    Tuning,
}

impl Role {
    /// As in the device file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Drive => "drive",
            Self::Sense => "sense",
            Self::Tuning => "tuning",
        }
    }
}

/// Where a plate lies in the plane.
#[derive(Clone, Debug, PartialEq)]
pub enum PlateArea {
    /// Shapes written out.
    Shapes(Vec<DrawnShape>),
    /// A name on the `electrodes` layer of the stream.
    LayerName(String),
}

/// The sizes of a comb.
#[derive(Clone, Debug, PartialEq)]
pub enum CombSizes {
    /// Moving fingers, each with the gap on both sides.
    Stated {
        /// Gap, µm.
        gap_um: f64,
        /// Overlap at rest, µm.
        overlap_um: f64,
        /// How many moving fingers.
        fingers: f64,
        /// Travel along the pull at which a fingertip meets something, µm, if stated.
        tip_gap_um: Option<f64>,
    },
    /// Measured from the drawn fingers within a window.
    Drawn(Vec<DrawnShape>),
}

/// The kind of an electrode.
#[derive(Clone, Debug, PartialEq)]
pub enum ElectrodeKind {
    /// Under or over the part.
    Plate {
        /// Its shapes.
        area: PlateArea,
        /// Gap at rest without bias, µm.
        gap_um: f64,
        /// On which side.
        face: Face,
    },
    /// Interleaved fingers.
    Comb {
        /// Unit vector of its pull.
        direction: [f64; 2],
        /// The mass it pulls on.
        mass: String,
        /// Gaps, overlap, count.
        sizes: CombSizes,
    },
    /// A wall that faces the mass in the plane.
    Side {
        /// Unit vector of its pull.
        direction: [f64; 2],
        /// The mass it pulls on.
        mass: String,
        /// Gap, µm.
        gap_um: f64,
        /// Facing length, µm.
        length_um: f64,
    },
}

impl ElectrodeKind {
    /// As in the device file.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Plate { .. } => "plate",
            Self::Comb { .. } => "comb",
            Self::Side { .. } => "side plate",
        }
    }

    /// What of it faces the part, and how near.
    fn facing(&self) -> Facing {
        match self {
            Self::Plate { gap_um, .. } => Facing::Plate { gap_um: *gap_um },
            Self::Side { mass, gap_um, .. } => Facing::Side { mass: mass.clone(), gap_um: *gap_um },
            Self::Comb { mass, .. } => Facing::Comb { mass: mass.clone() },
        }
    }

    /// The way to it from the part: axis (0 to 2 for x to z), and whether towards positive.
    fn way(&self) -> (usize, bool) {
        match self {
            Self::Plate { face, .. } => (2, *face == Face::Above),
            Self::Comb { direction, .. } | Self::Side { direction, .. } => {
                let axis = usize::from(direction[1] != 0.0);
                (axis, direction[axis] > 0.0)
            }
        }
    }
}

/// An electrode as written.
#[derive(Clone, Debug, PartialEq)]
pub struct Electrode {
    /// The user's name.
    pub name: String,
    /// What it is for, if stated.
    pub role: Option<Role>,
    /// Bias against the part, V; 0 where none is stated.
    pub bias_v: f64,
    /// ∂C/∂u from a field solution, F/m, if stated.
    pub gradient_f_per_m: Option<f64>,
    /// Its kind.
    pub kind: ElectrodeKind,
}

impl Electrode {
    /// The electrode as something that the part may run into.
    pub fn as_facing(&self) -> FacingElectrode {
        let (axis, forwards) = self.kind.way();
        FacingElectrode { name: self.name.clone(), bias_v: self.bias_v, axis, forwards, facing: self.kind.facing() }
    }
}

/// How the keys of one kind are read: with the layout's unit, µm, and the names of masses where they are known.
type ReadKind = fn(&Object, Option<f64>, Option<&[&str]>) -> Read<ElectrodeKind>;

const KINDS: [&str; 3] = ["plate", "comb", "side plate"];
const DIRECTIONS: [&str; 4] = ["+x", "-x", "+y", "-y"];
/// Reads `electrodes`; `unit_um` is the layout's unit, `masses` the names of masses where they are known.
///
/// # Errors
/// For anything malformed or missing, and for an unknown mass.
pub fn electrodes(node: &Node, unit_um: Option<f64>, masses: Option<&[&str]>) -> Read<Vec<Electrode>> {
    let read = |(name, n): (&str, Node)| {
        if name.trim().is_empty() {
            return Err(n.error("an electrode without a name", "give it a name, e.g. \"drive left\""));
        }
        electrode(name, &n, unit_um, masses)
    };
    node.any_object("an object of electrodes by name")?.members().map(read).collect()
}

fn electrode(name: &str, node: &Node, unit_um: Option<f64>, masses: Option<&[&str]>) -> Read<Electrode> {
    let hint = "write \"kind\": \"plate\", \"comb\" or \"side plate\"";
    let kind = node.any_object("an object with \"kind\"")?.need("kind", hint)?;
    let (keys, read): (_, ReadKind) = match kind.word(&KINDS)? {
        "plate" => (&keys::ELECTRODE_PLATE, plate),
        "comb" => (&keys::ELECTRODE_COMB, comb),
        _ => (&keys::ELECTRODE_SIDE, side),
    };
    let o = node.object(keys)?;
    let role = o.get("role").map(|n| n.word(&["drive", "sense", "tuning"]).map(role)).transpose()?;
    let bias_v = o.get("bias_v").map_or(Ok(0.0), |n| n.number("a voltage in V"))?;
    let gradient_f_per_m = o.get("gradient_f_per_m").map(|n| n.positive("a gradient in F/m")).transpose()?;
    Ok(Electrode { name: name.to_owned(), role, bias_v, gradient_f_per_m, kind: read(&o, unit_um, masses)? })
}

fn role(word: &str) -> Role {
    match word {
        "drive" => Role::Drive,
        "sense" => Role::Sense,
        _ => Role::Tuning,
    }
}

fn plate(o: &Object, unit_um: Option<f64>, _: Option<&[&str]>) -> Read<ElectrodeKind> {
    let gap_um = gap(o)?;
    let side = o.need("side", "write \"side\": \"below\" or \"side\": \"above\" the layer")?;
    let face = if side.word(&["below", "above"])? == "below" { Face::Below } else { Face::Above };
    let area = match (o.get("shapes"), o.get("layer_name")) {
        (Some(n), None) => PlateArea::Shapes(drawn(&n, unit_um)?),
        (None, Some(n)) => PlateArea::LayerName(n.text("the name of a polygon on the electrodes layer")?.to_owned()),
        (Some(_), Some(n)) => return Err(n.error("stands beside \"shapes\"", "keep one of the two")),
        (None, None) => {
            let hint =
                "write \"shapes\": [SHAPE, …], or \"layer_name\": the name that labels its polygons in the stream";
            return Err(o.node().error("a plate without an area", hint));
        }
    };
    Ok(ElectrodeKind::Plate { area, gap_um, face })
}

fn comb(o: &Object, unit_um: Option<f64>, masses: Option<&[&str]>) -> Read<ElectrodeKind> {
    let (direction, mass) = (direction(o)?, mass(o, masses)?);
    let sizes = match o.get("measure") {
        Some(n) => {
            n.word(&["drawn"])?;
            for key in ["gap_um", "overlap_um", "fingers", "tip_gap_um"] {
                if let Some(stated) = o.get(key) {
                    let what = format!("\"{key}\" stands beside \"measure\": \"drawn\"");
                    return Err(stated.error(what, "keep what is measured, or state gaps, overlap and fingers"));
                }
            }
            let window = o.need("shapes", "write \"shapes\": [SHAPE, …], a window around the moving fingers")?;
            CombSizes::Drawn(drawn(&window, unit_um)?)
        }
        None => {
            if let Some(n) = o.get("shapes") {
                let hint = "add \"measure\": \"drawn\", or take \"shapes\" out";
                return Err(n.error("a window serves measured combs only", hint));
            }
            let length = |key: &str, what: &str| {
                let hint = format!("write \"{key}\": {what}; or \"measure\": \"drawn\" with a window in \"shapes\"");
                o.need(key, &hint)
            };
            CombSizes::Stated {
                gap_um: gap(o)?,
                overlap_um: length("overlap_um", "the overlap of the fingers in µm")?.positive("a length in µm")?,
                fingers: length("fingers", "the number of moving fingers")?.whole(1, 1_000_000)? as f64,
                tip_gap_um: o.get("tip_gap_um").map(|n| n.positive("a length in µm")).transpose()?,
            }
        }
    };
    Ok(ElectrodeKind::Comb { direction, mass, sizes })
}

fn side(o: &Object, _: Option<f64>, masses: Option<&[&str]>) -> Read<ElectrodeKind> {
    let length = o.need("length_um", "write \"length_um\": …, the facing length in µm")?.positive("a length in µm")?;
    Ok(ElectrodeKind::Side { direction: direction(o)?, mass: mass(o, masses)?, gap_um: gap(o)?, length_um: length })
}

fn gap(o: &Object) -> Read<f64> {
    o.need("gap_um", "write \"gap_um\": 2.0, the gap at rest in µm")?.positive("a gap in µm")
}

fn direction(o: &Object) -> Read<[f64; 2]> {
    let n = o.need("direction", "write \"direction\": \"+x\", where the electrode pulls the mass")?;
    Ok(match n.word(&DIRECTIONS)? {
        "+x" => [1.0, 0.0],
        "-x" => [-1.0, 0.0],
        "+y" => [0.0, 1.0],
        _ => [0.0, -1.0],
    })
}

fn mass(o: &Object, masses: Option<&[&str]>) -> Read<String> {
    let n = o.need("mass", "write \"mass\": the name of the mass that the electrode pulls on")?;
    let name = n.text("the name of a mass")?;
    match masses {
        Some(masses) if !masses.contains(&name) => Err(unknown_mass(&n, name, masses)),
        _ => Ok(name.to_owned()),
    }
}

fn drawn(node: &Node, unit_um: Option<f64>) -> Read<Vec<DrawnShape>> {
    let Some(scale) = unit_um else {
        return Err(node.error("shapes need the layout's unit", "write \"unit\": \"um\" in \"layout\""));
    };
    let list = shapes(node, scale)?;
    if list.is_empty() {
        return Err(node.error("is empty", "draw it: [{\"rect\": [[x, y], [x, y]]}, …]"));
    }
    Ok(list)
}
