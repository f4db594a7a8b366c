//! What a mode shape says: energies by direction, mass and flexure, effective masses, rigid motion of named masses.
//! One pass over the triangles for all modes of a system.

use super::mass::{RigidBody, bodies, rigid};
use super::softness::twist_softness;
use super::{MassMotion, Mode};
use crate::element::prism::Prism;
use crate::system::{AddedMass, Beams, ElementMatrices, Motion, Structure, SystemError};
use modalith_mesher::mesh::Mesh;
use nalgebra::{DMatrix, DVector, DVectorView, Vector3, Vector6};
use rayon::prelude::*;

/// Triangles a worker sums before the partial sums are added in order: results do not depend on threads.
const CHUNK: usize = 256;

/// Sums over triangles for one mode.
#[derive(Clone, Default)]
struct Sums {
    kinetic: [f64; 3],
    participation: [f64; 6],
    strain: f64,
    twist: f64,
    lacked: f64,
    mass_kinetic: Vec<f64>,
    mass_strain: Vec<f64>,
    mass_projection: Vec<[f64; 6]>,
    flexure_strain: Vec<f64>,
}

impl Sums {
    fn new(masses: usize, flexures: usize) -> Self {
        Self {
            mass_kinetic: vec![0.0; masses],
            mass_strain: vec![0.0; masses],
            mass_projection: vec![[0.0; 6]; masses],
            flexure_strain: vec![0.0; flexures],
            ..Self::default()
        }
    }

    fn add(&mut self, other: &Self) {
        let add = |a: &mut [f64], b: &[f64]| a.iter_mut().zip(b).for_each(|(a, b)| *a += b);
        add(&mut self.kinetic, &other.kinetic);
        add(&mut self.participation, &other.participation);
        add(&mut self.mass_kinetic, &other.mass_kinetic);
        add(&mut self.mass_strain, &other.mass_strain);
        add(&mut self.flexure_strain, &other.flexure_strain);
        for (a, b) in self.mass_projection.iter_mut().zip(&other.mass_projection) {
            add(a, b);
        }
        self.strain += other.strain;
        self.twist += other.twist;
        self.lacked += other.lacked;
    }
}

/// Describes modes of one motion of a structure: ω² in rad²/s², backward error, M-normalised shape over its free unknowns.
///
/// # Errors
/// A curved triangle that folds over.
pub fn describe(
    structure: &Structure,
    motion: &Motion,
    spectrum: &[(f64, f64, Vec<f64>)],
) -> Result<Vec<Mode>, SystemError> {
    let (mesh, full, added) = (structure.mesh(), structure.layer(), structure.added_mass());
    let on_mesh = mesh.flexure_of.iter().flatten().map(|&f| usize::from(f) + 1).max().unwrap_or(0);
    let flexures = motion.beams.flexures().max(on_mesh);
    let bodies = bodies(mesh, full, added)?;
    let prisms = ElementMatrices::new(mesh, &motion.layer);
    let bars = bars(mesh, on_mesh);
    let twist: Vec<Vec<Prism>> = bars.iter().map(|&angle| motion.layer.twist_prisms(angle)).collect();
    let bends = motion.layer.fields.iter().all(|f| !f.is_in_plane());
    let softness = if bends { twist_softness(structure) } else { Vec::new() };
    let triangles: Vec<usize> = (0..mesh.triangles.len()).collect();
    let empty = || vec![Sums::new(bodies.len(), flexures); spectrum.len()];
    let shapes: Vec<&[f64]> = spectrum.iter().map(|m| m.2.as_slice()).collect();
    let partial = triangles
        .par_chunks(CHUNK)
        .map(|chunk| {
            let mut sums = empty();
            for &t in chunk {
                let plane = prisms.integrate(t)?;
                let set = motion.layer.regions.set_of(t);
                let element = Element {
                    stiffness: prisms.of(t).stiffness(&plane) * added.stiffness(t, bends),
                    twist: mesh.flexure_of[t].map(|f| twist[usize::from(f)][set].stiffness(&plane)),
                    value: plane.value * added.solid(t),
                    functions: prisms.table().linear([1.0; 6]).len(),
                    softness: softness.get(t).copied().unwrap_or(0.0),
                };
                let motions_about = |frame| Motions::new(&prisms, frame, motion, t);
                let whole = motions_about(([0.0; 2], 1.0));
                let body = mesh.mass_of[t].map(|m| &bodies[usize::from(m)]);
                let own = body.map(|b| motions_about((b.centre_m, b.size_m)));
                let q = motion.unknowns.gather_all(mesh, t, &shapes);
                element.add(&mut sums, mesh, &prisms, added, t, &q, (&whole, own.as_ref()));
            }
            Ok(sums)
        })
        .collect::<Result<Vec<_>, SystemError>>()?;
    let mut sums = empty();
    for part in &partial {
        sums.iter_mut().zip(part).for_each(|(a, b)| a.add(b));
    }
    if !motion.beams.is_empty() {
        add_beams(&motion.beams, &mut sums, spectrum);
    }
    Ok(sums.iter().zip(spectrum).map(|(sum, mode)| finish(mesh, &bodies, sum, mode)).collect())
}

