//! The edge polynomial S(u) = u^4 (35 - 84 u + 70 u^2 - 20 u^3).

/// S and its first four derivatives in u; 0 below u = 0 and S = 1 above u = 1.
pub fn smoothstep(u: f64) -> [f64; 5] {
    let _ = u;
    unimplemented!("H3")
}
