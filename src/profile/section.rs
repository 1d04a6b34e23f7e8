//! Reads one table of a file, field by field; each field knows what may stand in it.

use super::fault::Fault;
use super::log::{Field, Log};
use super::written::{
    counted, join, number, numbers, rises, shortened, show_curve, tidy, tidy_points, whole, written,
};
use crate::engine::curve::{Curve, POINTS_MAX};
use serde_json::{Value as Json, json};
use std::ops::RangeInclusive;
use toml_edit::{Array, Item, TableLike, Value};

/// How far apart two neighbouring breakpoints stand at least, in x: less than any hand can aim.
pub const POINT_STEP_MIN: f64 = 0.001;

/// One table of a file. A table that the file lacks reads as one without fields.
pub struct Section<'a> {
    log: &'a Log<'a>,
    table: Option<&'a dyn TableLike>,
    path: String,
    line: Option<usize>,
}

impl<'a> Section<'a> {
    /// The outermost table.
    pub(super) fn root(log: &'a Log<'a>, table: &'a dyn TableLike) -> Section<'a> {
        Section { log, table: Some(table), path: String::new(), line: None }
    }

    /// The dotted name of the table.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// The log that all sections of a file share.
    pub fn log(&self) -> &'a Log<'a> {
        self.log
    }

    /// Whether the file has this table.
    pub fn is_given(&self) -> bool {
        self.table.is_some()
    }

    /// Whether the file gives the field.
    pub fn gives(&self, name: &str) -> bool {
        self.item(name).is_some()
    }

    /// Names of what the table holds, in the file's order.
    pub fn names(&self) -> Vec<&'a str> {
        self.table.map(|table| table.iter().map(|(name, _)| name).collect()).unwrap_or_default()
    }

