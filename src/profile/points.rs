//! Reads what a file draws point by point: curves over the gesture, and lists of pairs.

use super::form::Form;
use super::log::FilePosition;
use super::table_reader::TableReader;
use super::value_text::{counted, number, numbers, shortened, show_curve, tidy_points, written};
use crate::engine::curve::{Curve, POINTS_MAX};
use serde_json::Value as Json;
use std::ops::RangeInclusive;
use toml_edit::{Array, Item, Value};

/// How far apart two neighbouring breakpoints stand at least, in x: less than any hand can aim.
pub const POINT_STEP_MIN: f64 = 0.001;

impl TableReader<'_> {
    /// A list of pairs of numbers; the caller judges them. `default` where the file gives none.
    pub fn pairs(
        &self,
        name: &str,
        allowed: &str,
        default: Option<Vec<(f64, f64)>>,
    ) -> Option<Vec<(f64, f64)>> {
        let Some(item) = self.item(name) else {
            self.remember(
                name,
                default.as_deref().map_or(Json::Null, tidy_points),
                allowed,
                Form::Pairs,
            );
            return default;
        };
        let points = item.as_array().and_then(|list| {
            let pair = |each: &Value| numbers::<2>(each.as_array()?).map(|[x, y]| (x, y));
            list.iter().map(pair).collect::<Option<Vec<_>>>()
        });
        if points.is_none() {
            self.refuse(name, written(item), allowed);
        }
        self.remember(
            name,
            points.as_deref().map_or(Json::Null, tidy_points),
            allowed,
            Form::Pairs,
        );
        points
    }

    /// A curve over `x`: either one number, or 2 to 16 breakpoints. Values lie within `range`.
    /// Without a default it is needed; after a fault a level curve stands in.
    pub fn curve(
        &self,
        name: &str,
        x: RangeInclusive<f64>,
        range: RangeInclusive<f64>,
        default: Option<Curve>,
    ) -> Curve {
        let stand_in = default.unwrap_or(Curve::constant(*range.start()));
        let (low, high) = (range.start(), range.end());
        let points = format!("points [[{}, {low}], … [{}, {high}]]", x.start(), x.end());
        let form = Form::curve(&x, &range);
        let list = self.item(name).and_then(Item::as_array);
        let Some(list) = list else {
            let allowed = match self.gives(name) {
                true => format!("{low} to {high}"),
                false => format!("a number, {low} to {high}, or {points}"),
            };
            let default = if self.gives(name) { None } else { default };
            let take = |item: &Item| {
                let level = number(item.as_value()?).filter(|level| range.contains(level))?;
                Some(Curve::constant(level))
            };
            let read = self.field(name, (&allowed, form), default, take, show_curve);
            return read.unwrap_or(stand_in);
        };
        let allowed = format!("{low} to {high}");
        let curve = self.breakpoints(name, list, x, range);
        self.remember(name, curve.as_ref().map_or(Json::Null, show_curve), &allowed, form);
        curve.unwrap_or(stand_in)
    }

    fn breakpoints(
        &self,
        name: &str,
        list: &Array,
        x: RangeInclusive<f64>,
        y: RangeInclusive<f64>,
    ) -> Option<Curve> {
        if !(2..=POINTS_MAX).contains(&list.len()) {
            let found = format!("{} long", counted(list.len(), "point"));
            self.refuse(name, found, format!("2 to {POINTS_MAX} points"));
            return None;
        }
        let mut points: Vec<(f64, f64)> = Vec::new();
        let mut is_whole = true;
        for each in list {
            let place = each
                .span()
                .map_or_else(FilePosition::default, |span| self.place_within(name, span.start));
            let mut refuse = |found: String, allowed: String| {
                is_whole = false;
                self.refuse_at(place.clone(), name, found, allowed);
            };
            let Some([at, value]) = each.as_array().and_then(numbers::<2>) else {
                refuse(shortened(each), "points of two numbers, like [0.5, 1]".to_owned());
                continue;
            };
            if !x.contains(&at) {
                let allowed = format!("points from {} to {}", x.start(), x.end());
                refuse(format!("placed at {at}"), allowed);
            }
            if !y.contains(&value) {
                refuse(value.to_string(), format!("{} to {}", y.start(), y.end()));
            }
            if let Some(&(before, _)) = points.last().filter(|last| at < last.0 + POINT_STEP_MIN) {
                let allowed = format!("points that each stand at least {POINT_STEP_MIN} further");
                refuse(format!("placed at {at} after {before}"), allowed);
            }
            points.push((at, value));
        }
        if is_whole { Curve::through(&points) } else { None }
    }
}
