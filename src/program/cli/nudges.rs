//! `hushtally nudges`: a quiz that teaches the quiet sounds, or a list of them.

use std::path::PathBuf;
use std::time::Duration;

use clap::Args;
use minijinja::context;
use serde::Serialize;

use super::history::chart;
use super::listen::typed;
use super::{Failure, places, sound};
use crate::clock::Clock;
use crate::hear::personal::Learnt;
use crate::nudge::hearing::Hearing;
use crate::nudge::signals::{Signal, Signals};
use crate::plan::Plan;
use crate::quiz::{Quiz, Score};
use crate::run::{self, Desk, JsonLines, MakeEars, Plain, Printer, Quizzing, Sounds, Tuning};
use crate::session::NudgeKind;
use crate::terminal::{self, Out, say, say_part, tell};
use crate::wording::filled;

/// Long enough for one nudge and the sentence after it.
const LONGEST: Duration = Duration::from_secs(15);

#[derive(Debug, Args)]
#[command(after_help = "\
Without names it is a short quiz: each of the four sounds is played with what it asks for, then
alone, and you answer with its number:

  one, two, three, four   by voice, once the question is read to its end; or typed
  juniper repeat          hear it again; slower, faster, louder, quieter are understood too
  juniper finish          that is enough

A sound that was missed comes again, three times at most. With one key or switch a press
has the choices read one by one, and a press takes; twice plays the sound again.
With --type --quiet the rhythm is shown in place of the sound.

Examples:
  hushtally nudges                     the quiz
  hushtally nudges end_soon needs_you  play only these, and say what they mean
  hushtally nudges rate_falling        the sound of this nudge
  hushtally nudges --quiet             the list only
  hushtally nudges --species dog       the list, with what is known about a dog's hearing")]
pub(super) struct NudgesArgs {
    /// Only these, by name
    names: Vec<String>,
    /// Play nothing: the list only, or with --type the quiz on the screen
    #[arg(long)]
    quiet: bool,
    /// Print the list as JSON, play nothing; with --type one JSON object a line and the score
    #[arg(long)]
    json: bool,
    /// The animal that may hear them
    #[arg(long)]
    species: Option<String>,
    /// Take lines from the standard input as if said. On a terminal this is so anyway
    #[arg(long = "type")]
    type_: bool,
    /// Take typed lines only, no single keys (for screen readers)
    #[arg(long)]
    plain: bool,
    #[command(flatten)]
    sound: sound::SoundArgs,
    #[command(flatten)]
    learnt: places::LearntArgs,
    /// Folder of the speech model
    #[arg(long, value_name = "FOLDER", env = "HUSHTALLY_MODEL")]
    model: Option<std::path::PathBuf>,
}

#[derive(Serialize)]
struct Row<'a> {
    nudge: &'static str,
    means: &'a str,
    /// The nudges that sound so.
    tells: Vec<&'static str>,
    rhythm: String,
    pitch_hz: f32,
    length_ms: u32,
    fade_ms: u32,
    level_dbfs: f32,
}

/// What a program reads.
#[derive(Serialize)]
struct Summary<'a> {
    kind: &'static str,
    #[serde(flatten)]
    score: &'a Score,
}

pub(super) fn run(args: &NudgesArgs) -> Result<(), Failure> {
    let lists = args.species.is_some() || ((args.quiet || args.json) && !args.type_);
    if args.names.is_empty() && !lists { quiz(args) } else { list(args) }
}

