//! The instruments, receivers and hands that come with the program, and how any file is found.

use super::document::{Document, FILE_BYTES_MAX};
use super::fault::{Fault, LoadError, nearest};
use super::kind::FileKind;
use std::cmp::Reverse;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// A file that is part of the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shipped {
    /// Which of the three files it is.
    pub kind: FileKind,
    /// The name by which it is called.
    pub id: &'static str,
    /// Its whole text.
    pub text: &'static str,
}

macro_rules! shipped {
    ($kind:ident, $folder:literal, $id:literal) => {
        Shipped {
            kind: FileKind::$kind,
            id: $id,
            text: include_str!(concat!("../../profiles/", $folder, "/", $id, ".toml")),
        }
    };
}

/// Every shipped file: instruments, then targets, then hands.
pub const SHIPPED: &[Shipped] = &[
    shipped!(Instrument, "instruments", "erhu"),
    shipped!(Instrument, "instruments", "violin"),
    shipped!(Instrument, "instruments", "dizi-d"),
    shipped!(Instrument, "instruments", "gaohu"),
    shipped!(Instrument, "instruments", "zhonghu"),
    shipped!(Instrument, "instruments", "morin-khuur"),
    shipped!(Instrument, "instruments", "morin-khuur-high"),
    shipped!(Instrument, "instruments", "viola"),
    shipped!(Instrument, "instruments", "cello"),
    shipped!(Instrument, "instruments", "double-bass"),
    shipped!(Instrument, "instruments", "dizi-g"),
    shipped!(Instrument, "instruments", "dizi-c"),
    shipped!(Instrument, "instruments", "xiao"),
    shipped!(Instrument, "instruments", "hulusi"),
    shipped!(Instrument, "instruments", "suona-d"),
    shipped!(Instrument, "instruments", "flute"),
    shipped!(Instrument, "instruments", "oboe"),
    shipped!(Instrument, "instruments", "clarinet"),
    shipped!(Instrument, "instruments", "trumpet"),
    shipped!(Target, "targets", "generic"),
    shipped!(Target, "targets", "perform"),
    shipped!(Target, "targets", "perform-12"),
    shipped!(Target, "targets", "portamento"),
    shipped!(Hand, "hands", "wheel"),
    shipped!(Hand, "hands", "breath"),
];

/// Where a file is; the path of a file on which it is based starts from there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Home {
    /// Nowhere, a text in memory; a path in it starts from the working folder.
    Nowhere,
    /// Part of the program, under this id.
    Shipped(&'static str),
    /// A file on disk.
    File(PathBuf),
}

/// The bytes of a file and where it stands.
pub(super) struct FoundFile {
    pub bytes: Vec<u8>,
    pub home: Home,
}

impl Home {
    /// The shipped instrument called `name`, or the file at the path `name` from here.
    pub(super) fn parent(&self, name: &str) -> Result<FoundFile, LoadError> {
        let folder = match self {
            Home::File(path) => path.parent().unwrap_or(Path::new("")),
            Home::Nowhere | Home::Shipped(_) => Path::new(""),
        };
        find_from(folder, Some(FileKind::Instrument), name, is_path(name))
    }
}

/// The shipped file called `name`, of `kind` or of any, or the file at the path `name`.
pub(super) fn find(kind: Option<FileKind>, name: &str) -> Result<FoundFile, LoadError> {
    find_from(Path::new(""), kind, name, is_path(name) || Path::new(name).exists())
}

fn is_path(name: &str) -> bool {
    name.contains(['/', '\\']) || name.ends_with(".toml")
}

fn find_from(
    folder: &Path,
    kind: Option<FileKind>,
    name: &str,
    is_path: bool,
) -> Result<FoundFile, LoadError> {
    let candidates = || SHIPPED.iter().filter(move |each| kind.is_none_or(|it| each.kind == it));
    if let Some(found) = candidates().find(|each| each.id == name) {
        let (bytes, home) = (found.text.as_bytes().to_vec(), Home::Shipped(found.id));
        return Ok(FoundFile { bytes, home });
    }
    if is_path {
        let path = folder.join(name);
        let bytes = read_file(&path, name)?;
        // Two ways to one file are one file; without its true path, its path must do.
        return Ok(FoundFile { bytes, home: Home::File(path.canonicalize().unwrap_or(path)) });
    }
    let called = named(candidates(), name);
    if let [found] = called[..] {
        let (bytes, home) = (found.text.as_bytes().to_vec(), Home::Shipped(found.id));
        return Ok(FoundFile { bytes, home });
    }
    if !called.is_empty() {
        let ids: Vec<&str> = called.iter().map(|each| each.id).collect();
        return Err(LoadError::Ambiguous { name: name.to_owned(), ids: ids.join(", ") });
    }
    let ids: Vec<&str> = candidates().map(|each| each.id).collect();
    let nearest = nearest(name, ids.iter().copied()).map_or("none", |(id, _)| id);
    let kind = kind.map_or("name", FileKind::name);
    Err(LoadError::Unknown { kind, name: name.to_owned(), known: ids.join(", "), nearest })
}

