//! `hushtally words score DIR`, `words check PLAN` and `words learn PLAN`

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;

use anyhow::Context;
use clap::{Args, Subcommand};
use indicatif::ProgressBar;

use super::history::chart;
use super::{Class, Failure, learn, places};
use crate::audio::recording::Recording;
use crate::clock::Clock;
use crate::hear::{self, Ears, Frequent, Trace, Trouble};
use crate::interpret::Grammar;
use crate::new_file::{Existing, NewFile};
use crate::plan::{Plan, Role, WordMeaning, Words, by_moment};
use crate::score::{Figures, HeardLive, Scorer, TruthSegment};
use crate::terminal::{self, say, say_part, width};
use crate::wording::Wording;

#[derive(Debug, Args)]
#[command(
    args_conflicts_with_subcommands = true,
    after_help = "\
Examples:
  hushtally words                       all that can be said, by moment: before, in and after a session
  hushtally words --plan pepino         the same by the words of a plan
  hushtally words check pepino.toml     which of them will be heard badly"
)]
pub(super) struct WordsArgs {
    #[command(subcommand)]
    what: Option<What>,
    /// Tell the words of this plan, in place of the default ones
    #[arg(long, value_name = "FILE")]
    plan: Option<PathBuf>,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Say which words of a plan will be heard badly, and which would be better
    Check(CheckArgs),
    /// Learn the words from your own voice, for accents, unclear speech, and sounds that are not words
    Learn(learn::LearnArgs),
    /// Measure hearing on recordings of which you know what was said
    Score(ScoreArgs),
}

#[derive(Debug, Args)]
struct CheckArgs {
    /// The plan (TOML); without it the default words are checked
    plan: Option<PathBuf>,
    #[command(flatten)]
    places: places::PlaceArgs,
}

#[derive(Debug, Args)]
#[command(after_help = "\
DIR holds sound files and truth.csv, with the heading file,start_s,end_s,words and a line for every
segment: the words said there, or no words where nothing must be heard. One plan (*.toml) may lie beside
them; without it the default words are listened for, and every other word in truth.csv as a tag of its own.

Example: hushtally words score my-recordings --json")]
struct ScoreArgs {
    /// Folder with sound files and truth.csv
    dir: PathBuf,
    /// Another plan than the one in the folder
    #[arg(long)]
    plan: Option<PathBuf>,
    /// Print one JSON object; with --beside, one for each model
    #[arg(long)]
    json: bool,
    /// Measure this model too, and say which words differ
    #[arg(long, value_name = "MODEL")]
    beside: Option<PathBuf>,
    /// Write what was made of every segment of speech into a file, one JSON object a line
    #[arg(long, value_name = "FILE")]
    stretches: Option<PathBuf>,
    /// Write over that file when it is there already
    #[arg(long, requires = "stretches")]
    overwrite: bool,
    #[command(flatten)]
    learnt: places::LearntArgs,
    #[command(flatten)]
    places: places::PlaceArgs,
}

pub(super) fn run(args: &WordsArgs) -> Result<(), Failure> {
    match &args.what {
        None => tell(args),
        Some(What::Check(args)) => check_plan(args),
        Some(What::Learn(args)) => learn::run(args),
        Some(What::Score(args)) => score(args),
    }
}

/// All that can be said, by moment.
fn tell(args: &WordsArgs) -> Result<(), Failure> {
    let plan = match &args.plan {
        Some(path) => places::plan(path)?.0,
        None => Plan::of_default_words(),
    };
    let all = by_moment(&plan.words);
    if args.json {
        let moments: BTreeMap<_, _> = all.into_iter().collect();
        terminal::json(&serde_json::to_string(&moments).context("the words cannot be written")?);
        return Ok(());
    }
    say_part!("{}", listed(&plan.words));
    Ok(())
}

/// Columns up to what a word means.
const MEANINGS_AT: usize = 31;

/// All words by moment, each with what it means, in lines that a terminal takes.
fn listed(words: &Words) -> String {
    let wording = Wording::english();
    let attention = words.of(&Role::Attention).first().cloned().unwrap_or_default();
    let mut text = String::new();
    for (number, (moment, words)) in by_moment(words).iter().enumerate() {
        if number > 0 {
            text.push('\n');
        }
        text += &format!("{}\n", wording.moment(*moment));
        for WordMeaning { name, phrases, command } in words {
            // Of several phrases of a list all, of several that mean the same each.
            let mut said = phrases.join(if name == "steps" { ", " } else { " or " });
            if *command {
                said = format!("{attention} {said}");
            }
            if name == "work_on" {
                said.push_str(" two");
            }
            // What is too long stands above its meaning.
            let mut label = format!("  {said} ");
            if width(&label) > MEANINGS_AT {
                text += &chart::labelled("", &said, 2);
                label.clear();
            }
            text += &chart::labelled(&label, wording.meaning(name), MEANINGS_AT);
        }
    }
    text
}

