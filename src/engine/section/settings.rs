//! Begins, takes other settings, turns controls, forgets: what a section is before and between notes.

use super::company::Company;
use super::niente::NOWHERE;
use super::{LINES_MAX, Section};
use crate::gesture::conditioning::Gesture;
use crate::input::event::{Input, Timed};
use crate::input::song::Song;
use crate::line::Line;
use crate::math::clock::Clock;
use crate::output::feedback::Feedback;
use crate::output::outlet::LineOut;
use crate::output::sounding::Sounding;
use crate::patch::controls::Controls;
use crate::patch::setup::Setup;
use crate::patch::{Patch, VoicesPatch};

impl Section {
    /// A ready section at `sample_rate_hz` (8,000 to 768,000, else the nearest), playing `patch`. It hears
    /// the notes of every channel, as one line or as the patch's voices. Any thread.
    pub fn prepare(sample_rate_hz: f64, patch: &Patch) -> Section {
        Section::with_lines(sample_rate_hz, patch, 1)
    }

    /// The same of several lines, 1..=8 (else the nearest). Line n plays the notes of the channel
    /// that lies n after the patch's home channel; the first one also those of channels that are
    /// nobody's. Any thread.
    pub fn with_lines(sample_rate_hz: f64, patch: &Patch, line_count: usize) -> Section {
        let mut controls = Controls::prepare(patch);
        let mut setup = Setup::prepare(patch);
        if controls.retouch(patch.retouches.at(Song::START.beat)) {
            setup.turn(&controls);
        }
        let hand = &setup.patch.hand;
        let channel_count = line_count.clamp(1, LINES_MAX);
        let line_count = lines_of(&setup, channel_count);
        let gesture = Gesture::at_rest(hand);
        let x = gesture.now().x;
        Section {
            controls,
            clock: Clock::prepare(sample_rate_hz),
            song: Song::START,
            articulation: None,
            niente_from: NOWHERE,
            retouch_due_s: f64::INFINITY,
            gestures: [gesture; LINES_MAX],
            gesture_count: gesture_count(&setup, channel_count),
            lines: core::array::from_fn(|number| Line::at_rest(&setup, number as u8, x)),
            line_count,
            channel_count,
            company: Company::NONE,
            shares_way_out: channel_count == 1 && setup.patch.voices.share_channel(),
            may_cut: true,
            outs: [LineOut::unsent(&setup); LINES_MAX],
            sounding: Sounding::SILENT,
            feedback: Feedback::SILENT,
            refused_messages: 0,
            is_fresh: true,
            is_resting: false,
            is_bypassed: false,
            setup,
        }
    }

    /// Takes other settings; the controls stay where they were turned, and a gesture from the same
    /// source where it stands. In mid-note the note goes on, and what goes out moves from the old
    /// settings' values to the new ones' over 50 ms, at the cost of a dozen numbers. Else all
    /// starts afresh. Every output is sent again first thing in the next `process`. Audio thread.
    // Apart, so that its large values stand on the stack only while they are needed.
    #[inline(never)]
    pub fn load(&mut self, patch: &Patch) {
        self.feedback.thaw();
        let now_s = self.clock.frame_s(self.clock.block_frame());
        self.controls.retouch(patch.retouches.at(self.song.beat_at(now_s)));
        self.controls.load(patch);
        // A setup is large and the stack small: the old one takes the place of the new one.
        let mut before = Setup::prepare(patch);
        before.turn(&self.controls);
        before.niente_is_open = self.setup.niente_is_open;
        core::mem::swap(&mut self.setup, &mut before);
        for out in &mut self.outs {
            out.outputs.exchange(&before, &self.setup);
        }
        self.is_resting = false;
        let is_alike = self.find_voices(&before);
        if self.is_sounding() && is_alike {
            self.exchange_in_note(now_s, &before);
        } else {
            self.exchange_at_rest(now_s, &before);
        }
        self.retouch(self.clock.frame_s(self.clock.block_frame()));
    }

    // Apart, so that its large values stand on the stack only while they are needed.
    #[inline(never)]
    fn exchange_in_note(&mut self, now_s: f64, before: &Setup) {
        let setup = &self.setup;
        let (old_hand, hand) = (&before.patch.hand, &setup.patch.hand);
        let old = self.gestures;
        let old_of = |place: usize| &old[if self.gesture_count > 1 { place } else { 0 }];
        let count = gesture_count(setup, self.channel_count);
        for (place, gesture) in self.gestures.iter_mut().enumerate() {
            *gesture = *old_of(place);
            gesture.adopt_in_note(now_s, old_hand, hand);
        }
        for (place, line) in self.lines.iter_mut().enumerate() {
            let fade = line.values(before, old_of(place).now(), now_s).fade();
            let gesture = &self.gestures[if count > 1 { place } else { 0 }];
            line.exchange(now_s, setup, gesture.now().x, fade);
            self.outs[place].switching.exchange(now_s);
            self.outs[place].resync_due_s = now_s;
        }
        self.gesture_count = count;
    }

