//! What the program says of itself: its verbs by what they are about, each in one line.

use clap::Command;

/// What a composer has in hand, in the order of the work, and the verbs for it.
const HEADINGS: [(&str, &[&str]); 5] = [
    ("Take, what was recorded", &["look", "shape", "punch", "peel"]),
    ("Line, what it becomes", &["hear", "trace", "plot", "contrast", "edit"]),
    ("Instrument, what it is played on", &["list", "show"]),
    ("Receiver, where it sounds", &["vet"]),
    ("Player, who is to play it live", &["audit"]),
];
/// Where a verb goes that has no heading yet.
const OTHERS: &str = "Others";

/// The command with its verbs under headings.
pub fn grouped(command: Command) -> Command {
    let template = format!(
        "{{about}}\n\n{{usage-heading}} {{usage}}\n\n{}Options:\n{{options}}\n\n\
         Each verb says more with --help.",
        verbs(&command)
    );
    command.help_template(template)
}

fn verbs(command: &Command) -> String {
    let shown: Vec<&Command> =
        command.get_subcommands().filter(|verb| !verb.is_hide_set()).collect();
    let widest = shown.iter().map(|verb| verb.get_name().len()).max().unwrap_or(0);
    let row = |verb: &Command| {
        let about = verb.get_about().map(ToString::to_string).unwrap_or_default();
        format!("  {:widest$}  {about}\n", verb.get_name())
    };
    let named = |name: &&str| shown.iter().find(|verb| verb.get_name() == *name);
    let mut groups: Vec<(&str, String)> = HEADINGS
        .iter()
        .map(|(heading, names)| {
            (*heading, names.iter().filter_map(named).map(|verb| row(verb)).collect())
        })
        .collect();
    let has_heading =
        |verb: &&&Command| HEADINGS.iter().any(|(_, names)| names.contains(&verb.get_name()));
    let others = shown.iter().filter(|verb| !has_heading(verb)).map(|verb| row(verb)).collect();
    groups.push((OTHERS, others));
    let filled = groups.iter().filter(|(_, rows)| !rows.is_empty());
    filled.map(|(heading, rows)| format!("{heading}:\n{rows}\n")).collect()
}
