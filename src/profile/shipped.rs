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

/// The bytes of the shipped file called `name`, or of the file at the path `name`.
pub(super) fn bytes(kind: Kind, name: &str) -> Result<Vec<u8>, LoadError> {
    let of_kind = || SHIPPED.iter().filter(move |each| each.kind == kind);
    if let Some(found) = of_kind().find(|each| each.id == name) {
        return Ok(found.text.as_bytes().to_vec());
    }
    let is_path = name.contains(['/', '\\']) || name.ends_with(".toml");
    if !is_path && !Path::new(name).exists() {
        let ids: Vec<&str> = of_kind().map(|each| each.id).collect();
        let like = nearest(name, ids.iter().copied()).map_or("none", |(id, _)| id);
        let known = ids.join(", ");
        return Err(LoadError::Unknown {
            kind: kind.name(),
            name: name.to_owned(),
            known,
            nearest: like,
        });
    }
    read_file(name)
}

/// The bytes of a file on disk, not more than a profile may have.
pub fn read_file(path: &str) -> Result<Vec<u8>, LoadError> {
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
