//! `rate.json`: SI units or the unit in the key. The first intended axis stands at the top, all of them under `axes`.

use super::words::{self, AXES};
use crate::output::findings::Findings;
use crate::output::{OutputError, modes_json, search, state, used};
use modalith_solver::mode::Mode;
use modalith_solver::rate::guards::{Excitation, Near};
use modalith_solver::rate::noise::{Limit, RateNoise};
use modalith_solver::rate::pairing::Match;
use modalith_solver::rate::requirements::Verdict;
use modalith_solver::sensor::{AxisAnswer, ModelDifference, NearMode, RateReport, Work};
use serde_json::{Map, Value, json};

/// The document.
///
/// # Errors
/// A gradient that is not a finite number.
pub fn document(findings: &Findings, modes: &[Mode], report: &RateReport) -> Result<Value, OutputError> {
    let axes: Vec<Value> = report.axes.iter().map(|axis| one(findings, modes, axis)).collect();
    let mut top = Map::new();
    top.insert("format".into(), json!("modalith.rate/1"));
    top.insert("device".into(), json!(findings.device));
    top.insert("input_sha256".into(), json!(findings.input_sha256));
    top.insert("model".into(), json!(findings.model));
    top.insert("model_reason".into(), json!(findings.model_reason));
    top.insert("model_error".into(), model_error(report));
    top.insert("count_verified".into(), json!(findings.search.is_counted()));
    top.insert("search".into(), search::document(&findings.search));
    if let Some(Value::Object(first)) = axes.first() {
        top.extend(first.clone());
    }
    top.insert("axes".into(), Value::Array(axes));
    top.insert(
        "modes".into(),
        Value::Array(modes.iter().enumerate().map(|(i, m)| oscillator(findings, i, m)).collect()),
    );
    if !findings.electrodes.is_empty() {
        top.insert("electrodes".into(), modes_json::electrodes(findings)?);
        top.insert("pull_in_bias_ratio".into(), json!(findings.pull_in.iter().flatten().map(|p| p.ratio).next()));
    }
    if let Some(film) = &findings.film {
        top.insert("state".into(), state::document(film));
    }
    top.insert("not_given".into(), json!(report.missing));
    top.insert("used".into(), used::document(&findings.used));
    top.insert("left_out".into(), json!(findings.left_out));
    Ok(Value::Object(top))
}

fn model_error(report: &RateReport) -> Value {
    match &report.compared {
        Ok(ModelDifference { against: None, .. }) => json!({"against": null, "why": words::compared(report)}),
        Ok(d) => json!({"against": d.against, "difference_hz": d.hz, "why": words::compared(report)}),
        Err(because) => json!({"against": null, "because": because.to_string()}),
    }
}

/// What a circuit needs of a mode, at unit modal mass and at the point that moves most of the first mass.
fn oscillator(findings: &Findings, i: usize, mode: &Mode) -> Value {
    let mut value = json!({
        "index": i + 1, "label": findings.label(i), "frequency_hz": mode.frequency_hz,
        "modal_mass_kg": 1.0, "modal_stiffness_n_per_m": mode.modal_stiffness_n_per_m(),
    });
    if let (Some((mass, seen)), Some(map)) = (mode.at_reference(), value.as_object_mut()) {
        let place = json!({"mass": mass.name, "at_um": mass.centre_um, "shape_per_root_kg": mass.translation});
        map.insert("reference".into(), place);
        if let Some([mass_kg, n_per_m]) = seen {
            map.insert("mass_at_reference_kg".into(), json!(mass_kg));
            map.insert("stiffness_at_reference_n_per_m".into(), json!(n_per_m));
        }
    }
    value
}

