//! A curve of any length in as many columns as the picture has, with every peak and trough kept.

/// What one column of the picture shows of a curve: where it comes in, how far it goes, where it leaves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Column {
    /// The first value.
    pub first: f64,
    /// The lowest.
    pub min: f64,
    /// The highest.
    pub max: f64,
    /// The last.
    pub last: f64,
    /// The curve was interrupted on the way from the column before.
    pub is_new: bool,
}

/// A curve in columns.
#[derive(Clone, Debug, PartialEq)]
pub struct ColumnCurve {
    start_s: f64,
    columns_per_s: f64,
    columns: Vec<Option<Column>>,
    /// The last value, which stands until the next one.
    standing: Option<f64>,
    reached: usize,
    is_new: bool,
}

impl ColumnCurve {
    /// An empty curve of `count` columns from `start_s` to `end_s`.
    pub fn new(start_s: f64, end_s: f64, count: usize) -> ColumnCurve {
        let columns_per_s = count as f64 / (end_s - start_s).max(1e-9);
        let columns = vec![None; count];
        ColumnCurve { start_s, columns_per_s, columns, standing: None, reached: 0, is_new: true }
    }

    /// The curve has this value from `time_s` on; times never fall.
    pub fn push(&mut self, time_s: f64, value: f64) {
        let place = (time_s - self.start_s) * self.columns_per_s;
        if place < 0.0 {
            self.standing = Some(value);
            return;
        }
        let place = place as usize;
        self.stand_until(place);
        if place < self.columns.len() {
            self.take(place, value);
        }
        self.standing = Some(value);
    }

    /// The curve is interrupted at `time_s`.
    pub fn lift(&mut self, time_s: f64) {
        let place = (time_s - self.start_s) * self.columns_per_s;
        if place >= 0.0 {
            self.stand_until(place as usize);
        }
        self.standing = None;
        self.is_new = true;
    }

    /// The last value stands to the end.
    pub fn close(&mut self) {
        self.stand_until(self.columns.len());
    }

    /// Column by column; none where there was nothing.
    pub fn columns(&self) -> &[Option<Column>] {
        &self.columns
    }

    /// The highest value there is.
    pub fn highest(&self) -> f64 {
        self.columns.iter().flatten().map(|column| column.max).fold(0.0, f64::max)
    }

    /// The lowest value there is.
    pub fn lowest(&self) -> f64 {
        self.columns.iter().flatten().map(|column| column.min).fold(f64::INFINITY, f64::min)
    }

    fn stand_until(&mut self, place: usize) {
        let end = place.min(self.columns.len());
        if let Some(value) = self.standing {
            for column in self.reached..end {
                self.take(column, value);
            }
        }
        self.reached = self.reached.max(end);
    }

    fn take(&mut self, place: usize, value: f64) {
        let is_new = std::mem::take(&mut self.is_new);
        match &mut self.columns[place] {
            Some(column) => {
                column.min = column.min.min(value);
                column.max = column.max.max(value);
                column.last = value;
            }
            empty => {
                *empty = Some(Column { first: value, min: value, max: value, last: value, is_new });
            }
        }
    }
}
