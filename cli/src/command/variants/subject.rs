//! What every point of a batch is solved from: the device as drawn, the values put into it, and the command. Outline and mesh are
//! made once for all points that share the drawing, whatever else varies. In: values. Out: the command's JSON result.

use crate::args::Model;
use crate::command::progress::Progress;
use crate::command::solved::{self, Ground, Purpose};
use crate::command::{audit, modes, rate};
use crate::device::document::{Document, canonical};
use crate::device::{Device, InputFile};
use crate::exit::{Stop, warn};
use crate::output::{self, modes_json};
use crate::plan::pointer::nowhere;
use crate::plan::{Plan, Run};
use modalith_mesher::drawing::Drawing;
use modalith_mesher::outline::Outline;
use serde_json::Value;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

/// Drawings kept; a bias that takes a few listed values then meshes each once.
const DRAWINGS_KEPT: usize = 8;
/// Error that an audit allows, a share: what the command has where nothing is said.
const ACCURACY: f64 = 0.01;

/// An outline and its mesh.
struct Drawn {
    drawing: Drawing,
    outline: Outline,
    ground: Ground,
}

/// What every point is solved from.
pub struct Subject<'p> {
    plan: &'p Plan,
    document: Document,
    /// The device as drawn.
    pub drawn: Device,
    /// The model of every point and why.
    pub model: (Model, &'static str),
    /// Whether the kept results need everything that the command finds.
    whole: bool,
    kept_drawings: Mutex<VecDeque<(String, Arc<Drawn>)>>,
}

impl<'p> Subject<'p> {
    /// Reads the device of a plan, checks that what varies is there, and chooses the model once for all points.
    ///
    /// # Errors
    /// For a wrong device file, and a plan that does not fit it.
    pub fn new(plan: &'p Plan) -> Result<Self, Stop> {
        let document = Document::read(&plan.device)?;
        let drawn = Device::from_document(document.clone())?;
        there(plan, &document)?;
        if plan.run == Run::Rate {
            rate::intent_is_stated(&drawn)?;
        }
        let (drawing, remarks) = drawn.drawing()?;
        remarks.iter().for_each(|r| warn(r));
        let outline = drawn.outline(&drawing)?;
        let model = match plan.run {
            // An audit compares all models on the shells' mesh.
            Run::Audit => (Model::Shell, "asked for"),
            Run::Modes | Run::Rate => solved::choose(plan.model, &drawn, &outline),
        };
        let ground = Ground::of(model.0, &drawn, &outline)?;
        let key = drawing_key(&document.value);
        let kept_drawings = Mutex::new(VecDeque::from([(key, Arc::new(Drawn { drawing, outline, ground }))]));
        let dear = |s: &String| matches!(s.as_str(), "first_order" | "mesh_error_hz");
        let whole = plan.kept.iter().any(|k| k.steps.iter().any(dear));
        Ok(Self { plan, document, drawn, model, whole, kept_drawings })
    }

    /// The merged device file as drawn.
    pub fn value(&self) -> &Value {
        &self.document.value
    }

    /// The result of the device as drawn, with everything that the command finds.
    ///
    /// # Errors
    /// As the command.
    pub fn as_drawn(&self) -> Result<Value, Stop> {
        self.result(&self.drawn, &self.document, true)
    }

    /// The result of the device with the plan's variables at these values.
    ///
    /// # Errors
    /// As the command.
    pub fn at(&self, values: &[Value]) -> Result<Value, Stop> {
        let mut document = self.document.clone();
        for (variable, value) in self.plan.variables.iter().zip(values) {
            document.put(&variable.steps, value.clone());
        }
        let device = Device::from_document(document.clone())?;
        unchanged(&self.drawn.inputs, &device.inputs)?;
        self.result(&device, &document, self.whole)
    }

    fn result(&self, device: &Device, document: &Document, whole: bool) -> Result<Value, Stop> {
        let drawn = self.drawn_as(device, document)?;
        let (outline, ground) = (&drawn.outline, &drawn.ground);
        let electrodes = device.electrodes_on(&drawn.drawing, outline)?;
        let layout = (outline, ground, electrodes.as_slice());
        let mut progress = Progress::new(true);
        match self.plan.run {
            Run::Modes => {
                let wanted = modes::wanted(None, None, None, device);
                let purpose = if whole { Purpose::Modes } else { Purpose::Comparison };
                let (solved, findings) = modes::found(device, layout, self.model, wanted, purpose, &mut progress)?;
                Ok(modes_json::document(&findings, &solved.modes)?)
            }
            Run::Rate => {
                let wanted = rate::wanted(None, None, device);
                let (solved, findings) =
                    modes::found(device, layout, self.model, wanted, Purpose::Rate, &mut progress)?;
                let report = rate::weighed(self.model.0, device, outline, ground, &solved, &findings.electrodes);
                Ok(output::rate::json::document(&findings, &solved.modes, &report)?)
            }
            Run::Audit => {
                let audit = audit::compared(device, outline, ground, None, ACCURACY, &mut progress)?;
                let heading = output::audit::Heading {
                    device: &device.name,
                    input_sha256: &device.input_sha256,
                    accuracy: ACCURACY,
                };
                Ok(output::audit::document(&heading, &audit))
            }
        }
    }

    /// Outline and mesh of a device, made now or kept from a point with the same drawing.
    fn drawn_as(&self, device: &Device, document: &Document) -> Result<Arc<Drawn>, Stop> {
        let key = drawing_key(&document.value);
        let kept = || self.kept_drawings.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, drawn)) = kept().iter().find(|(k, _)| *k == key) {
            return Ok(Arc::clone(drawn));
        }
        let (drawing, _) = device.drawing()?;
        let outline = device.outline(&drawing)?;
        let ground = Ground::of(self.model.0, device, &outline)?;
        let drawn = Arc::new(Drawn { drawing, outline, ground });
        let mut list = kept();
        if list.len() == DRAWINGS_KEPT {
            // The first is the device as drawn, which most points share.
            list.remove(1);
        }
        list.push_back((key, Arc::clone(&drawn)));
        Ok(drawn)
    }
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
fn there(plan: &Plan, document: &Document) -> Result<(), Stop> {
    let mut all = document.clone();
    let first = plan.variables.iter().map(|v| (v, v.variation.at(0.5, 0.0)));
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
fn unchanged(drawn: &[InputFile], now: &[InputFile]) -> Result<(), Stop> {
    match drawn.iter().zip(now).find(|(a, b)| a != b) {
        Some((old, _)) if drawn.len() == now.len() && drawn.iter().zip(now).all(|(a, b)| a.path == b.path) => {
            let what = format!("{} changed while the batch ran", old.path.display());
            Err(Stop::Other { what, hint: "start the batch again in another folder".into() })
        }
        _ => Ok(()),
    }
}
