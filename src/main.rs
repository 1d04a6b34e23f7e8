//! The program `polso`.
fn main() {}
