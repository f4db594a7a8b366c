//! `report.html`: one file that opens offline, with the answer first, the table, a drawing of every mode and all that was left out.
//!
//! In: findings, modes with their labels, outline, mesh, sampled shapes, the table as printed. Out: HTML 5 with drawings and style
//! inside, no scripts, nothing fetched. Every text of the user is escaped; the same input gives the same bytes.

use super::drawing::{Sheet, check_svg, mode_svg};
use super::findings::Findings;
use super::page::{self, list};
use super::svg::escape;
use super::table::shares;
use super::units::{NARROW_SPACE, frequency, grouped, length_um, mass, percent};
use super::used;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;
use modalith_solver::mode::{Mode, Sampled};
use modalith_solver::model::ModeExtra;
use rayon::prelude::*;
use std::fmt::Write as _;

/// Share of a mode's strain energy above which a flexure is named under its drawing.
const NAMED_SHARE: f64 = 0.1;

/// The report. `table_text` is the table as printed on the terminal.
pub fn report_html(
    findings: &Findings,
    modes: &[Mode],
    outline: &Outline,
    mesh: &Mesh,
    sampled: &Sampled,
    table_text: &str,
) -> String {
    let mut out = page::head(&findings.device, "modes");
    page::about(&mut out, findings);
    let class = if findings.search.is_complete() { "answer" } else { "answer bad" };
    let _ = writeln!(out, "<p class=\"{class}\">{}.</p>", escape(&findings.completeness(modes)));
    if !findings.cautions.is_empty() {
        list(&mut out, "Cautions", &findings.cautions);
    }
    table(&mut out, findings, modes);
    out.push_str(
        "<h2>How each mode moves</h2>\n<p>Drawn larger than life, one extreme of the motion solid, the other dashed. Blue moves \
         towards the viewer while amber moves away.</p>\n<div class=\"modes\">\n",
    );
    let sheet = Sheet::new(outline, mesh, sampled);
    let drawings: Vec<String> = modes.par_iter().enumerate().map(|(i, mode)| mode_svg(&sheet, i, mode)).collect();
    for (i, (mode, drawing)) in modes.iter().zip(&drawings).enumerate() {
        let _ = writeln!(
            out,
            "<figure id=\"mode-{}\">\n{drawing}<figcaption>{}{}{}</figcaption>\n</figure>",
            i + 1,
            escape(&findings.what_moves(i)),
            mirrored(findings.extra(i)),
            strained(mode)
        );
    }
    out.push_str("</div>\n");
    layout(&mut out, findings, outline);
    if !findings.used.is_empty() {
        list(&mut out, "Used", &used::lines(&findings.used));
    }
    if !findings.left_out.is_empty() {
        list(&mut out, "Left out", &findings.left_out);
    }
    inputs(&mut out, findings);
    page::end(out, table_text)
}

/// The table of modes as HTML; a column that would be empty is left out.
fn table(out: &mut String, findings: &Findings, modes: &[Mode]) {
    let any = |has: fn(&ModeExtra) -> bool| findings.extras.iter().take(modes.len()).any(has);
    let (with_error, with_intent) = (any(|e| e.mesh_error_hz.is_some()), !findings.intended.is_empty());
    let column =
        |there: bool, class: &str, text: &str| if there { format!("<th{class}>{text}</th>") } else { String::new() };
    let _ = writeln!(
        out,
        "<h2>Modes</h2>\n<div class=\"wide\"><table>\n<thead><tr><th class=\"n\">mode</th><th class=\"n\">frequency, Hz</th>\
         {}<th>what moves</th>{}<th>effective mass</th></tr></thead>\n<tbody>",
        column(with_error, " class=\"n\"", "± mesh, Hz"),
        column(with_intent, "", "MAC to intent")
    );
    for (i, mode) in modes.iter().enumerate() {
        let extra = findings.extra(i);
        let _ = write!(
            out,
            "<tr><td class=\"n\"><a href=\"#mode-{n}\">{n}</a></td><td class=\"n\">{}</td>",
            frequency(mode.frequency_hz, NARROW_SPACE),
            n = i + 1
        );
        if with_error {
            let error = extra.and_then(|e| e.mesh_error_hz).map_or_else(String::new, |e| format!("{e:.1}"));
            let _ = write!(out, "<td class=\"n\">{error}</td>");
        }
        let _ = write!(out, "<td>{}</td>", escape(&findings.what_moves(i)));
        if with_intent {
            let roles: Vec<String> = findings.roles(i).iter().map(|(mac, role)| format!("{mac:.3} {role}")).collect();
            let _ = write!(out, "<td>{}</td>", roles.join(", "));
        }
        let _ = writeln!(out, "<td>{}</td></tr>", shares(findings.effective_share(mode)));
    }
    let _ = writeln!(
        out,
        "</tbody>\n</table></div>\n<p>Effective mass as a share of the moving mass, {}: what a shake of the base along an axis \
         sees of the mode. {} unknowns.</p>",
        mass(findings.moving_mass_kg),
        grouped(findings.degrees_of_freedom as f64, 0, NARROW_SPACE)
    );
}

