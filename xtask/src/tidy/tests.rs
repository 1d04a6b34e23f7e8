//! Each rule over literal cases.

use super::breaches;
use super::rule::TextFile;

/// The lines on which the rules find something in one file.
#[track_caller]
fn check(path: &str, text: &str, lines: &[usize]) {
    let files = [TextFile { path: path.to_owned(), text: text.to_owned() }];
    let found: Vec<usize> = breaches(&files).into_iter().map(|(_, (line, _))| line).collect();
    assert_eq!(found, lines, "{path}: {text}");
}

/// A file that keeps every rule, with `body` under its first sentence.
fn file(body: &str) -> String {
    format!("//! What the bow does.\n{body}")
}

#[test]
fn a_tidy_file_has_no_findings() {
    check("src/engine/bow.rs", &file("use core::f64;\nuse super::event;\nfn a() {}\n"), &[]);
    check("README.md", "# Polso\n", &[]);
}

#[test]
fn a_file_has_at_most_400_lines() {
    check("src/bow.rs", &file(&"\n".repeat(399)), &[]);
    check("src/bow.rs", &file(&"\n".repeat(400)), &[400]);
}

#[test]
fn a_function_has_at_most_70_lines() {
    let function = |lines: usize| format!("    fn a() {{\n{}    }}\n", "\n".repeat(lines - 2));
    check("src/bow.rs", &file(&function(70)), &[]);
    check("src/bow.rs", &file(&function(71)), &[2]);
    check("src/bow.rs", &file(&function(71).replace("fn", "pub(crate) const fn")), &[2]);
    check("src/bow.rs", &file(&function(71).replace("fn", "pub unsafe extern \"C\" fn")), &[2]);
}

#[test]
fn a_file_begins_with_one_sentence() {
    check("src/bow.rs", "use core::f64;\n", &[1]);
    check("src/bow.rs", "//! the bow\n", &[1]);
    check("tests/outside/read.py", "\"\"\"Reads the bow.\"\"\"\n", &[]);
    check("tests/outside/read.py", "import sys\n", &[1]);
}

#[test]
fn unfinished_work_is_found_in_any_file() {
    check("README.md", concat!("a\nTO", "DO: b\n"), &[2]);
    check("src/bow.rs", &file(concat!("#[ig", "nore]\n")), &[2]);
    check("src/bow.rs", &file(concat!("fn a() { to", "do!() }\n")), &[2]);
}

#[test]
fn a_module_is_named_for_what_it_does() {
    check("src/engine/utils.rs", &file(""), &[1]);
    check("src/helpers/bow.rs", &file(""), &[1]);
    check("src/bow.rs", &file("mod manager {\n}\n"), &[2]);
    check("src/uncommon.rs", &file(""), &[]);
}

#[test]
fn a_module_has_a_name_that_one_would_guess() {
    check("src/engine/thrift.rs", &file(""), &[1]);
    check("src/engine/thrift/bow.rs", &file(""), &[1]);
    check("src/engine/bow.rs", &file("pub mod wire {\n}\n"), &[2]);
    check("src/engine/breath_gap.rs", &file(""), &[]);
    check("xtask/src/thrift.rs", &file(""), &[]);
}

#[test]
fn the_engine_knows_only_core_and_libm() {
    for line in [
        "use std::f64;",
        "extern crate alloc;",
        "fn a() { let x = alloc::vec![1]; }",
        "fn a() { let x = std::f64::consts::PI; }",
        "use polso::engine;",
        "use polso_engine::event;",
        "use serde;",
        "use serde::Serialize;",
        "use serde::{\n    Serialize,\n};",
    ] {
        let breaches = if line.contains('\n') { 3 } else { 2 };
        check("src/engine/bow.rs", &file(&format!("{line}\n")), &[breaches]);
    }
    for line in [
        "// std::f64 is not here",
        "use libm::exp;",
        "use self::bow::Bow;",
        "use crate::event::Input;",
        "mod bow;\nuse bow::Bow;",
        "fn a() { f64::max(1.0, 2.0); }",
        "#[cfg(test)]\nmod tests {\n    use std::f64;\n}",
    ] {
        check("src/engine/bow.rs", &file(&format!("{line}\n")), &[]);
    }
    check("src/engine/tests/bow.rs", &file("use polso_engine::Bow;\n"), &[]);
}

