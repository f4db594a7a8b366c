//! Flattens a GDSII file and prints what it holds as JSON, for comparison with other libraries:
//! `cargo run --release -p modalith-mesher --example gds_areas -- FILE [CELL] [--outlines] [--chord-um E]`.
//!
//! Per layer and datatype: the number of polygons, the sum of their areas (µm², overlaps counted twice), the bounding box
//! (µm) and, on request, every outline. Then the texts, and the seconds for reading and flattening.

use modalith_mesher::gdsii::{Selection, flatten, read};
use modalith_mesher::geometry::{bounds, ring_area};
use std::error::Error;
use std::io::Write;
use std::time::Instant;

fn main() -> Result<(), Box<dyn Error>> {
    let (mut file, mut cell, mut outlines) = (None, None, false);
    let mut selection = Selection::default();
    let mut arguments = std::env::args().skip(1);
    while let Some(argument) = arguments.next() {
        match argument.as_str() {
            "--outlines" => outlines = true,
            "--chord-um" => selection.chord_error_um = arguments.next().ok_or("--chord-um needs a length")?.parse()?,
            _ if file.is_none() => file = Some(argument),
            _ => cell = Some(argument),
        }
    }
    let bytes = std::fs::read(file.ok_or("name a GDSII file")?)?;
    let start = Instant::now();
    let library = read(&bytes)?;
    let read_s = start.elapsed().as_secs_f64();
    let flat = flatten(&library, cell.as_deref(), &selection)?;
    let flatten_s = start.elapsed().as_secs_f64() - read_s;

    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let mut layers = Vec::new();
    for (layer, polygons) in &flat.polygons {
        let area: f64 = polygons.iter().map(|p| ring_area(&p.ring)).sum();
        let extent = bounds(polygons.iter().flat_map(|p| &p.ring)).unwrap_or_default();
        let rings: Vec<_> = if outlines { polygons.iter().map(|p| &p.ring).collect() } else { Vec::new() };
        layers.push(format!(
            r#"{{"layer": {}, "datatype": {}, "polygons": {}, "area_um2": {area:?}, "bounds_um": {extent:?}, "outlines": {rings:?}}}"#,
            layer.layer,
            layer.datatype,
            polygons.len(),
        ));
    }
    let mut texts = Vec::new();
    for (layer, found) in &flat.texts {
        for text in found {
            let (number, kind) = (layer.layer, layer.datatype);
            texts.push(format!(
                r#"{{"layer": {number}, "texttype": {kind}, "at_um": {:?}, "text": {:?}}}"#,
                text.at, text.text
            ));
        }
    }
    let (name, layers, texts) = (&flat.cell, layers.join(",\n"), texts.join(",\n"));
    writeln!(out, r#"{{"cell": {name:?}, "read_s": {read_s}, "flatten_s": {flatten_s},"#)?;
    writeln!(out, "\"layers\": [{layers}],\n\"texts\": [{texts}]}}")?;
    Ok(())
}
