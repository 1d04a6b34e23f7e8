//! What `look` prints: the file from the whole to the smallest, and what comes next.

use std::fmt::{self, Formatter};

use super::file::Look;
use super::keyswitch::KeyGroup;
use super::lane::LookedLane;
use super::notes::LookedNotes;
use super::part::ProgramChoice;
use super::shaped::ShapedBy;
use super::song::{Metre, SongOutline};
use super::track::{LookedPart, LookedTrack};
use crate::offline::minutes::Minutes;

/// From here on an interval is said in seconds.
const LONG_MS: f64 = 1000.0;
/// Programs stand in a row of their own.
const PROGRAM: &str = "program";
/// The most texts and metres that are listed.
const LISTED_MAX: usize = 12;

impl fmt::Display for Look {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.song)?;
        if let Some(shaped) = &self.shaped {
            write!(f, "{shaped}")?;
        }
        for track in self.tracks.iter().filter(|track| !track.parts.is_empty()) {
            write!(f, "{track}")?;
        }
        let mut head = "asked";
        for text in self.texts.iter().take(LISTED_MAX) {
            let wish = format!("track {}, {}: {}", text.track, text.beat, text.words);
            writeln!(f, "{head:<10} {wish}")?;
            head = "";
        }
        if let Some(more) = self.texts.len().checked_sub(LISTED_MAX).filter(|more| *more > 0) {
            writeln!(f, "{head:<10} and {more} more wishes and articulations")?;
        }
        let others = [(self.other_texts, "other text"), (self.sysex, "system exclusive message")];
        let others = others.iter().filter(|(count, _)| *count > 0);
        let others: Vec<String> = others.map(|(count, what)| counted(*count, what)).collect();
        if !others.is_empty() {
            writeln!(f, "besides    {}", others.join(", "))?;
        }
        let mut head = "not told";
        for sentence in &self.cannot_tell {
            writeln!(f, "{head:<10} {sentence}")?;
            head = "";
        }
        for remark in &self.next.remarks {
            writeln!(f, "note       {remark}")?;
        }
        Ok(())
    }
}

fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

impl fmt::Display for SongOutline {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        write!(f, "length     {}", Minutes(self.length_s))?;
        match self.bars {
            Some(1) => write!(f, ", 1 bar")?,
            Some(bars) => write!(f, ", {bars} bars")?,
            None => write!(f, ", counted in film frames, without bars")?,
        }
        if let Some(tempo) = &self.tempo {
            let stated = if tempo.is_stated { "" } else { " since none is stated" };
            write!(f, "; tempo {:.0}{stated}", tempo.first_bpm)?;
            if tempo.changes > 0 {
                let (low, high) = (tempo.lowest_bpm, tempo.highest_bpm);
                let changes = counted(tempo.changes, "change");
                write!(f, ", {changes} between {low:.0} and {high:.0}")?;
            }
        }
        let metre = |(place, metre): (usize, &Metre)| {
            let from = if place == 0 { String::new() } else { format!(" from bar {}", metre.bar) };
            let stated = if metre.is_stated { "" } else { " since none is stated" };
            format!("{}/{}{from}{stated}", metre.beats, metre.value)
        };
        let metres: Vec<String> =
            self.metres.iter().enumerate().take(LISTED_MAX).map(metre).collect();
        let more = if self.metres.len() > LISTED_MAX { " and more" } else { "" };
        match metres.is_empty() {
            true => writeln!(f),
            false => writeln!(f, "; {}{more}", metres.join(", ")),
        }
    }
}

impl fmt::Display for ShapedBy {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let (Some(engine), Some(instrument)) = (self.engine, &self.instrument) else {
            return writeln!(f, "shaped     by Polso; {}", self.marker);
        };
        let name = |text: &str| text.split(' ').next().unwrap_or_default().to_owned();
        let target = self.target.as_deref().map(name).unwrap_or_default();
        write!(f, "shaped     by Polso, engine revision {engine}")?;
        if !self.is_own_revision {
            write!(f, " (this program has another)")?;
        }
        write!(f, ": {} for {target}", name(instrument))?;
        if let Some(source) = &self.source {
            write!(f, ", gesture {source}")?;
        }
        if let Some(seed) = self.seed {
            write!(f, ", seed {seed}")?;
        }
        match self.bars.as_deref() {
            Some("all") | None => writeln!(f),
            Some(bars) => writeln!(f, ", bars {bars}"),
        }
    }
}

