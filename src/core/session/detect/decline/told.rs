//! Why the watcher spoke: which inputs, and how much each of them said.

use super::super::{DECLINE, Scene};
use super::{Watch, mostly};
use crate::sentences::because;
use crate::session::{Quantity, Reason};
use crate::stats::decline::pace::Paces;
use crate::stats::decline::{Evidence, Shows, Wait, chance};

/// What a part must say at least to be named, in nats.
const SAYS: f64 = 0.7;

/// What is seen at the moment of an alarm.
#[derive(Clone, Copy)]
pub(super) struct Sights {
    pub(super) evidence: Evidence,
    pub(super) wait: Option<Wait>,
    pub(super) paces: Option<Paces>,
    /// Whether it speaks because work has all but ceased.
    pub(super) ceased: bool,
}

pub(super) fn reason(
    watch: &Watch,
    scene: &Scene,
    sights: Sights,
    bound: f64,
    taken_back: u32,
) -> Reason {
    let Sights { evidence, wait, paces, ceased } = sights;
    let now = scene.seconds();
    let finished = watch.watching.evidence(now, None).total;
    let [times, misses, cues] = watch.watching.parts();
    let running = (evidence.total / finished.max(f64::MIN_POSITIVE)).ln();
    let mut inputs = vec![
        Quantity::new("evidence of a decline", evidence.total.min(1e12), "s"),
        Quantity::new("evidence that is enough to speak", bound.min(1e12), "s"),
        Quantity::new("chance that a decline has begun", chance(evidence.total), ""),
        Quantity::new("said by times", times, "nats"),
        Quantity::new("said by misses", misses, "nats"),
        Quantity::new("said by cues without an answer", cues, "nats"),
        Quantity::new("said by the wait that runs", running, "nats"),
    ];
    let usual = &watch.watching.usual;
    let mut said: Vec<(f64, &str)> = Vec::new();
    for (stream, (part, takes)) in [
        ("answers", "answers to the cue take"),
        ("gaps", "from try to try it takes"),
        ("movements", "from movement to movement it takes"),
    ]
    .iter()
    .enumerate()
    {
        let Some(lately) = watch.lately[stream].map(f64::exp) else { continue };
        let usually = usual.times[stream].mean().exp();
        inputs.push(Quantity::new(&format!("{takes} lately"), lately, "s"));
        inputs.push(Quantity::new(&format!("{takes} usually"), usually, "s"));
        if lately > usually {
            said.push((times, part));
        }
    }
    let tally = scene.tally;
    let (recent, met) = (tally.recent, tally.recent_met);
    inputs.push(Quantity::new("recent tries", f64::from(recent), ""));
    inputs.push(Quantity::new("met the criterion", f64::from(met), ""));
    inputs.push(Quantity::new("usual chance of a miss", usual.miss(), ""));
    said.extend([(misses, "misses"), (cues, "cues")]);
    if let Some(wait) = wait {
        let usually = usual.times[wait.kind.stream].mean().exp();
        inputs.push(Quantity::new("wait that runs", wait.seconds, "s"));
        inputs.push(Quantity::new("usual wait", usually, "s"));
        said.push((running, "wait"));
    }
    if let Some(paces) = paces {
        inputs.push(Quantity::new("tries in the last 90 s", paces.lately, ""));
        inputs.push(Quantity::new("tries in 90 s before", paces.expected, ""));
    }
    inputs.push(Quantity::new("alarms taken back in this session", f64::from(taken_back), ""));
    inputs.push(Quantity::new(
        "false nudges an hour",
        scene.plan.limits.false_nudges_per_hour,
        "per h",
    ));
    let [first, second] = if ceased { ["ceased", ""] } else { weightiest(said, mostly(&evidence)) };
    Reason {
        detector: DECLINE.into(),
        because: because("decline", &inputs, &[("first", first), ("second", second)]),
        inputs,
        probability: Some(1.0 - chance(evidence.total)),
        method: "likelihood ratios of times, misses, unanswered cues and the running wait over \
                 when a decline began, how fast and where it shows, added up in seconds; it speaks \
                 at a bound that follows from the plan's false nudges an hour, or when at most a \
                 quarter of the tries come that came in the five minutes before; probability: that \
                 nothing has changed, if a decline begins once in a quarter of an hour"
            .into(),
        source:
            "Shiryaev 1963, Theory Probab Appl 8:22; Roberts 1966, Technometrics 8:411; Pollak \
                 1985, Ann Stat 13:206; bouts: Sibly, Nott & Fletcher 1990, Anim Behav 39:63"
                .into(),
    }
}

/// The two weightiest parts, by the names that the sentence has for them.
fn weightiest(mut said: Vec<(f64, &str)>, shows: Shows) -> [&str; 2] {
    said.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut told = said.into_iter().filter(|(says, _)| *says >= SAYS).map(|(_, part)| part);
    match (told.next(), shows) {
        (Some(first), _) => [first, told.next().unwrap_or_default()],
        (None, Shows::Silence) => ["silence", ""],
        (None, _) => ["slower", ""],
    }
}
