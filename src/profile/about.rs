//! What a file says about itself: its kind, its names in any script, who wrote it.

use super::kind::{FORMAT, FileKind};
use super::table_reader::TableReader;

/// Who and what a file is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct About {
    /// The name by which the program calls it: lower-case letters, digits and hyphens.
    pub id: String,
    /// Its names by language ("en", "zh-Hant"), in the file's order.
    pub names: Vec<(String, String)>,
    /// Who wrote the file.
    pub author: String,
    /// Under which licence it may be shared.
    pub licence: String,
    /// Anything worth knowing.
    pub notes: String,
}

impl About {
    /// The first name that the file gives, or the id.
    pub fn name(&self) -> &str {
        self.names.first().map_or(&self.id, |(_, name)| name)
    }

    /// Reads the table `about`. Without `default_id` an id and a name are needed.
    pub(super) fn read(root: &TableReader<'_>, default_id: Option<&str>) -> About {
        // A file that is based on another one is still another instrument.
        let table = root.only(0).table("about");
        let id_rule = "1 to 40 small letters, digits and hyphens";
        let id = table.text("id", id_rule, default_id, is_id);
        let names_section = table.table("names");
        let name_rule = "1 to 80 characters on one line";
        let read_name = |language: &&str| {
            (language.to_string(), names_section.text(language, name_rule, None, is_name))
        };
        let names: Vec<_> = names_section.names().iter().map(read_name).collect();
        if names.is_empty() && default_id.is_none() {
            table.refuse_missing("names", "at least one name, like { en = \"violin\" }");
        }
        let line_rule = "up to 200 characters on one line";
        let fits_line = |text: &str| text.chars().count() <= 200 && is_printable(text);
        let author = table.text("author", line_rule, Some(""), fits_line);
        let licence = table.text("licence", line_rule, Some(""), fits_line);
        let notes = table.text("notes", "text", Some(""), |text| {
            text.chars().all(|each| each == '\n' || each == '\t' || !each.is_control())
        });
        About { id, names, author, licence, notes }
    }
}

/// Reads the two lines on top. False if the rest is not worth reading: another kind of file, or
/// a newer format.
pub(super) fn read_header(root: &TableReader<'_>, kind: FileKind) -> bool {
    let root = &root.only(0);
    let wanted = format!("{:?}", kind.name());
    root.text("polso", &wanted, None, |text| text == kind.name());
    let format = root.plain_whole("format");
    match format {
        Some(newer) if newer > FORMAT => root.refuse(
            "format",
            format!("{newer}, from a newer version of Polso"),
            format!("{FORMAT}; a newer version can read this file"),
        ),
        _ => {
            root.whole("format", FORMAT as u16..=FORMAT as u16, None);
        }
    }
    kind_named(root) == Some(kind) && format == Some(FORMAT)
}

/// The kind that the first line names, if it names one.
pub(super) fn kind_named(root: &TableReader<'_>) -> Option<FileKind> {
    let kinds = [FileKind::Instrument, FileKind::Target, FileKind::Hand];
    kinds.into_iter().find(|kind| root.plain_text("polso").is_some_and(|it| it == kind.name()))
}

fn is_id(text: &str) -> bool {
    let fits = |each: u8| each.is_ascii_lowercase() || each.is_ascii_digit() || each == b'-';
    (1..=40).contains(&text.len()) && text.bytes().all(fits)
}

fn is_name(text: &str) -> bool {
    (1..=80).contains(&text.chars().count()) && is_printable(text)
}

/// No control characters, which could move a terminal's cursor.
fn is_printable(text: &str) -> bool {
    !text.chars().any(char::is_control)
}
