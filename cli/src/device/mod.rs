//! A device file, read and checked. In: the path of a file of format `modalith.device/1`. Out: a [`Device`] in µm and
//! the units its keys name, or one [`InputError`] that says where, what and what to do.

pub mod as_made;
pub mod crystal;
pub mod document;
pub mod drawing;
mod electrode_laws;
pub mod electrodes;
pub mod error;
pub mod guards;
pub mod intent;
pub mod keys;
pub mod layout;
mod loads;
pub mod material;
pub mod node;
pub mod operation;
mod process;
pub mod requirements;
pub mod shapes;
pub mod size;
pub mod source;
pub mod stoppers;

pub use error::InputError;

use document::{Document, FREE_KEYS};
use electrodes::Electrode;
use layout::{Layout, Stream};
use material::Material;
use modalith_mesher::geometry::Point;
use modalith_solver::material::Law;
use modalith_solver::model::AnchorsHeld;
use modalith_solver::rate::requirements::{Figure, Limits};
use modalith_solver::sensor::{Imperfections, Intent, Operation, OwnGuard, Stopper, ThreeSigma};
use modalith_solver::system::FilmStress;
use node::{Node, Object, Read};
use process::Process;
use serde_json::Value;
use shapes::DrawnShape;
use std::path::{Path, PathBuf};

/// The format this program reads.
pub const FORMAT: &str = "modalith.device/1";

/// A device as its file describes it.
#[derive(Clone, Debug)]
pub struct Device {
    /// Its name.
    pub name: String,
    /// Where its outline comes from.
    pub layout: Layout,
    /// Which faces of its anchors are held.
    pub anchors_held: AnchorsHeld,
    /// Largest distance between a drawn curve and its facets, µm, if stated.
    pub chord_error_um: Option<f64>,
    /// Openings whose largest extent, corner to corner, is below this are filled in the beam-shell model and their mass is
    /// taken away, µm, if stated.
    pub holes_below_um: Option<f64>,
    /// Thickness of the structural layer, µm.
    pub thickness_um: f64,
    /// How far the etched edge lies outside the drawn one, µm.
    pub edge_bias_um: f64,
    /// Narrowest feature and gap the process can make, µm, if stated.
    pub minimum_feature_um: Option<f64>,
    /// What the film would carry if nothing moved, if stated.
    pub film_stress: Option<FilmStress>,
    /// The material as written.
    pub material: Material,
    /// Its stiffness and density in the layout's axes.
    pub law: Law,
    /// Named masses written out as shapes; a GDSII stream may name others.
    pub masses: Vec<(String, Vec<DrawnShape>)>,
    /// Intended motions.
    pub intent: Intent,
    /// Electrodes.
    pub electrodes: Vec<Electrode>,
    /// Which modes to find.
    pub modes: ModesWanted,
    /// How to mesh.
    pub mesh: MeshWanted,
    /// How it is run.
    pub operation: Operation,
    /// Frequencies to keep clear of, beside its own.
    pub guards: Vec<OwnGuard>,
    /// What limits its travel.
    pub stoppers: Vec<Stopper>,
    /// How it departs from the drawing as made.
    pub imperfections: Imperfections,
    /// Spread of the process.
    pub spread_3sigma: ThreeSigma,
    /// What is asked of it.
    pub requirements: Vec<(Figure, Limits)>,
    /// Every input with its hash, the device file first, then what it is based on, then the stream.
    pub inputs: Vec<InputFile>,
    /// SHA-256 of what the inputs mean: merged file and stream, notes left out.
    pub input_sha256: String,
    /// Bytes of the GDSII stream.
    pub stream: Option<Vec<u8>>,
    document: Document,
}

/// An input and its hash.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InputFile {
    /// Its path as the user or the naming file wrote it.
    pub path: PathBuf,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
}

/// Which modes a device file asks for.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ModesWanted {
    /// How many.
    pub count: Option<usize>,
    /// All up to this frequency, Hz.
    pub up_to_hz: Option<f64>,
    /// Those nearest this frequency, Hz.
    pub near_hz: Option<f64>,
}

/// How a device file wants to be meshed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MeshWanted {
    /// Longest edge allowed, µm.
    pub largest_um: Option<f64>,
    /// Elements across a flexure.
    pub across_flexure: Option<usize>,
}

/// Most modes that can be asked for; beyond it the request is a mistake.
pub const MOST_MODES: u64 = 10_000;

impl Device {
    /// Reads a device file, the files it is based on, and the bytes of its GDSII stream.
    ///
    /// # Errors
    /// The first fault found.
    pub fn read(path: &Path) -> Read<Self> {
        Self::from_document(Document::read(path)?)
    }

