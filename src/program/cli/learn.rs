//! `hushtally words learn PLAN`: teaching the sounds of one person, by voice or from recordings.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::Args;

use super::listen::typed;
use super::{Class, Failure, places, sound};
use crate::audio::recording::Recording;
use crate::clock::Clock;
use crate::hear::personal::{Features, Learnt, LearntStore, Take, Takes};
use crate::hear::{Ears, Heard};
use crate::interpret::Grammar;
use crate::lesson::Lesson;
use crate::plan::{Plan, Role, Words};
use crate::run::{self, Desk, Plain, Teaching};
use crate::score::TruthSegment;
use crate::terminal::{Out, say};

/// Examples of a phrase that are kept: more take longer to compare, and add little.
const MOST_EXAMPLES: usize = 12;
/// How often each phrase is said, unless asked otherwise.
pub(super) const TIMES: u8 = 5;

#[derive(Debug, Args)]
#[command(after_help = "\
For accents, for unclear speech, and for sounds that are no words: you say each word of the plan a few times,
and then talk a little. What is kept is a description of the sounds, not the sounds themselves, in a file that
only you may read. `listen`, `replay` and `words score` use it from then on.

With one key or switch, a press has read what else can be done: go past a word, have it said again, or end.

A tag can be any sound that you can make again and again in the same way, such as a hum or a \"brr\". Give it any
name in the plan, as in  marker = \"brr\". A name that the speech model does not know works once it was learnt.

Examples:
  hushtally words learn pepino.toml                        every tag of the plan, five times each
  hushtally words learn pepino.toml --word yes --word miss only these, again
  hushtally words learn pepino.toml --word \"juniper finish\" a command, as one whole
  hushtally words learn pepino.toml --person Ada           for one of several people: listen --person Ada
  hushtally words learn pepino.toml --from my-recordings   from recordings, with truth.csv as for words score;
                                                           segments without words are the talk
  hushtally words learn pepino.toml --forget               forget what was learnt")]
pub(super) struct LearnArgs {
    /// The plan (TOML) with the words
    plan: PathBuf,
    /// Only this word, or several words said as one; can be given again
    #[arg(long = "word", value_name = "WORDS")]
    words: Vec<String>,
    /// How often each is said
    #[arg(long, default_value_t = TIMES, value_parser = clap::value_parser!(u8).range(2..=12))]
    times: u8,
    /// Whose sounds these are; without it, those of whoever trains
    #[arg(long, value_name = "NAME", env = "HUSHTALLY_PERSON")]
    person: Option<String>,
    /// Learn from the recordings in this folder instead of the microphone
    #[arg(long, value_name = "DIR")]
    from: Option<PathBuf>,
    /// Forget what was learnt of this person
    #[arg(long, conflicts_with_all = ["from", "words"])]
    forget: bool,
    /// Play and say nothing; what to say stands on the screen
    #[arg(long)]
    quiet: bool,
    #[command(flatten)]
    sound: sound::SoundArgs,
    #[command(flatten)]
    places: places::PlaceArgs,
}

pub(super) fn run(args: &LearnArgs) -> Result<(), Failure> {
    let (plan, _) = places::plan(&args.plan)?;
    let store = places::learnt_store(args.places.db.as_deref())?;
    let person = args.person.as_deref();
    if args.forget {
        let told = if store.forget(person)? { "forgotten" } else { "there was nothing to forget" };
        say!("{told}");
        return Ok(());
    }
    let phrases = phrases(args, &plan)?;
    match &args.from {
        Some(folder) => {
            let learnt = store.load(person)?.unwrap_or_default();
            let ears = recogniser(args.places.model.as_deref(), &plan)?;
            from_recordings(folder, &phrases, learnt, ears, &store, person)
        }
        None => by_voice(args, &plan, phrases, store),
    }
}

