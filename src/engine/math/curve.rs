//! A curve through breakpoints that never swings past them: the shape of every response.

/// The most breakpoints of one curve.
pub const POINTS_MAX: usize = 16;

/// A monotone cubic through 2..=16 breakpoints, with slopes after Fritsch and Butland (1984),
/// as SciPy's `PchipInterpolator` has them. Outside its breakpoints it holds its end values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curve {
    x: [f64; POINTS_MAX],
    /// Of each segment: value, slope, and the second and third order terms.
    terms: [[f64; 4]; POINTS_MAX],
    count: usize,
}

impl Curve {
    /// A curve that has one value everywhere.
    pub const fn constant(value: f64) -> Curve {
        let mut curve = Curve { x: [0.0; POINTS_MAX], terms: [[0.0; 4]; POINTS_MAX], count: 1 };
        curve.terms[0][0] = value;
        curve
    }

    /// The straight line from (0, 0) to (1, 1).
    pub const fn identity() -> Curve {
        let mut curve = Curve::constant(0.0);
        curve.terms[0][1] = 1.0;
        curve.terms[1][0] = 1.0;
        curve.x[1] = 1.0;
        curve.count = 2;
        curve
    }

    /// A curve through the points, or `None` unless there are 2..=16 of them, all finite, with
    /// x strictly rising.
    pub fn through(points: &[(f64, f64)]) -> Option<Curve> {
        let count = points.len();
        let finite = points.iter().all(|(x, y)| x.is_finite() && y.is_finite());
        let rising = points.windows(2).all(|pair| pair[0].0 < pair[1].0);
        if !(2..=POINTS_MAX).contains(&count) || !finite || !rising {
            return None;
        }
        let mut curve = Curve { count, ..Curve::constant(0.0) };
        for (place, point) in points.iter().enumerate() {
            curve.x[place] = point.0;
            curve.terms[place] = [point.1, slope(points, place), 0.0, 0.0];
        }
        for place in 0..count - 1 {
            let step = curve.x[place + 1] - curve.x[place];
            let [y0, d0, ..] = curve.terms[place];
            let [y1, d1, ..] = curve.terms[place + 1];
            let secant = (y1 - y0) / step;
            curve.terms[place][2] = (3.0 * secant - 2.0 * d0 - d1) / step;
            curve.terms[place][3] = (d0 + d1 - 2.0 * secant) / (step * step);
        }
        Some(curve)
    }

    /// The value at `x`.
    #[inline]
    pub fn at(&self, x: f64) -> f64 {
        // The count is at most POINTS_MAX, a power of two: masked, no place is doubted twice.
        let last = (self.count - 1) % POINTS_MAX;
        if x >= self.x[last] {
            return self.terms[last][0];
        }
        if x <= self.x[0] {
            return self.terms[0][0];
        }
        let mut place = 0;
        while place + 1 < last && x >= self.x[place + 1] {
            place += 1;
        }
        let u = x - self.x[place];
        let [value, slope, second, third] = self.terms[place];
        value + u * (slope + u * (second + u * third))
    }

    /// The steepest that it ever rises or falls.
    pub fn slope_max(&self) -> f64 {
        let mut steepest = 0.0_f64;
        for place in 0..self.count - 1 {
            let [_, slope, second, third] = self.terms[place];
            let at = |u: f64| (slope + u * (2.0 * second + 3.0 * third * u)).abs();
            let step = self.x[place + 1] - self.x[place];
            // A parabola is steepest at an end of the segment or where it turns.
            let turn = if third == 0.0 { 0.0 } else { -second / (3.0 * third) };
            steepest = steepest.max(at(0.0)).max(at(step)).max(at(turn.clamp(0.0, step)));
        }
        steepest
    }

    /// The slope at a breakpoint.
    pub fn slope_at_point(&self, place: usize) -> f64 {
        self.terms[place][1]
    }

    /// The breakpoints, as many as there are.
    pub fn points(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        (0..self.count).map(|place| (self.x[place], self.terms[place][0]))
    }
}

/// The slope at one breakpoint: the weighted harmonic mean of its two secants, 0 where they
/// disagree, and a one-sided three-point estimate at the ends.
fn slope(points: &[(f64, f64)], place: usize) -> f64 {
    let step = |place: usize| points[place + 1].0 - points[place].0;
    let secant = |place: usize| (points[place + 1].1 - points[place].1) / step(place);
    let last = points.len() - 1;
    match (place, last) {
        (_, 1) => secant(0),
        (0, _) => end_slope(step(0), step(1), secant(0), secant(1)),
        (place, last) if place == last => {
            end_slope(step(last - 1), step(last - 2), secant(last - 1), secant(last - 2))
        }
        _ => {
            let (before, after) = (secant(place - 1), secant(place));
            if before * after <= 0.0 {
                return 0.0;
            }
            let near = 2.0 * step(place) + step(place - 1);
            let far = step(place) + 2.0 * step(place - 1);
            (near + far) / (near / before + far / after)
        }
    }
}

/// The end slope, kept from overshooting (the rule of SciPy's `PchipInterpolator`).
fn end_slope(near_step: f64, far_step: f64, near: f64, far: f64) -> f64 {
    let slope = ((2.0 * near_step + far_step) * near - near_step * far) / (near_step + far_step);
    if slope * near <= 0.0 {
        0.0
    } else if near * far <= 0.0 && slope.abs() > 3.0 * near.abs() {
        3.0 * near
    } else {
        slope
    }
}
