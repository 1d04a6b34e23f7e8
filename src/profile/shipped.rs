//! The instruments, receivers and hands that come with the program, and how any file is found.

use super::about::Kind;
use super::document::FILE_BYTES_MAX;
use super::fault::{Fault, LoadError, nearest};
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// A file that is part of the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shipped {
    /// Which of the three files it is.
    pub kind: Kind,
    /// The name by which it is called.
    pub id: &'static str,
    /// Its whole text.
    pub text: &'static str,
}

macro_rules! shipped {
    ($kind:ident, $folder:literal, $id:literal) => {
        Shipped {
            kind: Kind::$kind,
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
    shipped!(Target, "targets", "generic"),
    shipped!(Target, "targets", "perform"),
    shipped!(Hand, "hands", "wheel"),
    shipped!(Hand, "hands", "breath"),
];

/// The bytes of the shipped file called `name`, of `kind` or of any, or of the file at the path
/// `name`.
pub(super) fn bytes(kind: Option<Kind>, name: &str) -> Result<Vec<u8>, LoadError> {
    let candidates = || SHIPPED.iter().filter(move |each| kind.is_none_or(|it| each.kind == it));
    if let Some(found) = candidates().find(|each| each.id == name) {
        return Ok(found.text.as_bytes().to_vec());
    }
    let is_path = name.contains(['/', '\\']) || name.ends_with(".toml");
    if is_path || Path::new(name).exists() {
        return read_file(name);
    }
    let ids: Vec<&str> = candidates().map(|each| each.id).collect();
    let nearest = nearest(name, ids.iter().copied()).map_or("none", |(id, _)| id);
    let kind = kind.map_or("name", Kind::name);
    Err(LoadError::Unknown { kind, name: name.to_owned(), known: ids.join(", "), nearest })
}

/// The bytes of a file on disk, not more than a profile may have.
fn read_file(path: &str) -> Result<Vec<u8>, LoadError> {
    let unreadable = |error: std::io::Error| LoadError::Unreadable {
        name: path.to_owned(),
        reason: error.to_string(),
    };
    let file = File::open(path).map_err(unreadable)?;
    let mut bytes = Vec::new();
    file.take(FILE_BYTES_MAX as u64 + 1).read_to_end(&mut bytes).map_err(unreadable)?;
    if bytes.len() > FILE_BYTES_MAX {
        let fault = Fault {
            line: None,
            field: "the file".to_owned(),
            found: "longer than that".to_owned(),
            allowed: format!("at most {FILE_BYTES_MAX} bytes"),
        };
        return Err(LoadError::Faulty { name: path.to_owned(), faults: vec![fault] });
    }
    Ok(bytes)
}
