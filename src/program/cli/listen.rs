//! `hushtally listen [PLAN]`

use std::io::{self, IsTerminal};
use std::path::PathBuf;
use std::time::Duration;

use clap::Args;
use minijinja::context;

use super::big::Big;
use super::draft;
use super::keys::Keys;
use super::screen::Screen;
use super::shelf::{Around, PlanShelf};
use super::{Failure, midi, places, sound};
use crate::clock::Clock;
use crate::config::Settings;
use crate::dialogue::Dialogue;
use crate::run::{
    self, Desk, Hook, JsonLines, LiveEnd, Plain, Printer, Recorder, Talk, Typed, Typing,
};
use crate::terminal::{self, Out};
use crate::wording::filled;
use tokio::sync::mpsc::{UnboundedSender, unbounded_channel};

/// A recap is read to its end, unless something is wrong with the output.
const LONGEST_RECAP: Duration = Duration::from_secs(45);

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally listen                      choose animal and plan by voice, one after another
  hushtally listen pepino.toml          one session by this plan
  hushtally listen pepino.toml --mic headset --ear headset
  hushtally listen pepino.toml --quiet  no sound in your ear, everything on the screen
  hushtally listen pepino.toml --big    large letters, to be read from afar
  hushtally listen pepino.toml --on-nudge ./buzz.sh    runs \"./buzz.sh end_soon\" and so on

One switch is enough. On a terminal, Enter, the space bar, arrow, page and function keys
(or a USB switch or foot pedal that acts as one of them) are read by how they are
pressed, and count from when they went down:
                 in a session     in a pause      outside
  short          marker           choose          marker; yes to a question
  held           pause            go on           choose; no to a question
  twice          take back        finish          choose
  three times    miss             choose          miss
\"Choose\": what can be done is read one after the other. A press takes what was read last,
held goes back, twice reads the one before. Of several that are asked for, such as plans,
any press has them read. Texts and weights are spelled. --scan sets the pace; a good one is
about one and a half times what you take to press.
Words can be typed as well, and end with Enter.

