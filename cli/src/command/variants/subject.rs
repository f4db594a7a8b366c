//! What every point of a batch is solved from: the device as drawn, the values put into it, and the command. Outline and mesh are
//! made once for all points that share the drawing, whatever else varies. In: values. Out: the command's JSON result, and in it
//! the modes of the device as drawn.

use super::first_order::OwnMode;
use super::follow;
use crate::command::progress::Progress;
use crate::command::solved::{choice, model_input};
use crate::command::{audit, fault, modes, rate};
use crate::device::document::{Document, canonical};
use crate::device::{Device, InputFile};
use crate::exit::{CommandError, warn};
use crate::output::variants::track::Track;
use crate::output::{self, modes_json};
use crate::plan::pointer::nowhere;
use crate::plan::{Plan, Run};
use modalith_mesher::drawing::Drawing;
use modalith_mesher::motion::MeshMotion;
use modalith_mesher::outline::Outline;
use modalith_solver::beam_shell::BeamShell;
use modalith_solver::joint::table::CellTable;
use modalith_solver::mode::{DrawnModes, SampledModes};
use modalith_solver::model::{
    Budget, Choice, ModalSolution, Model, ModelError, ModelInput, Purpose, SolveContext, Task, beam_shell_model,
    moved_by_um, reach_um, wide_moved_to,
};
use modalith_solver::state::Loads;
use serde_json::Value;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// Drawings kept; a bias that takes a few listed values then meshes each once.
const DRAWINGS_KEPT: usize = 8;
/// Meshes and the shapes of beams do not depend on loads.
const NO_LOADS: &Loads = &Loads::NONE;
/// Error that an audit allows, a share: what the command has where nothing is said.
const ACCURACY: f64 = 0.01;

/// An outline and its mesh.
struct Drawn {
    drawing: Drawing,
    outline: Outline,
    context: SolveContext,
    /// Whether it has triangles of its own, and not those of the device as drawn.
    anew: bool,
}

/// What came of a point.
pub struct Found {
    /// The command's JSON result.
    pub result: Value,
    /// The modes of this point in their order; none of an audit.
    pub own_modes: Vec<OwnMode>,
    /// The modes of the device as drawn; none where modes are not compared.
    pub modes: Vec<Option<Track>>,
    /// Whether its outline had to be meshed anew.
    pub meshed_anew: bool,
}

/// The modes of the device as drawn.
struct AsDrawn {
    /// Their labels.
    labels: Vec<String>,
    modes: DrawnModes,
}

/// What every point is solved from.
pub struct Subject<'p> {
    plan: &'p Plan,
    document: Document,
    /// The device as drawn.
    pub drawn: Device,
    /// The model of every point and why.
    pub choice: Choice,
    /// The budget of every point.
    budget: Budget,
    /// Bytes that a point needs; 0 where it surely fits.
    pub needed: u64,
    /// Whether the kept results need everything that the command finds.
    whole: bool,
    /// Whether a kept result names a mode as drawn.
    by_track: bool,
    /// The modes as drawn, once they are known.
    modes: Mutex<Option<Arc<AsDrawn>>>,
    /// Root cells of all points together, of the beam-shell model.
    cells: Option<Arc<CellTable>>,
    kept_drawings: Mutex<VecDeque<(String, Arc<Drawn>)>>,
    /// How the mesh as drawn follows its edges.
    motion: OnceLock<MeshMotion>,
    /// The beam-shell model as drawn, of which the mesh follows its edges too.
    beams: OnceLock<Option<BeamShell>>,
}