#[test]
fn folders_know_only_what_stands_before_them() {
    check("src/profile/bow.rs", &file("use crate::engine::Section;\n"), &[]);
    check("src/profile/bow.rs", &file("use polso_engine::Section;\n"), &[]);
    check("src/profile/bow.rs", &file("use crate::offline::shape;\n"), &[2]);
    check("src/offline/bow.rs", &file("use crate::host::Host;\n"), &[2]);
    check("src/offline/bow.rs", &file("use crate::{cli, engine};\n"), &[2]);
    check("src/offline/bow.rs", &file("use crate::{\n    engine,\n    cli,\n};\n"), &[4]);
    check("src/offline/bow.rs", &file("fn a() { crate::host::b(); }\n"), &[2]);
    check("src/offline/bow.rs", &file("use super::super::host::Host;\n"), &[2]);
    check("src/offline/mod.rs", &file("use super::host::Host;\n"), &[2]);
    check("src/offline/bow.rs", &file("use super::host::Host;\n"), &[]);
    check("src/offline/bow.rs", &file("// crate::host is not here\n"), &[]);
    check("src/offline/bow.rs", &file("#[cfg(test)]\nmod a {\n    use crate::host::b;\n}\n"), &[4]);
    check("src/host/bow.rs", &file("use crate::offline::shape;\n"), &[2]);
    check("src/cli/bow.rs", &file("use crate::offline::shape;\n"), &[]);
}

/// The sentences with which the rules about all files find something in these: paths from `src`
/// and their texts without the first line, so that a text's first line is 2.
#[track_caller]
fn check_together(files: &[(&str, &str)], sentences: &[&str]) {
    let whole = |(path, body): &(&str, &str)| TextFile {
        path: format!("src/{path}"),
        text: file(&format!("{body}\n")),
    };
    let whole: Vec<TextFile> = files.iter().map(whole).collect();
    let found = breaches(&whole).into_iter();
    let found: Vec<String> = found.map(|(_, (_, sentence))| sentence.replace("src/", "")).collect();
    assert_eq!(found, sentences, "{files:?}");
}

#[test]
fn two_files_that_need_each_other_are_a_circle() {
    let lib = ("lib.rs", "mod bow;\nmod string;");
    let circle = ["circle of files: bow.rs:2 → string.rs:2 → bow.rs"];
    let bow = ("bow.rs", "use crate::string::String;\npub struct Bow;");
    for string in [
        "use crate::bow::Bow;",
        "use super::bow::Bow;",
        "use super::{bow::Bow};",
        "use super::bow::Bow as Other;",
        "use super::bow::*; fn a(bow: Bow) {}",
        "fn a() { crate::bow::Bow::draw() }",
        "fn a() { x(&[0..super::bow::COUNT]) }",
        "fn a(it: <super::bow::Bow as Deref>::Target) {}",
        "fn a() { assert_eq!(super::bow::COUNT, 1) }",
        "#[arg(value_parser = crate::bow::read)] struct A;",
        "mod inner { fn a() { super::super::bow::draw() } }",
        "#[cfg(feature = \"png\")] use crate::bow::Bow;",
        "use super::bow; fn a() { bow::draw() }",
    ] {
        check_together(&[lib, bow, ("string.rs", string)], &circle);
    }
    for string in [
        "use core::fmt;",
        "use super::bow;",
        "#[cfg(test)] use crate::bow::Bow;",
        "#[cfg(test)]\nmod tests {\n    use crate::bow::Bow;\n}",
        "struct A { #[cfg(test)] bow: super::bow::Bow, b: u8 }",
        "/// Of `crate::bow::Bow`.\nfn a() { \"crate::bow::Bow\"; }",
        "fn a<'bow>(b: &'bow u8) {}",
    ] {
        check_together(&[lib, bow, ("string.rs", string)], &[]);
    }
}

#[test]
fn a_longer_circle_is_told_once() {
    let files = [
        ("lib.rs", "mod bow;\nmod hair;\nmod string;"),
        ("bow.rs", "use crate::hair::Hair;\npub struct Bow;"),
        ("hair.rs", "\nuse crate::string::A;\npub struct Hair;"),
        ("string.rs", "\n\nuse crate::bow::Bow;\npub struct A;"),
    ];
    let circle = "circle of files: bow.rs:2 → hair.rs:3 → string.rs:4 → bow.rs";
    check_together(&files, &[circle]);
    // What leads into a circle is no part of it.
    let outer = ("lib.rs", "mod bow;\nmod hair;\nmod string;\npub fn a() { bow::b() }");
    check_together(&[outer, files[1], files[2], files[3]], &[circle]);
}