/// Which phrases are to be learnt: those asked for, or every tag of the plan.
fn phrases(args: &LearnArgs, plan: &Plan) -> Result<Vec<String>, Failure> {
    let grammar = Grammar::new(&plan.words);
    let asked: Vec<String> = args.words.iter().map(|words| Words::tidy(words)).collect();
    for phrase in &asked {
        let words: Vec<&str> = phrase.split(' ').collect();
        if grammar.parse(&words).is_none_or(|read| read.len() != 1) {
            let error = anyhow::anyhow!(
                "\"{phrase}\" is neither a tag nor a command of this plan; its words stand in {} under [words], and a command is learnt with the attention word before it",
                args.plan.display()
            );
            return Err(Failure::new(Class::Usage, error));
        }
    }
    if !asked.is_empty() {
        return Ok(asked);
    }
    // From recordings, whatever the plan reads as one thing may be learnt.
    Ok(match args.from {
        Some(_) => grammar
            .called_commands()
            .into_iter()
            .chain(grammar.pairs())
            .chain(grammar.tags())
            .collect(),
        None => tags(plan),
    })
}

/// Every tag of the plan.
pub(super) fn tags(plan: &Plan) -> Vec<String> {
    let is_tag = |role: &Role| !role.is_called() && *role != Role::Attention;
    let tags = plan.words.iter().filter(|(role, _)| is_tag(role));
    tags.map(|(_, phrase)| phrase.to_owned()).collect()
}

/// Ears for the plan's words, as far as the model knows them.
fn recogniser(model: Option<&Path>, plan: &Plan) -> Result<Ears, Failure> {
    let mut model = places::speech_model(model, plan)?;
    let mut words = plan.words.clone();
    let roles: BTreeSet<Role> = plan.words.iter().map(|(role, _)| role.clone()).collect();
    for role in roles {
        let mut phrases = words.of(&role).to_vec();
        phrases.retain(|phrase| phrase.split(' ').all(|word| model.knows(word)));
        words.set(role, phrases);
    }
    Ok(Ears::new(model, &words)?)
}

/// Whose sounds are learnt, and where they are kept.
pub(super) struct Whose {
    pub(super) person: Option<String>,
    pub(super) store: LearntStore,
}

/// What a lesson is made of: these phrases, so many times each.
pub(super) fn teaching(
    plan: &Plan,
    phrases: Vec<String>,
    times: usize,
    whose: Whose,
    model: Option<&Path>,
) -> Result<Teaching, Failure> {
    let Whose { person, store } = whose;
    let learnt = store.load(person.as_deref())?.unwrap_or_default();
    let (lesson, effects) = Lesson::begin(phrases, times);
    let ears = {
        let (model, plan) = (model.map(Path::to_owned), plan.clone());
        Box::new(move || recogniser(model.as_deref(), &plan).map_err(|failure| failure.error))
    };
    let keep = Box::new(move |learnt: &Learnt| {
        store.save(person.as_deref(), learnt)?;
        Ok(())
    });
    Ok(Teaching { lesson, effects, learnt, ears, keep })
}

fn by_voice(
    args: &LearnArgs,
    plan: &Plan,
    phrases: Vec<String>,
    store: LearntStore,
) -> Result<(), Failure> {
    let settings = places::settings()?;
    let clock = Clock::real();
    let mut desk = Desk::new(Box::new(Plain::new(Out::text())), clock.clone());
    if !args.quiet {
        args.sound.start(&settings, &mut desk);
    }
    let whose = Whose { person: args.person.clone(), store };
    let model = args.places.model.as_deref();
    let teaching = teaching(plan, phrases, usize::from(args.times), whose, model)?;
    let (keys, typed) = typed(false, false, &settings, &clock);
    let answering = args.sound.answering(&settings, typed);
    let taught = run::teach(teaching, answering, &mut desk, &clock);
    // The terminal first, so that an error is told on one that works as before.
    drop(keys);
    taught?;
    Ok(())
}