    /// Reads a merged document.
    ///
    /// # Errors
    /// The first fault found.
    pub fn from_document(document: Document) -> Read<Self> {
        let root = Node::root(&document);
        let o = root.object(&keys::DEVICE)?;
        let name = headed(&root, &o)?;
        let (free, anchors_held) = supports(&o)?;
        let hint = "write \"layout\": {\"unit\": \"um\", \"structure\": [SHAPE, …], \"anchors\": [SHAPE, …]}";
        let read = layout::layout(&o.need("layout", hint)?, free)?;
        let process = Process::read(&o)?;
        let (material, law) = material::material(&o.need(
            "material",
            "write \"material\": {\"density_kg_m3\": 2330, \"youngs_modulus_gpa\": 160, \"poissons_ratio\": 0.22}, or {\"name\": \"polysilicon\"}",
        )?)?;
        let masses = o.get("masses").map_or(Ok(Vec::new()), |n| layout::masses(&n, read.unit_um))?;
        let names_later = matches!(&read.layout, Layout::Gds(s) if !s.masses.is_empty());
        let names: Vec<&str> = masses.iter().map(|(name, _)| name.as_str()).collect();
        let by_mass = ByMass::read(&o, (!names_later).then_some(&names))?;
        let electrodes = o
            .get("electrodes")
            .map_or(Ok(Vec::new()), |n| electrodes::electrodes(&n, read.unit_um, (!names_later).then_some(&names)))?;
        let modes = o.get("modes").map_or(Ok(ModesWanted::default()), |n| modes(&n.object(&keys::MODES)?))?;
        let mesh = o.get("mesh").map_or(Ok(MeshWanted::default()), |n| mesh(&n.object(&keys::MESH)?))?;
        let guards = o.get("guards").map_or(Ok(Vec::new()), |n| guards::guards(&n))?;
        let imperfections = o.get("imperfections").map(|n| as_made::imperfections(&n)).transpose()?.unwrap_or_default();
        let spread_3sigma = o.get("spread_3sigma").map(|n| as_made::spread(&n)).transpose()?.unwrap_or_default();
        let requirements = o.get("requirements").map_or(Ok(Vec::new()), |n| requirements::requirements(&n))?;
        let (inputs, stream, input_sha256) = sources(&document, &o, &read.layout)?;
        let device = Self {
            name,
            layout: read.layout,
            anchors_held,
            chord_error_um: read.chord_error_um,
            holes_below_um: read.holes_below_um,
            thickness_um: process.thickness_um,
            edge_bias_um: process.edge_bias_um,
            minimum_feature_um: process.minimum_feature_um,
            film_stress: process.film_stress,
            material,
            law,
            masses,
            intent: by_mass.intent,
            electrodes,
            modes,
            mesh,
            operation: by_mass.operation,
            guards,
            stoppers: by_mass.stoppers,
            imperfections,
            spread_3sigma,
            requirements,
            inputs,
            input_sha256,
            stream,
            document,
        };
        device.check_size()?;
        Ok(device)
    }

    /// An error about the value at a JSON Pointer of the device file, for faults found after reading.
    pub fn error(&self, pointer: &str, what: impl Into<String>, hint: impl Into<String>) -> InputError {
        let steps: Vec<String> = pointer.split('/').skip(1).map(|s| s.replace("~1", "/").replace("~0", "~")).collect();
        self.document.error(&steps, false, what, hint)
    }

    /// Keys stated in an object of the device file, "imperfections/phase_error_deg"; the key alone of a list, nothing where it is
    /// empty or missing.
    pub fn stated(&self, key: &str) -> Vec<String> {
        match self.document.value.get(key) {
            Some(Value::Object(o)) => {
                o.keys().filter(|k| !FREE_KEYS.contains(&k.as_str())).map(|k| format!("{key}/{k}")).collect()
            }
            Some(Value::Array(all)) if !all.is_empty() => vec![key.to_owned()],
            _ => Vec::new(),
        }
    }

    /// Checks all that names masses against those that a GDSII stream named.
    ///
    /// # Errors
    /// For a mass that is not there.
    pub fn check_masses(&self, masses: &[&str]) -> Read<()> {
        ByMass::read(&Node::root(&self.document).object(&keys::DEVICE)?, Some(masses)).map(|_| ())
    }

    /// Refuses a device so large or small for its thickness that a unit must be wrong: planar parts are 2 to 8000
    /// times as wide as they are thick.
    ///
    /// # Errors
    /// An error at the thickness that gives both sizes.
    pub fn check_proportions(&self, bounds: [Point; 2]) -> Read<()> {
        let extent = (bounds[1][0] - bounds[0][0]).max(bounds[1][1] - bounds[0][1]);
        let ratio = extent / self.thickness_um;
        if (2.0..=8000.0).contains(&ratio) {
            return Ok(());
        }
        let size = if ratio > 2.0 { "large" } else { "small" };
        let what = format!(
            "the device is far too {size} for its thickness: {extent} µm across, from ({}, {}) to ({}, {}) µm, and {} µm thick",
            bounds[0][0], bounds[0][1], bounds[1][0], bounds[1][1], self.thickness_um
        );
        let hint = match &self.layout {
            Layout::Shapes { .. } => {
                "layers 2 to 8000 times as wide as thick are served; if this is one, a unit is wrong: look at \"unit\" in \"layout\" (um or nm) and at \"thickness_um\""
            }
            Layout::Gds(_) => {
                "layers 2 to 8000 times as wide as thick are served; if this is one, a unit is wrong: look at the database unit of the stream and at \"thickness_um\""
            }
        };
        Err(self.error("/process/thickness_um", what, hint))
    }
}

