//! What a rule of tidiness is given and what it tells.

/// A breach of a rule: the line, counted from 1, and one sentence.
pub type Breach = (usize, String);

/// A file of the project: its path from the root, and its text.
pub struct TextFile {
    pub path: String,
    pub text: String,
}

/// The file is Rust.
pub fn is_rust(path: &str) -> bool {
    path.ends_with(".rs")
}