/// What a mode's image in the layout's mirrors is; empty where it was sought without them.
fn mirrored(extra: Option<&ModeExtra>) -> String {
    let said: Vec<String> =
        extra.iter().flat_map(|e| &e.mirrored).map(|i| format!("{} across {}", i.parity(), i.axis())).collect();
    if said.is_empty() { String::new() } else { format!(". Mirrored: {}", said.join(", ")) }
}

/// Which flexures hold most of a mode's strain energy, as a sentence; empty where none stands out.
fn strained(mode: &Mode) -> String {
    let mut shares: Vec<(usize, f64)> =
        mode.flexure_strain_share.iter().copied().enumerate().filter(|(_, s)| *s >= NAMED_SHARE).collect();
    shares.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    if shares.is_empty() {
        return String::new();
    }
    let named: Vec<String> = shares.iter().map(|(i, s)| format!("{} ({})", i + 1, percent(*s))).collect();
    format!(". Strain energy in flexures {}", named.join(", "))
}

/// The drawing of the layout and the list of flexures.
fn layout(out: &mut String, findings: &Findings, outline: &Outline) {
    let _ =
        write!(out, "<h2>The layout as understood</h2>\n<figure>\n{}</figure>\n", check_svg(outline, &findings.device));
    if outline.flexures.is_empty() {
        out.push_str("<p>No flexures.</p>\n");
        return;
    }
    out.push_str(
        "<table>\n<thead><tr><th class=\"n\">flexure</th><th class=\"n\">length × width</th></tr></thead>\n<tbody>\n",
    );
    for (i, flexure) in outline.flexures.iter().enumerate() {
        let size = format!("{} × {}", length_um(flexure.length_um), length_um(flexure.width_um));
        let _ = writeln!(out, "<tr><td class=\"n\">{}</td><td class=\"n\">{size}</td></tr>", i + 1);
    }
    out.push_str("</tbody>\n</table>\n");
}

/// What was read, so that the report can be tied to it.
fn inputs(out: &mut String, findings: &Findings) {
    out.push_str("<h2>Inputs</h2>\n<table>\n<thead><tr><th>file</th><th>SHA-256</th></tr></thead>\n<tbody>\n");
    for input in &findings.inputs {
        let _ =
            writeln!(out, "<tr><td>{}</td><td><code>{}</code></td></tr>", escape(&input.file), escape(&input.sha256));
    }
    let _ = writeln!(
        out,
        "<tr><td>all together</td><td><code>{}</code></td></tr>\n</tbody>\n</table>\n<p>modalith {}</p>",
        escape(&findings.input_sha256),
        escape(&findings.version)
    );
}

#[cfg(test)]
mod tests {
    use super::super::specimen::{assert_well_formed, findings, search, sensor};
    use super::*;

    fn report(findings: &Findings) -> String {
        let (outline, mesh, sampled, modes) = sensor();
        report_html(findings, &modes, &outline, &mesh, &sampled, "mode  frequency\n  1 <14 812>")
    }

    #[test]
    fn stands_alone_and_escapes() {
        let html = report(&findings());
        assert_well_formed(&html);
        assert_eq!(html, report(&findings()));
        assert!(
            !html.contains("<script") && !html.contains("src=") && !html.contains("@import") && !html.contains("<link")
        );
        // Nothing is fetched: the only address is the name space of SVG, the only links stay inside the file.
        assert_eq!(html.matches("http").count(), html.matches("xmlns=\"http://www.w3.org/2000/svg\"").count());
        assert_eq!(html.matches("href=").count(), html.matches("href=\"#mode-").count());
        for text in ["&lt;script&gt;alert(1)", "rocking &lt;y&gt;", "device &quot;a&quot;.json", "  1 &lt;14 812&gt;"] {
            assert!(html.contains(text), "{text}");
        }
        assert_eq!(html.matches("<figure").count(), 4);
        let mut ids: Vec<&str> = html.split(" id=\"").skip(1).filter_map(|s| s.split('"').next()).collect();
        let all = ids.len();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), all);
    }

    #[test]
    fn says_what_a_reader_must_know() {
        let html = report(&findings());
        for text in [
            "3 modes found below 40 kHz, 3 counted independently.",
            "14\u{202f}812.0</td><td class=\"n\">2.6</td><td>antiphase x</td><td>0.998 drive",
            "<li>flexure 2 is taller than wide</li>",
            "<li>anchor give</li>",
            "<li>replacement: flexure 1 as a &lt;beam&gt;</li>",
            "60 µm × 4 µm",
            &"cd".repeat(32),
            "design estimates",
            "not a safety certificate",
        ] {
            assert!(html.contains(text), "{text}");
        }
        assert!(!html.contains("class=\"answer bad\""));
        let coarse = search().with_error_bars(&[14812.04, 15634.4, 29655.0], &[2.6, 1.0, 29000.0]);
        let short = Findings { search: coarse, ..findings() };
        assert!(
            report(&short).contains("class=\"answer bad\"")
                && report(&short).contains("this mesh does not carry the modes")
        );
    }
}