fn check_plan(args: &CheckArgs) -> Result<(), Failure> {
    let plan = match &args.plan {
        Some(path) => places::plan(path)?.0,
        None => Plan::of_default_words(),
    };
    let mut model = places::speech_model(args.places.model.as_deref(), &plan)?;
    let findings = hear::check(&plan.words, &Frequent::english(), &mut |word| model.knows(word));
    for finding in &findings {
        say!("{finding}");
    }
    if findings.is_empty() {
        say!("All words are known, and far enough from each other and from ordinary talk.");
    }
    let unknown = findings.iter().filter(|f| matches!(f.what, Trouble::Unknown { .. })).count();
    if unknown > 0 {
        let error = anyhow::anyhow!("words that cannot be heard: {unknown}");
        return Err(Failure::new(Class::Usage, error));
    }
    Ok(())
}

fn score(args: &ScoreArgs) -> Result<(), Failure> {
    let figures = measure(args, args.places.model.as_deref(), args.stretches.as_deref())?;
    show(args, &figures)?;
    let Some(beside) = &args.beside else { return Ok(()) };
    let others = measure(args, Some(beside), None)?;
    show(args, &others)?;
    if !args.json {
        say!("{}", differing(&figures, &others));
    }
    Ok(())
}

fn show(args: &ScoreArgs, figures: &Figures) -> Result<(), Failure> {
    if args.json {
        let object = serde_json::to_string(figures).context("the figures cannot be written")?;
        terminal::json(&object);
    } else {
        say_part!("{figures}");
    }
    Ok(())
}

/// Words of which the two models heard different numbers.
fn differing(one: &Figures, other: &Figures) -> String {
    let right: BTreeMap<&str, usize> =
        other.per_word.iter().map(|word| (word.word.as_str(), word.right)).collect();
    let lines: Vec<String> = one
        .per_word
        .iter()
        .filter_map(|word| {
            let beside = *right.get(word.word.as_str())?;
            (beside != word.right).then(|| {
                format!("{}: {} and {beside} of {} right", word.word, word.right, word.expected)
            })
        })
        .collect();
    if lines.is_empty() {
        return "Both heard every word equally often.".to_owned();
    }
    format!("Words that differ, this model's first:\n{}", lines.join("\n"))
}

/// Hears the whole folder with a model.
fn measure(
    args: &ScoreArgs,
    model: Option<&Path>,
    stretches: Option<&Path>,
) -> Result<Figures, Failure> {
    let truth = places::truth(&args.dir)?;
    let plan = match plan_beside(args)? {
        Some(path) => places::plan(&path)?.0,
        None => plan_for(truth.values().flatten()),
    };
    let learnt = args.learnt.load(args.places.db.as_deref())?;
    let mut ears = places::taught_ears(model, &plan, &learnt)?;
    let mut notes = match stretches {
        Some(path) => {
            let record = places::record_path(args.places.db.as_deref())?;
            Some(NewFile::begin(path, Existing::asked(args.overwrite), Some(&record))?)
        }
        None => None,
    };
    let bar = if args.json { ProgressBar::hidden() } else { ProgressBar::new(truth.len() as u64) };
    let mut scorer = Scorer::new();
    for (file, truth) in &truth {
        let listened = listen(&args.dir.join(file), &mut ears)
            .with_context(|| format!("{}", args.dir.join(file).display()))?;
        if let Some(notes) = &mut notes {
            for trace in &listened.traces {
                writeln!(notes, "{}", note(file, trace))
                    .context("the segments cannot be written")?;
            }
        }
        let window = plan.limits.detail_window;
        scorer.add(truth, &listened.heard, listened.sound, listened.computing, window);
        bar.inc(1);
    }
    bar.finish_and_clear();
    notes.map_or(Ok(()), NewFile::finish)?;
    Ok(scorer.figures())
}

/// The plan to score with: as named, or the only one in the folder.
fn plan_beside(args: &ScoreArgs) -> Result<Option<PathBuf>, Failure> {
    if args.plan.is_some() {
        return Ok(args.plan.clone());
    }
    let entries = fs::read_dir(&args.dir)
        .with_context(|| format!("{} cannot be read", args.dir.display()))?;
    let mut plans: Vec<PathBuf> = entries
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|extension| extension == "toml"))
        .collect();
    match plans.len() {
        0 | 1 => Ok(plans.pop()),
        _ => Err(Failure::new(
            Class::Usage,
            anyhow::anyhow!(
                "there are {} plans in {}; name one with --plan",
                plans.len(),
                args.dir.display()
            ),
        )),
    }
}