fn list(args: &NudgesArgs) -> Result<(), Failure> {
    let hearing = args.species.as_deref().map(Hearing::of);
    let signals = match &hearing {
        Some(hearing) => Signals::built_in().below(hearing),
        None => Signals::built_in(),
    };
    let wanted = wanted(&args.names)?;
    let rows: Vec<Row> = wanted.iter().map(|signal| row(&signals, *signal)).collect();
    if args.json {
        let list = serde_json::json!({ "nudges": rows, "hearing": hearing });
        terminal::json(&list);
        return Ok(());
    }
    if let Some(hearing) = &hearing {
        let [low, high] = hearing.best_hz;
        let (low, high) = (f64::from(low), f64::from(high));
        let (source, below) = (&hearing.source, f64::from(hearing.highest_hz()));
        say!("{}", filled("screen.hears_best", context! { low, high, source, below }));
    }
    let settings = places::settings()?;
    for (signal, row) in wanted.iter().zip(&rows) {
        let heard = format!("{:<14} {:<18} {:>4.0} Hz  ", row.nudge, row.rhythm, row.pitch_hz);
        say_part!("{}", chart::labelled(&heard, row.means, heard.chars().count()));
        if !args.quiet {
            // One player a nudge: its end is waited for, so that sound and sentence stay together.
            let ear = args.sound.ear(&settings);
            // Whoever asks to hear them hears them.
            let tuning = Tuning { loudspeaker: true, ..args.sound.tuning(&settings) };
            let mut sounds =
                Sounds::start(ear, tuning, Clock::real(), |trouble| tell!("{trouble}"))
                    .map_err(anyhow::Error::from)?;
            sounds.signal(*signal);
            std::thread::sleep(Duration::from_millis(u64::from(row.length_ms) + 300));
            sounds.say(row.means);
            sounds.finish(LONGEST);
        }
    }
    Ok(())
}

fn quiz(args: &NudgesArgs) -> Result<(), Failure> {
    terminal::never_wait();
    let settings = places::settings()?;
    let clock = Clock::real();
    let printer: Box<dyn Printer> = if args.json {
        Box::new(JsonLines::new(Out::json()))
    } else {
        Box::new(Plain::new(Out::text()))
    };
    let mut desk = Desk::new(printer, clock.clone());
    if !args.quiet {
        args.sound.start(&settings, &mut desk);
    }
    let plan = Plan::of_default_words();
    let learnt = args.learnt.load(None)?;
    let hears = (!args.quiet).then(|| (args.model.clone(), learnt));
    let (keys, typed) = typed(args.type_, args.plain || args.json, &settings, &clock);
    let answering = args.sound.answering(&settings, typed);
    let done = run::quiz(quizzing(plan, hears, &clock), answering, &mut desk, &clock);
    // The terminal first, so that an error is shown on one that works as before.
    drop(keys);
    let (quiz, _) = done?;
    if args.json {
        let summary = Summary { kind: "quiz", score: quiz.score() };
        terminal::json(&serde_json::to_string(&summary).map_err(anyhow::Error::from)?);
    }
    Ok(())
}

/// What the quiz is made of, in the words of this plan; it `hears` by this speech model and by what was learnt.
pub(super) fn quizzing(
    plan: Plan,
    hears: Option<(Option<PathBuf>, Learnt)>,
    clock: &Clock,
) -> Quizzing {
    let (quiz, effects) = Quiz::begin(run::drawn(clock));
    let words = plan.words.clone();
    let ears = hears.map(|(model, learnt)| -> MakeEars {
        Box::new(move || {
            places::taught_ears(model.as_deref(), &plan, &learnt).map_err(|failure| failure.error)
        })
    });
    Quizzing { quiz, effects, ears, words }
}

fn wanted(names: &[String]) -> Result<Vec<Signal>, Failure> {
    if names.is_empty() {
        return Ok(Signal::ALL.to_vec());
    }
    let all: Vec<&str> = Signal::ALL.map(Signal::name).to_vec();
    names
        .iter()
        .map(|name| {
            Signal::named(name).ok_or_else(|| {
                let error =
                    anyhow::anyhow!("there is no nudge {name}; there are {}", all.join(", "));
                Failure::new(super::Class::Usage, error)
            })
        })
        .collect()
}

fn row(signals: &Signals, signal: Signal) -> Row<'_> {
    let nudge = signals.get(signal);
    let tells = NudgeKind::ALL.into_iter().filter(|kind| Signal::of(*kind) == signal);
    Row {
        nudge: signal.name(),
        means: &nudge.means,
        tells: tells.map(NudgeKind::name).collect(),
        rhythm: nudge.rhythm_in_words(),
        pitch_hz: nudge.pitch_hz,
        length_ms: nudge.length_ms(),
        fade_ms: nudge.fade_ms,
        level_dbfs: nudge.level_dbfs,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run::json::lines;

    #[test]
    fn the_last_line_is_as_the_list_of_lines_says() {
        let score = Score { right: 3, asked: 4, missed: Vec::new() };
        let line = serde_json::to_value(Summary { kind: "quiz", score: &score }).unwrap();
        assert_eq!(lines::wrong_with(line.as_object().unwrap()), None);
    }
}
