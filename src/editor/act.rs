//! Everything that can be done in the window, as values: the drawing gives them, the editor does them.

use std::path::PathBuf;

use super::edit::Place;
use super::sheet::Setting;
use super::strand::Strand;
use crate::profile::FileKind;

/// What the large area on the right shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Page {
    /// The chosen strand's curve and numbers.
    Curve,
    /// The instruments and the targets to choose from.
    Library,
    /// The player's own controller: learn it, calibrate it.
    Hand,
    /// The target's outputs: test them, learn keyswitches.
    Outputs,
    /// What the two slots do not share.
    Compare,
    /// What does not go together.
    Conflicts,
    /// Open, save, share.
    Files,
}

impl Page {
    /// Every page, in the order of the row of buttons.
    pub const ALL: [Page; 7] = [
        Page::Curve,
        Page::Library,
        Page::Hand,
        Page::Outputs,
        Page::Compare,
        Page::Conflicts,
        Page::Files,
    ];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Page::Curve => "Curve",
            Page::Library => "Choose",
            Page::Hand => "Hand",
            Page::Outputs => "Outputs",
            Page::Compare => "Compare",
            Page::Conflicts => "Conflicts",
            Page::Files => "Files",
        }
    }
}

/// The light of the window.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Light {
    /// Ink on paper.
    Day,
    /// For dark rooms.
    Night,
    /// As much contrast as there is.
    Strong,
}

impl Light {
    /// Every light.
    pub const ALL: [Light; 3] = [Light::Day, Light::Night, Light::Strong];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Light::Day => "light",
            Light::Night => "dark",
            Light::Strong => "high contrast",
        }
    }
}

/// One thing that the player does in the window.
#[derive(Clone, Debug, PartialEq)]
pub enum Act {
    /// Looks at a strand.
    Look(Strand),
    /// Looks at a style, by its place in the list.
    LookStyle(usize),
    /// Turns to a page.
    Turn(Page),
    /// Puts another value into a field of the slot that plays, as a file has it.
    Set {
        /** Which file. */
        kind: FileKind,
        /** The dotted name of the field. */
        path: String,
        /** The value. */
        value: Setting,
    },
    /// Begins a movement: all that is set until [`Act::Release`] is one step.
    Grip,
    /// Ends the movement.
    Release,
    /// Gives a field the library's value again.
    Reset {
        /** Which file. */
        kind: FileKind,
        /** The dotted name of the field. */
        path: String,
    },
    /// Takes a step back.
    Undo,
    /// Makes it again.
    Redo,
    /// Changes over to the other slot, or to this one.
    Slot(usize),
    /// Copies the slot that plays into the other one.
    CopySlot,
    /// Takes a file of the library.
    Choose(FileKind, String),
    /// Looks for instruments and targets with these words.
    Search(String),
    /// Sends every output again.
    Resend,
    /// Silence and rest, now.
    Panic,
    /// The echo has been seen to.
    Thaw,
    /// Waits for a controller to be moved, or gives that up.
    Learn(bool),
    /// Begins the thirty seconds in which the hand is measured, or gives that up.
    Calibrate(bool),
    /// Waits for a key, to be the keyswitch of this legato mode, or gives that up.
    LearnKey(Option<&'static str>),
    /// Sweeps one output, by its dotted name, or ends that.
    Test(Option<String>),
    /// Saves a file under this path.
    Save(FileKind, PathBuf),
    /// Overwrites the file that was asked about.
    Overwrite,
    /// Does not.
    KeepFile,
    /// Opens a file.
    Open(PathBuf),
    /// Writes all three files of the slot but the hand's into a folder, to be shared.
    Share(PathBuf),
    /// Takes the library's copy in place of the project's.
    Adopt(Place),
    /// Keeps the project's copy and does not mention the difference again.
    Keep(Place),
    /// Changes the light.
    Light(Light),
    /// Changes the size of everything, percent.
    Size(u16),
    /// Draws moving things without movement.
    Still(bool),
    /// Tells the player something, one sentence.
    Say(String),
    /// Winds the take, seconds.
    Wind(f64),
    /// Lets the take run, or stand.
    Run(bool),
}
