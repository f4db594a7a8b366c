//! What the bias of every electrode could do: bring about the wanted split, cancel the quadrature as made.

use super::electrode::ElectrodeFound;
use super::report::{BiasOffer, Offered, Work};
use super::weighing::Weighing;
use crate::electrode::{bias_for_split, bias_to_cancel, change_by_deflection};
use crate::rate::errors::coupling_of;
use crate::rate::requirements::{Figure, Limits};

/// A bias above this is none, V.
const MOST_V: f64 = 1e3;

impl Weighing<'_> {
    /// The split that is asked for, Hz: the middle of its range, or its one end.
    fn wanted_split_hz(&self) -> Option<f64> {
        let (_, Limits { low, high }) = self.stated.requirements.iter().find(|(f, _)| *f == Figure::ModeSplit)?;
        match (low.is_finite(), high.is_finite()) {
            (true, true) => Some(0.5 * (low + high)),
            (true, false) => Some(*low),
            _ => Some(*high),
        }
    }

    /// What each electrode could do; those that could do nothing are left out.
    pub(super) fn biases(&self, work: &Work) -> Vec<BiasOffer> {
        let hz: Vec<f64> = self.list.iter().map(|m| m.frequency_hz).collect();
        let (d, s) = self.modes;
        let wanted_split_hz = self.wanted_split_hz();
        let reachable = |v: &f64| *v < MOST_V;
        let offer = |e: &ElectrodeFound| {
            let offered = |volts: f64| Offered {
                volts,
                deflection: change_by_deflection(&hz, &e.reading.gradient, e.reading.capacitance_f, [e.bias_v, volts]),
            };
            let split =
                wanted_split_hz.and_then(|split| bias_for_split(&hz, &e.reading.curvature, [d, s], split, e.bias_v));
            // Only the size of what is made is known: on this electrode, or on its mirror image.
            let cancels = work.quadrature.as_made().and_then(|rate| {
                bias_to_cancel(coupling_of(&work.pair, rate).abs(), e.reading.curvature[(d, s)].abs(), e.bias_v)
            });
            BiasOffer {
                name: e.name.clone(),
                present_v: e.bias_v,
                for_split: wanted_split_hz.zip(split.filter(reachable).map(offered)),
                cancels_quadrature: cancels.filter(reachable).map(offered),
            }
        };
        let useful = |o: &BiasOffer| o.for_split.is_some() || o.cancels_quadrature.is_some();
        self.electrodes.iter().map(offer).filter(useful).collect()
    }
}
