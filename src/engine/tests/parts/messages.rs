//! Messages as MIDI 1.0 has them on the wire, and the numbers that it can carry.

use polso_engine::{Channel, Input, Key, Message, Parameter};

/// One message of each kind on a channel, and its bytes (MIDI 1.0, table of channel messages).
fn table(channel: u8) -> [(Message, &'static [u8]); 7] {
    let on = Message::NoteOn { channel, key: 60, velocity: 100 };
    let off = Message::NoteOff { channel, key: 61, velocity: 3 };
    let press = Message::PolyPressure { channel, key: 62, value: 127 };
    let turn = Message::Controller { channel, number: 74, value: 1 };
    let sound = Message::Program { channel, program: 5 };
    let weigh = Message::ChannelPressure { channel, value: 99 };
    let bend = Message::PitchBend { channel, value: 0x55 << 7 | 0x2A };
    let first: [&[u8]; 7] = [
        &[0x80, 61, 3],
        &[0x90, 60, 100],
        &[0xA0, 62, 127],
        &[0xB0, 74, 1],
        &[0xC0, 5],
        &[0xD0, 99],
        &[0xE0, 0x2A, 0x55],
    ];
    let last: [&[u8]; 7] = [
        &[0x8F, 61, 3],
        &[0x9F, 60, 100],
        &[0xAF, 62, 127],
        &[0xBF, 74, 1],
        &[0xCF, 5],
        &[0xDF, 99],
        &[0xEF, 0x2A, 0x55],
    ];
    let bytes = if channel == 0 { first } else { last };
    let messages = [off, on, press, turn, sound, weigh, bend];
    core::array::from_fn(|place| (messages[place], bytes[place]))
}

#[test]
fn every_message_has_its_bytes_and_is_read_from_them() {
    for channel in [0, 15] {
        for (message, expected) in table(channel) {
            let (bytes, count) = message.bytes();
            assert_eq!(&bytes[..count], expected, "{message:?}");
            assert!(bytes[count..].iter().all(|byte| *byte == 0));
            assert_eq!(Message::from_bytes(expected), Some(message));
            assert_eq!(message.channel(), channel);
            assert_eq!(Input::Midi(message).message(), Some(message));
            assert_eq!(Input::Live(message).message(), Some(message));
        }
    }
    assert_eq!(Input::Panic.message(), None);
}

/// A channel beyond the wire's spoils no more than its own nibble's bits.
#[test]
fn numbers_beyond_the_wire_are_joined_bit_by_bit() {
    let bytes = |channel| Message::NoteOff { channel, key: 1, velocity: 2 }.bytes().0[0];
    assert_eq!((bytes(0x80), bytes(0x9F)), (0x80, 0x9F));
    for (message, status) in table(0x7F) {
        assert_eq!(message.bytes().0[0], status[0] & 0xF0 | 0x7F, "{message:?}");
    }
    for (message, status) in table(0xFF) {
        assert_eq!(message.bytes().0[0], status[0] | 0xFF, "{message:?}");
    }
    let wide = Message::PitchBend { channel: 0, value: 0xFFFF };
    assert_eq!(wide.bytes(), ([0xE0, 0x7F, 0x7F], 3));
}

#[test]
fn what_is_no_whole_channel_message_is_not_read() {
    for bytes in [
        &[][..],
        &[0x90],
        &[0xC0],
        &[0x90, 60],
        &[0x80, 60],
        &[0xA0, 60],
        &[0xB0, 1],
        &[0xE0, 0],
        &[0x90, 0x80, 64],
        &[0x90, 60, 0x80],
        &[0xC0, 0x80],
        &[0xF0, 1, 2],
        &[0x40, 1, 2],
        &[0x10, 1, 2],
    ] {
        assert_eq!(Message::from_bytes(bytes), None, "{bytes:?}");
    }
    let highest = Message::NoteOn { channel: 0, key: 127, velocity: 127 };
    assert_eq!(Message::from_bytes(&[0x90, 127, 127]), Some(highest));
    // MIDI 1.0: a note-on of velocity 0 is an off.
    let off = Message::NoteOff { channel: 2, key: 60, velocity: 64 };
    assert_eq!(Message::from_bytes(&[0x92, 60, 0]), Some(off));
    let program = Message::Program { channel: 1, program: 127 };
    assert_eq!(Message::from_bytes(&[0xC1, 127, 9]), Some(program));
}

#[test]
fn a_whole_message_is_one_that_a_wire_can_carry() {
    for (message, is_whole) in [
        (Message::NoteOn { channel: 15, key: 127, velocity: 127 }, true),
        (Message::NoteOn { channel: 16, key: 127, velocity: 127 }, false),
        (Message::NoteOn { channel: 15, key: 128, velocity: 127 }, false),
        (Message::NoteOn { channel: 15, key: 127, velocity: 128 }, false),
        (Message::NoteOff { channel: 0, key: 128, velocity: 0 }, false),
        (Message::PolyPressure { channel: 0, key: 0, value: 128 }, false),
        (Message::Controller { channel: 0, number: 128, value: 0 }, false),
        (Message::Program { channel: 15, program: 127 }, true),
        (Message::Program { channel: 15, program: 128 }, false),
        (Message::ChannelPressure { channel: 16, value: 0 }, false),
        (Message::ChannelPressure { channel: 15, value: 127 }, true),
        (Message::PitchBend { channel: 15, value: 16_383 }, true),
        (Message::PitchBend { channel: 15, value: 16_384 }, false),
        (Message::PitchBend { channel: 16, value: 0 }, false),
        (Message::PitchBend { channel: 0, value: 0 }, true),
    ] {
        assert_eq!(message.is_whole(), is_whole, "{message:?}");
    }
}

#[test]
fn keys_and_channels_cannot_be_wrong() {
    assert_eq!(Key::new(127).map(Key::number), Some(127));
    assert_eq!((Key::new(128), Key::new(0)), (None, Some(Key::LOWEST)));
    assert_eq!(Channel::new(15).map(Channel::number), Some(15));
    assert_eq!((Channel::new(16), Channel::new(0)), (None, Some(Channel::FIRST)));
    let after = |channel, count| Channel::new(channel).expect("a channel").after(count).number();
    assert_eq!([after(0, 0), after(3, 2), after(14, 3), after(15, 16)], [0, 5, 1, 15]);
}

#[test]
fn a_knob_beyond_its_range_stands_at_the_end() {
    #[track_caller]
    fn check(knob: Parameter, values: &[(f64, f64)]) {
        for &(given, taken) in values {
            assert_eq!(knob.within(given), taken, "{knob:?} {given}");
        }
    }
    check(Parameter::Weight, &[(0.0, 0.5), (0.5, 0.5), (1.7, 1.7), (3.1, 3.0), (f64::NAN, 1.0)]);
    check(Parameter::Floor, &[(-0.1, 0.0), (0.4, 0.4), (1.1, 1.0), (f64::NAN, 0.0)]);
    check(Parameter::Ceiling, &[(-0.1, 0.0), (0.4, 0.4), (1.1, 1.0), (f64::NAN, 1.0)]);
    check(Parameter::VibratoRate, &[(0.4, 0.5), (2.1, 2.0), (f64::NAN, 1.0)]);
    check(Parameter::Onset, &[(-1.0, 0.0), (4.5, 4.0), (f64::NAN, 1.0)]);
    check(Parameter::Style, &[(-2.0, -1.0), (-1.0, -1.0), (1.5, 1.0), (f64::NAN, -1.0)]);
    check(Parameter::Seed, &[(-1.0, 0.0), (70_000.0, 65_535.0), (f64::NAN, 0.0)]);
    for knob in [Parameter::VibratoWidth, Parameter::Tail, Parameter::Imperfection] {
        check(knob, &[(-1.0, 0.0), (2.5, 2.0), (f64::NAN, 1.0), (f64::INFINITY, 2.0)]);
    }
    // Nearer to 0 than a billionth is 0, on either side, and no nearer.
    check(Parameter::VibratoWidth, &[(9e-10, 0.0), (1e-9, 1e-9), (2e-9, 2e-9), (1e-300, 0.0)]);
    check(Parameter::Style, &[(-9e-10, 0.0), (-1e-9, -1e-9), (-0.5, -0.5)]);
    check(Parameter::Weight, &[(1e-12, 0.5)]);
}