impl<'p> Subject<'p> {
    /// Reads the device of a plan, checks that what varies is there, and chooses the model once for all points.
    ///
    /// # Errors
    /// For a wrong device file, and a plan that does not fit it.
    pub fn new(plan: &'p Plan, budget: Budget) -> Result<Self, CommandError> {
        let document = Document::read(&plan.device)?;
        let drawn = Device::from_document(document.clone())?;
        there(plan, &document)?;
        if plan.run == Run::Rate {
            rate::intent_is_stated(&drawn)?;
        }
        let (drawing, remarks) = drawn.drawing()?;
        remarks.iter().for_each(|r| warn(r));
        let outline = drawn.outline(&drawing)?;
        if plan.run == Run::Rate {
            rate::places_are_material(&drawn, &outline)?;
        }
        let loads = drawn.loads_on(&drawing, &outline)?;
        let input = model_input(&drawn, &drawing, &outline, &loads)?;
        let mut choice = match plan.run {
            // An audit compares all models on the shells' mesh.
            Run::Audit => Choice::asked(Model::Shell),
            Run::Modes | Run::Rate => choice(plan.model, &input),
        };
        let wanted = match plan.run {
            Run::Rate => rate::wanted(None, None, &drawn),
            _ => modes::wanted(None, None, None, &drawn),
        };
        let laid_out = laid_out(&mut choice, &Task { input: &input, wanted }, budget);
        let (context, needed) = laid_out.map_err(|e| fault::of_model(&drawn, &e))?;
        let choice = choice.settled();
        let cells = context.cells.clone();
        let key = drawing_key(&document.value);
        let first = Arc::new(Drawn { drawing, outline, context, anew: false });
        let kept_drawings = Mutex::new(VecDeque::from([(key, first)]));
        // The search is judged within the bars.
        let dear = |s: &String| {
            let with_bars = ["mesh_error_hz", "mode_split_mesh_error_hz", "search"];
            with_bars.contains(&s.as_str()) || matches!(s.as_str(), "first_order" | "pull_in_bias_ratio")
        };
        let whole = plan.kept.iter().any(|k| k.steps.iter().any(dear));
        let by_track = plan.kept.iter().any(|k| k.steps[0] == "tracks");
        let modes = Mutex::default();
        let (motion, beams) = (OnceLock::new(), OnceLock::new());
        Ok(Self {
            plan,
            document,
            drawn,
            choice,
            budget,
            needed,
            whole,
            by_track,
            modes,
            cells,
            kept_drawings,
            motion,
            beams,
        })
    }

    /// The merged device file as drawn.
    pub fn value(&self) -> &Value {
        &self.document.value
    }

    /// The result of the device as drawn, with everything that the command finds.
    ///
    /// # Errors
    /// As the command.
    pub fn as_drawn(&self) -> Result<Found, CommandError> {
        self.result(&self.drawn, &self.document, true)
    }

    /// The result of the device with the plan's variables at these values, and in it the modes as drawn.
    ///
    /// # Errors
    /// As the command.
    pub fn at(&self, values: &[Value]) -> Result<Found, CommandError> {
        let mut document = self.document.clone();
        for (variable, value) in self.plan.variables.iter().zip(values) {
            document.put(&variable.steps, value.clone());
        }
        let device = Device::from_document(document.clone())?;
        unchanged(&self.drawn.inputs, &device.inputs)?;
        self.result(&device, &document, self.whole)
    }

    fn result(&self, device: &Device, document: &Document, whole: bool) -> Result<Found, CommandError> {
        let drawn = self.drawn_as(device, document)?;
        let (outline, context) = (&drawn.outline, &drawn.context);
        let loads = device.loads_on(&drawn.drawing, outline)?;
        let of = (device, &model_input(device, &drawn.drawing, outline, &loads)?);
        let mut choice = self.choice.clone();
        let mut progress = Progress::new(true);
        let purpose = self.purpose(whole);
        let (solved, mut result) = match self.plan.run {
            Run::Modes => {
                let wanted = modes::wanted(None, None, None, device);
                let (solved, findings) = modes::solve_modes(of, context, &mut choice, wanted, purpose, &mut progress)?;
                let json = modes_json::document(&findings, &solved.modes)?;
                (solved, json)
            }
            Run::Rate => {
                let wanted = rate::wanted(None, None, device);
                let (solved, findings) = modes::solve_modes(of, context, &mut choice, wanted, purpose, &mut progress)?;
                let report = rate::rate_report_alone(device, outline, context, &solved, &findings.electrodes);
                let json = output::rate::json::document(&findings, &solved.modes, &report)?;
                (solved, json)
            }
            Run::Audit => {
                let audit = audit::compared(of, context, None, ACCURACY, &mut progress)?;
                let heading = output::audit::Heading {
                    device: &device.name,
                    input_sha256: &device.input_sha256,
                    accuracy: ACCURACY,
                };
                let result = output::audit::document(&heading, &audit);
                return Ok(Found { result, own_modes: Vec::new(), modes: Vec::new(), meshed_anew: drawn.anew });
            }
        };
        let as_drawn = if std::ptr::eq(device, &self.drawn) {
            Arc::new(self.modes_as_drawn(&solved, &result))
        } else {
            self.modes()?
        };
        let hz = solved.frequencies_hz();
        let found = as_drawn.modes.found_again(&SampledModes { frequency_hz: &hz, sampled: &solved.sampled });
        let modes: Vec<Option<Track>> = found.into_iter().map(|f| f.map(Track::from)).collect();
        if self.by_track {
            result["tracks"] = follow::by_name(&result, &as_drawn.labels, &modes);
        }
        let terms = |i: usize| solved.terms.as_ref().map(|t| t.of(i));
        let own_modes = hz.iter().enumerate().map(|(i, hz)| (*hz, terms(i))).collect();
        Ok(Found { result, own_modes, modes, meshed_anew: drawn.anew })
    }

