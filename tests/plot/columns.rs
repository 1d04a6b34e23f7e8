//! A curve of any length keeps every peak and trough in its columns.

use polso::offline::plot::column::{Column, ColumnCurve};
use proptest::prelude::*;

/// The same, looked up column by column.
fn naive(
    samples: &[(f64, f64)],
    start_s: f64,
    end_s: f64,
    count: usize,
) -> Vec<Option<(f64, f64)>> {
    let width_s = (end_s - start_s) / count as f64;
    let column_of = |time_s: f64| ((time_s - start_s) / width_s).floor() as i64;
    (0..count as i64)
        .map(|column| {
            let inside = samples.iter().filter(|(time_s, _)| column_of(*time_s) == column);
            // What stood when the column began is seen only if it did not begin with a sample.
            let before = samples.iter().rfind(|(time_s, _)| column_of(*time_s) < column);
            let values: Vec<f64> = inside.map(|(_, value)| *value).collect();
            let values = if values.is_empty() {
                before.map(|it| it.1).into_iter().collect()
            } else {
                values
            };
            let low = values.iter().copied().reduce(f64::min)?;
            Some((low, values.into_iter().fold(low, f64::max)))
        })
        .collect()
}

fn extremes(column: &Option<Column>) -> Option<(f64, f64)> {
    column.map(|column| (column.min, column.max))
}

proptest! {
    #[test]
    fn every_column_shows_its_lowest_and_its_highest(
        gaps in prop::collection::vec((0_u32..400, 0_u32..1000), 1..300),
        count in 1_usize..60,
    ) {
        let mut time_s = -0.5;
        let samples: Vec<(f64, f64)> = gaps
            .iter()
            .map(|(gap_ms, value)| {
                // Off the columns' edges, where a rounding could choose either side.
                time_s += f64::from(*gap_ms) / 1000.0 + 0.000_013;
                (time_s, f64::from(*value))
            })
            .collect();
        let mut strand = ColumnCurve::new(0.0, 7.0, count);
        samples.iter().for_each(|(time_s, value)| strand.push(*time_s, *value));
        strand.close();
        let shown: Vec<_> = strand.columns().iter().map(extremes).collect();
        prop_assert_eq!(shown, naive(&samples, 0.0, 7.0, count));
    }
}

#[test]
fn a_lifted_line_leaves_its_columns_empty() {
    let mut strand = ColumnCurve::new(0.0, 10.0, 10);
    strand.push(0.5, 1.0);
    strand.lift(3.5);
    strand.push(6.5, 2.0);
    strand.close();
    let shown: Vec<_> =
        strand.columns().iter().map(|it| it.map(|it| (it.last, it.is_new))).collect();
    let (one, two) = (Some((1.0, false)), Some((2.0, false)));
    let expected =
        [Some((1.0, true)), one, one, None, None, None, Some((2.0, true)), two, two, two];
    assert_eq!(shown, expected);
}