/// The shipped files that have this name in any language, whatever the size of its letters; where
/// none has it whole, all of which it is a part, if those are several.
fn named(candidates: impl Iterator<Item = &'static Shipped>, name: &str) -> Vec<&'static Shipped> {
    let wanted = name.trim().to_lowercase();
    let mut whole = Vec::new();
    let mut part = Vec::new();
    for each in candidates {
        let names = names_of(each.text);
        let mut all = names.iter().map(String::as_str).chain([each.id]);
        if all.clone().any(|own| own == wanted) {
            whole.push(each);
        }
        if wanted.chars().count() >= 2 && all.any(|own| own.contains(&wanted)) {
            part.push(each);
        }
    }
    match (whole.is_empty(), part.len()) {
        (false, _) => whole,
        (true, 0 | 1) => Vec::new(),
        (true, _) => part,
    }
}

/// Words beside an instrument's name that make it another one.
const OTHER_KINDS: [&str; 12] = [
    "alto",
    "baritone",
    "bass",
    "contra",
    "horn",
    "pan",
    "piccolo",
    "sax",
    "saxophone",
    "soprano",
    "tenor",
    "voice",
];

/// The ids of the shipped instruments that a title calls by one of their names in any script, as a
/// track's does: `Violin 2`, `Solo 二胡`. None where it names another instrument too, or one of
/// another size (`bass clarinet`); several where a part of their names fits more than one (`笛子`).
pub fn instruments_called(title: &str) -> Vec<&'static str> {
    let title = title.to_lowercase();
    let instruments = || SHIPPED.iter().filter(|each| each.kind == FileKind::Instrument);
    // The longest name comes first, so that a double bass is no bass and the high khuur itself.
    let mut names: Vec<(String, &str)> = Vec::new();
    for each in instruments() {
        names.extend(
            names_of(each.text).into_iter().chain([each.id.to_owned()]).map(|it| (it, each.id)),
        );
    }
    names.sort_by_key(|(name, _)| Reverse(name.chars().count()));
    let Some((name, at)) = names.iter().find_map(|(name, _)| Some((name, word_at(&title, name)?)))
    else {
        let word = title.trim_matches(|each: char| !each.is_alphabetic());
        return named(instruments(), word).iter().map(|each| each.id).collect();
    };
    let rest = format!("{} {}", &title[..at], &title[at + name.len()..]);
    let mut words = rest.split(|each: char| !each.is_alphabetic());
    let is_other = words.any(|word| OTHER_KINDS.contains(&word))
        || names.iter().any(|(other, _)| word_at(&rest, other).is_some());
    let mut ids: Vec<&str> = Vec::new();
    for (_, id) in names.iter().filter(|(own, _)| own == name && !is_other) {
        if !ids.contains(id) {
            ids.push(id);
        }
    }
    ids
}

/// Where a text has this name as a word of its own; scripts without spaces have no words.
fn word_at(text: &str, name: &str) -> Option<usize> {
    let is_joined = |own: Option<char>, beside: Option<char>| {
        let is_spaced = |each: char| each.is_alphabetic() && each < UNSPACED;
        own.is_some_and(is_spaced) && beside.is_some_and(is_spaced)
    };
    text.match_indices(name).map(|(at, _)| at).find(|&at| {
        let (before, after) = (&text[..at], &text[at + name.len()..]);
        !is_joined(name.chars().next(), before.chars().next_back())
            && !is_joined(name.chars().next_back(), after.chars().next())
    })
}

/// From here on Unicode has the scripts of East Asia, which put no spaces between words.
const UNSPACED: char = '\u{2E80}';

/// The names that a text gives itself, in small letters.
fn names_of(text: &str) -> Vec<String> {
    let Ok(document) = Document::parse(text) else { return Vec::new() };
    let about = document.root().get("about").and_then(|item| item.as_table_like());
    let names = about.and_then(|table| table.get("names")?.as_table_like());
    let each = names.into_iter().flat_map(|table| table.iter());
    each.filter_map(|(_, name)| Some(name.as_str()?.to_lowercase())).collect()
}

/// The bytes of a file on disk, not more than a profile may have.
fn read_file(path: &Path, name: &str) -> Result<Vec<u8>, LoadError> {
    let unreadable = |error: std::io::Error| LoadError::Unreadable {
        name: name.to_owned(),
        reason: error.to_string(),
    };
    let file = File::open(path).map_err(unreadable)?;
    let mut bytes = Vec::new();
    file.take(FILE_BYTES_MAX as u64 + 1).read_to_end(&mut bytes).map_err(unreadable)?;
    if bytes.len() > FILE_BYTES_MAX {
        let fault = Fault {
            line: None,
            file: None,
            field: "the file".to_owned(),
            found: "longer than that".to_owned(),
            allowed: format!("at most {FILE_BYTES_MAX} bytes"),
        };
        return Err(LoadError::Faulty { name: name.to_owned(), faults: vec![fault] });
    }
    Ok(bytes)
}