fn one(findings: &Findings, modes: &[Mode], axis: &AxisAnswer) -> Value {
    let mut pair = Map::new();
    pair.insert("rate_axis".into(), json!(AXES[axis.axis]));
    let doubts = |role: &str, m: Option<&Match>| words::doubts(role, m, findings);
    for (role, found) in [("drive", &axis.drive), ("sense", &axis.sense)] {
        if let Some(found) = found {
            let hz = modes[found.mode].frequency_hz;
            let value = json!({"index": found.mode + 1, "mac": found.mac, "frequency_hz": hz, "label": findings.label(found.mode)});
            pair.insert(role.into(), value);
        }
    }
    let all = [doubts("drive", axis.drive.as_ref()), doubts("sense", axis.sense.as_ref())].concat();
    pair.insert("doubts".into(), json!(all));
    let mut out = Map::new();
    let Some(work) = &axis.work else {
        out.insert("pair".into(), Value::Object(pair));
        return Value::Object(out);
    };
    pair.insert("mode_split_hz".into(), json!(work.pair.mode_split_hz()));
    if let Some(split) = work.split {
        pair.insert("mode_split_as_made_hz".into(), json!([split.low_hz, split.high_hz]));
    }
    if let Some([drive, sense]) = work.frequencies {
        pair.insert("drive_as_made_hz".into(), json!([drive.low_hz, drive.high_hz]));
        pair.insert("sense_as_made_hz".into(), json!([sense.low_hz, sense.high_hz]));
    }
    pair.insert("coriolis_coupling".into(), json!(work.pair.coupling()));
    pair.insert(
        "cross_axis_share".into(),
        json!({"x": work.cross_axis[0], "y": work.cross_axis[1], "z": work.cross_axis[2]}),
    );
    out.insert("pair".into(), Value::Object(pair));
    out.insert("near_modes".into(), near_modes(findings, modes, work));
    out.insert("as_made".into(), as_made(work));
    out.insert("combinations".into(), combinations(work));
    out.insert("balance".into(), balance(work));
    if let Some(noise) = noise(work) {
        out.insert("noise".into(), noise);
    }
    if let Some(scale) = scale(work) {
        out.insert("scale_factor".into(), scale);
    }
    out.insert("zero_rate".into(), zero_rate(work));
    out.insert("shock".into(), (0..work.touches.len()).map(|k| touch(work, k)).collect());
    if let Some(found) = &work.stress {
        let value = json!({"flexure": found.flexure + 1, "at_um": found.at_um, "nominal_peak_mpa": found.peak_pa * 1e-6, "mass_share_of_modes": work.shaken_mass});
        out.insert("shock_stress".into(), value);
    }
    let biases = work.biases.iter().map(|b| {
        json!({
            "electrode": b.name, "bias_v": b.present_v, "wanted_split_hz": b.for_split.map(|f| f.0),
            "bias_for_split_v": b.for_split.and_then(|f| f.1.holds()), "bias_to_cancel_quadrature_v": b.cancels_quadrature.and_then(|b| b.holds()),
        })
    });
    out.insert("biases".into(), biases.collect());
    out.insert("requirements".into(), Value::Array(work.verdicts.iter().map(requirement).collect()));
    Value::Object(out)
}

/// The pair as made, that which couples least, or why it is not known; null where no imperfection is stated.
fn as_made(work: &Work) -> Value {
    let because: Vec<String> = work.made_missing.iter().map(ToString::to_string).collect();
    let Some(made) = work.worst_made() else {
        return if because.is_empty() { Value::Null } else { json!({"because": because}) };
    };
    let one = |m: &Match| {
        let shares = made.of_drawn[m.mode].iter().map(|(i, share)| json!({"index": i + 1, "share": share}));
        let shares: Vec<Value> = shares.collect();
        json!({"index": m.mode + 1, "mac": m.mac, "frequency_hz": made.frequency_hz[m.mode], "of_drawn_modes": shares})
    };
    let [drive, sense] = &made.matches;
    let near = |n: &NearMode| {
        let Near { mode, guard, distance_hz, spread_hz, half_width_hz, visible, .. } = n.near;
        json!({
            "index": mode + 1, "frequency_hz": made.frequency_hz[mode],
            "guard": words::guard(&made.work.guards[guard]), "guard_frequency_hz": made.work.guards[guard].frequency_hz,
            "distance_hz": distance_hz, "distance_3sigma_hz": spread_hz, "half_width_hz": half_width_hz,
            "reason": words::excitations(&n.near.excitations), "visible_share": visible,
        })
    };
    let work = &made.work;
    json!({
        "drive": one(drive), "sense": one(sense), "doubts": words::doubts_of_made(made),
        "mode_split_hz": work.pair.mode_split_hz(), "coriolis_coupling": work.pair.coupling(),
        "cross_axis_share": {"x": work.cross_axis[0], "y": work.cross_axis[1], "z": work.cross_axis[2]},
        "near_modes": work.near.iter().map(near).collect::<Vec<_>>(), "without": because,
    })
}

