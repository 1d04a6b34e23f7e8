//! The clock, the finest time that decisions tell apart, and moves over a stated time.

use approx::assert_abs_diff_eq;
use polso_engine::math::clock::Clock;
use polso_engine::math::glide::{Glide, lerp, smooth_step};
use polso_engine::math::grain::{grain, is_reached};

/// Frames of the first ticks, anchor + round(k · rate / 1000).
fn ticks(clock: &mut Clock, count: usize) -> Vec<u64> {
    let step = |clock: &mut Clock| {
        let frame = clock.tick_frame();
        clock.next_tick();
        frame
    };
    (0..count).map(|_| step(clock)).collect()
}

#[test]
fn tick_k_is_at_the_frame_nearest_to_k_milliseconds() {
    let mut clock = Clock::prepare(44_100.0);
    let frames = [0, 44, 88, 132, 176, 221, 265, 309, 353, 397, 441];
    assert_eq!((clock.tick(), clock.tick_s()), (0, 0.0));
    assert_eq!(ticks(&mut clock, 11), frames);
    assert_eq!((clock.tick(), clock.tick_s()), (11, 0.011));
    assert_eq!(ticks(&mut Clock::prepare(96_000.0), 3), [0, 96, 192]);
    // 22.05 frames a tick: halves go upward.
    let frames = [0, 22, 44, 66, 88, 110, 132, 154, 176, 198, 221];
    assert_eq!(ticks(&mut Clock::prepare(22_050.0), 11), frames);
    assert_eq!(ticks(&mut Clock::prepare(8_500.0), 4), [0, 9, 17, 26]);
}

#[test]
fn an_anchor_makes_a_frame_time_0_and_a_reset_makes_the_next_block_frame_0() {
    let mut clock = Clock::prepare(8_500.0);
    clock.advance(100);
    clock.advance(20);
    assert_eq!(clock.block_frame(), 120);
    clock.anchor(107);
    assert_eq!(ticks(&mut clock, 3), [107, 116, 124]);
    assert_abs_diff_eq!(clock.frame_s(192), 0.01, epsilon = 1e-15);
    assert_eq!(clock.frame_s(107), 0.0);
    clock.reset();
    assert_eq!((clock.block_frame(), clock.tick(), clock.tick_frame()), (0, 0, 0));
    assert_abs_diff_eq!(clock.frame_s(17), 0.002, epsilon = 1e-15);
}

#[test]
fn ticks_left_out_are_those_before_the_frame_and_no_others() {
    for (anchor, to, tick) in
        [(0, 0, 0), (0, 1, 1), (0, 44, 1), (0, 45, 2), (0, 4_410_001, 100_001)].into_iter().chain([
            (500, 500, 0),
            (500, 544, 1),
            (500, 545, 2),
            (7, 44_107, 1000),
            (7, 44_108, 1001),
        ])
    {
        let (mut clock, mut twin) = (Clock::prepare(44_100.0), Clock::prepare(44_100.0));
        clock.anchor(anchor);
        twin.anchor(anchor);
        clock.skip_to(to);
        assert_eq!(clock.tick(), tick, "to {to} from {anchor}");
        while twin.tick_frame() < to {
            twin.next_tick();
        }
        assert_eq!(clock, twin, "to {to} from {anchor}");
    }
    // Never back.
    let mut clock = Clock::prepare(44_100.0);
    ticks(&mut clock, 50);
    let there = clock;
    clock.skip_to(441);
    assert_eq!(clock, there);
}

#[test]
fn decisions_tell_a_tenth_of_a_millisecond_apart_and_ticks_a_millionth() {
    for (seconds, grained) in [(0.12, 0.12), (0.12004, 0.12), (0.11996, 0.12), (0.12006, 0.1201)] {
        assert_eq!(grain(seconds), grained, "{seconds}");
    }
    assert_eq!((grain(-0.00007), grain(0.0)), (-0.0001, 0.0));
    for (now_s, due_s, is_there) in [
        (1.0, 1.0, true),
        (1.0, 1.000_000_5, true),
        (1.0, 1.000_001_5, false),
        (1.1, 1.0, true),
        (1.0, f64::INFINITY, false),
        (0.0, f64::NEG_INFINITY, true),
    ] {
        assert_eq!(is_reached(now_s, due_s), is_there, "{now_s} {due_s}");
    }
}

/// u²(3 − 2u), the cubic without a corner.
#[test]
fn a_move_begins_and_ends_level_and_goes_on_from_where_it_stands() {
    for (u, share) in [(-1.0, 0.0), (0.0, 0.0), (0.25, 0.15625), (0.5, 0.5), (1.0, 1.0), (2.0, 1.0)]
    {
        assert_eq!(smooth_step(u), share, "{u}");
    }
    assert_eq!((lerp(2.0, 6.0, 0.25), lerp(2.0, -6.0, 1.5)), (3.0, -10.0));
    let mut glide = Glide::still(4.0);
    assert_eq!((glide.at(-9.0), glide.at(9.0), glide.goal()), (4.0, 4.0, 4.0));
    assert!(glide.is_done(0.0));
    glide.aim(2.0, 8.0, 0.5);
    let shares = [(2.0, 4.0), (2.125, 4.625), (2.25, 6.0), (2.5, 8.0), (3.0, 8.0)];
    for (now_s, value) in shares {
        assert_abs_diff_eq!(glide.at(now_s), value, epsilon = 1e-12);
    }
    assert_eq!((glide.goal(), glide.end_s()), (8.0, 2.5));
    assert_eq!((glide.is_done(2.49), glide.is_done(2.5)), (false, true));
    glide.aim(2.25, -2.0, 1.0);
    assert_abs_diff_eq!(glide.at(2.25), 6.0, epsilon = 1e-12);
    assert_abs_diff_eq!(glide.at(2.75), 2.0, epsilon = 1e-12);
}
