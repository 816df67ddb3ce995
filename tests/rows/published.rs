//! Against published numbers: `tests/reference/robust`, sources in the files.

use serde_json::Value;
use wattsieve_core::math::stats::{self, QuantileRule};
use wattsieve_core::sieve::{self, Kind, Settings, Slices};

use super::load;

fn examples() -> Value {
    let text = std::fs::read_to_string(load::path("reference/robust/robust-and-outliers.json")).unwrap();
    serde_json::from_str(&text).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

fn close(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "found {found}, expected {expected} within {within}");
}

/// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 7.1.6.
#[test]
fn quartiles_of_the_handbook() {
    let example = &examples()["tukey_fences"];
    let mut data = numbers(&example["data"]);
    let expected = &example["recomputed"];
    for (p, name) in [(0.25, "q1"), (0.5, "median"), (0.75, "q3")] {
        let found = stats::quantile(&mut data, p, QuantileRule::PlusOne).unwrap();
        close(found, expected[name].as_f64().unwrap(), 1e-12);
    }
    for (p, name) in [(0.25, "q1"), (0.75, "q3")] {
        let found = stats::quantile(&mut data, p, QuantileRule::Linear).unwrap();
        close(found, example["other_quartile_rule"][name].as_f64().unwrap(), 1e-12);
    }
}

/// Source: Analytical Methods Committee, Analyst 114 (1989) 1693, copper in flour.
#[test]
fn median_absolute_deviation_of_copper_in_flour() {
    let example = &examples()["median_mad"];
    let mut data = numbers(&example["data"]);
    close(stats::median(&mut data).unwrap(), 3.385, 1e-12);
    let scaled = example["recomputed"]["mad_scaled"].as_f64().unwrap();
    close(stats::scaled_mad(&mut data).unwrap(), scaled, 1e-11);
    let small = &examples()["median_mad_small"];
    let mut data = numbers(&small["data"]);
    close(stats::scaled_mad(&mut data).unwrap(), small["mad_scaled"].as_f64().unwrap(), 1e-15);
}

/// Source: Hampel 1974, Pearson 2002; series and replaced places in the file.
#[test]
fn hampel_filter_of_the_published_series() {
    let example = &examples()["hampel_filter_sliding"];
    let data = numbers(&example["data"]);
    let mut checked = 0;
    for case in example["cases"].as_array().unwrap().iter().filter(|case| case["ends"] == "shrink") {
        let half = case["half_window"].as_u64().unwrap() as usize;
        let limit = case["n_sigma"].as_f64().unwrap();
        let expected: Vec<usize> = numbers(&case["replaced_index"]).iter().map(|x| *x as usize).collect();
        assert_eq!(sieve::standing_out(&data, half, limit, 0.0), expected, "half window {half}");
        checked += 1;
    }
    assert_eq!(checked, 3);
}

/// The values that the spike gate's rule, three or another number of scaled MADs about the median, marks in a sample
/// without order: every window holds the whole sample. Neighbours are exchanged first, so that large values do not
/// stand beside each other.
fn marked(data: &[f64], limit: f64) -> Vec<f64> {
    let n = data.len();
    let stride = (n / 2..n)
        .find(|stride| (2..*stride).all(|d| !n.is_multiple_of(d) || !stride.is_multiple_of(d)))
        .unwrap();
    let mixed: Vec<f64> = (0..n).map(|place| data[place * stride % n]).collect();
    let rows = sieve::standing_out(&mixed, n, limit, 0.0);
    let mut values: Vec<f64> = rows.into_iter().map(|row| mixed[row]).collect();
    values.sort_by(f64::total_cmp);
    values
}

/// Source: Analytical Methods Committee, Analyst 114 (1989) 1693; Hampel's identifier marks two values where three
/// standard deviations mark one.
#[test]
fn hampel_identifier_of_copper_in_flour() {
    let example = &examples()["median_mad"];
    let expected = numbers(&example["hampel_identifier_3"]["flagged"]);
    assert_eq!(expected, [5.28, 28.95]);
    assert_eq!(marked(&numbers(&example["data"]), 3.0), expected);
}

/// Source: NIST/SEMATECH e-Handbook 1.3.5.17.1 and 1.3.5.17.3: the outliers that Grubbs' test and the generalized ESD
/// test name (the second with Iglewicz and Hoaglin's limit of 3.5, 1.3.5.17).
#[test]
fn outliers_of_the_handbook_stand_out() {
    let examples = examples();
    let grubbs = numbers(&examples["grubbs"]["data"]);
    assert_eq!(marked(&grubbs, 3.0), [245.57]);
    let mut esd = numbers(&examples["generalized_esd"]["published"]["outliers"]);
    esd.sort_by(f64::total_cmp);
    assert_eq!(marked(&numbers(&examples["generalized_esd"]["data"]), 3.5), esd);
}