fn near_modes(findings: &Findings, modes: &[Mode], work: &Work) -> Value {
    let near_json = |near: &NearMode| {
        let Near { mode, guard, distance_hz, spread_hz, half_width_hz, visible, .. } = near.near;
        let mut value = json!({
            "index": mode + 1, "label": findings.label(mode), "frequency_hz": modes[mode].frequency_hz,
            "guard": words::guard(&work.guards[guard]), "guard_frequency_hz": work.guards[guard].frequency_hz,
            "distance_hz": distance_hz, "distance_3sigma_hz": spread_hz, "half_width_hz": half_width_hz,
            "reason": words::excitations(&near.near.excitations),
            "excitations": near.near.excitations.iter().map(excitation).collect::<Vec<_>>(),
            "visible_share": visible,
            "flexures": near.flexures.iter().map(|(f, share)| json!({"flexure": f + 1, "strain_energy_fraction": share})).collect::<Vec<_>>(),
        });
        if let (Some(r), Some(map)) = (near.remedy, value.as_object_mut()) {
            let remedy = json!({
                "mode_hz_per_um": r.mode_hz_per_um, "guard_hz_per_um": r.guard_hz_per_um, "split_hz_per_um": r.split_hz_per_um, "most_um": r.most_um,
            });
            map.insert("widening_these_flexures".into(), remedy);
        }
        value
    };
    Value::Array(work.near.iter().map(near_json).collect())
}

fn excitation(e: &Excitation) -> Value {
    match e {
        Excitation::Base(axis, share) => json!({"base_acceleration_along": AXES[*axis], "effective_mass_share": share}),
        Excitation::DriveForce(share) => json!({"drive_force_share": share}),
        Excitation::Coriolis(axis, kappa) => json!({"coriolis_about": AXES[*axis], "coupling": kappa}),
        Excitation::Internal(order) => json!({"internal_resonance": format!("{order}:1")}),
    }
}

fn combinations(work: &Work) -> Value {
    let combination_json = |c: &modalith_solver::rate::guards::Combination| {
        json!({
            "modes": c.modes.map(|m| m + 1), "kind": if c.difference { "difference" } else { "sum" },
            "meets": c.meets + 1, "distance_hz": c.distance_hz, "half_width_hz": c.half_width_hz,
        })
    };
    Value::Array(work.combinations.iter().map(combination_json).collect())
}

fn balance(work: &Work) -> Value {
    let load = |l: &modalith_solver::rate::balance::AnchorLoad| {
        json!({
            "anchor_force_ratio": l.force_ratio(), "anchor_force_root_kg": l.force, "anchor_moment_m_root_kg": l.moment,
            "anchor_moment_arm_m": l.moment_arm_m(),
        })
    };
    let mut value = json!({"anchor_force_ratio": work.loads[0].force_ratio(), "drive": load(&work.loads[0]), "sense": load(&work.loads[1])});
    if let (Some(made), Some(map)) = (work.drive_load_as_made(), value.as_object_mut()) {
        map.insert("drive_as_made".into(), load(made));
    }
    let rates = |rates: &[modalith_solver::rate::balance::FalseRate; 3]| -> Value {
        let one = |r: &modalith_solver::rate::balance::FalseRate| {
            json!({
                "worst_deg_per_s_per_g": r.worst.map(f64::to_degrees), "worst_hz": r.worst_hz,
                "at_drive_deg_per_s_per_g": r.at_drive.to_degrees(), "static_offset_deg_per_s_per_g": r.offset.to_degrees(),
            })
        };
        json!({"x": one(&rates[0]), "y": one(&rates[1]), "z": one(&rates[2])})
    };
    if let (Some(r), Some(map)) = (&work.vibration, value.as_object_mut()) {
        map.insert("vibration_drawn".into(), rates(r));
        map.insert("vibration_drawn_is_numerical_floor".into(), json!(work.forbidden.vibration));
    }
    if let (Some(r), Some(map)) = (work.vibration_as_made(), value.as_object_mut()) {
        map.insert("vibration_as_made".into(), rates(r));
    }
    value
}

