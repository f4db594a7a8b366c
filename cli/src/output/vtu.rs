//! VTK unstructured grids (XML, file format 1.0) of modes, of the mesh, and of one period of a mode.
//!
//! In: [`Sampled`] shapes or a mesh, coordinates µm in the layout frame. Out: the bytes of `.vtu` and `.pvd` files: binary
//! arrays packed with zlib, quadratic triangles (VTK cell type 22). The bytes depend on nothing but the input. Source: VTK
//! File Formats, "Unstructured Grid"; the collection file after the same chapter's XML conventions.

use super::OutputError;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::quality::smallest_angle;
use modalith_solver::mode::Sampled;
use std::fmt::Write as _;
use vtkio::model::{
    Attribute, Attributes, ByteOrder, CellType, Cells, DataArray, DataSet, IOBuffer, Piece, UnstructuredGridPiece,
    Version, VertexNumbers, Vtk,
};
use vtkio::xml::Compressor;

/// Lowest of zlib's range: higher levels take several times as long and save little on floating-point data.
const LEVEL: u32 = 1;

/// Every mode shape as a point vector on one grid.
///
/// Arrays are called `mode 01 14812.0 Hz` and scaled so that the largest displacement is 1 (shapes have no unit); under loads `at rest um`
/// is where the part rests, µm. Cell data:
/// `triangle` (of the mesh, from 0), `mass` and `flexure` (from 0; -1 where there is none).
///
/// # Errors
/// [`OutputError::Mismatch`] where lists do not belong together, [`OutputError::NotFinite`] for a shape or frequency that is no number.
pub fn modes(
    sampled: &Sampled,
    mesh: &Mesh,
    frequencies_hz: &[f64],
    rest_m: Option<&[[f64; 3]]>,
) -> Result<Vec<u8>, OutputError> {
    check(sampled)?;
    same("frequencies", frequencies_hz.len(), sampled.modes.len())?;
    let digits = frequencies_hz.len().to_string().len().max(2);
    let mut point = Vec::with_capacity(sampled.modes.len());
    for (i, (shape, hz)) in sampled.modes.iter().zip(frequencies_hz).enumerate() {
        if !hz.is_finite() {
            return Err(OutputError::NotFinite { what: "the frequency", mode: i + 1 });
        }
        let scale = scale_to_one(shape, i + 1)?;
        let values: Vec<f64> = shape.iter().flatten().map(|u| u * scale).collect();
        point.push(vectors(&format!("mode {:0digits$} {hz:.1} Hz", i + 1), values));
    }
    if let Some(rest) = rest_m {
        same("points at rest", rest.len(), sampled.points.len())?;
        point.push(vectors("at rest um", rest.iter().flatten().map(|m| m * 1e6).collect()));
    }
    let numbers_of = |list: &[Option<u16>]| -> Result<Vec<i32>, OutputError> {
        let number = |t: &u32| list.get(*t as usize).map(|m| m.map_or(-1, i32::from));
        sampled.triangle_of.iter().map(number).collect::<Option<_>>().ok_or(OutputError::Mismatch {
            what: "triangles of the mesh",
            found: list.len(),
            wanted: sampled.triangle_of.iter().max().map_or(0, |&t| t as usize + 1),
        })
    };
    let cell = vec![
        scalars("triangle", sampled.triangle_of.iter().map(|&t| t as i32).collect::<Vec<_>>()),
        scalars("mass", numbers_of(&mesh.mass_of)?),
        scalars("flexure", numbers_of(&mesh.flexure_of)?),
    ];
    grid(&sampled.points, &sampled.cells, Attributes { point, cell })
}