/// Source: NIST/SEMATECH e-Handbook 7.1.6: inner and outer fences.
#[test]
fn fences_of_the_handbook() {
    let example = &examples()["tukey_fences"];
    let mut data = numbers(&example["data"]);
    let [low, high] = [0.25, 0.75].map(|p| stats::quantile(&mut data, p, QuantileRule::PlusOne).unwrap());
    let range = high - low;
    let expected = |name: &str| example["published"][name].as_str().unwrap().parse::<f64>().unwrap();
    close(range, expected("iqr"), 1e-12);
    for (found, name) in [
        (low - 1.5 * range, "lower_inner"),
        (high + 1.5 * range, "upper_inner"),
        (low - 3.0 * range, "lower_outer"),
        (high + 3.0 * range, "upper_outer"),
    ] {
        close(found, expected(name), 1e-12);
    }
}

/// Width of a bin from the spread of the middle half, with the quantiles that the cells' widths are made from.
///
/// Source: Freedman and Diaconis, Z. Wahrscheinlichkeitstheorie verw. Gebiete 57 (1981) 453; number of bins by
/// `numpy.histogram_bin_edges` 2.4.6; Michelson's speeds of light (NIST), and the other samples of the file.
#[test]
fn bin_width_of_freedman_and_diaconis() {
    let examples = examples();
    let cases = examples["bin_width_rules"]["cases"].as_array().unwrap();
    let mut checked = 0;
    for case in cases {
        let width = case["freedman_diaconis_width"].as_f64().unwrap();
        // Two samples stand elsewhere in the file and are named.
        let data = match case["name"].as_str().unwrap() {
            name if name.contains("tukey_fences") => &examples["tukey_fences"]["data"],
            name if name.contains("generalized_esd") => &examples["generalized_esd"]["data"],
            _ => &case["data"],
        };
        let mut data = numbers(data);
        let n = data.len() as f64;
        let [low, high] = [0.25, 0.75].map(|p| stats::quantile(&mut data, p, QuantileRule::Linear).unwrap());
        let found = 2.0 * (high - low) / libm::cbrt(n);
        close(found, width, 1e-10 * width);
        let (least, most) =
            data.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(*x), b.max(*x)));
        // Where half of the values are equal the rule has no width, and numpy takes one bin.
        let bins = if found > 0.0 { libm::ceil((most - least) / found) } else { 1.0 };
        assert_eq!(bins as u64, case["numpy_bins"]["fd"].as_u64().unwrap());
        checked += 1;
    }
    assert_eq!(checked, 4);
}

/// Source: `numpy.histogramdd` 2.4.6 on dyadic numbers.
#[test]
fn cells_of_a_three_dimensional_histogram() {
    let text = std::fs::read_to_string(load::path("reference/robust/histogram3d-expected.json")).unwrap();
    let expected: Value = serde_json::from_str(&text).unwrap();
    let mut columns = load::columns("reference/robust/histogram3d-input.csv");
    let names = ["v_in", "i_out", "v_out"];
    let edges: Vec<Vec<f64>> = names.iter().map(|name| numbers(&expected["edges"][*name])).collect();
    // numpy closes the last bin; cells are half open.
    for (column, edges) in columns.iter_mut().zip(&edges) {
        let last = edges[edges.len() - 1];
        column.iter_mut().filter(|value| **value == last).for_each(|value| *value -= 1e-6);
    }
    let inside = |row: usize| {
        columns
            .iter()
            .zip(&edges)
            .all(|(column, edges)| column[row] >= edges[0] && column[row] < edges[edges.len() - 1])
    };
    let widths: Vec<f64> = edges.iter().map(|edges| edges[1] - edges[0]).collect();
    let settings = Settings {
        widths: names.iter().map(|name| (*name).to_owned()).zip(widths.iter().copied()).collect(),
        ..Settings::default()
    };
    let slices: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
    let kind = Kind { names: names.map(str::to_owned).to_vec(), resolution: Vec::new() };
    let counts = sieve::count(&Slices(&slices), kind, &settings);

    let rows = columns[0].len();
    let mut found: Vec<Vec<u64>> = (0..rows)
        .filter(|&row| inside(row))
        .map(|row| {
            let mut entry: Vec<u64> = (0..3)
                .map(|axis| ((columns[axis][row] - edges[axis][0]) / widths[axis]).floor() as u64)
                .collect();
            entry.push(u64::from(counts.cell_counts[counts.cells[row] as usize]));
            entry
        })
        .collect();
    assert_eq!(found.len() as u64, expected["counted"].as_u64().unwrap());
    found.sort_unstable();
    found.dedup();
    let numpy: Vec<Vec<u64>> = expected["counts"]
        .as_array()
        .unwrap()
        .iter()
        .map(|entry| entry.as_array().unwrap().iter().map(|x| x.as_u64().unwrap()).collect())
        .collect();
    assert_eq!(found, numpy);
    for below in 2..=3 {
        let rare: Vec<u64> = (0..rows)
            .filter(|&row| !inside(row) || counts.cell_counts[counts.cells[row] as usize] < below)
            .map(|row| row as u64)
            .collect();
        let numpy = &expected["rows_with_bin_count_below"][below.to_string()];
        assert_eq!(rare, numbers(numpy).iter().map(|x| *x as u64).collect::<Vec<_>>());
    }
}