fn noise(work: &Work) -> Option<Value> {
    work.noise.at_least()?;
    let total = work.noise.total();
    let one = |n: Option<RateNoise>| n.map(RateNoise::deg_per_h_per_rthz);
    Some(json!({
        "rate_noise_deg_per_h_per_rthz": total.map(RateNoise::deg_per_h_per_rthz),
        "angle_random_walk_deg_per_rth": total.map(RateNoise::angle_random_walk_deg_per_rth),
        "angle_random_walk_as_made_deg_per_rth": work.walk_as_made(),
        "brownian_deg_per_h_per_rthz": one(work.noise.brownian),
        "readout_deg_per_h_per_rthz": one(work.noise.readout),
        "limited_by": work.noise.limit().map(|l| match l { Limit::Brownian => "brownian", Limit::Readout => "readout" }),
        "one_sided": true,
    }))
}

fn scale(work: &Work) -> Option<Value> {
    let mut value = json!({"sense_displacement_pm_per_deg_per_s": work.scale_pm?});
    let map = value.as_object_mut()?;
    if let Some(af) = work.scale_af {
        map.insert("sense_capacitance_af_per_deg_per_s".into(), json!(af));
    }
    if let Some(volts) = work.drive_volts {
        map.insert("drive_voltage_v".into(), json!(volts));
    }
    if let Some(b) = work.bandwidth {
        map.insert("bandwidth_hz".into(), json!(b.hz));
        map.insert("bandwidth_edge".into(), json!(if b.rises { "rises by 3 dB" } else { "falls by 3 dB" }));
    }
    if let Some((full, l)) = work.linearity {
        let linearity =
            json!({"full_scale_deg_per_s": full, "at_minus_ppm": l.at_minus_ppm, "at_plus_ppm": l.at_plus_ppm});
        map.insert("linearity".into(), linearity);
    }
    Some(value)
}

fn zero_rate(work: &Work) -> Value {
    let degrees = |rate: Option<f64>| rate.map(f64::to_degrees);
    let q = &work.quadrature;
    json!({
        "quadrature_drawn_deg_per_s": q.drawn.to_degrees(),
        "quadrature_drawn_is_numerical_floor": work.forbidden.quadrature,
        "quadrature_as_made_deg_per_s": degrees(q.as_made()),
        "quadrature_leaning_walls_deg_per_s": degrees(q.lean),
        "quadrature_left_right_width_deg_per_s": degrees(q.width),
        "quadrature_both_together_deg_per_s": degrees(q.together),
        "quadrature_of_modes_not_listed_at_most_deg_per_s": degrees(q.left_out),
        "in_phase_as_made": work.in_phase.terms.iter().map(|term| json!({
            "cause": words::cause(term.cause), "deg_per_s": term.rate.to_degrees(),
        })).collect::<Vec<_>>(),
        "in_phase_as_made_sum_deg_per_s": degrees(work.in_phase.sum()),
        "in_run_bias": "not predicted: it follows from how constant these terms are over temperature, charge and stress",
    })
}

fn touch(work: &Work, stopper: usize) -> Value {
    let touch = &work.touches[stopper];
    json!({
        "at": touch.place, "direction": touch.direction, "gap_um": touch.gap_m * 1e6, "driven_um": touch.driven_m * 1e6,
        "static_um": touch.rest_m * 1e6,
        "travel_um": touch.travel.peak_m * 1e6,
        "travel_as_made_um": work.travel_as_made_m(stopper).map(|m| m * 1e6), "left_out_modes_um": touch.travel.left_out_m * 1e6,
        "first_touch_g": touch.first_touch_g, "after_contact": "nothing is claimed",
    })
}

fn requirement(v: &Verdict) -> Value {
    let open = |x: f64| x.is_finite().then_some(x);
    let (asked, found) = (v.asked(), v.found());
    let because = (!v.because().is_empty()).then(|| words::because(v));
    json!({
        "name": v.figure().key(), "asked": [open(asked.low), open(asked.high)], "unit": v.figure().unit(),
        "drawn": found.drawn, "as_made": v.as_made(), "margin": v.margin(),
        "error": found.error.as_ref().ok(), "met": v.met(), "because": because,
        "known_terms": v.known_terms().map(|known| json!({
            "at_least": known.at_least, "margin_at_most": known.margin_at_most, "missing": words::missing(v),
        })),
    })
}
