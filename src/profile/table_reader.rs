//! Reads one table of a file, field by field; each field knows what may stand in it.

use super::fault::Fault;
use super::form::Form;
use super::log::{Field, FilePosition, Log};
use super::value_text::{counted, join, number, numbers, rises, tidy, whole, written};
use serde_json::{Value as Json, json};
use std::ops::RangeInclusive;
use toml_edit::{Item, TableLike};

/// One table of a file. A table that the file lacks reads as one without fields.
pub struct TableReader<'a> {
    log: &'a Log<'a>,
    /// The table as the file has it, then as those have it on which the file is based; each with
    /// its place among them.
    tables: Vec<(usize, &'a dyn TableLike)>,
    path: String,
    place: FilePosition,
}

impl<'a> TableReader<'a> {
    /// The outermost table of the file that `log` is about.
    pub fn root(log: &'a Log<'a>) -> TableReader<'a> {
        let tables = log.tables().enumerate().collect();
        TableReader { log, tables, path: String::new(), place: FilePosition::default() }
    }

    /// The table as one of the files has it, 0 being the file itself.
    pub(super) fn only(&self, layer: usize) -> TableReader<'a> {
        let own = self.tables.iter().filter(|(place, _)| *place == layer);
        let (path, place) = (self.path.clone(), self.place.clone());
        TableReader { log: self.log, tables: own.copied().collect(), path, place }
    }

    /// The dotted name of the table.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// The log that all tables of a file share.
    pub fn log(&self) -> &'a Log<'a> {
        self.log
    }

    /// Whether there is this table, in the file or in one on which it is based.
    pub fn is_given(&self) -> bool {
        !self.tables.is_empty()
    }

    /// Whether the field is given, in the file or in one on which it is based.
    pub fn gives(&self, name: &str) -> bool {
        self.item(name).is_some()
    }

    /// Names of what the table holds, in the file's order.
    pub fn names(&self) -> Vec<&'a str> {
        let mut names: Vec<&str> = Vec::new();
        for (name, _) in self.tables.iter().flat_map(|(_, table)| table.iter()) {
            if !names.contains(&name) {
                names.push(name);
            }
        }
        names
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
    pub fn table(&self, name: &str) -> TableReader<'a> {
        let path = join(&self.path, name);
        self.log.know(path.clone());
        let inner = |&(layer, table): &(usize, &'a dyn TableLike)| {
            Some((layer, table.get(name)?.as_table_like()?))
        };
        let mut tables: Vec<_> = self.tables.iter().filter_map(inner).collect();
        if let Some(item) = self.item(name).filter(|item| !item.is_table_like()) {
            self.refuse(name, written(item), "a table");
            tables.clear();
        }
        TableReader { log: self.log, tables, path, place: self.place_of(name).unwrap_or_default() }
    }

    /// Says that the field may not have its value.
    pub fn refuse(&self, name: &str, found: impl Into<String>, allowed: impl Into<String>) {
        let place = self.place_of(name).unwrap_or_else(|| self.place.clone());
        self.refuse_at(place, name, found.into(), allowed.into());
    }

    pub(super) fn refuse_at(
        &self,
        place: FilePosition,
        name: &str,
        found: String,
        allowed: String,
    ) {
        let (field, FilePosition { line, file }) = (join(&self.path, name), place);
        self.log.refuse(Fault { line, file, field, found, allowed });
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

    /// Where the field's value stands, or its table's header.
    pub(super) fn place_of(&self, name: &str) -> Option<FilePosition> {
        let given = |&(layer, table): &(usize, &'a dyn TableLike)| {
            Some((layer, table.get_key_value(name)?))
        };
        let (layer, (key, item)) = self.tables.iter().find_map(given)?;
        let span = item.span().or_else(|| key.span())?;
        Some(self.log.place(layer, span.start))
    }

    /// The place of a byte in the file that gives the field.
    pub(super) fn place_within(&self, name: &str, byte: usize) -> FilePosition {
        let layer = self.tables.iter().find(|(_, table)| table.contains_key(name));
        layer.map(|(layer, _)| self.log.place(*layer, byte)).unwrap_or_default()
    }

    pub(super) fn item(&self, name: &str) -> Option<&'a Item> {
        self.tables.iter().find_map(|(_, table)| table.get(name))
    }

    pub(super) fn remember(&self, name: &str, value: Json, allowed: &str, form: Form) {
        let (path, place) = (join(&self.path, name), self.place_of(name));
        let FilePosition { line, file } = place.unwrap_or_default();
        self.log.remember(Field { path, line, file, value, allowed: allowed.to_owned(), form });
    }

    /// Reads a field with `take`. `None` from it, and a field that is not there, give
    /// `default`; a fault is told in the first case, and in the second if there is no default.
    pub(super) fn field<T: Clone>(
        &self,
        name: &str,
        (allowed, form): (&str, Form),
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
        self.remember(name, value.as_ref().map_or(Json::Null, show), allowed, form);
        value
    }

    /// A number within `range`; `default` where the file gives none, or a fault without one.
    /// After a fault the lowest allowed number stands in.
    pub fn number(&self, name: &str, range: RangeInclusive<f64>, default: Option<f64>) -> f64 {
        let allowed = format!("{} to {}", range.start(), range.end());
        let take = |item: &Item| number(item.as_value()?).filter(|value| range.contains(value));
        let form = Form::number(&range);
        self.field(name, (&allowed, form), default, take, |&value| tidy(value))
            .unwrap_or(*range.start())
    }

    /// A whole number within `range`; otherwise as [`TableReader::number`].
    pub fn whole(&self, name: &str, range: RangeInclusive<u16>, default: Option<u16>) -> u16 {
        let allowed = match (range.start(), range.end()) {
            (low, high) if low == high => low.to_string(),
            (low, high) => format!("a whole number, {low} to {high}"),
        };
        let take = |item: &Item| whole(item.as_value()?, &range);
        let form = Form::whole(&range);
        self.field(name, (&allowed, form), default, take, |&value| json!(value))
            .unwrap_or(*range.start())
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
        self.field(name, ("true or false", Form::Flag), Some(default), take, |&flag| json!(flag))
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
        let form = Form::Choice(choices.iter().map(|(word, _)| (*word).to_owned()).collect());
        self.field(name, (&words.join(", "), form), default, take, show).unwrap_or(choices[0].1)
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
        self.field(name, (allowed, Form::Text), default, take, |text| json!(text))
            .unwrap_or_default()
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
        let form = Form::Texts { most };
        self.field(name, (allowed, form), None, take, |texts: &Vec<String>| json!(texts))
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
        let form = Form::wholes(&counts, &range);
        self.wholes_as(name, counts, form, range, default)
    }

    /// As many whole numbers as another list has, of which a file may have 1 to `most`.
    pub fn wholes_beside(
        &self,
        name: &str,
        counts: RangeInclusive<usize>,
        most: usize,
        range: RangeInclusive<u16>,
    ) -> Vec<u8> {
        let form = Form::wholes(&(1..=most), &range);
        self.wholes_as(name, counts, form, range, None)
    }

    fn wholes_as(
        &self,
        name: &str,
        counts: RangeInclusive<usize>,
        form: Form,
        range: RangeInclusive<u16>,
        default: Option<Vec<u8>>,
    ) -> Vec<u8> {
        let allowed =
            format!("{}, {} to {}", many(&counts, "whole number"), range.start(), range.end());
        let take = |item: &Item| {
            let list = item.as_array().filter(|list| counts.contains(&list.len()))?;
            list.iter().map(|each| whole(each, &range).map(|value| value as u8)).collect()
        };
        self.field(name, (&allowed, form), default, take, |list: &Vec<u8>| json!(list))
            .unwrap_or_default()
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
        let form = Form::Rising { count: N, low: *low, high: *high };
        self.field(name, (&allowed, form), default, take, show).unwrap_or([*low; N])
    }
}

fn many(counts: &RangeInclusive<usize>, what: &str) -> String {
    let (least, most) = (counts.start(), counts.end());
    if least == most { counted(*most, what) } else { format!("{least} to {most} {what}s") }
}
