//! The findings for eyes and for scripts.

use super::finding::Severity;
use super::review::Audit;
use crate::profile::pitch::key_name;

/// What stands under every list of findings.
pub const DEFERENCE: &str =
    "These are rules of thumb. Where the player knows better, the player is right.";

/// One finding a line, then how many there are.
pub fn as_text(audit: &Audit) -> String {
    let mut text = String::new();
    for finding in &audit.findings {
        let place = match (finding.bar, finding.beat) {
            (Some(bar), Some(beat)) => format!("bar {bar}, beat {beat}"),
            _ => format!("tick {}", finding.tick),
        };
        let (key, severity) = (key_name(finding.key), finding.severity.name());
        text +=
            &format!("{place}, {key}: {severity}: {} {}\n", finding.sentence, finding.suggestion);
    }
    let count = |severity: Severity| {
        audit.findings.iter().filter(|finding| finding.severity == severity).count()
    };
    text += &match audit.findings.is_empty() {
        true => "Nothing here that a player could not play.\n".to_owned(),
        false => format!(
            "{} impossible, {} hard, {} unidiomatic. {DEFERENCE}\n",
            count(Severity::Impossible),
            count(Severity::Hard),
            count(Severity::Unidiomatic)
        ),
    };
    text
}

/// One object with the findings.
pub fn as_json(audit: &Audit) -> String {
    // No name or number of it can fail to be written.
    format!("{}\n", serde_json::to_string(audit).unwrap_or_default())
}
