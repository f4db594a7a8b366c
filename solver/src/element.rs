//! One family of elements: triangles of order p in the plane times Legendre polynomials through the thickness.
//!
//! Displacement along axis c is u_c(x, y, z) = Σ_k P_k(2z/t) Σ_a N_a(x, y) q_{ack}, with hierarchic shape functions N_a
//! of order p on a triangle with quadratic (curved) sides. The unknowns of degree 1 through the thickness are the
//! displacement of the upper face relative to mid-layer, so all unknowns are lengths.
//!
//! The lowest member, in-plane displacement linear in z and deflection constant, with σ_zz = 0 and the shear
//! correction κ = 5/6 (Reissner, J. Appl. Mech. 12 (1945) A69), is the shear-flexible shell. Higher degrees with the
//! full law are solids of the same family. Plain displacements throughout: no reduced integration, no mixed fields, so
//! every element passes its patch tests by construction and frequencies converge from above.
//! Why this and no other: validation/ELEMENTS.md.

pub mod basis;
pub mod beam;
pub mod geometric;
pub mod plane;
pub mod prism;
pub mod quadrature;
pub mod through;
