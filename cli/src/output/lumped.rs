//! The lumped model for programs and for people: `lumped.json`, SI units, and the formulas with their numbers as text.
//!
//! In: the model, its named masses. Out: JSON and plain text; the same input gives the same bytes.

use super::units::{frequency, grouped, length_um, mass, percent};
use modalith_solver::lumped::{Body, Formula, Hold, Lumped, NamedPart, Term};
use modalith_solver::mode::Mode;
use serde_json::{Value, json};
use std::fmt::Write;

/// What is said of the model beside its own numbers.
#[derive(Clone, Copy, Debug)]
pub struct Heading<'a> {
    /// The device's name.
    pub device: &'a str,
    /// SHA-256 over all inputs.
    pub input_sha256: &'a str,
    /// Thickness of the layer, µm.
    pub thickness_um: f64,
    /// The material in a few words.
    pub material: &'a str,
}

/// Numbers are counted from 1 for people.
fn hold(hold: Hold) -> Value {
    match hold {
        Hold::Ground => json!("anchor"),
        Hold::Body(body) => json!({ "body": body + 1 }),
    }
}

/// The document of `lumped.json`.
// One document, its keys in the order of the file.
pub fn document(heading: &Heading, lumped: &Lumped, named: &[NamedPart]) -> Value {
    let names = lumped.names(named);
    let bodies = lumped.pieces.bodies.iter().zip(&lumped.inertia).zip(&names).enumerate().map(|(i, ((body, own), name))| {
        let [x, y] = own.centre_m;
        let (moments, products) = (own.moments_kg_m2, own.products_kg_m2);
        json!({
            "index": i + 1,
            "name": name,
            "support": match body { Body::Moving(_) => "moves", Body::Held(_) => "held by an anchor", Body::Joint(_) => "joint" },
            "mass_kg": own.mass_kg,
            "centre_m": {"x": x, "y": y, "z": 0.0},
            "moment_of_inertia_kg_m2": {"x": moments[0], "y": moments[1], "z": moments[2]},
            "product_of_inertia_kg_m2": {"yz": products[0], "xz": products[1], "xy": products[2]},
        })
    });
    let flexures = lumped.springs.iter().enumerate().map(|(f, spring)| {
        let rows = |m: &[f64], n: usize| m.chunks(n).map(<[f64]>::to_vec).collect::<Vec<_>>();
        let shares = spring
            .mass_shares()
            .map(|[along, across, out]| json!({"along": along, "across_in_plane": across, "out_of_plane": out}));
        let stretches = spring.stretches.iter().map(|s| {
            json!({
                "from_to_m": s.from_to_m,
                "widths_m": s.widths_m,
                "youngs_modulus_pa": s.moduli.youngs_pa,
                "torsional_stiffness_n_m2": s.twist_nm2(spring.thickness_m),
            })
        });
        json!({
            "index": f + 1,
            "kind": lumped.kinds[f].word(),
            "between": lumped.pieces.flexures[f].ends.map(hold),
            "ends_m": spring.ends_m(),
            "length_m": spring.length_m(),
            "mass_kg": spring.mass_kg,
            "mass_fraction_of_each_end": shares,
            "stretches": stretches.collect::<Vec<_>>(),
            // Symmetric: by columns is by rows.
            "stiffness_12_by_12_si": rows(spring.stiffness.as_slice(), 12),
            "mass_12_by_12_si": rows(spring.mass().as_slice(), 12),
            "flexibility_of_end_2_si": rows(spring.flexibility.as_slice(), 6),
        })
    });
    let formulas = lumped.formulas().into_iter().map(|f| {
        let terms: serde_json::Map<String, Value> =
            f.terms.iter().map(|t| (t.symbol.to_owned(), json!({"value": t.value, "unit": t.unit}))).collect();
        json!({
            "flexures": f.flexures.iter().map(|i| i + 1).collect::<Vec<_>>(),
            "name": f.name,
            "expression": f.expression,
            "with_numbers": with_numbers(&f),
            "terms": terms,
            "value": f.value,
            "extracted": f.extracted,
            "unit": f.unit,
        })
    });
    json!({
        "format": "modalith.lumped/1",
        "device": heading.device,
        "input_sha256": heading.input_sha256,
        "thickness_m": heading.thickness_um * 1e-6,
        "material": heading.material,
        "layer_mass_kg": lumped.total_mass_kg(),
        "flexure_mass_counted": lumped.flexure_mass,
        "motions_of_a_body_or_end": ["x_m", "y_m", "z_m", "about_x_rad", "about_y_rad", "about_z_rad"],
        "bodies": bodies.collect::<Vec<_>>(),
        "flexures": flexures.collect::<Vec<_>>(),
        "formulas": formulas.collect::<Vec<_>>(),
    })
}

