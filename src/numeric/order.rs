//! Order statistics: the median, quantiles and the spread that they tell, which a minority of wild values cannot move.

/// The standard deviation of normal values as a multiple of the median of their absolute deviations: 1/Φ⁻¹(3/4)
/// (F. R. Hampel, 1974).
pub const SIGMA_PER_MAD: f64 = 1.4826;

/// The median, by selection in linear time; the mean of the two middle values of an even count. `None` of nothing.
/// The values are reordered.
#[must_use]
pub fn median(values: &mut [f64]) -> Option<f64> {
    let even = values.len().is_multiple_of(2);
    let middle = values.len() / 2;
    if values.is_empty() {
        return None;
    }
    let (below, &mut upper, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    if even {
        let lower = below.iter().copied().max_by(f64::total_cmp)?;
        return Some(f64::midpoint(lower, upper));
    }
    Some(upper)
}

/// The value below which a share (from 0 to 1) of the values lies, to the nearest value. `None` of nothing. The values
/// are reordered.
#[must_use]
pub fn quantile(values: &mut [f64], share: f64) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let last = values.len() - 1;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped between the ends")]
    let at = (share.clamp(0.0, 1.0) * last as f64).round() as usize;
    Some(*values.select_nth_unstable_by(at.min(last), f64::total_cmp).1)
}

/// The standard deviation that the median of the absolute values tells, for values about zero.
#[must_use]
pub fn sigma_about_zero(values: &mut [f64]) -> Option<f64> {
    for v in values.iter_mut() {
        *v = v.abs();
    }
    median(values).map(|m| m * SIGMA_PER_MAD)
}

/// Running sums of the values, starting with zero: the sum of a stretch is the difference of two.
#[must_use]
pub fn running_sums(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut sum = 0.0;
    std::iter::once(0.0)
        .chain(values.map(|v| {
            sum += v;
            sum
        }))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_median_of_an_even_count_is_the_mean_of_the_middle_two() {
        assert_eq!(median(&mut [4.0, 1.0, 3.0, 2.0]), Some(2.5));
        assert_eq!(median(&mut [9.0, 1.0, 5.0]), Some(5.0));
        assert_eq!(median(&mut []), None);
    }

    #[test]
    fn quantiles_reach_from_the_least_to_the_greatest() {
        let values = || [3.0, 1.0, 4.0, 1.5, 9.0];
        assert_eq!(quantile(&mut values(), 0.0), Some(1.0));
        assert_eq!(quantile(&mut values(), 1.0), Some(9.0));
        assert_eq!(quantile(&mut values(), 0.5), Some(3.0));
    }

    /// Normal quantiles at evenly spread probabilities have standard deviation one. Source: the standard normal's quartile,
    /// 0.67449 (tables).
    #[test]
    fn the_spread_of_values_whose_quartile_is_the_normals_is_one() {
        let mut values = [-2.0, -0.674_49, 0.674_49, 0.1, 1.5, -0.2, 0.674_49];
        let sigma = sigma_about_zero(&mut values).unwrap();
        assert!((sigma - 1.0).abs() < 1e-4, "{sigma}");
    }
}