In the settings file (config.toml), beside what `hushtally soundcheck` writes:
  nudge_words = true            say in words what each nudge means, after its sound
  on_nudge = \"./buzz.sh\"        as --on-nudge: a program, no arguments, no shell, not
                                waited for; it is given the name of the nudge, one of
                                those that `hushtally nudges` lists
  voice = \"flite:slt\"           reads aloud in place of the best voice installed: one of
                                those that \"flite -lv\" lists, or one of espeak-ng's
                                (voice = \"espeak-ng:en-gb\")
  voice_command = \"text2wave\"   reads aloud in place of both: a sentence on its
                                standard input, a sound file on its standard output;
                                voice and speed stand in its environment:
                                HUSHTALLY_VOICE, HUSHTALLY_WORDS_A_MINUTE
  midi_pedal = \"/dev/snd/midiC1D0\"    a MIDI pedal, pad or keyboard is the switch too:
                                any note, or a controller at 64 or more, is down
  [switch]                      a table, so it stands last
  short = \"marker\"              or miss, take_back, pause, cue, hold_start, finish, menu, none
  long = \"pause\"
  double = \"take_back\"
  triple = \"miss\"
  long_ms = 600                 held for so long
  double_ms = 400               twice, or once more, within so long
  scan_ms = 2000                each choice can be taken for so long after it was read
  repeat_delay_ms = 700         the system's delay before a held key repeats, or more\
")]
pub(super) struct ListenArgs {
    /// The plan: its file, or its name in the folder of plans. Without it you choose by voice, or make the first one by
    /// voice, and the program goes on after a session
    plan: Option<PathBuf>,
    /// Folder of the plans to choose from
    #[arg(long, value_name = "FOLDER", env = "HUSHTALLY_PLANS")]
    plans: Option<PathBuf>,
    #[command(flatten)]
    sound: sound::SoundArgs,
    /// Take lines from the standard input as if said: the same words, a number, or an empty line for a
    /// marker. On a terminal it is so anyway, and single keys are a switch. No microphone is needed then
    #[arg(long = "type")]
    type_: bool,
    /// Run this program at each nudge, with the nudge's name (for vibration, a light)
    #[arg(long, value_name = "PROGRAM", env = "HUSHTALLY_ON_NUDGE")]
    on_nudge: Option<String>,
    /// Play and say nothing
    #[arg(long)]
    quiet: bool,
    /// Plain lines only, nothing that is written over, and typed lines in place of single keys (for
    /// screen readers)
    #[arg(long)]
    plain: bool,
    /// Large letters, white on black, to be read from afar: reps, pace, step, last tag, nudge
    #[arg(long, conflicts_with_all = ["plain", "json"])]
    big: bool,
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
    terminal::never_wait();
    let settings = places::settings()?;
    let clock = Clock::real();
    let mut desk = Desk::new(printer(args), clock.clone());
    let plans = places::plans_folder(args.plans.as_deref(), &settings)?;
    let files = match &args.plan {
        Some(plan) => {
            // A usage error is reported before anything is opened.
            places::plan(plan)?;
            vec![places::plan_file(plan)]
        }
        None => PlanShelf::files_in(&plans),
    };
    if args.plan.is_none() {
        let folder = plans.display().to_string();
        desk.printer.remark(&filled("screen.plans_in", context! { folder }));
    }
    let around = Around {
        model: args.places.model.clone(),
        db: args.places.db.clone(),
        whose: args.learnt.clone(),
        learnt: args.learnt.load(args.places.db.as_deref())?,
        place: args.place.clone(),
        plans: plans.clone(),
        sound: args.sound.clone(),
        quiet: args.quiet,
    };
    let store = places::record(args.places.db.as_deref())?;
    let mut shelf = PlanShelf::of_files(files, around, clock.clone(), &store, |trouble| {
        desk.printer.remark(&trouble);
    })?;
    drop(store);
    let (attention, yes) = shelf.spoken();
    let choices = shelf.choices();
    let once = args.plan.is_some();
    let (mut dialogue, effects) = match choices.first() {
        Some(choice) if once => Dialogue::with_plan(choice.clone(), &attention, &yes),
        _ => {
            let draft = draft::kept(&plans, |trouble| desk.printer.remark(&trouble));
            Dialogue::open_again(choices, draft, &attention, &yes)
        }
    };
    dialogue.listen_for(shelf.words());
    if !args.quiet {
        args.sound.start(&settings, &mut desk);
    }
    desk.nudge_words = settings.nudge_words == Some(true);
    desk.hook = args.on_nudge.clone().or(settings.on_nudge.clone()).map(Hook::new);
    let (keys, typed) = typed(args.type_, args.plain || args.json, &settings, &clock);
    let answering = args.sound.answering(&settings, typed);
    let talk = Talk { shelf: &mut shelf, dialogue, effects, once, answering };
    let end = run::talk(talk, &mut desk, &clock);
    // The terminal first, so that an error is shown on one that works as before.
    drop(keys);
    let end = end?;
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
        Box::new(JsonLines::new(Out::json()))
    } else if args.plain || !terminal::errors_are_terminal() {
        Box::new(Plain::new(Out::text()))
    } else if args.big && terminal::output_is_terminal() {
        Box::new(Big::new())
    } else {
        Box::new(Screen::new())
    }
}

/// What is typed: key by key on a terminal, else line by line when that is asked for; and what a pedal reports.
pub(super) fn typed(
    asked: bool,
    lines_only: bool,
    settings: &Settings,
    clock: &Clock,
) -> (Option<Keys>, Typing) {
    let (tell, typed) = unbounded_channel();
    if let Some(path) = settings.midi_pedal.clone() {
        midi::start(path, clock.clone(), tell.clone());
    }
    let keys = if lines_only { None } else { Keys::open(clock.clone(), tell.clone()) };
    if keys.is_none() && (asked || io::stdin().is_terminal()) {
        typed_lines(tell);
    }
    // Without any of them it is at its end at once.
    (keys, Typing::new(typed))
}

/// Lines from the standard input, read on a thread of their own.
fn typed_lines(tell: UnboundedSender<Typed>) {
    std::thread::spawn(move || {
        for line in io::stdin().lines() {
            // An unreadable line ends it, and so does the end of the program.
            let Ok(line) = line else { return };
            if tell.send(Typed::Line(line)).is_err() {
                return;
            }
        }
    });
}