/// A quantity in a unit near its size.
fn quantity(term: &Term) -> String {
    let power = |value: f64, unit: &str, scale: f64| format!("{} {unit}", digits(value / scale));
    match term.unit {
        "Pa" => power(term.value, "GPa", 1e9),
        "m" => length_um(term.value * 1e6),
        "m³" => power(term.value, "µm³", 1e-18),
        "m⁴" => power(term.value, "µm⁴", 1e-24),
        "" => digits(term.value),
        unit => power(term.value, unit, 1.0),
    }
}

/// Six digits, trailing zeros dropped, powers of ten where the number is very large or small.
fn digits(value: f64) -> String {
    let size = value.abs();
    if size > 0.0 && !(1e-3..1e7).contains(&size) {
        return format!("{value:.5e}");
    }
    let decimals = if size > 0.0 { (5 - size.log10().floor() as i32).max(0) as usize } else { 0 };
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// The expression with its numbers put in: every symbol by its quantity, in brackets where a power or a unit follows.
fn with_numbers(formula: &Formula) -> String {
    let number = |piece: &str| {
        let core = piece.trim_matches(|c| "(),".contains(c));
        let bare = core.trim_end_matches(['²', '³']);
        let term = formula.terms.iter().find(|t| t.symbol == bare)?;
        let (text, power) = (quantity(term), &core[bare.len()..]);
        let text = if power.is_empty() || term.unit.is_empty() { text } else { format!("({text})") };
        Some(piece.replacen(core, &format!("{text}{power}"), 1))
    };
    let mut out = String::new();
    let mut after_value = false;
    for piece in formula.expression.split(' ') {
        let put = number(piece);
        let sign = ["/", "+", "=", "·"].contains(&piece);
        if !out.is_empty() {
            out.push_str(if after_value && !sign { " · " } else { " " });
        }
        out.push_str(put.as_deref().unwrap_or(piece));
        after_value = !sign && !piece.ends_with(',');
    }
    out
}

/// Formulas that say the same of several flexures, once, with the numbers of the flexures.
fn grouped_formulas(lumped: &Lumped) -> Vec<(String, Formula)> {
    let mut groups: Vec<(Vec<String>, Formula)> = Vec::new();
    for formula in lumped.formulas() {
        let own = formula.flexures.iter().map(|f| (f + 1).to_string()).collect::<Vec<_>>().join("+");
        let same = |(_, other): &&mut (Vec<String>, Formula)| {
            other.name == formula.name
                && other.terms.len() == formula.terms.len()
                && other.terms.iter().zip(&formula.terms).all(|(a, b)| quantity(a) == quantity(b))
        };
        match groups.iter_mut().find(same) {
            Some((flexures, _)) => flexures.push(own),
            None => groups.push((vec![own], formula)),
        }
    }
    groups.into_iter().map(|(flexures, formula)| (flexures.join(", "), formula)).collect()
}

/// The model as text: bodies, flexures, formulas with numbers put in.
// One page from top to bottom.
pub fn text(heading: &Heading, lumped: &Lumped, named: &[NamedPart], modes: &[Mode]) -> String {
    let mut t = String::new();
    // Writing to a string cannot fail.
    let _ = writeln!(t, "Lumped model of {}, {} {}", heading.device, length_um(heading.thickness_um), heading.material);
    let _ =
        writeln!(t, "Layer {}, of which flexures {}", mass(lumped.total_mass_kg()), percent(lumped.flexure_share()));
    let _ = writeln!(t, "\nBodies: mass, centre, moments of inertia about x, y, z, product xy");
    let names = lumped.names(named);
    for (i, (body, own)) in lumped.pieces.bodies.iter().zip(&lumped.inertia).enumerate() {
        let what = match body {
            Body::Moving(_) => names[i].as_deref().unwrap_or("without a name"),
            Body::Held(_) => "held by an anchor",
            Body::Joint(_) => "joint of flexures",
        };
        let [x, y] = own.centre_m.map(|c| grouped(c * 1e6, 2, ' '));
        let [a, b, c] = own.moments_kg_m2;
        let _ = writeln!(
            t,
            "{:4}  {what}: {}, ({x}, {y}) µm, {a:.4e}, {b:.4e}, {c:.4e}, {:.4e} kg·m²",
            i + 1,
            mass(own.mass_kg),
            own.products_kg_m2[2]
        );
    }
    let _ =
        writeln!(t, "\nFlexures: kind, ends, length, widths, mass, its share along, across, out of plane at each end");
    for (f, spring) in lumped.springs.iter().enumerate() {
        let end = |hold: Hold| match hold {
            Hold::Ground => "anchor".to_owned(),
            Hold::Body(body) => format!("body {}", body + 1),
        };
        let [a, b] = lumped.pieces.flexures[f].ends.map(end);
        let [least, most] = spring.width_range_m().map(|m| m * 1e6);
        let width = if most - least < 1e-3 * most {
            length_um(least)
        } else {
            format!("{} to {}", length_um(least), length_um(most))
        };
        let shares = spring.mass_shares().map(|s| s.map(|x| format!("{x:.3}")).join(" "));
        let _ = writeln!(
            t,
            "{:4}  {}, {a} to {b}, {}, {width}, {}, {}",
            f + 1,
            lumped.kinds[f].word(),
            length_um(spring.length_m() * 1e6),
            mass(spring.mass_kg),
            shares.join(" | ")
        );
    }
    let _ = writeln!(t, "\nFormulas (roots and trusses rigid, no shear):");
    for (flexures, formula) in grouped_formulas(lumped) {
        let _ = writeln!(t, "{}, flexure {flexures}", formula.name);
        let _ = writeln!(t, "      k = {}", formula.expression);
        let _ = writeln!(t, "        = {}", with_numbers(&formula));
        let beside = formula.terms.iter().filter(|term| !formula.expression.contains(term.symbol));
        for term in beside {
            let _ = writeln!(t, "          {} {}", term.symbol, quantity(term));
        }
        let _ = writeln!(
            t,
            "        = {} {}   extracted {}",
            digits(formula.value),
            formula.unit,
            digits(formula.extracted)
        );
    }
    if !modes.is_empty() {
        let all: Vec<String> = modes.iter().map(|m| frequency(m.frequency_hz, ' ')).collect();
        let _ = writeln!(t, "\nFrequencies, Hz: {}", all.join(", "));
    }
    t
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stand_where_the_symbols_were() {
        let term = |symbol, value, unit| Term { symbol, value, unit };
        let formula = Formula {
            flexures: vec![0],
            name: "folded, across in plane",
            expression: "n E t w³ / (2 L³)",
            terms: vec![
                term("n", 2.0, ""),
                term("E", 169e9, "Pa"),
                term("t", 2e-6, "m"),
                term("w", 2e-6, "m"),
                term("L", 2e-4, "m"),
            ],
            value: 0.338,
            extracted: 0.338,
            unit: "N/m",
        };
        assert_eq!(with_numbers(&formula), "2 · 169 GPa · 2 µm · (2 µm)³ / (2 · (200 µm)³)");
        assert_eq!(digits(0.338), "0.338");
        assert_eq!(digits(7.78935e-10), "7.78935e-10");
    }
}
