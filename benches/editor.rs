//! What a frame of the window costs, with everything in it moving.

use std::hint::black_box;
use std::path::Path;

use criterion::Criterion;
use polso::editor::act::{Act, Light};
use polso::editor::feed::Texts;
use polso::editor::model::Model;
use polso::editor::strand::Strand;
use polso::editor::take_feed::TakeFeed;
use polso::editor::{Editor, fonts};
use polso::profile::{self, Hand, Instrument, Target};

/// The most that a frame of 1280 by 800 may cost, seconds of CPU.
const FRAME_S_MAX: f64 = 0.004;

fn editor() -> Editor {
    let read = "a shipped file is in order";
    let texts = Texts {
        instrument: profile::load::<Instrument>("erhu").expect(read).flattened().to_owned(),
        target: profile::load::<Target>("generic").expect(read).flattened().to_owned(),
        hand: profile::load::<Hand>("wheel").expect(read).flattened().to_owned(),
    };
    let model = Model::open(&[texts.clone(), texts], 0, 0).expect("texts in order");
    let patch = model.slot().patch(0).expect("texts that go together");
    let take = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/last-ferry.mid");
    let bytes = std::fs::read(take).expect("the example's take");
    let feed = TakeFeed::open(&bytes, &patch).expect("a take in order");
    let mut editor = Editor::new(model, Box::new(feed));
    editor.act(Act::Look(Strand::Width));
    editor.act(Act::Light(Light::Day));
    editor.act(Act::Seek(15.0));
    editor
}

/// Seconds that this thread has had a processor, where the system tells (Linux: schedstat's first
/// number, nanoseconds). Elsewhere the clock on the wall must do.
fn thread_cpu_s() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    let nanoseconds: f64 = text.split_whitespace().next()?.parse().ok()?;
    Some(nanoseconds / 1e9)
}

fn main() {
    let mut editor = editor();
    let context = egui::Context::default();
    fonts::install(&context);
    let size = egui::vec2(1280.0, 800.0);
    let screen_rect = Some(egui::Rect::from_min_size(egui::Pos2::ZERO, size));
    let mut time_s = 0.0;
    let mut frame = || {
        // The take runs, and is wound back before it ends.
        if editor
            .feed()
            .transport()
            .is_some_and(|transport| transport.place_s > 70.0 || !transport.is_running)
        {
            editor.act(Act::Seek(15.0));
            editor.act(Act::Run(true));
        }
        time_s += 1.0 / 60.0;
        let input = egui::RawInput { screen_rect, time: Some(time_s), ..egui::RawInput::default() };
        let output = context.run_ui(input, |ui| {
            editor.frame(ui, 1.0 / 60.0);
        });
        let shapes = output.shapes.len();
        black_box(context.tessellate(output.shapes, 1.0));
        let mut textures = output.textures_delta;
        textures.clear();
        shapes
    };
    for _ in 0..60 {
        assert!(frame() > 200, "the window is full");
    }
    let mut criterion = Criterion::default().configure_from_args();
    criterion.bench_function("a frame with everything moving, 1280 by 800", |bench| {
        bench.iter(&mut frame);
    });
    const FRAMES: u32 = 400;
    let began = std::time::Instant::now();
    let cpu_s = || thread_cpu_s().unwrap_or_else(|| began.elapsed().as_secs_f64());
    let start_s = cpu_s();
    for _ in 0..FRAMES {
        black_box(frame());
    }
    let frame_s = (cpu_s() - start_s) / f64::from(FRAMES);
    assert!(frame_s > 0.0, "the system counts the processor's time");
    println!("a frame costs {:.2} ms of CPU; allowed are 4 ms", 1000.0 * frame_s);
    assert!(frame_s <= FRAME_S_MAX, "a frame costs {frame_s} s");
    criterion.final_summary();
}
