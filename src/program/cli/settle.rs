//! `hushtally review settle [SESSION]`

use clap::Args;
use serde::Serialize;

use super::listen::typed;
use super::places::session_named;
use super::{Failure, places, sound};
use crate::clock::Clock;
use crate::hear::Ears;
use crate::plan::Plan;
use crate::run::{self, Book, Desk, JsonLines, Plain, Printer, Settling};
use crate::settle::{Settle, SettledCounts, Spoken};
use crate::store::{Filter, SessionId, Store};
use crate::terminal::{self, Out};

#[derive(Debug, Args)]
#[command(after_help = "\
Each unsure tag is read out: when it was, what was perhaps heard, and the rep before it.
With the default words you answer, once it is read to its end:

  yes                   it was what was heard
  yes three bonus       it was a rep, and so it was
  correction            it was the other reading
  correction left       it was what was heard, but left
  miss                  it was nothing
  cancel                take the last answer back
  juniper carry on      leave this one for later
  juniper repeat        read it again; slower, faster, louder, quieter are understood too
  juniper finish        that is enough

Without an answer a question is read once more; then the rest stays unsettled. Every answer
is a new event in the record, as from the page of the session; nothing is overwritten.

Without a voice: the same words typed, where the attention word may be left out; or one key
or switch: a short press is yes, a long one is no, a double one reads it again and then
the other answers one by one, to be taken by a press.

Examples:
  hushtally review settle                     of the latest session, or of what was heard while none was under way
  hushtally review settle 01968a3c-…          of the session with this key
  hushtally review settle --person Ada        signed by Ada, heard by what was learnt of her
  hushtally review --db copy.db settle        in another record")]
pub(super) struct SettleArgs {
    /// The session: its key, or "latest"
    #[arg(default_value = "latest")]
    session: String,
    #[command(flatten)]
    sound: sound::SoundArgs,
    #[command(flatten)]
    learnt: places::LearntArgs,
    /// Take lines from the standard input as if said. On a terminal this is so anyway
    #[arg(long = "type")]
    type_: bool,
    /// Say nothing aloud; questions stand on the screen
    #[arg(long)]
    quiet: bool,
    /// Take typed lines only, no single keys (for screen readers)
    #[arg(long)]
    plain: bool,
    /// Print one JSON object a line, and at the end what the tags came to
    #[arg(long)]
    json: bool,
}

/// What a program reads.
#[derive(Serialize)]
struct Summary {
    kind: &'static str,
    session: String,
    #[serde(flatten)]
    tally: SettledCounts,
}

pub(super) fn run(args: &SettleArgs, at: &places::PlaceArgs) -> Result<(), Failure> {
    terminal::never_wait();
    let settings = places::settings()?;
    let store = places::record(at.db.as_deref())?;
    let session = match args.session.as_str() {
        "latest" => latest(&store)?,
        name => session_named(&store, name)?,
    };
    let clock = Clock::real();
    let mut desk = Desk::new(printer(args), clock.clone());
    if !args.quiet {
        args.sound.start(&settings, &mut desk);
    }
    let by = args.learnt.person.clone();
    let settling = settling(store, session, by, &clock, {
        let (learnt, model) = (args.learnt.load(at.db.as_deref())?, at.model.clone());
        move |plan| places::taught_ears(model.as_deref(), plan, &learnt).map_err(|f| f.error)
    })?;
    let (keys, typed) = typed(args.type_, args.plain || args.json, &settings, &clock);
    let answering = args.sound.answering(&settings, typed);
    let done = run::settle(settling, answering, &mut desk, &clock);
    // The terminal first, so that an error is shown on one that works as before.
    drop(keys);
    let (settle, _) = done?;
    if args.json {
        let session = session.to_string();
        let summary = Summary { kind: "settled", session, tally: settle.tally() };
        terminal::json(&serde_json::to_string(&summary).map_err(anyhow::Error::from)?);
    }
    match settle.unsaved() {
        None => Ok(()),
        Some(why) => {
            let error = anyhow::anyhow!("an answer was not kept: {why}");
            Err(Failure::new(super::Class::Record, error))
        }
    }
}

/// What settling the doubts of this session is made of; `by` is whose answers they are.
pub(super) fn settling(
    store: Store,
    session: SessionId,
    by: Option<String>,
    clock: &Clock,
    ears: impl FnOnce(&Plan) -> anyhow::Result<Ears> + 'static,
) -> Result<Settling, Failure> {
    let version = store.plan_of(session)?;
    let plan = Plan::parse(&version.file, &version.text)?;
    let (folded, events) = store.read_through(session)?;
    let doubts = run::doubts(&plan, &folded, &events);
    // Its name of today; the plan has that of then.
    let row = store.sessions(&Filter::session(session))?.pop();
    let animal = row.map_or_else(|| plan.animal.clone(), |row| row.animal);
    let events = doubts.iter().map(|(_, event, _)| *event).collect();
    let questions = doubts.into_iter().map(|(doubt, _, _)| doubt).collect();
    let (settle, effects) = Settle::begin(&animal, questions, Spoken::of(&plan.words));
    let book = Book::open(store, session, events, by, clock.clone());
    let words = plan.words.clone();
    Ok(Settling { settle, effects, book, ears: Box::new(move || ears(&plan)), words })
}

/// The latest session; before it what was heard while none was under way, as long as something of it waits.
fn latest(store: &Store) -> Result<SessionId, Failure> {
    let any = store.sessions(&Filter { latest: Some(1), ..Filter::default() })?;
    match any.first().filter(|row| row.unsure > 0) {
        Some(row) => Ok(row.id),
        None => session_named(store, "latest"),
    }
}

fn printer(args: &SettleArgs) -> Box<dyn Printer> {
    if args.json {
        Box::new(JsonLines::new(Out::json()))
    } else {
        Box::new(Plain::new(Out::text()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run::json::lines;

    #[test]
    fn the_last_line_is_as_the_list_of_lines_says() {
        let summary =
            Summary { kind: "settled", session: "key".into(), tally: SettledCounts::default() };
        let line = serde_json::to_value(summary).unwrap();
        assert_eq!(lines::wrong_with(line.as_object().unwrap()), None);
    }
}