/// Adds what beams and appendages hold of every mode.
fn add_beams(beams: &Beams, sums: &mut [Sums], spectrum: &[(f64, f64, Vec<f64>)]) {
    let shapes: Vec<&[f64]> = spectrum.iter().map(|m| m.2.as_slice()).collect();
    beams.particles(&shapes, |particle, displacements| {
        let (mass_kg, at) = (particle.mass_kg, Vector3::from(particle.at_m));
        for (sum, u) in sums.iter_mut().zip(displacements) {
            let moment = at.cross(&Vector3::from(*u));
            for (k, speed) in u.iter().enumerate() {
                sum.kinetic[k] += mass_kg * speed * speed;
                sum.participation[k] += mass_kg * speed;
                sum.participation[3 + k] += mass_kg * moment[k];
            }
        }
    });
    for (sum, shape) in sums.iter_mut().zip(shapes) {
        for (flexure, [strain, twist]) in beams.strain(shape) {
            sum.flexure_strain[flexure] += strain;
            sum.strain += strain;
            sum.twist += twist;
        }
    }
}

/// Direction of every flexure, radians from x: the long axis of its area.
fn bars(mesh: &Mesh, flexures: usize) -> Vec<f64> {
    // Area, first and second moments by triangle corners: a bar's axis needs no more.
    let mut moments = vec![[0.0; 6]; flexures];
    for (t, flexure) in mesh.flexure_of.iter().enumerate() {
        let Some(f) = flexure else { continue };
        for corner in mesh.triangles[t] {
            let ([x, y], weight) = (mesh.points[corner as usize], mesh.area(t));
            let sums = [1.0, x, y, x * x, y * y, x * y].map(|v| weight * v);
            moments[usize::from(*f)].iter_mut().zip(sums).for_each(|(m, s)| *m += s);
        }
    }
    moments
        .iter()
        .map(|[a, x, y, xx, yy, xy]| {
            let (xx, yy, xy) = (xx - x * x / a, yy - y * y / a, xy - x * y / a);
            0.5 * (2.0 * xy).atan2(xx - yy)
        })
        .collect()
}

/// Coefficients of six rigid motions on one triangle, by field.
struct Motions(Vec<[Option<DVector<f64>>; 6]>);

impl Motions {
    /// `frame`: the point about which they turn, m, and the length by which turns are scaled to translations, m.
    fn new(prisms: &ElementMatrices, frame: ([f64; 2], f64), motion: &Motion, t: usize) -> Self {
        let (sides, half) = (prisms.sides_m(t), 0.5 * motion.layer.thickness_m);
        let of =
            |field| [0, 1, 2, 3, 4, 5].map(|i| rigid(prisms, &sides, half, frame, i, field).map(DVector::from_vec));
        Self(prisms.of(t).fields().iter().map(|&f| of(f)).collect())
    }

    /// Adds the momentum of one field along each of the motions.
    fn project(&self, field: usize, momentum: &DVectorView<'_, f64>, sums: &mut [f64; 6]) {
        for (sum, motion) in sums.iter_mut().zip(&self.0[field]) {
            if let Some(r) = motion {
                *sum += momentum.dot(r);
            }
        }
    }
}

struct Element {
    stiffness: DMatrix<f64>,
    twist: Option<DMatrix<f64>>,
    value: DMatrix<f64>,
    /// Shape functions a field.
    functions: usize,
    /// What a shell lacks of its strip's twist, a share.
    softness: f64,
}