impl fmt::Display for LookedTrack {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let names = [&self.name, &self.instrument_name].into_iter().flatten();
        let names: Vec<&str> = names.map(String::as_str).collect();
        let name = if names.is_empty() { String::new() } else { format!(" {}", names.join(", ")) };
        for part in &self.parts {
            writeln!(f, "\ntrack      {}, channel {}{name}", self.track, part.channel)?;
            write!(f, "{part}")?;
        }
        Ok(())
    }
}

impl fmt::Display for LookedPart {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        if !self.programs.is_empty() {
            let programs: Vec<String> = self.programs.iter().map(ToString::to_string).collect();
            writeln!(f, "program    {}", programs.join(", "))?;
        }
        if let Some(notes) = &self.notes {
            write!(f, "{notes}")?;
        }
        if self.is_drum_channel {
            writeln!(f, "           General MIDI has its drums on this channel")?;
        }
        if let Some(told) = &self.instrument {
            match (told.id, told.by) {
                (Some(id), Some(by)) => write!(f, "instrument {id}, by its {by}")?,
                _ => write!(f, "instrument cannot be told")?,
            }
            if told.id.is_some() && told.outside_notes > 0 {
                write!(f, "; {} outside its range", counted(told.outside_notes, "note"))?;
            }
            if told.id.is_some() && told.foreign_notes > 0 {
                write!(f, ", {} so far that shape lets them pass", told.foreign_notes)?;
            }
            writeln!(f)?;
        }
        let lanes = self.lanes.iter().filter(|lane| lane.address != PROGRAM);
        let (moving, set): (Vec<&LookedLane>, Vec<&LookedLane>) =
            lanes.partition(|lane| lane.is_moving());
        let mut head = "moves";
        for lane in moving {
            writeln!(f, "{head:<10} {lane}")?;
            head = "";
        }
        let set: Vec<String> =
            set.iter().map(|lane| format!("{} {}", lane.address, lane.lowest)).collect();
        match set.is_empty() {
            true => Ok(()),
            false => writeln!(f, "set        {}", set.join(", ")),
        }
    }
}

impl fmt::Display for ProgramChoice {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let number = u16::from(self.program) + 1;
        match (self.name, self.bank) {
            (Some(name), _) => write!(f, "{number} {name}"),
            (None, Some(bank)) if !self.is_gm() => {
                write!(f, "{number} of bank {bank}, which General MIDI has not")
            }
            _ => write!(f, "{number}"),
        }
    }
}

impl fmt::Display for LookedNotes {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let LookedNotes { notes, lowest, highest, voices, overlap_share, .. } = self;
        write!(f, "notes      {notes}, {lowest} to {highest}")?;
        match (overlap_share, voices) {
            (_, 1) => write!(f, ", none begins while another is down")?,
            (share, voices) => write!(
                f,
                ", {:.0} % begin while another is down, at most {voices} at once",
                100.0 * share
            )?,
        }
        match (self.chords, self.chord_keys) {
            (0, _) => write!(f, ", no chords")?,
            (chords, keys) => write!(f, ", {} of up to {keys}", counted(chords, "chord"))?,
        }
        if self.open_notes > 0 {
            write!(f, ", {} without an end", self.open_notes)?;
        }
        writeln!(f)?;
        self.keyswitches.iter().try_for_each(|group| writeln!(f, "keys       {group}"))
    }
}

impl fmt::Display for KeyGroup {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let KeyGroup { lowest, highest, keys, notes, gap_semitones, length_s, held, .. } = self;
        let where_ = match keys {
            1 => lowest.clone(),
            keys => format!("{lowest} to {highest} ({keys} keys)"),
        };
        let (notes, millis) = (counted(*notes, "note"), 1000.0 * length_s);
        write!(f, "{where_}: {notes}, {gap_semitones} semitones from the others, {millis:.0} ms")?;
        if *held > 0 {
            write!(f, ", {held} held while others begin")?;
        }
        write!(f, ": keyswitches perhaps")
    }
}

impl fmt::Display for LookedLane {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let LookedLane { address, messages, lowest, highest, steps, .. } = self;
        let messages = counted(*messages, "message");
        let called = match self.name {
            Some(name) => format!("{address} {name}"),
            None => address.clone(),
        };
        write!(f, "{called:<20} {messages:>13}, {lowest} to {highest} in {steps} values")?;
        match self.interval_ms {
            Some(ms) if ms < LONG_MS => write!(f, ", a change every {ms:.0} ms")?,
            Some(ms) => write!(f, ", a change every {:.1} s", ms / 1000.0)?,
            None => {}
        }
        match (&self.layer, self.is_written_over) {
            (Some(layer), true) => write!(f, "; Polso sends its {layer} there"),
            _ => Ok(()),
        }
    }
}