    fn purpose(&self, whole: bool) -> Purpose {
        match self.plan.run {
            Run::Rate => Purpose::Rate,
            Run::Audit => Purpose::Audit,
            Run::Modes if whole => Purpose::Modes,
            Run::Modes => Purpose::Comparison,
        }
    }

    fn modes_as_drawn(&self, solved: &ModalSolution, result: &Value) -> AsDrawn {
        let thickness_m = self.drawn.thickness_um * 1e-6;
        let hz = solved.frequencies_hz();
        let own = SampledModes { frequency_hz: &hz, sampled: &solved.sampled };
        let modes = DrawnModes::new(&own, self.drawn.law.kg_per_m2(thickness_m), thickness_m);
        AsDrawn { labels: follow::labels(result), modes }
    }

    /// The modes as drawn, solved as the points are; whoever comes first solves them.
    fn modes(&self) -> Result<Arc<AsDrawn>, CommandError> {
        let mut known = self.modes.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(modes) = &*known {
            return Ok(Arc::clone(modes));
        }
        let drawn = self.drawn_as(&self.drawn, &self.document)?;
        let loads = self.drawn.loads_on(&drawn.drawing, &drawn.outline)?;
        let of = (&self.drawn, &model_input(&self.drawn, &drawn.drawing, &drawn.outline, &loads)?);
        let wanted = match self.plan.run {
            Run::Rate => rate::wanted(None, None, &self.drawn),
            _ => modes::wanted(None, None, None, &self.drawn),
        };
        let (purpose, mut progress) = (self.purpose(self.whole), Progress::new(true));
        let (solved, findings) =
            modes::solve_modes(of, &drawn.context, &mut self.choice.clone(), wanted, purpose, &mut progress)?;
        let modes = Arc::new(self.modes_as_drawn(&solved, &modes_json::document(&findings, &solved.modes)?));
        *known = Some(Arc::clone(&modes));
        Ok(modes)
    }

    /// The mesh as drawn with its edges moved by the device's bias, if nothing else is new about its outline; then a difference
    /// between points is physics and not noise of meshes. `None` where another mesh is needed.
    fn moved(&self, first: &Drawn, device: &Device, document: &Document, input: &ModelInput) -> Option<SolveContext> {
        let mut unbiased = document.value.clone();
        let bias = |value: &Value| value["process"].get("edge_bias_um").cloned().unwrap_or(Value::from(0.0));
        unbiased["process"]["edge_bias_um"] = bias(&self.document.value);
        let mut own = self.document.value.clone();
        own["process"]["edge_bias_um"] = bias(&self.document.value);
        let (old, context, outline) = (&first.outline, &first.context, input.outline);
        if drawing_key(&unbiased) != drawing_key(&own) || !context.held_below.is_empty() || !same_pieces(old, outline) {
            return None;
        }
        let reach = reach_um(old, self.drawn.thickness_um);
        let motion = self.motion.get_or_init(|| MeshMotion::edges(&context.mesh, reach));
        let step = device.edge_bias_um - self.drawn.edge_bias_um;
        let mesh = motion.moved_between(&context.mesh, step, old.areas().free_um2, outline.areas().free_um2)?;
        let mut moved = SolveContext::on(mesh);
        if self.choice.model == Model::BeamShell && step != 0.0 {
            let beams = self.beams.get_or_init(|| {
                let as_drawn = model_input(&self.drawn, &first.drawing, old, NO_LOADS).ok()?;
                beam_shell_model(&as_drawn, context).ok()
            });
            moved.wide = Some(wide_moved_to(beams.as_ref()?, input, step)?);
        }
        Some(moved)
    }

