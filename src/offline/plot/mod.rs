//! The line as a picture: the gesture comes in, and everything it becomes stands under the bars.

// From the performance to the picture.
pub mod column;
pub mod performed_curves;

pub mod layout;
pub mod svg;
pub mod theme;

mod curve_path;
mod lane_titles;
mod lanes;
mod legato_marks;
mod notes;
mod ruler;

pub mod picture;

#[cfg(feature = "png")]
pub mod png;

pub use picture::{PlotPicture, PlotStyle, SecondTake, plot_bytes};
pub use theme::{DARK, LIGHT, PlotTheme};
