//! The table of a line: written row by row, whole or not at all.

use std::cell::Cell;
use std::fs;
use std::path::Path;

use super::room::{LINE, QUARTER, settings, take, traced};
use polso::offline::save::{SafeWriter, SaveError};
use polso::offline::trace::{TraceError, trace_bytes};

#[test]
fn rows_are_handed_on_one_by_one_until_one_is_refused() {
    let (bytes, settings) = (take(QUARTER, &[LINE]), settings("erhu", "generic"));
    let (csv, _) = traced(&bytes, &settings, 10);
    let mut rows = Vec::new();
    let result = trace_bytes(&bytes, &settings, 10, |row| {
        rows.push(row.to_owned());
        if rows.len() < 20 { Ok(()) } else { Err("the disk is full") }
    });
    assert!(matches!(result, Err(TraceError::Row("the disk is full"))), "{result:?}");
    assert_eq!(rows.len(), 20, "after a refusal no row is given");
    assert!(csv.starts_with(&rows.concat()) && rows.iter().all(|row| row.ends_with('\n')));
}

#[test]
fn of_a_take_that_cannot_be_traced_no_row_is_given() {
    let rows = Cell::new(0);
    // 25 hours: 180,000 quarter notes of half a second.
    let long = take(QUARTER, &["0 FF510307A120, 0 B00150, 0 903C50, 86400000 803C40"]);
    for bytes in [b"no music".to_vec(), long] {
        let result = trace_bytes(&bytes, &settings("erhu", "generic"), 10, |_| {
            rows.set(rows.get() + 1);
            Ok::<(), ()>(())
        });
        assert!(matches!(result, Err(TraceError::Take(_))), "{result:?}");
    }
    assert_eq!(rows.get(), 0);
}

/// The names in a folder.
fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    entries.map(|it| it.unwrap().file_name().into_string().unwrap()).collect()
}

#[test]
fn a_file_is_there_when_it_is_whole_and_not_before() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.csv");
    let mut file = SafeWriter::create(&path, false).unwrap();
    file.write(b"half").unwrap();
    assert!(!path.exists());
    drop(file);
    assert_eq!(names(folder.path()), [""; 0], "what was given up leaves nothing");
    let mut file = SafeWriter::create(&path, false).unwrap();
    file.write(b"half, ").unwrap();
    file.write(b"whole").unwrap();
    file.finish().unwrap();
    assert_eq!(fs::read(&path).unwrap(), b"half, whole");
    assert_eq!(names(folder.path()), ["a.csv"]);
}

#[test]
fn a_file_that_came_meanwhile_is_not_overwritten_unless_asked() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.csv");
    let begin = |is_forced| {
        let mut file = SafeWriter::create(&path, is_forced).unwrap();
        file.write(b"new").unwrap();
        file
    };
    let (careful, forced) = (begin(false), begin(true));
    fs::write(&path, "precious").unwrap();
    let error = careful.finish().unwrap_err();
    assert!(matches!(&error, SaveError::Exists { .. }), "{error}");
    assert_eq!(fs::read(&path).unwrap(), b"precious");
    forced.finish().unwrap();
    assert_eq!(fs::read(&path).unwrap(), b"new");
    assert_eq!(names(folder.path()), ["a.csv"]);
}
