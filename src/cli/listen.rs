//! `hushtally listen [PLAN]`

use std::io::{self, IsTerminal};
use std::path::PathBuf;
use std::time::Duration;

use clap::Args;

use super::screen::Screen;
use super::shelf::{Around, PlanShelf};
use super::{Failure, places, sound};
use crate::clock::Clock;
use crate::dialogue::Dialogue;
use crate::run::{self, Desk, Hook, JsonLines, LiveEnd, Plain, Printer, Recorder, Talk, Typed};
use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

/// A recap is read to its end, unless something is wrong with the output.
const LONGEST_RECAP: Duration = Duration::from_secs(45);

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally listen                          choose animal and plan by voice, train, go on with the next
  hushtally listen pepino.toml              one session by this plan
  hushtally listen pepino.toml --mic headset --ear headset
  hushtally listen pepino.toml --quiet      no sound in your ear, everything on the screen")]
pub(super) struct ListenArgs {
    /// The plan (TOML); without one you choose by voice, and the program goes on after a session
    plan: Option<PathBuf>,
    /// Folder of the plans to choose from
    #[arg(long, value_name = "FOLDER", env = "HUSHTALLY_PLANS")]
    plans: Option<PathBuf>,
    #[command(flatten)]
    sound: sound::SoundArgs,
    /// Take lines from the standard input as if said: the same words, a number, or an empty line for a
    /// marker (a switch or pedal that types Enter). On a terminal this is so anyway
    #[arg(long = "type")]
    type_: bool,
    /// Run this program at each nudge, with the nudge's name (for vibration, a light)
    #[arg(long, value_name = "PROGRAM", env = "HUSHTALLY_ON_NUDGE")]
    on_nudge: Option<String>,
    /// Play and say nothing
    #[arg(long)]
    quiet: bool,
    /// Plain lines only, nothing that is written over (for screen readers)
    #[arg(long)]
    plain: bool,
    /// Print one JSON object a line for every event
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    learnt: places::LearntArgs,
    /// Where
    #[arg(long, value_name = "NAME")]
    place: Option<String>,
    #[command(flatten)]
    places: places::PlaceArgs,
}

pub(super) fn run(args: &ListenArgs) -> Result<(), Failure> {
    let settings = places::settings()?;
    let clock = Clock::real();
    let mut desk = Desk::new(printer(args), clock.clone());
    let files = match &args.plan {
        Some(plan) => {
            // Wrong use is told before anything is opened.
            places::plan(plan)?;
            vec![plan.clone()]
        }
        None => PlanShelf::files_in(&places::plans_folder(args.plans.as_deref(), &settings)?),
    };
    let around = Around {
        model: args.places.model.clone(),
        db: args.places.db.clone(),
        person: args.learnt.person.clone(),
        learnt: args.learnt.load(args.places.db.as_deref())?,
        place: args.place.clone(),
    };
    let store = places::record(args.places.db.as_deref())?;
    let mut shelf = PlanShelf::of_files(files, around, clock.clone(), &store, |trouble| {
        desk.printer.remark(&trouble);
    })?;
    drop(store);
    let (attention, yes) = shelf.spoken();
    let choices = shelf.choices();
    let once = args.plan.is_some();
    let (dialogue, effects) = match choices.first() {
        Some(choice) if once => (Dialogue::with_plan(choice.clone(), &attention, &yes), Vec::new()),
        _ => Dialogue::open(choices, &attention, &yes),
    };
    if !args.quiet {
        args.sound.start(&settings, &mut desk, &clock);
    }
    desk.hook = args.on_nudge.clone().or(settings.on_nudge.clone()).map(Hook::new);
    let typed = (args.type_ || io::stdin().is_terminal()).then(typed_lines);
    let microphone = args.sound.microphone(&settings);
    let talk = Talk { shelf: &mut shelf, dialogue, effects, once, microphone, typed };
    let end = run::talk(talk, &mut desk, &clock)?;
    let waiting = desk.recorder.as_ref().map_or(0, Recorder::waiting);
    if let Some(sounds) = desk.sounds.take() {
        let longest = if end == LiveEnd::Finished { LONGEST_RECAP } else { Duration::ZERO };
        sounds.finish(longest);
    }
    if waiting > 0 {
        let error = anyhow::anyhow!(
            "{waiting} events could not be saved; they stand above. Free some space and write down what matters"
        );
        return Err(Failure::new(super::Class::Record, error));
    }
    Ok(())
}

fn printer(args: &ListenArgs) -> Box<dyn Printer> {
    if args.json {
        Box::new(JsonLines(io::stdout()))
    } else if args.plain || !io::stderr().is_terminal() {
        Box::new(Plain::new(io::stdout()))
    } else {
        Box::new(Screen::new())
    }
}

/// Lines from the standard input, read on a thread of their own.
fn typed_lines() -> UnboundedReceiver<Typed> {
    let (tell, typed) = unbounded_channel();
    std::thread::spawn(move || {
        for line in io::stdin().lines() {
            // An unreadable line ends it, and so does the end of the program.
            let Ok(line) = line else { return };
            if tell.send(Typed(line)).is_err() {
                return;
            }
        }
    });
    typed
}
