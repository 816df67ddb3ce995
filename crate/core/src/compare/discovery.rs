//! Which of many differences are real, with the share of false ones held down.

use crate::math::small::tail;

/// Marks the differences that stand at a false-discovery rate, from their z.
///
/// **Formula** sort the two-sided probabilities `p_1 <= ... <= p_m` of a normal z; all up to the
/// largest k with `p_k <= rate k / m` stand.
/// **Source** Benjamini and Hochberg, Journal of the Royal Statistical Society B 57 (1995) 289; it
/// holds for positively dependent cells too: Benjamini and Yekutieli, Annals of Statistics 29
/// (2001) 1165.
/// **Missing data** an unknown z never stands and is not counted.
#[must_use]
pub fn standing(z: &[Option<f64>], rate: f64) -> Vec<bool> {
    let mut order: Vec<(f64, usize)> =
        z.iter().enumerate().filter_map(|(k, z)| z.filter(|z| z.is_finite()).map(|z| (tail(z), k))).collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let m = order.len() as f64;
    let last = order
        .iter()
        .enumerate()
        .rev()
        .find(|(rank, (p, _))| *p <= rate * (*rank + 1) as f64 / m)
        .map(|(rank, _)| rank);
    let mut out = vec![false; z.len()];
    if let Some(last) = last {
        for (_, k) in &order[..=last] {
            out[*k] = true;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stands_as_in_the_paper() {
        // The fifteen probabilities of Benjamini and Hochberg 1995, section 3.3: four stand at 5 %.
        let p = [
            0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719,
            0.6528, 0.7590, 1.0,
        ];
        // z from p by bisection.
        let z: Vec<Option<f64>> = p
            .iter()
            .map(|&p| {
                let (mut low, mut high) = (0.0, 10.0);
                for _ in 0..200 {
                    let middle = 0.5 * (low + high);
                    if tail(middle) > p { low = middle } else { high = middle }
                }
                Some(0.5 * (low + high))
            })
            .collect();
        let found = standing(&z, 0.05);
        assert_eq!(found.iter().filter(|x| **x).count(), 4);
        assert!(found[..4].iter().all(|x| *x));
    }

    #[test]
    fn unknown_never_stands() {
        assert_eq!(standing(&[None, Some(9.0), Some(f64::NAN)], 0.05), [false, true, false]);
        assert!(standing(&[], 0.05).is_empty());
    }
}
