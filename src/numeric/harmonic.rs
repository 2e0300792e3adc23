//! Harmonics of an angle.

/// One, and then cosine and sine of every order at an angle (radians).
#[must_use]
pub fn regressors(orders: &[u32], angle: f64) -> Vec<f64> {
    let mut out = Vec::with_capacity(1 + 2 * orders.len());
    out.push(1.0);
    for &order in orders {
        let (s, c) = (f64::from(order) * angle).sin_cos();
        out.extend([c, s]);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quarter_turn_of_the_second_order_is_half_a_wave() {
        let at = regressors(&[1, 2], std::f64::consts::FRAC_PI_2);
        let expected = [1.0, 0.0, 1.0, -1.0, 0.0];
        assert!(at.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-15), "{at:?}");
    }
}