/// What names masses.
struct ByMass {
    intent: Intent,
    operation: Operation,
    stoppers: Vec<Stopper>,
}

impl ByMass {
    /// Reads it; `masses` where their names are known yet.
    fn read(root: &Object, masses: Option<&[&str]>) -> Read<Self> {
        let intent = root.get("intent").map(|n| intent::intent(&n, masses)).transpose()?.unwrap_or_default();
        let operation =
            root.get("operation").map(|n| operation::operation(&n, masses)).transpose()?.unwrap_or_default();
        let read = |n: Node| stoppers::stoppers(&n, masses, &intent, &operation);
        let stoppers = root.get("stoppers").map_or(Ok(Vec::new()), read)?;
        Ok(Self { intent, operation, stoppers })
    }
}

/// Checks the format and reads the name, by default that of the file.
fn headed(root: &Node, o: &Object) -> Read<String> {
    let format = o.need("format", &format!("write \"format\": \"{FORMAT}\""))?;
    if format.text("a format")? != FORMAT {
        return Err(format.error("is no format this version reads", format!("write \"format\": \"{FORMAT}\"")));
    }
    Ok(match o.get("name") {
        Some(n) => n.text("a name")?.to_owned(),
        None => root.file().file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default(),
    })
}

/// Whether the part is free, and which faces of its anchors are held.
fn supports(o: &Object) -> Read<(bool, AnchorsHeld)> {
    let free = match o.get("support") {
        None => false,
        Some(n) => n.word(&["free", "anchors"])? == "free",
    };
    let anchors_held = match o.get("anchors_held") {
        Some(n) if n.word(&["sides", "below"])? == "below" => AnchorsHeld::Below,
        _ => AnchorsHeld::Sides,
    };
    Ok((free, anchors_held))
}

/// Every input with its hash, the bytes of the stream, and the hash of what all of it means.
fn sources(document: &Document, o: &Object, layout: &Layout) -> Read<(Vec<InputFile>, Option<Vec<u8>>, String)> {
    let mut inputs: Vec<InputFile> =
        document.sources.iter().map(|s| InputFile { path: s.path.clone(), sha256: s.sha256.clone() }).collect();
    let stream = match layout {
        Layout::Shapes { .. } => None,
        Layout::Gds(s) => Some(stream_bytes(o, s)?),
    };
    if let (Layout::Gds(s), Some(bytes)) = (layout, &stream) {
        inputs.push(InputFile { path: s.path.clone(), sha256: source::sha256(bytes) });
    }
    let others: Vec<&[u8]> = stream.as_deref().into_iter().collect();
    let input_sha256 = document.meaning_sha256(&others);
    Ok((inputs, stream, input_sha256))
}

fn stream_bytes(o: &Object, stream: &Stream) -> Read<Vec<u8>> {
    source::read_bytes(&stream.path, source::LARGEST_STREAM).map_err(|e| {
        let what = format!("{} {}", stream.path.display(), e.what);
        match o.get("layout").and_then(|n| n.any_object("").ok()).and_then(|l| l.get("gds")) {
            Some(at) => at.error(what, e.hint),
            None => e,
        }
    })
}

fn modes(o: &Object) -> Read<ModesWanted> {
    let frequency = |key: &str| o.get(key).map(|n| n.positive("a frequency in Hz")).transpose();
    let (up_to_hz, near_hz) = (frequency("up_to_hz")?, frequency("near_hz")?);
    if up_to_hz.is_some() && near_hz.is_some() {
        return Err(o
            .node()
            .error("asks for modes both up to and near a frequency", "keep \"up_to_hz\" or \"near_hz\""));
    }
    let count = o.get("count").map(|n| n.whole(1, MOST_MODES)).transpose()?.map(|n| n as usize);
    Ok(ModesWanted { count, up_to_hz, near_hz })
}

fn mesh(o: &Object) -> Read<MeshWanted> {
    let largest_um = o.get("largest_um").map(|n| n.positive("a length in µm")).transpose()?;
    let across_flexure = o.get("across_flexure").map(|n| n.whole(1, 32)).transpose()?.map(|n| n as usize);
    Ok(MeshWanted { largest_um, across_flexure })
}
