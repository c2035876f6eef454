//! The engine in worlds that it was not chosen on: one table a law, and the figures over all of them.
//!
//! Every animal is judged twice on the same long session: as if it were its first ever, and knowing
//! six earlier ones. Constants are chosen on the laws and seeds of `--tuning`; the figures come from
//! the other laws and seeds.

use std::time::Duration;

use hushtally::plan::Plan;
use hushtally::session::{PastSession, Prior};
use hushtally::sim::worlds::{Half, Law, Subject, World};
use hushtally::sim::{self, Dice};
use rand::RngExt;

use crate::measure::{self, Score, Scorer};
use crate::plain_rules::{self, Rule, Seen};
use crate::population::{Case, Seeds, USUAL, plan, replay};

/// Ordinary sessions before the one that is judged.
const BEFORE: usize = 6;
/// The judged session lasts this long, on a plan of 180 s.
pub(crate) const LONG_S: f64 = 900.0;
/// The plan's floor of the pace is such a share of what this pair does while all is well.
const FLOOR_SHARE: f64 = 0.5;
/// False nudges an hour at which the engine is compared with plain rules.
const COMPARED_AT: f64 = 1.0;
/// No setting is so quiet: stands for an endless delay in a figure.
const NOT_REACHED: f64 = 99.0;

/// How much is simulated.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Size {
    /// Sessions a law.
    pub(crate) sessions: u64,
    /// False nudges an hour that the engine is told to stand, for its curve; with the usual one.
    pub(crate) budgets: &'static [f64],
}

pub(crate) const WHOLE: Size = Size { sessions: 400, budgets: &[0.1, 0.25, 0.5, USUAL, 2.0, 4.0] };
pub(crate) const QUICK: Size = Size { sessions: 100, budgets: &[0.25, USUAL, 4.0] };

/// What is drawn.
pub(crate) struct Curves {
    pub(crate) ours: Vec<Score>,
    pub(crate) peers: Vec<(&'static str, Vec<Score>)>,
}

/// One law's sessions, with what the rules of thumb see of them.
struct Population {
    law: Law,
    cases: Vec<(Case, World, Seen)>,
}

/// A rule at one setting, law by law.
struct Setting {
    name: String,
    by_law: Vec<Scorer>,
}

impl Setting {
    fn pooled(&self) -> Score {
        let mut all = Scorer::default();
        self.by_law.iter().for_each(|law| all.absorb(law));
        all.score(self.name.clone())
    }