fn from_recordings(
    folder: &Path,
    phrases: &[String],
    mut learnt: Learnt,
    mut ears: Ears,
    store: &LearntStore,
    person: Option<&str>,
) -> Result<(), Failure> {
    let truth = places::truth(folder)?;
    let mut examples: BTreeMap<String, Vec<Features>> = BTreeMap::new();
    let mut recognised: Vec<(String, String)> = Vec::new();
    let mut unused = 0;
    for (file, truth) in &truth {
        let path = folder.join(file);
        let takes = takes(&path, &mut ears).with_context(|| path.display().to_string())?;
        for segment in truth {
            let phrase = segment.words.join(" ");
            let heard = heard_in(segment, &takes);
            match heard {
                _ if segment.words.is_empty() => {
                    heard.for_each(|(take, _)| add_talk(&mut learnt, take))
                }
                mut heard if phrases.contains(&phrase) => {
                    match heard
                        .next()
                        .and_then(|(take, words)| Some((take.features.clone()?, words)))
                    {
                        Some((features, words)) => {
                            recognised
                                .extend(words.iter().map(|words| (phrase.clone(), words.clone())));
                            examples.entry(phrase).or_default().push(features);
                        }
                        None => unused += 1,
                    }
                }
                _ => unused += 1,
            }
        }
    }
    for (phrase, mut examples) in examples {
        examples.truncate(MOST_EXAMPLES);
        say!("{phrase}: {}", examples.len());
        learnt.learn(phrase, examples);
    }
    for (phrase, words) in recognised {
        learnt.mistaken_for(&phrase, words);
    }
    if unused > 0 {
        say!("not used, since nothing was heard there or the words are not a tag: {unused}");
    }
    for phrase in learnt.unsteady() {
        say!(
            "not steady: \"{phrase}\"; its examples are too unlike each other, or there is only one"
        );
    }
    if learnt.talk() == 0 {
        say!("there is no talk to tell the words from: add segments without words to truth.csv");
    }
    let file = store.save(person, &learnt)?;
    say!("kept in {}", file.display());
    Ok(())
}

/// The takes in a segment, the one that covers most of it first.
fn heard_in<'a>(
    segment: &TruthSegment,
    takes: &'a [Told],
) -> impl Iterator<Item = &'a Told> + use<'a> {
    let overlap = |take: &Take| {
        take.to.as_secs_f64().min(segment.end_s) - take.from.as_secs_f64().max(segment.start_s)
    };
    let mut heard: Vec<(f64, &Told)> =
        takes.iter().map(|told| (overlap(&told.0), told)).filter(|(o, _)| *o > 0.0).collect();
    heard.sort_by(|a, b| b.0.total_cmp(&a.0));
    heard.into_iter().map(|(_, take)| take)
}

fn add_talk(learnt: &mut Learnt, take: &Take) {
    if let Some(features) = take.features.clone() {
        learnt.add_talk(features);
    }
}

/// A take, and the words that the recogniser is sure of in it.
type Told = (Take, Option<String>);

fn takes(path: &Path, ears: &mut Ears) -> anyhow::Result<Vec<Told>> {
    let mut recording = Recording::open(path)?;
    let mut cutter = Takes::default();
    ears.restart();
    let mut takes = Vec::new();
    // Both cut the sound by the same gate, so a take and its tags come with the same frame.
    let mut pair = |cut: Vec<Take>, heard: &[Heard]| {
        let mut words = run::tags_in(heard).into_iter();
        takes.extend(cut.into_iter().map(|take| (take, words.next())));
    };
    loop {
        match recording.next_frame() {
            Ok(Some(frame)) => pair(cutter.hear(&frame), &ears.hear(&frame)),
            Ok(None) => break,
            Err(error) if error.is_only_a_warning() => tracing::warn!("{error}"),
            Err(error) => return Err(error.into()),
        }
    }
    pair(cutter.finish().into_iter().collect(), &ears.finish());
    Ok(takes)
}
