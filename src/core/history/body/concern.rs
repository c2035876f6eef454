//! What was noted of an animal's health and is not yet over.

use jiff::civil::Date;

use super::{Alarm, Fact, Noted, Since, Train, Warning, reason};

/// A note with words of injury or illness is asked about for this many days on every surface. What was logged as a
/// concern has no such end (common practice, no source).
const ASKED_FOR_DAYS: i32 = 28;
const SOURCE: &str = "any species: new left/right difference, lameness, blood or illness: stop and refer (from memory)";

/// What is open as of `today`, in order of time.
pub(super) fn open(log: &[Noted], today: Date) -> Vec<Alarm> {
    let mut open: Vec<(Date, &Fact)> = Vec::new();
    let asked = |fact: &Fact| matches!(fact, Fact::Signs { .. });
    for Noted { day, fact } in log {
        match fact {
            Fact::Well => open.clear(),
            Fact::NoConcern => open.retain(|(_, fact)| !asked(fact)),
            Fact::Ill(_) | Fact::Concern(_) | Fact::Sore(_) | Fact::Sides(_) => {
                // Whoever logs a concern has looked at what was noted before.
                open.retain(|(_, before)| !asked(before) && kind(before) != kind(fact));
                open.push((*day, fact));
            }
            Fact::Signs { .. } => open.push((*day, fact)),
            Fact::Weight(_) | Fact::Other => {}
        }
    }
    open.into_iter().filter_map(|(day, fact)| alarm(day, fact, today)).collect()
}

/// Of one kind only the latest is told: it is how the animal is now.
fn kind(fact: &Fact) -> std::mem::Discriminant<Fact> {
    std::mem::discriminant(fact)
}

fn alarm(day: Date, fact: &Fact, today: Date) -> Option<Alarm> {
    let days_ago = today.since(day).map_or(0, |span| span.get_days());
    let since = |text: &str| Since { day, days_ago, text: text.trim().to_owned() };
    let (warning, train, what) = match fact {
        Fact::Ill(text) => (Warning::Ill(since(text)), Train::NotAtAll, "ill"),
        Fact::Concern(text) => (Warning::Concern(since(text)), Train::NotAtAll, "concern"),
        Fact::Sore(text) => (Warning::Sore(since(text)), Train::Less, "sore"),
        Fact::Sides(text) => (Warning::Sides(since(text)), Train::Less, "sides"),
        Fact::Signs { text, words } if days_ago <= ASKED_FOR_DAYS => {
            let warning = Warning::Unanswered { since: since(text), words: words.clone() };
            (warning, Train::AsPlanned, "signs")
        }
        _ => return None,
    };
    let inputs = [("days since", f64::from(days_ago), "days")];
    Some(Alarm {
        warning,
        train,
        reason: reason("health", ("noted", &[("what", what)]), &inputs, "as noted", SOURCE),
    })
}
