//! The summary that `shape` prints: what a player would want to know of each line.

use std::fmt;

use super::report::{Counted, LineReport, OutputReport, Report, Share, Silence};
use crate::engine::reason::Reason;
use crate::offline::minutes::Minutes;

/// How many changes of the articulation are listed.
const CHANGES_MAX: usize = 12;
/// How many silences are listed.
const SILENCES_MAX: usize = 8;

/// By which way the pitch goes from note to note.
fn way(transition: &str, struck_again: usize) -> String {
    let way = match transition {
        "none" => "by no way of the target's".to_owned(),
        "receiver" => "by the receiver's own modes".to_owned(),
        way => format!("by {way}"),
    };
    match struck_again {
        0 => way,
        1 => format!("{way}, 1 key struck again"),
        count => format!("{way}, {count} keys struck again"),
    }
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for line in &self.lines {
            write!(f, "{line}")?;
        }
        for conflict in &self.conflicts {
            writeln!(f, "conflict   {conflict}")?;
        }
        for notice in &self.notices {
            writeln!(f, "note       {notice}")?;
        }
        Ok(())
    }
}

impl fmt::Display for LineReport {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let LineReport { track, channel, notes, length_s, source, consumed, .. } = self;
        writeln!(
            f,
            "line       track {track}, channel {channel}: {notes} notes in {}",
            Minutes(*length_s)
        )?;
        self.write_passing(f)?;
        if let Some(voices) = &self.voices {
            writeln!(f, "voices     {voices}")?;
        }
        writeln!(f, "gesture    {consumed} {source} messages taken in")?;
        writeln!(
            f,
            "notes      {} with another velocity, {} offs moved",
            self.velocities_changed, self.offs_moved
        )?;
        let mut head = "sent";
        for OutputReport { layer, address, messages, per_second, lowest, highest } in &self.outputs
        {
            let sent = format!("{messages} messages, {per_second:.1} a second");
            writeln!(f, "{head:<10} {layer:<14} {address:<12} {sent}, {lowest} to {highest}")?;
            head = "";
        }
        let modes = self.modes.iter().map(|(mode, count)| format!("{count} {mode}"));
        writeln!(f, "legato     {}", modes.collect::<Vec<_>>().join(", "))?;
        for Counted { sentence, count, .. } in &self.mode_reasons {
            writeln!(f, "{:>14} x  {sentence}", count)?;
        }
        writeln!(f, "joins      {}", way(self.transition, self.struck_again))?;
        for Counted { sentence, count, .. } in &self.transitions {
            writeln!(f, "{:>14} x  {sentence}", count)?;
        }
        let mut head = "playing";
        for change in self.articulations.iter().take(CHANGES_MAX) {
            writeln!(f, "{head:<10} {change}")?;
            head = "";
        }
        if let Some(more) = self.articulations.len().checked_sub(CHANGES_MAX).filter(|it| *it > 0) {
            writeln!(f, "{head:<10} and {more} more changes")?;
        }
        let mut head = "wishes";
        for wish in &self.wishes {
            writeln!(f, "{head:<10} {wish}")?;
            head = "";
        }
        writeln!(f, "vibrato    by sounding time")?;
        for Share { sentence, share, .. } in &self.vibrato_reasons {
            writeln!(f, "{:>14.1} %  {sentence}", share * 100.0)?;
        }
        if !self.endings.is_empty() {
            writeln!(f, "endings    {}", self.endings.iter().map(|it| it.count).sum::<usize>())?;
        }
        for Counted { sentence, count, .. } in &self.endings {
            writeln!(f, "{:>14} x  {sentence}", count)?;
        }
        write_silences(f, &self.silences)?;
        if self.dropped_messages + self.stolen_notes > 0 {
            writeln!(
                f,
                "losses     {} messages dropped, {} notes cut short",
                self.dropped_messages, self.stolen_notes
            )?;
        }
        Ok(())
    }
}

/// Where the line is silent by the hand, and how long.
fn write_silences(f: &mut fmt::Formatter<'_>, silences: &[Silence]) -> fmt::Result {
    if silences.is_empty() {
        return Ok(());
    }
    let whole_s = silences.iter().map(|silence| silence.length_s).sum::<f64>();
    writeln!(f, "silent     {whole_s:.1} s. {}", Reason::Niente.sentence())?;
    for Silence { beat, length_s } in silences.iter().take(SILENCES_MAX) {
        writeln!(f, "           from {beat} for {length_s:.1} s")?;
    }
    if let Some(more) = silences.len().checked_sub(SILENCES_MAX).filter(|more| *more > 0) {
        writeln!(f, "           and {more} more silences")?;
    }
    Ok(())
}

impl LineReport {
    /// What passes as another player's.
    fn write_passing(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.foreign_notes > 0 {
            let are = if self.foreign_notes == 1 { "note lies" } else { "notes lie" };
            writeln!(
                f,
                "passing    {} {are} more than 7 semitones outside the range, as another player's keys do: untouched",
                self.foreign_notes
            )?;
        }
        Ok(())
    }
}
