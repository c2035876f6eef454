//! Real animals: alarms on sessions that nobody simulated, declines put into them, and reversals.
//!
//! Half of the recordings and half of the kinds of decline are there to choose on (`--tuning`), the
//! other half is reported. Everything goes through the way in for timed tags, as text.

mod pieces;
mod put_in;
mod read;
mod reversals;
mod score;
mod sides;

use std::collections::BTreeMap;
use std::error::Error;
use std::path::Path;

use hushtally::session::Prior;
use hushtally::sim;

use crate::plain_rules::{Rule, Seen};
use crate::population::Seeds;
use pieces::{Nudge, Piece};
use put_in::{Declined, Kind};
use read::{Try, What, seeds_of};
use score::{Alarms, share};

/// A decline is noticed in time within this long.
const IN_TIME_S: f64 = 180.0;
/// A quick run takes one piece in this many.
const QUICK_ONE_IN: usize = 5;

/// A simple rule beside ours.
type Simple = (&'static str, fn(&Seen) -> Vec<f64>);

/// What others reach, by name.
type Beside = Vec<(String, f64)>;

/// How one method did on the declines that were put in, kind by kind.
#[derive(Default)]
struct Noticed(BTreeMap<&'static str, (u32, u32)>);

impl Noticed {
    fn add(&mut self, kind: Kind, onset: f64, alarms: &[f64]) {
        let name = match kind {
            Kind::Stretched => "stretched",
            Kind::Turned => "turned",
            Kind::Stopped => "stopped",
            Kind::Removed => "removed",
            Kind::Stretching => "stretching",
            Kind::Both => "both",
        };
        let count = self.0.entry(name).or_default();
        count.0 += u32::from(alarms.iter().any(|at| *at >= onset && *at <= onset + IN_TIME_S));
        count.1 += 1;
    }

    fn all(&self) -> (u32, u32) {
        self.0.values().fold((0, 0), |sum, count| (sum.0 + count.0, sum.1 + count.1))
    }

    fn told(&self) -> String {
        let kinds =
            self.0.iter().map(|(name, count)| format!("{name} {}", share(count.0, count.1)));
        kinds.collect::<Vec<_>>().join(", ")
    }
}

/// Measures, prints the tables on stderr, and reports the figures to `figure`.
///
/// # Errors
/// The records cannot be read.
pub(crate) fn measure(
    folder: &Path,
    seeds: Seeds,
    quick: bool,
    figure: impl Fn(&str, f64, &str, &str, &[(String, f64)]),
) -> Result<(), Box<dyn Error>> {
    let mut recordings = read::feeders(folder)?;
    recordings.extend(read::trials(folder)?);
    recordings.retain(|recording| seeds_of(&recording.animal) == seeds);
    let cut = pieces::cut(&recordings);
    let priors = pieces::histories(&cut)?;
    let one_in = if quick { QUICK_ONE_IN } else { 1 };
    let some: Vec<(&Piece, &Prior)> = cut.iter().zip(&priors).step_by(one_in).collect();
    eprintln!(
        "\nreal animals, {seeds:?} half: {} recordings, {} of {} pieces of at most an hour",
        recordings.len(),
        some.len(),
        cut.len()
    );
    let [alone, known] = [false, true].map(|with_history| ours(&some, with_history));
    let (alone, known) = (alone?, known?);
    let simple = simple_alarms(&some);
    let best = |of: &dyn Fn(&Alarms) -> f64| -> Vec<(String, f64)> {
        simple.iter().map(|(name, alarms)| ((*name).to_owned(), of(alarms))).collect()
    };
    let both = |of: &dyn Fn(&Alarms) -> f64| of(&alone).max(of(&known));
    let rate = &Alarms::per_hour;
    figure("real_end_alarms_per_hour", both(rate), "per h", "<=0.5", &best(rate));
    let back = &Alarms::taken_back;
    figure("real_alarms_taken_back", both(back), "", "<=0.3", &best(back));
    let every: Vec<(&Piece, &Prior)> = cut.iter().zip(&priors).collect();
    let (noticed, beside) = declines(&every, seeds)?;
    figure("real_declines_noticed_share", noticed, "", ">=0.8", &beside);
    let (calls, sum) = reversals::measure(folder, seeds)?;
    let sum = [("plain sum".to_owned(), sum)];
    figure("reversals_called_share", calls.share(), "", ">=0.6", &sum);
    let quiet = calls.false_per_thousand();
    figure("reversals_false_calls", quiet, "per 1000 pokes", "<=5", &[]);
    let lopsided = sides::called_lopsided(folder)?;
    figure("dogs_called_lopsided", f64::from(lopsided), "", "<=0", &[]);
    Ok(())
}

/// Our alarms to end, session by session; prints how they were.
fn ours(pieces: &[(&Piece, &Prior)], with_history: bool) -> Result<Alarms, Box<dyn Error>> {
    let mut sets: BTreeMap<&str, Alarms> = BTreeMap::new();
    let mut all = Alarms::default();
    let mut warnings = 0;
    for (piece, prior) in pieces {
        let nudges = heard(&piece.tries, piece.ends, prior, with_history)?;
        warnings += nudges.len();
        let ends: Vec<f64> = nudges.iter().filter(|nudge| nudge.ends()).map(|n| n.at).collect();
        sets.entry(piece.set).or_default().add(piece, &ends);
        all.add(piece, &ends);
    }
    let name = if with_history { "history known" } else { "no history" };
    eprintln!("engine, {name}: {}", all.told());
    for (set, alarms) in sets {
        eprintln!("  {set}: {}", alarms.told());
    }
    eprintln!("  with all other warnings: {warnings}");
    Ok(all)
}

fn heard(
    tries: &[Try],
    ends: f64,
    prior: &Prior,
    with_history: bool,
) -> Result<Vec<Nudge>, Box<dyn Error>> {
    let unknown = Prior::default();
    Ok(pieces::nudges(tries, ends, if with_history { prior } else { &unknown })?)
}

fn simple_rules() -> [Simple; 5] {
    [
        ("timer of 30 minutes", |seen| Rule::FixedTimer(1800.0).alarms(seen)),
        ("half own rate, 60 s", |seen| Rule::OwnRate { window: 60.0, share: 0.5 }.alarms(seen)),
        ("half own rate, 300 s", |seen| Rule::OwnRate { window: 300.0, share: 0.5 }.alarms(seen)),
        ("slow answers, 3 times", |seen| Rule::SlowAnswers { last: 8, times: 3.0 }.alarms(seen)),
        ("published for mice", published_for_mice),
    ]
}

/// International Brain Laboratory 2021 (eLife 10:e63711): a session is over when the median response
/// time of the latest 20 trials is above 5 times that of the session after 400 trials, or when fewer
/// than 45 trials come in 5 minutes after 45 minutes.
fn published_for_mice(seen: &Seen) -> Vec<f64> {
    let few = {
        let times: Vec<f64> = seen.tries.iter().map(|(at, _)| *at).collect();
        let within = |now: f64| {
            times.partition_point(|at| *at <= now) - times.partition_point(|at| *at <= now - 300.0)
        };
        (2700..seen.ended as u32).map(f64::from).find(|now| within(*now) < 45)
    };
    let slow = Rule::SlowAnswers { last: 20, times: 5.0 }.alarms(seen);
    let after_400 = seen.tries.get(400).map(|(at, _)| *at);
    let slow = slow.into_iter().find(|at| after_400.is_some_and(|after| *at > after));
    few.into_iter().chain(slow).reduce(f64::min).into_iter().collect()
}

/// What a simple rule sees of a session: its tries are what a reward is to others.
fn seen(tries: &[Try], ended: f64) -> Seen {
    let scored: Vec<&Try> = tries.iter().filter(|one| one.what != What::Step).collect();
    let mut before = None;
    let answers = scored.iter().filter_map(|one| {
        let since = one.cue.or(before);
        before = Some(one.at);
        Some((one.at, one.at - since?))
    });
    Seen {
        answers: answers.collect(),
        tries: scored.iter().map(|one| (one.at, one.what == What::Rewarded)).collect(),
        rewards: scored.iter().map(|one| one.at).collect(),
        ended,
    }
}

fn simple_alarms(pieces: &[(&Piece, &Prior)]) -> Vec<(&'static str, Alarms)> {
    let rules = simple_rules().map(|(name, rule)| {
        let mut alarms = Alarms::default();
        for (piece, _) in pieces {
            alarms.add(piece, &rule(&seen(&piece.tries, piece.ends)));
        }
        eprintln!("{name}: {}", alarms.told());
        (name, alarms)
    });
    rules.into()
}

/// Declines put in: the share that the engine noticed in time, the worse of with and without history,
/// and that of each simple rule.
fn declines(pieces: &[(&Piece, &Prior)], seeds: Seeds) -> Result<(f64, Beside), Box<dyn Error>> {
    let mut dice = sim::dice(17);
    let mut ours = [Noticed::default(), Noticed::default()];
    let mut simple = simple_rules().map(|(name, rule)| (name, rule, Noticed::default()));
    for (piece, prior) in pieces {
        for kind in Kind::of(seeds) {
            let Some(Declined { onset, tries, ends }) = put_in::put_in(piece, kind, &mut dice)
            else {
                continue;
            };
            for (noticed, with_history) in ours.iter_mut().zip([false, true]) {
                let nudges = heard(&tries, ends, prior, with_history)?;
                // Where only success falls, "make it easier" is the right word.
                let right = |nudge: &&Nudge| {
                    nudge.ends() || (kind == Kind::Turned && nudge.name == "step_too_much")
                };
                let alarms: Vec<f64> = nudges.iter().filter(right).map(|nudge| nudge.at).collect();
                noticed.add(kind, onset, &alarms);
            }
            for (_, rule, noticed) in &mut simple {
                noticed.add(kind, onset, &rule(&seen(&tries, ends)));
            }
        }
    }
    let share_of = |noticed: &Noticed| {
        let (hits, of) = noticed.all();
        f64::from(hits) / f64::from(of.max(1))
    };
    for (noticed, name) in ours.iter().zip(["no history", "history known"]) {
        eprintln!("declines put in, noticed within {IN_TIME_S} s, {name}: {}", noticed.told());
    }
    for (name, _, noticed) in &simple {
        eprintln!("  {name}: {}", noticed.told());
    }
    let beside = simple.iter().map(|(name, _, noticed)| ((*name).to_owned(), share_of(noticed)));
    Ok((share_of(&ours[0]).min(share_of(&ours[1])), beside.collect()))
}
