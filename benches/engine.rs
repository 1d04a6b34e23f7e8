//! How many nanoseconds the line costs at each control tick. The answer is checked before it is
//! timed.

mod take;

use std::hint::black_box;
use std::time::Duration;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use polso::engine::REVISION;
use take::{Case, TICKS, cases};

fn ticks(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("tick");
    group.throughput(Throughput::Elements(TICKS));
    group.sample_size(20).measurement_time(Duration::from_secs(3));
    let mut changed = Vec::new();
    for Case { name, take, engine, hash } in cases() {
        let found = take.play(&mut engine.clone()).hash;
        if found != hash {
            changed.push(format!("{name}: {found:#018X}"));
        }
        group.bench_function(name, |bencher| {
            bencher.iter(|| black_box(take.play(&mut engine.clone()).count));
        });
    }
    group.finish();
    assert!(changed.is_empty(), "not the answers of revision {REVISION}: {changed:#?}");
}

criterion_group!(benches, ticks);
criterion_main!(benches);
