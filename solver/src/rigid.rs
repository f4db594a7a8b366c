//! Small rigid motions and loads, and how the 6 × 6 matrices between them change with frame and point.
//!
//! A motion is (u_x, u_y, u_z, φ_x, φ_y, φ_z), displacement of a point in metres and turn in radians; a load is the force
//! and moment (N, N m) that does work on it. A flexibility is a motion per load, a stiffness a load per motion.

use nalgebra::{Matrix3, Matrix6, Vector3};

/// The motion at a point `offset` metres away per motion at the point: u' = u + φ × offset, φ' = φ.
///
/// With T this matrix, a load at the far point is worth Tᵀ times it at the near point, a flexibility F becomes T F Tᵀ and
/// a mass or stiffness K becomes T⁻ᵀ K T⁻¹, where T⁻¹ is the transport by −`offset`.
///
/// ```
/// use modalith_solver::rigid::transport;
/// use nalgebra::{Vector3, Vector6};
/// let turn_about_z = Vector6::new(0.0, 0.0, 0.0, 0.0, 0.0, 1.0);
/// let moved = transport(&Vector3::new(2.0, 0.0, 0.0)) * turn_about_z;
/// assert_eq!(moved[1], 2.0);
/// ```
pub fn transport(offset: &Vector3<f64>) -> Matrix6<f64> {
    let mut t = Matrix6::identity();
    t.fixed_view_mut::<3, 3>(0, 3).copy_from(&-offset.cross_matrix());
    t
}

/// The components of a motion or load in other axes per components in the old ones; the rows of `axes` are the new
/// axes' unit vectors in the old ones.
///
/// With Q this matrix, any flexibility, stiffness or mass becomes Q F Qᵀ.
pub fn turn(axes: &Matrix3<f64>) -> Matrix6<f64> {
    let mut q = Matrix6::zeros();
    q.fixed_view_mut::<3, 3>(0, 0).copy_from(axes);
    q.fixed_view_mut::<3, 3>(3, 3).copy_from(axes);
    q
}

/// Unit vectors, as rows, of axes turned by `angle` radians about z, anticlockwise seen from +z: x along the angle.
pub fn axes_at(angle: f64) -> Matrix3<f64> {
    let (s, c) = angle.sin_cos();
    Matrix3::new(c, s, 0.0, -s, c, 0.0, 0.0, 0.0, 1.0)
}

/// Components along axes turned by `angle` (rad) about z from those along the present ones.
pub fn turned(angle: f64) -> Matrix6<f64> {
    turn(&axes_at(angle))
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Vector6;

    #[test]
    fn there_and_back() {
        let offset = Vector3::new(0.3, -2.0, 0.7);
        assert!((transport(&offset) * transport(&-offset) - Matrix6::identity()).norm() < 1e-15);
        let q = turn(&axes_at(0.4));
        assert!((q * q.transpose() - Matrix6::identity()).norm() < 1e-15);
    }

    /// A force at the far point has the moment offset × force about the near one, and both do the same work.
    #[test]
    fn loads_go_with_the_transpose() {
        let offset = Vector3::new(1.0, 2.0, 3.0);
        let force = Vector3::new(-1.0, 0.5, 2.0);
        let load = Vector6::new(force.x, force.y, force.z, 0.0, 0.0, 0.0);
        let near = transport(&offset).transpose() * load;
        assert!((near.fixed_rows::<3>(3) - offset.cross(&force)).norm() < 1e-15);
    }

    /// In axes turned by 90° what pointed along y points along x.
    #[test]
    fn turned_axes() {
        let along_y = Vector6::new(0.0, 1.0, 0.0, 0.0, 0.0, 0.0);
        assert!(((turn(&axes_at(std::f64::consts::FRAC_PI_2)) * along_y)[0] - 1.0).abs() < 1e-15);
    }
}
