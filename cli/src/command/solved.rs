//! A device under a model: from its file to the solver's input, and from the model that was taken to words. In: the device, what is wanted.
//! Out: modes with all that stands behind them.

use super::fault;
use super::stated::stated;
use crate::args;
use crate::device::{Device, InputError};
use crate::exit::CommandError;
use modalith_mesher::drawing::Drawing;
use modalith_mesher::outline::Outline;
use modalith_mesher::triangulate::MeshSize;
use modalith_solver::modal::Wanted;
use modalith_solver::model::{
    Choice, ModalSolution, Model, ModelInput, Purpose, Refusal, SolveContext, Used, Why, solve,
};
use modalith_solver::sensor::StatedSensor;
use modalith_solver::state::Loads;

/// What the solver needs of a device.
///
/// # Errors
/// Constants that make no law.
pub fn model_input<'a>(
    device: &Device,
    drawing: &'a Drawing,
    outline: &'a Outline,
    loads: &'a Loads,
) -> Result<ModelInput<'a>, InputError> {
    let default = MeshSize::default();
    Ok(ModelInput {
        drawing,
        etch: device.etch(),
        outline,
        thickness_um: device.thickness_um,
        constants: device.material.constants().map_err(|e| device.fault("/material", &e.to_string()))?,
        law: device.law.clone(),
        anchors_held: device.anchors_held,
        mesh_size: MeshSize {
            largest_um: device.mesh.largest_um,
            across_flexure: device.mesh.across_flexure.map_or(default.across_flexure, |n| n as u32),
            ..default
        },
        holes_below_um: device.holes_below_um,
        loads,
    })
}

/// The model that the command line asks for.
pub fn choice(asked: args::Model, input: &ModelInput) -> Choice {
    match asked {
        args::Model::Auto => Choice::by_layout(input),
        args::Model::Lumped => Choice::asked(Model::Lumped),
        args::Model::BeamShell => Choice::asked(Model::BeamShell),
        args::Model::Shell => Choice::asked(Model::Shell),
        args::Model::Solid => Choice::asked(Model::Solid),
    }
}

/// Why the model was taken, a few words.
pub fn reason(choice: &Choice) -> String {
    match (choice.refused.last(), choice.why) {
        (Some(refusal), _) => refused(refusal),
        (None, Why::Asked) => "asked for".into(),
        (None, Why::Layout(why)) => why.into(),
    }
}

fn refused(refusal: &Refusal) -> String {
    match refusal {
        Refusal::Unfit(model, why) => format!("{model} does not describe this layout: {why}"),
        Refusal::TooLarge { needed, limit, at_search: true, .. } => fault::search_too_large(*needed, *limit),
        Refusal::TooLarge { model, needed, limit, .. } => fault::too_large(*model, *needed, *limit),
    }
}

/// Solves under the model of choice, or under the next that describes the layout.
///
/// # Errors
/// A layout that no model fits is a fault of the input; a spectrum that is not found is not.
pub fn solve_by_choice(
    choice: &mut Choice,
    (device, input): (&Device, &ModelInput),
    context: &SolveContext,
    wanted: Wanted,
    purpose: Purpose,
) -> Result<ModalSolution, CommandError> {
    let solved = choice.solve(|model| solve(model, input, context, wanted, purpose));
    let solved = solved.map_err(|e| fault::of_model(device, &e))?;
    Ok(with_statements(solved, choice, (device, input), context, purpose))
}

/// A solution with what the device file states, and with the models that were refused on the way to it.
pub fn with_statements(
    mut solved: ModalSolution,
    choice: &Choice,
    (device, input): (&Device, &ModelInput),
    context: &SolveContext,
    purpose: Purpose,
) -> ModalSolution {
    let of_file = stated(device, (input, context), &solved, purpose);
    let taken = |refusal: &Refusal| Used::fallback(format!("{}; {} was taken instead", refused(refusal), solved.model));
    let refusals: Vec<Used> = choice.refused.iter().map(taken).collect();
    solved.used.splice(0..0, refusals);
    solved.used.extend(of_file);
    solved
}

/// What a device file states of a rate sensor beside its layout.
pub fn stated_sensor(device: &Device) -> StatedSensor<'_> {
    StatedSensor {
        law: &device.law,
        thickness_um: device.thickness_um,
        anchors_held: device.anchors_held,
        intent: &device.intent,
        operation: &device.operation,
        guards: &device.guards,
        stoppers: &device.stoppers,
        imperfections: &device.imperfections,
        spread_3sigma: &device.spread_3sigma,
        requirements: &device.requirements,
        electrodes: device.electrodes.iter().map(|e| e.as_facing()).collect(),
    }
}