    // Apart, so that its large values stand on the stack only while they are needed.
    #[inline(never)]
    fn exchange_at_rest(&mut self, now_s: f64, before: &Setup) {
        self.clock.anchor(self.clock.block_frame());
        let (old_hand, hand) = (&before.patch.hand, &self.setup.patch.hand);
        for gesture in &mut self.gestures {
            gesture.adopt(old_hand, hand);
        }
        self.gesture_count = gesture_count(&self.setup, self.channel_count);
        self.song = self.song.anchored_at(now_s);
        for place in 0..LINES_MAX {
            let x = self.gestures[self.gesture_place(place)].now().x;
            self.lines[place].exchange_at_rest(&self.setup, x);
        }
        self.untell();
        self.forgive();
        self.is_fresh = true;
    }

    /// Takes over how many voices the settings want; true if they are the same as before. Other voices
    /// begin afresh, whatever sounds.
    // Apart, so that its large values stand on the stack only while they are needed.
    #[inline(never)]
    fn find_voices(&mut self, before: &Setup) -> bool {
        let (old, voices) = (&before.patch.voices, &self.setup.patch.voices);
        let channels = |voices: &VoicesPatch| (voices.has_channels, voices.channels);
        if (old.kind, old.count) == (voices.kind, voices.count) && channels(old) == channels(voices)
        {
            return true;
        }
        self.line_count = lines_of(&self.setup, self.channel_count);
        self.shares_way_out = self.shares_channel();
        self.company = Company::NONE;
        for (number, line) in self.lines.iter_mut().enumerate() {
            let x = self.gestures[0].now().x;
            *line = Line::at_rest(&self.setup, number as u8, x);
        }
        self.channel_count > 1
    }

    /// Goes on at another sample rate (8,000 to 768,000, else the nearest), as after `reset`. Audio thread.
    pub fn retime(&mut self, sample_rate_hz: f64) {
        self.clock = Clock::prepare(sample_rate_hz);
        self.reset();
    }

    /// Forgets everything played: the host has deactivated, or goes on at another place and time.
    /// What is bypassed stays so, and so do the articulation that was chosen and the place from which
    /// the hand may take the sound to nothing.
    /// Offs still owed are sent first thing in the next `process`, however much later it comes.
    /// Audio thread.
    // Apart, so that its large values stand on the stack only while they are needed.
    #[inline(never)]
    pub fn reset(&mut self) {
        self.forgive();
        self.retouch_settings(Song::START.beat);
        // Taken apart, so that a new field cannot be forgotten.
        let Section {
            setup,
            controls: _,
            clock,
            song,
            articulation: _,
            niente_from: _,
            retouch_due_s,
            gestures,
            gesture_count: _,
            lines,
            line_count: _,
            channel_count: _,
            company,
            shares_way_out: _,
            may_cut,
            outs,
            sounding: _,
            feedback: _,
            refused_messages,
            is_fresh,
            is_resting,
            is_bypassed: _,
        } = self;
        clock.reset();
        setup.niente_is_open = false;
        *song = Song::START;
        *retouch_due_s = f64::INFINITY;
        let gesture = Gesture::at_rest(&setup.patch.hand);
        *gestures = [gesture; LINES_MAX];
        for (number, line) in lines.iter_mut().enumerate() {
            *line = Line::at_rest(setup, number as u8, gesture.now().x);
        }
        *outs = [LineOut::unsent(setup); LINES_MAX];
        *company = Company::NONE;
        *may_cut = true;
        *refused_messages = 0;
        *is_fresh = true;
        *is_resting = false;
    }

    /// Forgets what was lost, not what sounds, nor what stands still.
    fn forgive(&mut self) {
        self.sounding.dropped_messages = 0;
        for out in &mut self.outs {
            out.count = 0;
        }
        self.feedback.forget();
    }

    /// The receiver has been told nothing, and nothing waits to be told again.
    pub(super) fn untell(&mut self) {
        for out in &mut self.outs {
            out.switching.untell();
            out.resync_due_s = f64::INFINITY;
        }
    }

    /// Turns the controls of one frame.
    pub(super) fn turn(&mut self, together: &[Timed]) {
        let mut is_turned = false;
        for event in together {
            if let Input::Parameter(parameter, value) = event.input {
                self.controls.turn(parameter, value);
                is_turned = true;
            }
        }
        if is_turned {
            self.turn_by(|section| section.setup.turn(&section.controls));
        }
    }
}

/// A line for each channel, or the voices of the only one.
fn lines_of(setup: &Setup, channel_count: usize) -> usize {
    match channel_count {
        1 => setup.patch.voices.count.clamp(1, LINES_MAX),
        several => several,
    }
}

/// One for everybody; one for each line where several hear what each note brings for itself.
fn gesture_count(setup: &Setup, line_count: usize) -> usize {
    if setup.patch.hand.source.is_per_note() { line_count } else { 1 }
}