    /// Outline and mesh of a device, made now or kept from a point with the same drawing.
    fn drawn_as(&self, device: &Device, document: &Document) -> Result<Arc<Drawn>, CommandError> {
        let key = drawing_key(&document.value);
        let kept = || self.kept_drawings.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, drawn)) = kept().iter().find(|(k, _)| *k == key) {
            return Ok(Arc::clone(drawn));
        }
        let (drawing, _) = device.drawing()?;
        let mut outline = device.outline(&drawing)?;
        let first = kept().front().map(|(_, drawn)| Arc::clone(drawn));
        if let Some(first) = &first {
            let step_um = device.edge_bias_um - self.drawn.edge_bias_um;
            outline.number_like(&first.outline, moved_by_um(step_um));
        }
        let input = model_input(device, &drawing, &outline, NO_LOADS)?;
        let moved = first.and_then(|first| self.moved(&first, device, document, &input));
        let anew = moved.is_none();
        let mesh = moved.map_or_else(|| SolveContext::of(self.choice.model, &input), Ok);
        let mesh = mesh.map_err(|e| fault::of_model(device, &e))?;
        let context = SolveContext { cells: self.cells.clone(), budget: self.budget, ..mesh };
        let drawn = Arc::new(Drawn { drawing, outline, context, anew });
        let mut list = kept();
        if list.len() == DRAWINGS_KEPT {
            // The first is the device as drawn, which most points share.
            list.remove(1);
        }
        list.push_back((key, Arc::clone(&drawn)));
        Ok(drawn)
    }
}

/// What the model of choice is solved on, and the bytes that a point needs; the next model where it does not describe the layout.
fn laid_out(choice: &mut Choice, task: &Task, budget: Budget) -> Result<(SolveContext, u64), ModelError> {
    let mut context = choice.context(task, budget)?;
    if choice.model == Model::BeamShell
        && let Err(error) = beam_shell_model(task.input, &context)
    {
        choice.after(error)?;
        context = choice.context(task, budget)?;
    }
    let needed = task.needed(choice.model, &context)?;
    Ok((context, needed))
}

/// Whether two outlines are the same pieces, and their anchors have not moved.
fn same_pieces(a: &Outline, b: &Outline) -> bool {
    let holes = |o: &Outline| o.parts.iter().map(|p| p.polygon.holes.len()).collect::<Vec<_>>();
    let ends = |o: &Outline| o.flexures.iter().map(|f| f.ends.map(|e| e.joins)).collect::<Vec<_>>();
    a.anchors == b.anchors && holes(a) == holes(b) && ends(a) == ends(b) && a.fingers.len() == b.fingers.len()
}

/// Everything of a device file that outline and mesh depend on.
fn drawing_key(value: &Value) -> String {
    let mut key = String::new();
    for name in ["layout", "support", "anchors_held", "masses", "mesh"] {
        canonical(&value[name], &mut key);
    }
    for name in ["edge_bias_um", "minimum_feature_um"] {
        canonical(&value["process"][name], &mut key);
    }
    key
}

/// Refuses a plan that varies what the device file does not have.
fn there(plan: &Plan, document: &Document) -> Result<(), CommandError> {
    let mut all = document.clone();
    let first = plan.variables.iter().map(|v| (v, v.variation.middle()));
    for (variable, value) in first {
        let error = |what: String, hint: String| plan.error(&["vary", &variable.pointer], what, hint);
        let new = document.value.pointer(&variable.pointer).is_none();
        if !all.put(&variable.steps, value) {
            let (what, hint) = nowhere(&document.value, &variable.steps);
            return Err(error(what, hint).into());
        }
        // A key that the file leaves out may still be one that the reader knows, such as a bias of 0.
        let fault = if new { Device::from_document(all.clone()).err() } else { None };
        if let Some(e) = fault.filter(|e| e.pointer == variable.pointer) {
            return Err(error(format!("leads nowhere: {}", e.what), e.hint).into());
        }
    }
    Ok(())
}

/// Refuses to go on where a file that the device names is not what it was.
fn unchanged(drawn: &[InputFile], now: &[InputFile]) -> Result<(), CommandError> {
    match drawn.iter().zip(now).find(|(a, b)| a != b) {
        Some((old, _)) if drawn.len() == now.len() && drawn.iter().zip(now).all(|(a, b)| a.path == b.path) => {
            let what = format!("{} changed while the batch ran", old.path.display());
            Err(CommandError::Other { what, hint: "start the batch again in another folder".into() })
        }
        _ => Ok(()),
    }
}
