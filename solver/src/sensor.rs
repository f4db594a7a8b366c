//! A rate sensor weighed: what is stated of it and the modes of its layout give every figure of a rate report, as drawn and as made, with
//! an error for each and a verdict on each requirement. The arithmetic is [`crate::rate`]'s; words and files are the command's.

mod answers;
mod as_made;
mod audit;
mod bias;
mod drive;
mod electrode;
mod errors;
mod flaws;
mod intended;
mod near_modes;
mod needs;
mod noise;
mod reached;
mod readings;
mod report;
mod second;
mod shaken;
mod stated;
mod verdicts;
mod vibration;
mod weighing;
mod work;

pub use answers::rate_report;
pub use audit::{Audit, AuditRow, MODES_MORE};
pub use electrode::ElectrodeFound;
pub use intended::{Intended, ModeSplit};
pub use report::{
    AxisAnswer, BiasOffer, Made, ModelDifference, NearMode, Offered, Quadrature, RateReport, Remedy, Touch, Work,
};
pub use second::compared;
pub use stated::{
    Facing, FacingElectrode, Imperfections, Intent, Motion, MotionByMass, Operation, OwnGuard, Place, ReadoutNoise,
    Sense, Shock, StatedSensor, Stopper, ThreeSigma,
};
