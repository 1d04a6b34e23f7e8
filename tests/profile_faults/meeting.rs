//! What a hand may not say, names that nobody knows, and files that do not go together.

use super::{BOX, FIDDLE, LEVER, check_changed, lever};
use polso::profile::{self, Any, FileKind, Hand, Instrument, Target, check};

#[test]
fn a_hand_has_travel() {
    lever(
        "low = 0.5\nhigh = 0.55\n",
        &["line 6: controller.high is 0.55; allowed is at least 0.1 above low, which is 0.5"],
    );
    lever(
        "dead_zone_rest = 0.5\n",
        &["line 5: controller.dead_zone_rest is 0.5; allowed is 0 to 0.4"],
    );
    lever("weight = 4\n", &["line 5: controller.weight is 4; allowed is 0.5 to 3"]);
    lever("response_k = 7\n", &["line 5: controller.response_k is 7; allowed is -6 to 6"]);
    lever(
        "response_k = 1\nresponse = [[0, 0], [1, 1]]\n",
        &["line 5: controller.response_k is given beside response; allowed is one of the two"],
    );
    let rule = "\"cc 0\" to \"cc 119\", \"cc pair 0\" to \"cc pair 31\", \"channel pressure\", \
                \"poly pressure\", \"pitch bend\", \"parameter\", \"mpe timbre\" or \"mpe pressure\"";
    check_changed::<Hand>(
        LEVER,
        "cc 1",
        "cc 120",
        &[&format!("line 4: controller.source is \"cc 120\"; allowed is {rule}")],
    );
}

#[test]
fn voices_are_a_word_and_a_number_and_have_a_channel_each() {
    let rule = "line, chords or divisi, the last two perhaps with a number of voices, 1 to 8, as in \
                divisi:4";
    for wrong in ["chords:9", "solo"] {
        let line = format!("format = 1\nvoices = {wrong:?}\n");
        let sentence = format!("line 3: voices is {wrong:?}; allowed is {rule}");
        check_changed::<Hand>(LEVER, "format = 1\n", &line, &[&sentence]);
    }
    check_changed::<Hand>(
        LEVER,
        "format = 1\n",
        "format = 1\nleading_voice = \"lowest\"\n",
        &["line 3: leading_voice is \"lowest\"; allowed is \"highest\", \"newest\""],
    );
    check_changed::<Target>(
        BOX,
        "format = 1\n",
        "format = 1\nchannels = [1, 2, 1]\n",
        &["line 3: channels is [1, 2, 1]; allowed is a channel for each voice, none twice"],
    );
    let hand = LEVER.replace("format = 1\n", "format = 1\nvoices = \"divisi:3\"\n");
    let target = BOX.replace("format = 1\n", "format = 1\nchannels = [1, 2]\n");
    let fiddle = check::<Instrument>(FIDDLE).expect("in order").profile;
    let (hand, target) = (check::<Hand>(&hand).expect("in order"), check::<Target>(&target));
    let target = target.expect("in order").profile;
    let error = profile::patch(&fiddle, &target, &hand.profile, 0, 1.0).expect_err("too many");
    let sentence = "hand: voices is divisi:3; allowed is at most 2, one for each of the target's \
                    channels";
    assert_eq!(error.to_string(), sentence);
}

#[test]
fn a_file_of_no_kind_names_the_three() {
    let faults = Any::check(b"polso = \"tune\"\n").map(|any| any.kind()).unwrap_err();
    let sentences: Vec<String> = faults.iter().map(ToString::to_string).collect();
    assert_eq!(
        sentences,
        ["line 1: polso is \"tune\"; allowed is \"instrument\", \"target\" or \"hand\"",]
    );
    let faults = Any::check(b"polso = \"hand\xFF\"\n").map(|any| any.kind()).unwrap_err();
    assert_eq!(faults[0].to_string(), "the file is not text at byte 13; allowed is UTF-8");
    assert_eq!(Any::check(LEVER.as_bytes()).map(|any| any.kind()), Ok(FileKind::Hand));
}

#[test]
fn an_unknown_name_brings_the_known_and_the_nearest() {
    let error = profile::load::<Instrument>("ehru").map(|it| it.profile).unwrap_err();
    assert_eq!(
        error.to_string(),
        "\"ehru\" is neither a shipped instrument nor a file; shipped are erhu, violin, dizi-d, \
         gaohu, zhonghu, morin-khuur, morin-khuur-high, viola, cello, double-bass, dizi-g, dizi-c, \
         xiao, hulusi, suona-d, flute, oboe, clarinet, trumpet; the nearest is erhu"
    );
    let error = profile::load::<Target>("no/such/file.toml").map(|it| it.profile).unwrap_err();
    assert!(error.to_string().starts_with("no/such/file.toml: cannot be read: "), "{error}");
}

/// The three files, each in order, do not go together because of exactly this.
fn check_together(target: &str, hand: &str, scale: f64, expected: &str) {
    let instrument = check::<Instrument>(FIDDLE).expect("the fiddle").profile;
    let target = check::<Target>(target).expect("the target").profile;
    let hand = check::<Hand>(hand).expect("the hand").profile;
    let result = profile::patch(&instrument, &target, &hand, 1, scale);
    assert_eq!(result.map(|_| ()).map_err(|error| error.to_string()), Err(expected.to_owned()));
}

#[test]
fn files_that_do_not_go_together_say_why() {
    let keys = format!("{BOX}[legato]\nby = \"keyswitch\"\nquick = 54\nslow = 55\nslide = 96\n");
    check_together(
        &keys,
        LEVER,
        1.0,
        concat!(
            "target: legato.slow is 55; allowed is a key outside 55 to 96, where the fiddle plays\n",
            "target: legato.slide is 96; allowed is a key outside 55 to 96, where the fiddle plays",
        ),
    );
    let passing = LEVER.replace("cc 1", "cc 11") + "passes = true\n";
    check_together(
        BOX,
        &passing,
        1.0,
        "hand: controller.passes is true; allowed is false, since outputs.dynamics of the target goes there too",
    );
    check_together(BOX, LEVER, 2.5, "imperfection is 2.5; allowed is 0 to 2");
    check_together(BOX, LEVER, f64::NAN, "imperfection is NaN; allowed is 0 to 2");
}