#[test]
fn a_folder_that_only_hands_on_is_seen_through() {
    let lib = ("lib.rs", "mod arm;");
    let wrist = ("arm/wrist.rs", "use super::Finger;\npub struct Wrist;");
    let handed_on =
        ("arm/mod.rs", "mod finger;\nmod wrist;\npub use finger::Finger;\npub use wrist::Wrist;");
    check_together(&[lib, handed_on, wrist, ("arm/finger.rs", "pub struct Finger;")], &[]);
    // Two files that find each other through it need each other.
    let finger = ("arm/finger.rs", "use super::Wrist;\npub struct Finger;");
    let circle = "circle of files: arm/finger.rs:2 → arm/wrist.rs:2 → arm/finger.rs";
    check_together(&[lib, handed_on, wrist, finger], &[circle]);
    // A star hands on everything.
    let all = ("arm/mod.rs", "mod finger;\nmod wrist;\npub use finger::*;\npub use wrist::*;");
    check_together(&[lib, all, wrist, finger], &[circle]);
    // So does a name for a whole folder.
    let named = ("lib.rs", "mod arm;\npub use arm as limb;");
    let other = ("arm/finger.rs", "use crate::limb::Wrist;\npub struct Finger;");
    check_together(&[named, handed_on, wrist, other], &[circle]);
}

#[test]
fn a_folder_with_words_of_its_own_is_a_file() {
    let lib = ("lib.rs", "mod arm;");
    let wrist = ("arm/wrist.rs", "use super::Arm;\npub struct Wrist;");
    let circle =
        |line: u8| format!("circle of files: arm/mod.rs:{line} → arm/wrist.rs:2 → arm/mod.rs");
    for (arm, line) in [
        ("mod wrist;\nuse wrist::Wrist;\npub struct Arm(Wrist);", 3),
        ("mod wrist;\npub use wrist::Wrist;\npub struct Arm(Wrist);", 4),
        ("mod wrist;\npub struct Arm(wrist::Wrist);", 3),
    ] {
        check_together(&[lib, ("arm/mod.rs", arm), wrist], &[&circle(line)]);
    }
    // It is none as long as one of the two needs nothing of the other.
    let aside = ("arm/mod.rs", "mod wrist;\npub use wrist::Wrist;\npub struct Arm;");
    check_together(&[lib, aside, wrist], &[]);
    let alone = ("arm/wrist.rs", "pub struct Wrist;");
    check_together(&[lib, ("arm/mod.rs", "mod wrist;\npub struct Arm(wrist::Wrist);"), alone], &[]);
}

#[test]
fn the_engine_is_known_by_its_crate_and_by_its_name_in_the_library() {
    let engine = ("engine/lib.rs", "pub mod bow;\npub mod string;\npub use bow::Bow;");
    let library = ("lib.rs", "pub use polso_engine as engine;\nmod hand;");
    let bow = ("engine/bow.rs", "use crate::string::A;\npub struct Bow;");
    let string = ("engine/string.rs", "use crate::Bow;\npub struct A;");
    let hand = ("hand.rs", "use crate::engine::Bow;");
    let circle = "circle of files: engine/bow.rs:2 → engine/string.rs:2 → engine/bow.rs";
    check_together(&[engine, library, bow, string, hand], &[circle]);
    let string = ("engine/string.rs", "pub struct A;");
    check_together(&[engine, library, bow, string, hand], &[]);
}

#[test]
fn a_types_name_means_one_thing() {
    let lib = ("lib.rs", "mod bow;\nmod string;");
    let twice =
        ["`Line` means something else in string.rs", "`Line` means something else in bow.rs"];
    let bow = ("bow.rs", "pub struct Line;");
    for string in
        ["enum Line { A }", "pub trait Line {}", "type Line = u8;", "fn a() { struct Line; }"]
    {
        check_together(&[lib, bow, ("string.rs", string)], &twice);
    }
    for string in [
        "trait A { type Line; }",
        "impl A for B { type Line = u8; }",
        "#[cfg(test)]\nmod tests {\n    struct Line;\n}",
        "#[cfg(test)]\nstruct Line(u8);\nfn line() {}",
        "fn a(r#struct: Line) {}",
    ] {
        check_together(&[lib, bow, ("string.rs", string)], &[]);
    }
    let again = ("bow.rs", "#[cfg(unix)]\npub struct Line;\n#[cfg(windows)]\npub struct Line;");
    check_together(&[lib, again, ("string.rs", "")], &[]);
}
