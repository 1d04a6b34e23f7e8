//! The doors by which hosts come in: one library holds both plugins in both formats.
#![allow(unsafe_code, missing_docs, reason = "the framework's macros write the doors")]

use super::front::{Polso, PolsoThrough};

nice_plug::nice_export_clap!(Polso, PolsoThrough);
nice_plug::nice_export_vst3!(Polso, PolsoThrough);