    /// A field's text, if it has one, without judging it.
    pub(super) fn plain_text(&self, name: &str) -> Option<&'a str> {
        self.item(name)?.as_str()
    }

    /// A field's whole number, if it has one, without judging it.
    pub(super) fn plain_whole(&self, name: &str) -> Option<i64> {
        self.item(name)?.as_integer()
    }

    /// Says that a file may hold `name` here.
    pub(super) fn accept(&self, name: &str) {
        self.log.know(join(&self.path, name));
    }

    /// The table `name` inside this one.
    pub fn section(&self, name: &str) -> Section<'a> {
        let path = join(&self.path, name);
        self.log.know(path.clone());
        let item = self.item(name);
        let table = item.and_then(Item::as_table_like);
        if let (Some(item), None) = (item, table) {
            self.refuse(name, written(item), "a table");
        }
        Section { log: self.log, table, path, line: self.line_of(name) }
    }

    /// Says that the field may not have its value.
    pub fn refuse(&self, name: &str, found: impl Into<String>, allowed: impl Into<String>) {
        self.refuse_at(self.line_of(name).or(self.line), name, found.into(), allowed.into());
    }

    fn refuse_at(&self, line: Option<usize>, name: &str, found: String, allowed: String) {
        let field = join(&self.path, name);
        self.log.refuse(Fault { line, field, found, allowed });
    }

    /// Says that the first of the fields does not go with the others, unless one of them has been
    /// refused already: what stands in for it says nothing.
    pub fn refuse_beside(&self, names: &[&str], found: impl Into<String>, allowed: String) {
        let is_refused = |name: &&str| self.log.has_refused(&join(&self.path, name));
        if !names.iter().any(is_refused) {
            self.refuse(names[0], found, allowed);
        }
    }

    /// Says that the field is needed and not there.
    pub fn refuse_missing(&self, name: &str, allowed: impl Into<String>) {
        self.refuse(name, "missing", allowed);
    }

    /// The line of the field's value, or of its table's header.
    pub fn line_of(&self, name: &str) -> Option<usize> {
        let (key, item) = self.table?.get_key_value(name)?;
        let span = item.span().or_else(|| key.span())?;
        Some(self.log.line(span.start))
    }

    fn item(&self, name: &str) -> Option<&'a Item> {
        self.table?.get(name)
    }

    fn remember(&self, name: &str, value: Json, allowed: &str) {
        let (path, line) = (join(&self.path, name), self.line_of(name));
        self.log.remember(Field { path, line, value, allowed: allowed.to_owned() });
    }

    /// Reads a field with `take`. `None` from it, and a field that is not there, give
    /// `default`; a fault is told in the first case, and in the second if there is no default.
    fn field<T: Clone>(
        &self,
        name: &str,
        allowed: &str,
        default: Option<T>,
        take: impl Fn(&Item) -> Option<T>,
        show: impl Fn(&T) -> Json,
    ) -> Option<T> {
        let value = match self.item(name) {
            None => {
                if default.is_none() {
                    self.refuse_missing(name, allowed);
                }
                default
            }
            Some(item) => take(item).or_else(|| {
                self.refuse(name, written(item), allowed);
                default
            }),
        };
        self.remember(name, value.as_ref().map_or(Json::Null, show), allowed);
        value
    }

    /// A number within `range`; `default` where the file gives none, or a fault without one.
    /// After a fault the lowest allowed number stands in.
    pub fn number(&self, name: &str, range: RangeInclusive<f64>, default: Option<f64>) -> f64 {
        let allowed = format!("{} to {}", range.start(), range.end());
        let take = |item: &Item| number(item.as_value()?).filter(|value| range.contains(value));
        self.field(name, &allowed, default, take, |&value| tidy(value)).unwrap_or(*range.start())
    }

    /// A whole number within `range`; otherwise as [`Section::number`].
    pub fn whole(&self, name: &str, range: RangeInclusive<u16>, default: Option<u16>) -> u16 {
        let allowed = match (range.start(), range.end()) {
            (low, high) if low == high => low.to_string(),
            (low, high) => format!("a whole number, {low} to {high}"),
        };
        let take = |item: &Item| whole(item.as_value()?, &range);
        self.field(name, &allowed, default, take, |&value| json!(value)).unwrap_or(*range.start())
    }

    /// A whole number 0 to `max` that a file may leave out.
    pub fn whole_if_given(&self, name: &str, max: u8) -> Option<u8> {
        if self.gives(name) {
            Some(self.whole(name, 0..=u16::from(max), None) as u8)
        } else {
            self.accept(name);
            None
        }
    }

    /// True or false.
    pub fn flag(&self, name: &str, default: bool) -> bool {
        let take = |item: &Item| item.as_bool();
        self.field(name, "true or false", Some(default), take, |&flag| json!(flag))
            .unwrap_or(default)
    }

    /// One of the named choices.
    pub fn choice<T: Copy + PartialEq>(
        &self,
        name: &str,
        choices: &[(&str, T)],
        default: Option<T>,
    ) -> T {
        let words: Vec<String> = choices.iter().map(|(word, _)| format!("{word:?}")).collect();
        let take = |item: &Item| {
            let text = item.as_str()?;
            choices.iter().find(|(word, _)| *word == text).map(|(_, choice)| *choice)
        };
        let show = |value: &T| {
            json!(choices.iter().find(|(_, choice)| choice == value).map(|(word, _)| *word))
        };
        self.field(name, &words.join(", "), default, take, show).unwrap_or(choices[0].1)
    }

    /// A text that `fits`; `default` where the file gives none, or a fault without one.
    pub fn text(
        &self,
        name: &str,
        allowed: &str,
        default: Option<&str>,
        fits: impl Fn(&str) -> bool,
    ) -> String {
        let take = |item: &Item| item.as_str().filter(|text| fits(text)).map(str::to_owned);
        let default = default.map(str::to_owned);
        self.field(name, allowed, default, take, |text| json!(text)).unwrap_or_default()
    }

    /// A list of 1 to `most` texts that each `fits`.
    pub fn texts(
        &self,
        name: &str,
        allowed: &str,
        most: usize,
        fits: impl Fn(&str) -> bool,
    ) -> Vec<String> {
        let take = |item: &Item| {
            let list = item.as_array().filter(|list| (1..=most).contains(&list.len()))?;
            list.iter().map(|each| each.as_str().filter(|t| fits(t)).map(str::to_owned)).collect()
        };
        self.field(name, allowed, None, take, |texts: &Vec<String>| json!(texts))
            .unwrap_or_default()
    }

    /// A list of whole numbers within `range`, as many as `counts` says.
    pub fn wholes(
        &self,
        name: &str,
        counts: RangeInclusive<usize>,
        range: RangeInclusive<u16>,
        default: Option<Vec<u8>>,
    ) -> Vec<u8> {
        let allowed =
            format!("{}, {} to {}", many(&counts, "whole number"), range.start(), range.end());
        let take = |item: &Item| {
            let list = item.as_array().filter(|list| counts.contains(&list.len()))?;
            list.iter().map(|each| whole(each, &range).map(|value| value as u8)).collect()
        };
        self.field(name, &allowed, default, take, |list: &Vec<u8>| json!(list)).unwrap_or_default()
    }

    /// `N` numbers within `range` that rise by at least `step`.
    pub fn rising<const N: usize>(
        &self,
        name: &str,
        range: RangeInclusive<f64>,
        step: f64,
        default: Option<[f64; N]>,
    ) -> [f64; N] {
        let (low, high) = (range.start(), range.end());
        let allowed = format!("{N} numbers, {low} to {high}, each at least {step} above the last");
        let take = |item: &Item| {
            let list = numbers::<N>(item.as_array()?)?;
            let fits = list.iter().all(|value| range.contains(value)) && rises(&list, step);
            fits.then_some(list)
        };
        let show = |list: &[f64; N]| Json::Array(list.iter().map(|&each| tidy(each)).collect());
        self.field(name, &allowed, default, take, show).unwrap_or([*low; N])
    }

    /// A list of pairs of numbers; the caller judges them. `default` where the file gives none.
    pub fn pairs(
        &self,
        name: &str,
        allowed: &str,
        default: Option<Vec<(f64, f64)>>,
    ) -> Option<Vec<(f64, f64)>> {
        let Some(item) = self.item(name) else {
            self.remember(name, default.as_deref().map_or(Json::Null, tidy_points), allowed);
            return default;
        };
        let points = item.as_array().and_then(|list| {
            let pair = |each: &Value| numbers::<2>(each.as_array()?).map(|[x, y]| (x, y));
            list.iter().map(pair).collect::<Option<Vec<_>>>()
        });
        if points.is_none() {
            self.refuse(name, written(item), allowed);
        }
        self.remember(name, points.as_deref().map_or(Json::Null, tidy_points), allowed);
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
        let Some(item) = self.item(name) else {
            let allowed = format!("a number, {low} to {high}, or {points}");
            return self.field(name, &allowed, default, |_| None, show_curve).unwrap_or(stand_in);
        };
        let Some(list) = item.as_array() else {
            let level = self.number(name, range, None);
            return Curve::constant(level);
        };
        let allowed = format!("{low} to {high}");
        let curve = self.breakpoints(name, list, x, range);
        self.remember(name, curve.as_ref().map_or(Json::Null, show_curve), &allowed);
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
            let line = each.span().map(|span| self.log.line(span.start));
            let mut refuse = |found: String, allowed: String| {
                is_whole = false;
                self.refuse_at(line, name, found, allowed);
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

fn many(counts: &RangeInclusive<usize>, what: &str) -> String {
    let (least, most) = (counts.start(), counts.end());
    if least == most { counted(*most, what) } else { format!("{least} to {most} {what}s") }
}
