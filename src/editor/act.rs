//! Everything that can be done in the window, as values: drawing collects them, the editor does them.

use std::path::PathBuf;

use super::edit::SlotFile;
use super::open_file::FieldValue;
use super::strand::Strand;
use crate::profile::FileKind;

/// What the large area on the right shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Tab {
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
    /// What is asked of stretches of a host's song.
    Wishes,
    /// What was performed in a host: written into a MIDI file, and passed untouched from then on.
    Print,
}

impl Tab {
    /// Every page, in the order of the row of buttons.
    pub const ALL: [Tab; 9] = [
        Tab::Curve,
        Tab::Library,
        Tab::Hand,
        Tab::Outputs,
        Tab::Compare,
        Tab::Conflicts,
        Tab::Files,
        Tab::Wishes,
        Tab::Print,
    ];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Tab::Curve => "Curve",
            Tab::Library => "Choose",
            Tab::Hand => "Hand",
            Tab::Outputs => "Outputs",
            Tab::Compare => "Compare",
            Tab::Conflicts => "Conflicts",
            Tab::Files => "Files",
            Tab::Wishes => "Wishes",
            Tab::Print => "Print",
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
    Turn(Tab),
    /// Gives a field of the slot that plays another value, in the unit of the file.
    Set {
        /** Which file. */
        kind: FileKind,
        /** The dotted name of the field. */
        path: String,
        /** The value. */
        value: FieldValue,
    },
    /// Takes hold of something: all that is set until [`Act::Release`] is one step to be undone.
    Grab,
    /// Lets go of it.
    Release,
    /// Gives a field the library's value again.
    Reset {
        /** Which file. */
        kind: FileKind,
        /** The dotted name of the field. */
        path: String,
    },
    /// Undoes the last step.
    Undo,
    /// Does the step again that was undone last.
    Redo,
    /// Plays this slot, 0 or 1.
    Slot(usize),
    /// Copies the slot that plays into the other one.
    CopySlot,
    /// Takes a file of the library into the slot that plays, by its id.
    Choose(FileKind, String),
    /// Shows only what has these words in the library; with no words, all of it.
    Search(String),
    /// Sends every output again.
    Resend,
    /// Ends every note and puts every output to rest, now.
    Panic,
    /// Lets a frozen output go on: the player has cut the way by which it came back to the input.
    Thaw,
    /// Waits for a controller to be moved, which is then the hand's source; false gives that up.
    Learn(bool),
    /// Begins the thirty seconds in which the hand is measured; false gives that up.
    Calibrate(bool),
    /// Waits for a key, which is then the keyswitch of this legato mode; `None` gives that up.
    LearnKey(Option<&'static str>),
    /// Tests one output, by its dotted name: a note sounds and the output is swept. `None` ends
    /// that.
    Test(Option<String>),
    /// Saves a file of the slot that plays under this path; an existing file is asked about.
    Save(FileKind, PathBuf),
    /// Overwrites the file that was asked about.
    Overwrite,
    /// Leaves the file that was asked about as it is.
    KeepFile,
    /// Opens a file into the slot that plays, and into the library.
    Open(PathBuf),
    /// Writes instrument and target of the slot that plays into a folder, to be shared; the hand is
    /// private.
    Share(PathBuf),
    /// Asks of the song what this table says, and nothing else.
    Ask(String),
    /// The hand of the slot that plays becomes that of this computer; false: there is none any more.
    ComputerHand(bool),
    /// The lane on the track is to be recorded anew, by this computer's hand.
    RecordAnew,
    /// The track's own notes were printed, and pass untouched; or the line follows the hand again.
    Printed(bool),
    /// Writes what was performed into a MIDI file, these bars of it or all; an existing file is asked
    /// about.
    Print(PathBuf, String),
    /// Takes the library's copy in place of the project's.
    Adopt(SlotFile),
    /// Keeps the project's copy and does not mention the difference again.
    Keep(SlotFile),
    /// Changes the light.
    Light(Light),
    /// Changes the size of everything, percent, 100..=300.
    Size(u16),
    /// Draws the strands without movement, or with it again.
    Still(bool),
    /// Shows the player one sentence.
    Say(String),
    /// Winds the take to this place, seconds from its beginning.
    Seek(f64),
    /// Lets the take play, or stop.
    Run(bool),
}
