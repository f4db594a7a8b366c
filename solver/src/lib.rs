//! Vibration modes of planar suspended structures, from a layout to a verdict.
//!
//! | step | module |
//! | --- | --- |
//! | a layout, drawn and etched, µm | [`modalith_mesher::drawing`], [`modalith_mesher::outline`] |
//! | stiffness and density of the layer, SI | [`material`] |
//! | modes under rigid masses, beams on shells, shells or solids | [`model`]: [`model::solve()`] gives a [`model::ModalSolution`] |
//! | how rotation couples them | [`rotation`] |
//! | what a rate sensor makes of them, with errors and verdicts | [`sensor`]: [`sensor::rate_report`]; its formulas are [`rate`] |
//! | what a simple model may be trusted with | [`sensor::Audit`] |
//!
//! Lengths of layouts and meshes are in µm and say so in their names; everything else is SI, mode shapes have unit modal mass. What is not
//! known is an error or a reason, never a zero.
//!
//! A plate on two bars, from its mask to a requirement on its first frequency:
//! ```
//! use modalith_mesher::drawing::{Anchoring, Drawing, Film};
//! use modalith_mesher::{geometry::Polygon, outline::{Etch, Outline}, sizing::MeshSize};
//! use modalith_solver::material::Constants;
//! use modalith_solver::modal::Wanted;
//! use modalith_solver::model::{AnchorsHeld, Model, ModelInput, Purpose, SolveContext, solve};
//! use modalith_solver::rate::requirements::{Figure, Found, Limits, weigh};
//! use modalith_solver::state::Loads;
//! let rect = |[a, b]: [f64; 2], [c, d]: [f64; 2]| Polygon::solid(vec![[a, b], [c, b], [c, d], [a, d]]);
//! let structure = vec![rect([-50., -50.], [50., 50.]), rect([-2., 50.], [2., 150.]), rect([-2., -150.], [2., -50.])];
//! let anchors = vec![rect([-10., 150.], [10., 170.]), rect([-10., -170.], [10., -150.])];
//! let (film, anchoring) = (Film::Drawn { structure, holes: vec![] }, Anchoring::Drawn(anchors));
//! let drawing = Drawing { film, anchoring, masses: vec![], electrodes: vec![] };
//! let outline = Outline::build(&drawing, &Etch::default())?;
//! let silicon = Constants::Isotropic { density_kg_m3: 2330.0, youngs_modulus_pa: 160e9, poissons_ratio: 0.22 };
//! let input = ModelInput {
//!     drawing: &drawing, etch: Etch::default(), outline: &outline, thickness_um: 2.0, law: silicon.law()?, constants: silicon,
//!     anchors_held: AnchorsHeld::Sides, mesh_size: MeshSize::default(), holes_below_um: None, loads: &Loads::default(),
//! };
//! let context = SolveContext::of(Model::Shell, &input)?;
//! let solved = solve(Model::Shell, &input, &context, Wanted::Lowest(3), Purpose::Modes)?;
//! let (hz, bar) = (solved.modes[0].frequency_hz, solved.mesh_errors[0].hz);
//! let found = Found { drawn: Some(hz), as_made: Some([hz; 2]), missing: vec![], error: Ok(bar) };
//! let verdict = weigh(Figure::DriveFrequency, Limits { low: 1e3, high: 1e6 }, found);
//! assert!(solved.search.is_complete() && verdict.met() == Some(true));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod audit;
pub mod beam_shell;
pub mod completed;
pub mod electrode;
pub mod element;
pub mod frame;
pub mod joint;
pub mod lumped;
pub mod material;
pub mod modal;
pub mod mode;
pub mod model;
pub mod process;
pub mod rate;
pub mod rigid;
pub mod rotation;
pub mod section;
pub mod sensor;
pub mod spectrum;
pub mod state;
pub mod system;