/// The mesh itself, curved edges included. Cell data: `smallest angle deg` (between chords), `mass` and `flexure` (from 0;
/// -1 where there is none).
///
/// # Errors
/// [`OutputError::Mismatch`] where marks are missing for some triangles.
pub fn mesh(mesh: &Mesh) -> Result<Vec<u8>, OutputError> {
    let n = mesh.triangles.len();
    same("triangles with their edges", mesh.triangle_edges.len(), n)?;
    same("triangles marked by mass", mesh.mass_of.len(), n)?;
    same("triangles marked by flexure", mesh.flexure_of.len(), n)?;
    let first_middle = mesh.points.len() as u32;
    let points: Vec<[f64; 2]> = mesh.points.iter().copied().chain(mesh.edges.iter().map(|e| e.middle)).collect();
    let six = |([a, b, c], [d, e, f]): (&[u32; 3], &[u32; 3])| {
        [*a, *b, *c, first_middle + d, first_middle + e, first_middle + f]
    };
    let cells: Vec<[u32; 6]> = mesh.triangles.iter().zip(&mesh.triangle_edges).map(six).collect();
    let angle = |t: &[u32; 3]| {
        let [a, b, c] = t.map(|i| mesh.points[i as usize]);
        smallest_angle(a, b, c)
    };
    let numbers = |list: &[Option<u16>]| list.iter().map(|m| m.map_or(-1, i32::from)).collect::<Vec<_>>();
    let cell = vec![
        scalars("smallest angle deg", mesh.triangles.iter().map(angle).collect::<Vec<_>>()),
        scalars("mass", numbers(&mesh.mass_of)),
        scalars("flexure", numbers(&mesh.flexure_of)),
    ];
    grid(&points, &cells, Attributes { point: Vec::new(), cell })
}

/// One period of a mode (counted from 0) as numbered grids and the collection file that lists them, named
/// `mode-01-000.vtu` … and `mode-01.pvd`. The point vector `displacement um` is the largest displacement `amplitude_um`
/// times the cosine of the phase; the collection's time is the share of the period, 0 to below 1.
///
/// # Errors
/// [`OutputError::Mismatch`] for a mode that is not there or no frames, [`OutputError::NotFinite`] for a shape that is no number.
pub fn series(
    sampled: &Sampled,
    mode: usize,
    frames: usize,
    amplitude_um: f64,
) -> Result<Vec<(String, Vec<u8>)>, OutputError> {
    check(sampled)?;
    let found = sampled.modes.len();
    let shape = sampled.modes.get(mode).ok_or(OutputError::Mismatch { what: "modes", found, wanted: mode + 1 })?;
    if frames == 0 {
        return Err(OutputError::Mismatch { what: "frames of a period", found: 0, wanted: 1 });
    }
    if !amplitude_um.is_finite() {
        return Err(OutputError::NotFinite { what: "the amplitude", mode: mode + 1 });
    }
    let scale = scale_to_one(shape, mode + 1)? * amplitude_um;
    let digits = frames.to_string().len().max(3);
    let mut files = Vec::with_capacity(frames + 1);
    let mut list = String::from(
        "<?xml version=\"1.0\"?>\n<VTKFile type=\"Collection\" version=\"1.0\" byte_order=\"LittleEndian\">\n<Collection>\n",
    );
    for frame in 0..frames {
        let share = frame as f64 / frames as f64;
        let factor = scale * (std::f64::consts::TAU * share).cos();
        let values: Vec<f64> = shape.iter().flatten().map(|u| u * factor).collect();
        let data = Attributes { point: vec![vectors("displacement um", values)], cell: Vec::new() };
        let name = format!("mode-{:02}-{frame:0digits$}.vtu", mode + 1);
        let _ = writeln!(list, "<DataSet timestep=\"{share}\" part=\"0\" file=\"{name}\"/>");
        files.push((name, grid(&sampled.points, &sampled.cells, data)?));
    }
    list.push_str("</Collection>\n</VTKFile>\n");
    files.push((format!("mode-{:02}.pvd", mode + 1), list.into_bytes()));
    Ok(files)
}

/// One over the largest displacement of a shape; 0 for a shape at rest.
fn scale_to_one(shape: &[[f64; 3]], mode: usize) -> Result<f64, OutputError> {
    if !shape.iter().flatten().all(|u| u.is_finite()) {
        return Err(OutputError::NotFinite { what: "the shape", mode });
    }
    let largest = shape.iter().map(|u| u[0].hypot(u[1]).hypot(u[2])).fold(0.0, f64::max);
    Ok(if largest > 0.0 { 1.0 / largest } else { 0.0 })
}

