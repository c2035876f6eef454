//! Measures the engine on simulated animals beside rules of thumb.

mod measure;
mod plain_rules;
mod population;

use plain_rules::{Seen, families};
use population::{Seeds, cases, plan, plan_at, replay};

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let tuning = args.iter().any(|arg| arg == "--tuning");
    let count = args.iter().find_map(|arg| arg.parse::<u64>().ok()).unwrap_or(10_000);
    let seeds = if tuning { Seeds::Tuning } else { Seeds::Reported };
    let plan = plan();
    let all = cases(seeds, count);
    let seen: Vec<_> = all
        .iter()
        .map(|case| {
            let (session, _) =
                replay(&plan_at(&plan, case.working), case.prior.clone(), &case.simulated);
            (Seen::of(session.reps(), case.simulated.truth.ended.as_secs_f64()), case)
        })
        .collect();
    let declines = all.iter().filter(|c| c.simulated.truth.declined.is_some()).count();
    let broke = all.iter().filter(|c| c.simulated.truth.broke_down.is_some()).count();
    let scorer = measure::ours(&plan, &all, 1.0, true);
    eprintln!(
        "{count} sessions, {declines} declines, {broke} breakdowns, {:.0} good hours",
        scorer.good_hours()
    );
    let ours = scorer.score("1".into());
    eprintln!("ours {ours:?}");
    for (name, wrong, first) in measure::by_detector(&plan, &all) {
        eprintln!("   {name}: {wrong} false, {first} first");
    }
    for (name, rules) in families() {
        let front: Vec<_> = rules
            .iter()
            .map(|rule| measure::plain(*rule, &seen).score(format!("{rule:?}")))
            .collect();
        eprintln!("{name}: at our rate {:.1}", measure::delay_at(&front, ours.false_per_hour));
        let best = front
            .iter()
            .filter(|s| s.false_per_hour <= ours.false_per_hour)
            .min_by(|a, b| a.median_delay.total_cmp(&b.median_delay));
        eprintln!("   {best:?}");
    }
    let mut curve = Vec::new();
    for budget in [0.5, 1.0, 2.0] {
        let score = measure::ours(&plan, &all, budget, true).score(String::new());
        eprintln!("budget {budget}: {:.2}/h {:.1} s", score.false_per_hour, score.median_delay);
        curve.push(score);
    }
    eprintln!("OURS at 1/h: {:.1} s", measure::delay_at(&curve, 1.0));
    let score = measure::ours(&plan, &all, 1.0, false).score(String::new());
    eprintln!("no prior: {:.2}/h {:.1} s", score.false_per_hour, score.median_delay);
    for (name, rule) in [
        ("ours", measure::our_advice as fn(&_) -> _),
        ("8 of 10", measure::eight_of_ten),
        ("three misses", measure::three_misses),
    ] {
        eprintln!("advice {name} {:?}", measure::advice(&plan, &all, rule));
    }
}