impl Element {
    /// Adds what the triangle holds of every mode; modes are the columns of `q`.
    #[allow(clippy::too_many_arguments)]
    fn add(
        &self,
        sums: &mut [Sums],
        mesh: &Mesh,
        prisms: &ElementMatrices,
        added: &AddedMass,
        t: usize,
        q: &DMatrix<f64>,
        (whole, own_motions): (&Motions, Option<&Motions>),
    ) {
        let prism = prisms.of(t);
        let fields = prism.fields();
        let (flexure, mass) = (mesh.flexure_of[t].map(usize::from), mesh.mass_of[t].map(usize::from));
        let forces = &self.stiffness * q;
        for ((sum, q), force) in sums.iter_mut().zip(q.column_iter()).zip(forces.column_iter()) {
            let strain = q.dot(&force);
            sum.strain += strain;
            sum.lacked += self.softness * strain;
            if let Some(f) = flexure {
                sum.flexure_strain[f] += strain;
            }
            if let Some(m) = mass {
                sum.mass_strain[m] += strain;
            }
        }
        if let Some(twist) = &self.twist {
            let bent = |row: usize, q: f64| if fields[row % fields.len()].is_in_plane() { 0.0 } else { q };
            let bending = DMatrix::from_fn(q.nrows(), q.ncols(), |row, mode| bent(row, q[(row, mode)]));
            let forces = twist * &bending;
            for ((sum, q), force) in sums.iter_mut().zip(bending.column_iter()).zip(forces.column_iter()) {
                sum.twist += q.dot(&force);
            }
        }
        for (f, field) in fields.iter().enumerate() {
            let own = DMatrix::from_fn(self.functions, q.ncols(), |a, mode| q[(a * fields.len() + f, mode)]);
            let factor = prism.mass_factor(f) + if field.degree == 0 { added.per_area(t) } else { 0.0 };
            let momenta = &self.value * &own * factor;
            for ((sum, own), momentum) in sums.iter_mut().zip(own.column_iter()).zip(momenta.column_iter()) {
                let kinetic = momentum.dot(&own);
                sum.kinetic[usize::from(field.axis)] += kinetic;
                whole.project(f, &momentum, &mut sum.participation);
                if let (Some(m), Some(motions)) = (mass, own_motions) {
                    sum.mass_kinetic[m] += kinetic;
                    motions.project(f, &momentum, &mut sum.mass_projection[m]);
                }
            }
        }
    }
}

fn finish(mesh: &Mesh, bodies: &[RigidBody], sum: &Sums, mode: &(f64, f64, Vec<f64>)) -> Mode {
    let share = |part: f64, whole: f64| if whole > 0.0 { (part / whole).clamp(0.0, 1.0) } else { 0.0 };
    let kinetic: f64 = sum.kinetic.iter().sum();
    let masses = bodies
        .iter()
        .enumerate()
        .map(|(m, body)| {
            let projection = Vector6::from(sum.mass_projection[m]);
            let motion = body.inverse.as_ref().map_or_else(Vector6::zeros, |c| c.solve(&projection));
            MassMotion {
                name: mesh.mass_names[m].clone(),
                mass_kg: body.mass_kg,
                centre_um: body.centre_m.map(|x| x * 1e6),
                inertia_kg_m2: [3, 4, 5].map(|i| [3, 4, 5].map(|j| body.products[(i, j)] * body.size_m.powi(2))),
                translation: [motion[0], motion[1], motion[2]],
                turn: [3, 4, 5].map(|i| motion[i] / body.size_m),
                motion_share: [0, 1, 2, 3, 4, 5]
                    .map(|i| share(body.products[(i, i)] * motion[i] * motion[i], sum.mass_kinetic[m])),
                kinetic_share: share(sum.mass_kinetic[m], kinetic),
                rigid_share: share(motion.dot(&projection), sum.mass_kinetic[m]),
            }
        })
        .collect();
    Mode {
        frequency_hz: mode.0.max(0.0).sqrt() / std::f64::consts::TAU,
        backward_error: mode.1,
        kinetic_share: sum.kinetic.map(|k| share(k, kinetic)),
        participation: sum.participation,
        masses,
        flexure_strain_share: sum.flexure_strain.iter().map(|&s| share(s, sum.strain)).collect(),
        mass_strain_share: sum.mass_strain.iter().map(|&s| share(s, sum.strain)).collect(),
        twist_strain_share: share(sum.twist, sum.strain),
        shell_twist_share: share(sum.lacked, sum.strain),
        shape: mode.2.clone(),
    }
}

#[cfg(test)]
mod tests {
    use crate::material::Law;
    use crate::modal::{Wanted, modes};
    use crate::mode::rigid_mass;
    use crate::system::{Layer, Structure, Supports};
    use modalith_mesher::mesh::Mesh;
    use nalgebra::{Matrix6, Vector6};

    /// The rigid modes of a free part span its rigid motions, so the products of their participations add up to its rigid
    /// mass matrix about the layout's origin, turns and height included.
    #[test]
    fn participations_of_a_free_part_give_its_rigid_mass() {
        let plate = Mesh::rectangle(60.0, 40.0, 2, 2).unwrap();
        let law = Law::isotropic(2330.0, 160e9, 0.22).unwrap();
        for layer in [Layer::shell(&law, 20.0), Layer::solid_by_region(&law, 20.0, &plate)] {
            let modal =
                modes(&Structure::new(plate.clone(), layer.clone(), Supports::none()), Wanted::Lowest(6), &|_| {})
                    .unwrap();
            let sum: Matrix6<f64> =
                modal.modes[..6].iter().map(|m| Vector6::from(m.participation)).map(|p| p * p.transpose()).sum();
            let expected = rigid_mass(&plate, &layer, [0.0, 0.0]).unwrap();
            let scale = |i: usize| expected[(i, i)].sqrt();
            let off = Matrix6::from_fn(|i, j| (sum[(i, j)] - expected[(i, j)]) / (scale(i) * scale(j)));
            assert!(off.amax() < 1e-9, "{off:e}");
        }
    }
}