/// Whether the lists of a sampling belong together.
fn check(sampled: &Sampled) -> Result<(), OutputError> {
    same("cells with their triangle", sampled.triangle_of.len(), sampled.cells.len())?;
    for shape in &sampled.modes {
        same("points of a shape", shape.len(), sampled.points.len())?;
    }
    Ok(())
}

fn same(what: &'static str, found: usize, wanted: usize) -> Result<(), OutputError> {
    if found == wanted { Ok(()) } else { Err(OutputError::Mismatch { what, found, wanted }) }
}

fn scalars(name: &str, data: impl Into<IOBuffer>) -> Attribute {
    Attribute::DataArray(DataArray::scalars(name, 1).with_data(data))
}

fn vectors(name: &str, data: Vec<f64>) -> Attribute {
    Attribute::DataArray(DataArray::vectors(name).with_data(data))
}

/// A grid of six-node triangles as a file.
fn grid(points: &[[f64; 2]], cells: &[[u32; 6]], data: Attributes) -> Result<Vec<u8>, OutputError> {
    // The writer panics where a count does not fit 32 bits.
    if points.len() > u32::MAX as usize / 3 || cells.len() > u32::MAX as usize / 6 {
        return Err(OutputError::Vtk(format!("{} points and {} cells are too many", points.len(), cells.len())));
    }
    if let Some(&far) = cells.iter().flatten().find(|&&i| i as usize >= points.len()) {
        return Err(OutputError::Mismatch { what: "points", found: points.len(), wanted: far as usize + 1 });
    }
    let piece = UnstructuredGridPiece {
        points: points.iter().flat_map(|&[x, y]| [x, y, 0.0]).collect::<Vec<f64>>().into(),
        cells: Cells {
            cell_verts: VertexNumbers::XML {
                connectivity: cells.iter().flatten().map(|&i| u64::from(i)).collect(),
                offsets: (1..=cells.len() as u64).map(|i| 6 * i).collect(),
            },
            types: vec![CellType::QuadraticTriangle; cells.len()],
        },
        data,
    };
    let vtk = Vtk {
        version: Version::new_xml(1, 0),
        title: String::new(),
        byte_order: ByteOrder::LittleEndian,
        data: DataSet::UnstructuredGrid { meta: None, pieces: vec![Piece::Inline(Box::new(piece))] },
        file_path: None,
    };
    let file = vtk.try_into_xml_format(Compressor::ZLib, LEVEL).map_err(|e| OutputError::Vtk(e.to_string()))?;
    let mut out = Vec::new();
    file.write(&mut out).map_err(|e| OutputError::Vtk(e.to_string()))?;
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::specimen::plate;

    fn read(bytes: &[u8]) -> UnstructuredGridPiece {
        let DataSet::UnstructuredGrid { mut pieces, .. } = Vtk::parse_xml(bytes).unwrap().data else {
            panic!("no grid")
        };
        let Piece::Inline(piece) = pieces.remove(0) else { panic!("no piece") };
        *piece
    }

    fn array(attribute: &Attribute) -> (&str, Vec<f64>) {
        let Attribute::DataArray(a) = attribute else { panic!("no array") };
        (&a.name, a.data.clone().cast_into::<f64>().unwrap())
    }

    /// Where a part rests stands beside its modes, in the unit of the points.
    #[test]
    fn rest_reads_back() {
        let (mesh, sampled) = plate();
        let rest: Vec<[f64; 3]> = sampled.points.iter().map(|p| [0.0, 0.0, 1e-9 * p[0]]).collect();
        let grid = read(&modes(&sampled, &mesh, &[14812.04, 15634.4], Some(&rest)).unwrap());
        let (name, values) = array(&grid.data.point[2]);
        assert_eq!(name, "at rest um");
        assert!(sampled.points.iter().enumerate().all(|(i, p)| (values[3 * i + 2] - 1e-3 * p[0]).abs() < 1e-15));
        assert!(modes(&sampled, &mesh, &[1.0, 2.0], Some(&rest[1..])).is_err());
    }

    #[test]
    fn modes_read_back() {
        let (mesh, sampled) = plate();
        let bytes = modes(&sampled, &mesh, &[14812.04, 15634.4], None).unwrap();
        assert_eq!(bytes, modes(&sampled, &mesh, &[14812.04, 15634.4], None).unwrap());
        let grid = read(&bytes);
        assert_eq!(grid.cells.types, vec![CellType::QuadraticTriangle; 16]);
        let (name, values) = array(&grid.data.point[0]);
        assert_eq!(name, "mode 01 14812.0 Hz");
        let largest = values.chunks(3).map(|u| u[0].hypot(u[1]).hypot(u[2])).fold(0.0, f64::max);
        assert!((largest - 1.0).abs() < 1e-15);
        let points = grid.points.cast_into::<f64>().unwrap();
        for (i, p) in sampled.points.iter().enumerate() {
            assert_eq!(points[3 * i..3 * i + 3], [p[0], p[1], 0.0]);
            let ratio = values[3 * i] * sampled.modes[0].iter().map(|u| u[0].abs()).fold(0.0, f64::max);
            assert!((ratio - sampled.modes[0][i][0]).abs() < 1e-12);
        }
        let names: Vec<&str> = grid.data.cell.iter().map(|a| array(a).0).collect();
        assert_eq!(names, ["triangle", "mass", "flexure"]);
        assert_eq!(array(&grid.data.cell[1]).1[0], 0.0);
        assert_eq!(array(&grid.data.cell[1]).1[15], -1.0);
    }

    #[test]
    fn mesh_reads_back() {
        let (plate, _) = plate();
        let grid = read(&mesh(&plate).unwrap());
        let (name, angles) = array(&grid.data.cell[0]);
        assert_eq!(name, "smallest angle deg");
        // Cells of 25 by 20 µm.
        assert!(angles.iter().all(|a| (a - (0.8f64).atan().to_degrees()).abs() < 1e-9));
        assert_eq!(grid.num_points(), plate.points.len() + plate.edges.len());
    }

    #[test]
    fn a_period_runs_from_one_extreme_to_the_other() {
        let (_, sampled) = plate();
        let files = series(&sampled, 1, 4, 2.0).unwrap();
        let names: Vec<&str> = files.iter().map(|f| f.0.as_str()).collect();
        assert_eq!(names, ["mode-02-000.vtu", "mode-02-001.vtu", "mode-02-002.vtu", "mode-02-003.vtu", "mode-02.pvd"]);
        let top = |i: usize| {
            array(&read(&files[i].1).data.point[0])
                .1
                .iter()
                .copied()
                .fold(0.0, |a: f64, b| if b.abs() > a.abs() { b } else { a })
        };
        assert!((top(0) - 2.0).abs() < 1e-12 && top(1).abs() < 1e-12 && (top(2) + 2.0).abs() < 1e-12);
        let list = String::from_utf8(files[4].1.clone()).unwrap();
        assert!(list.contains("timestep=\"0.75\" part=\"0\" file=\"mode-02-003.vtu\""), "{list}");
    }

    #[test]
    fn what_does_not_fit_is_refused() {
        let (mesh, mut sampled) = plate();
        assert!(matches!(modes(&sampled, &mesh, &[1.0], None), Err(OutputError::Mismatch { .. })));
        assert!(matches!(modes(&sampled, &mesh, &[1.0, f64::NAN], None), Err(OutputError::NotFinite { mode: 2, .. })));
        assert!(matches!(series(&sampled, 2, 4, 1.0), Err(OutputError::Mismatch { .. })));
        assert!(matches!(series(&sampled, 0, 0, 1.0), Err(OutputError::Mismatch { .. })));
        sampled.modes[0][3][2] = f64::INFINITY;
        assert!(matches!(modes(&sampled, &mesh, &[1.0, 2.0], None), Err(OutputError::NotFinite { mode: 1, .. })));
        sampled.modes[0].pop();
        assert!(matches!(modes(&sampled, &mesh, &[1.0, 2.0], None), Err(OutputError::Mismatch { .. })));
    }
}