    /// How one law fares at this setting; the rate is that over all laws.
    fn of_law(&self, place: usize) -> Score {
        let own = self.by_law[place].clone().score(self.name.clone());
        Score { false_per_hour: self.pooled().false_per_hour, ..own }
    }
}

/// Measures, prints the tables on stderr, and reports the figures to `figure`.
pub(crate) fn measure(
    seeds: Seeds,
    size: Size,
    figure: impl Fn(&str, f64, &str, &str, &[(String, f64)]),
) -> Curves {
    let half = match seeds {
        Seeds::Tuning => Half::Tuning,
        Seeds::Reported => Half::Reported,
    };
    let of = |law: &Law| population(*law, seeds, size.sessions);
    let populations: Vec<Population> = half.laws().iter().map(of).collect();
    let peers = peers(&populations);
    let mut ours_by_case = Vec::new();
    for with_prior in [false, true] {
        let ours: Vec<Setting> =
            size.budgets.iter().map(|budget| ours(&populations, *budget, &[with_prior])).collect();
        let name = if with_prior { "six earlier sessions known" } else { "first session ever" };
        eprintln!("\nother worlds, {half:?} laws, {} sessions each, {name}:", size.sessions);
        table(&populations, &ours, usual_of(size), &peers);
        detectors(&populations, with_prior);
        ours_by_case.push(ours);
    }
    let both: Vec<Setting> =
        size.budgets.iter().map(|budget| together(&ours_by_case, size, *budget)).collect();
    figures(&populations, &both, usual_of(size), &peers, &figure);
    for (name, ours) in ["first_session", "with_history"].iter().zip(&ours_by_case) {
        let (ratio, ..) = ratio(ours, &peers, |setting| setting.pooled());
        figure(&format!("decline_delay_ratio_other_worlds_{name}"), ratio, "", "-", &[]);
    }
    Curves {
        ours: both.iter().map(Setting::pooled).collect(),
        peers: peers
            .into_iter()
            .map(|(name, settings)| (name, settings.iter().map(Setting::pooled).collect()))
            .collect(),
    }
}

fn usual_of(size: Size) -> usize {
    size.budgets.iter().position(|budget| *budget == USUAL).unwrap_or(0)
}

fn population(law: Law, seeds: Seeds, count: u64) -> Population {
    let first = match seeds {
        Seeds::Tuning => 3_000_000,
        Seeds::Reported => 2_000_000,
    };
    let cases = (first..first + count).map(|seed| {
        let mut dice = sim::dice(seed * 16 + law as u64);
        let (case, world) = case(law, &mut dice);
        let (session, _) = replay(&case.plan(USUAL), Prior::default(), &case.simulated);
        let seen = Seen::of(session.reps(), LONG_S);
        (case, world, seen)
    });
    Population { law, cases: cases.collect() }
}

/// A world, drawn at random: a clean one and one with everything on, each in one of four.
fn world(law: Law, dice: &mut Dice) -> World {
    let world = World::draw(law, dice);
    match dice.random_range(0..4) {
        0 => world.clean(),
        1 => world.with_everything(),
        _ => world,
    }
}

/// A world with the plan that suits it, as a trainer's file has it: with one step, so that work stays there.
pub(crate) fn pair(law: Law, dice: &mut Dice) -> (World, Plan, String) {
    let world = world(law, dice);
    let suits = plan_for(&world).limits;
    let text = format!(
        "animal = 'Simulated'\nspecies = 'cockatiel'\nbehaviour = 'any'\n[[step]]\nname = 'as it comes'\n\
         [limits]\nplanned_minutes = {:?}\nrate_floor_per_min = {:?}\n",
        suits.planned.as_secs_f64() / 60.0,
        suits.rate_floor_per_min,
    );
    let plan = Plan::parse("plan.toml", &text).expect("a plan");
    (world, plan, text)
}

fn case(law: Law, dice: &mut Dice) -> (Case, World) {
    let world = world(law, dice);
    let plan = plan_for(&world);
    let mut animal = Subject::draw(world, dice);
    let mut prior = Prior::default();
    for _ in 0..BEFORE {
        let ends = plan.limits.planned.as_secs_f64() * dice.random_range(0.7..1.5);
        let simulated = animal.session(ends, &plan, dice);
        let (session, _) = replay(&plan, prior.clone(), &simulated);
        prior.sessions.push(PastSession::of(&session));
    }
    let simulated = animal.session(LONG_S, &plan, dice);
    (Case { simulated, prior, working: 1, cues: world.cues, plan }, world)
}

/// The plan that suits this pair.
fn plan_for(world: &World) -> Plan {
    let mut plan = plan();
    plan.limits.planned = Duration::from_secs(180);
    plan.limits.rate_floor_per_min = FLOOR_SHARE * 60.0 / world.usual_gap_s();
    plan
}

fn ours(populations: &[Population], budget: f64, with_prior: &[bool]) -> Setting {
    let by_law = populations.iter().map(|population| {
        let mut scorer = Scorer::default();
        for (case, ..) in &population.cases {
            for with_prior in with_prior {
                scorer.add(case, measure::our_alarms(case, budget, *with_prior));
            }
        }
        scorer
    });
    Setting { name: format!("{budget} an hour"), by_law: by_law.collect() }
}

/// The same setting with and without earlier sessions, as one.
fn together(by_case: &[Vec<Setting>], size: Size, budget: f64) -> Setting {
    let place = size.budgets.iter().position(|other| *other == budget).unwrap_or(0);
    let mut by_law = by_case[0][place].by_law.clone();
    for more in &by_case[1..] {
        for (law, other) in by_law.iter_mut().zip(&more[place].by_law) {
            law.absorb(other);
        }
    }
    Setting { name: by_case[0][place].name.clone(), by_law }
}

fn peers(populations: &[Population]) -> Vec<(&'static str, Vec<Setting>)> {
    let setting = |rule: Rule| {
        let by_law = populations.iter().map(|population| {
            let mut scorer = Scorer::default();
            for (case, _, seen) in &population.cases {
                scorer.add(case, rule.alarms(seen));
            }
            scorer
        });
        Setting { name: format!("{rule:?}"), by_law: by_law.collect() }
    };
    let families = plain_rules::families().into_iter().chain(plain_rules::families_of_own_pace());
    families.map(|(name, rules)| (name, rules.into_iter().map(setting).collect())).collect()
}

/// Our delay over that of the best plain rule, both at [`COMPARED_AT`]; with both delays and the
/// best rule's name.
fn ratio(
    ours: &[Setting],
    peers: &[(&'static str, Vec<Setting>)],
    of: impl Fn(&Setting) -> Score,
) -> (f64, f64, f64, &'static str) {
    let delay = |settings: &[Setting]| {
        let scores: Vec<Score> = settings.iter().map(&of).collect();
        measure::delay_at(&scores, COMPARED_AT)
    };
    let own = delay(ours);
    let best = peers.iter().map(|(name, settings)| (*name, delay(settings)));
    let (name, best) = best.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or(("none", f64::NAN));
    let ratio = own / best;
    // Where neither notices half of the declines there is nothing to compare.
    let ratio = if ratio.is_finite() {
        ratio
    } else if own.is_finite() {
        0.0
    } else {
        NOT_REACHED
    };
    (ratio, own, best, name)
}

/// The delay of the best plain rule over all laws at this rate.
fn best_at(peers: &[(&'static str, Vec<Setting>)], false_per_hour: f64) -> f64 {
    let delay = |settings: &[Setting]| {
        let scores: Vec<Score> = settings.iter().map(Setting::pooled).collect();
        measure::delay_at(&scores, false_per_hour)
    };
    peers.iter().map(|(_, settings)| delay(settings)).fold(f64::INFINITY, f64::min)
}

fn figures(
    populations: &[Population],
    ours: &[Setting],
    usual: usize,
    peers: &[(&'static str, Vec<Setting>)],
    figure: &impl Fn(&str, f64, &str, &str, &[(String, f64)]),
) {
    let never = populations.iter().position(|population| population.law == Law::Never);
    if let Some(never) = never {
        let rate = ours[usual].by_law[never].clone().score(String::new()).false_per_hour;
        figure("false_nudges_per_hour_never_tiring", rate, "per h", "<=1", &[]);
    }
    let pooled = ours[usual].pooled();
    figure("false_nudges_per_hour_other_worlds", pooled.false_per_hour, "per h", "<=1", &[]);
    figure("declines_noticed_share_other_worlds", pooled.noticed, "", "-", &[]);
    let beside = best_at(peers, pooled.false_per_hour);
    eprintln!(
        "\nboth together at the plan's default, {:.2} false an hour: engine {:.0} s, best plain rule {beside:.0} s",
        pooled.false_per_hour, pooled.median_delay
    );
    let own_rate = pooled.median_delay / beside;
    if own_rate.is_finite() {
        figure("decline_delay_ratio_other_worlds_at_own_rate", own_rate, "", "-", &[]);
    }
    let (whole, own, best, name) = ratio(ours, peers, Setting::pooled);
    eprintln!(
        "both together at {COMPARED_AT} false an hour: engine {own:.0} s, best plain rule ({name}) {best:.0} s"
    );
    figure("decline_delay_ratio_other_worlds", whole, "", "<=0.6", &[]);
    let worst = populations
        .iter()
        .enumerate()
        .filter(|(_, population)| population.law != Law::Never)
        .map(|(place, population)| (ratio(ours, peers, |s| s.of_law(place)).0, population.law))
        .max_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((worst, law)) = worst {
        eprintln!("worst law: {} ({worst:.2})", law.name());
        figure("decline_delay_ratio_worst_law", worst, "", "<=0.9", &[]);
    }
}

/// Law by law: the engine at the plan's default, and at the compared rate beside the plain rules.
fn table(
    populations: &[Population],
    ours: &[Setting],
    usual: usize,
    peers: &[(&'static str, Vec<Setting>)],
) {
    let names: Vec<&str> = peers.iter().map(|(name, _)| *name).collect();
    eprintln!(
        "{:<14} at the plan's default: false an hour, delay, noticed | at {COMPARED_AT} an hour over all laws: delay, beside {}",
        "law",
        names.join(", ")
    );
    let line = |name: &str, own: &Score, of: &dyn Fn(&Setting) -> Score| {
        let at = |settings: &[Setting]| {
            let scores: Vec<Score> = settings.iter().map(of).collect();
            format!("{:>4.0}", measure::delay_at(&scores, COMPARED_AT))
        };
        let beside: Vec<String> = peers.iter().map(|(_, settings)| at(settings)).collect();
        eprintln!(
            "{name:<14} {:>6.2} {:>4.0} s {:>4.0} % | {} s | {}",
            own.false_per_hour,
            own.median_delay,
            100.0 * own.noticed,
            at(ours),
            beside.join(" ")
        );
    };
    for (place, population) in populations.iter().enumerate() {
        let own = ours[usual].by_law[place].clone().score(String::new());
        line(population.law.name(), &own, &|setting| setting.of_law(place));
    }
    line("all", &ours[usual].pooled(), &Setting::pooled);
    for setting in ours {
        let score = setting.pooled();
        eprintln!(
            "  told to stand {}: {:.2} an hour, {:.0} s, {:.0} % noticed",
            setting.name,
            score.false_per_hour,
            score.median_delay,
            100.0 * score.noticed
        );
    }
}

/// Which detectors spoke falsely, and which noticed first; and the clean worlds apart from the others.
fn detectors(populations: &[Population], with_prior: bool) {
    let cases = || populations.iter().flat_map(|population| &population.cases);
    for (name, wrong, first) in measure::by_detector(cases().map(|(case, ..)| case), with_prior) {
        eprintln!("  {name}: spoke falsely {wrong} times, noticed first {first} times");
    }
    type Part = (&'static str, fn(&World) -> bool);
    let parts: [Part; 4] = [
        ("clean", |world| *world == world.clean()),
        ("everything on", |world| *world == world.with_everything()),
        ("cues", |world| world.cues),
        ("no cues", |world| !world.cues),
    ];
    for (name, keep) in parts {
        let mut scorer = Scorer::default();
        for (case, ..) in cases().filter(|(_, world, _)| keep(world)) {
            scorer.add(case, measure::our_alarms(case, USUAL, with_prior));
        }
        let (wrong, hours) = (scorer.false_nudges(), scorer.good_hours());
        let score = scorer.score(String::new());
        eprintln!(
            "  {name}: {wrong} false nudges in {hours:.1} good hours ({:.2} an hour), {:.0} s",
            score.false_per_hour, score.median_delay
        );
    }
}