/// The default words, and every word said that is not among them as a tag of its own.
fn plan_for<'a>(truth: impl Iterator<Item = &'a TruthSegment>) -> Plan {
    let mut plan = Plan::of_default_words();
    let grammar = Grammar::new(&plan.words);
    let own: BTreeSet<String> = truth
        // After the attention word come commands, which have words of their own.
        .filter(|segment| grammar.called(&segment.words) == 0)
        .flat_map(|segment| &segment.words)
        .filter(|word| !grammar.knows(word))
        .cloned()
        .collect();
    for word in own {
        plan.words.set(Role::Own(word.clone()), vec![word]);
    }
    plan
}

struct Listened {
    heard: Vec<HeardLive>,
    traces: Vec<Trace>,
    sound: Duration,
    computing: Duration,
}

/// Hears a whole file as a live microphone would give it: a frame is worked on when it is there and the
/// one before is done.
fn listen(path: &Path, ears: &mut Ears) -> anyhow::Result<Listened> {
    let mut recording = Recording::open(path)?;
    ears.restart();
    let mut listened = Listened {
        heard: Vec::new(),
        traces: Vec::new(),
        sound: Duration::ZERO,
        computing: Duration::ZERO,
    };
    let mut free_at = Duration::ZERO;
    // From now on they are kept.
    ears.traces();
    loop {
        let frame = match recording.next_frame() {
            Ok(Some(frame)) => frame,
            Ok(None) => break,
            Err(error) if error.is_only_a_warning() => {
                tracing::warn!("{error}");
                continue;
            }
            Err(error) => return Err(error.into()),
        };
        let there = frame.end().elapsed();
        let before = worked(ears);
        let heard = ears.hear(&frame);
        let took = worked(ears).saturating_sub(before);
        free_at = free_at.max(there) + took;
        listened.computing += took;
        listened.sound = there;
        let live = heard.into_iter().map(|heard| HeardLive { heard, answered: free_at });
        listened.heard.extend(live);
        listened.traces.extend(ears.traces());
    }
    let before = worked(ears);
    let heard = ears.finish();
    let took = worked(ears).saturating_sub(before);
    listened.computing += took;
    let answered = free_at.max(listened.sound) + took;
    listened.heard.extend(heard.into_iter().map(|heard| HeardLive { heard, answered }));
    listened.traces.extend(ears.traces());
    ears.still_hear()?;
    Ok(listened)
}

/// Processor time of this thread and of the recogniser, which work one after the other.
fn worked(ears: &Ears) -> Duration {
    Clock::worked() + ears.worked()
}

fn note(file: &str, trace: &Trace) -> serde_json::Value {
    serde_json::json!({
        "file": file,
        "from_s": trace.from.as_secs_f64(),
        "to_s": trace.to.as_secs_f64(),
        "tags": trace.tags,
        "open": trace.open,
        "gap_words": trace.gap_words,
        "gap_nothing": trace.gap_nothing,
        "quiet_before_s": trace.quiet_before,
        "height_db": trace.height_db,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_of_the_list_fits_a_terminal() {
        let mut words = Words::english();
        let long =
            "what is said for this is rather long, and has its meaning below itself all the same";
        words.set(Role::Own("sneeze".into()), vec!["sneeze".into(), long.into()]);
        let text = listed(&words);
        assert!(text.lines().count() > 60 && text.contains("    "), "{text}");
        for line in text.lines() {
            assert!(width(line) <= 80, "{line}");
        }
        let said = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains(long), "{said}");
        assert!(text.contains("\n  juniper begin                starts the session\n"), "{text}");
    }

    #[test]
    fn readme_lists_every_word() {
        let readme = include_str!("../../../README.md");
        let section = readme.split("## Words to say").nth(1).unwrap();
        let section = section.split("\n## ").next().unwrap();
        let rows: Vec<&str> = section.lines().filter(|line| line.starts_with('|')).collect();
        for (_, words) in by_moment(&Words::english()) {
            for WordMeaning { name, phrases, command } in words {
                // Of the numbers some stand for all.
                let needed = if name == "steps" { &phrases[1..3] } else { &phrases[..] };
                for phrase in needed {
                    let tells = |row: &&&str| {
                        row.contains(phrase.as_str()) && row.contains("**juniper**") == command
                    };
                    assert!(rows.iter().any(|row| tells(&row)), "\"{phrase}\" is not in README");
                }
            }
        }
    }
}
