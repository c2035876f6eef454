//! A record to look at: invented animals, sessions from fixed numbers.

use std::path::Path;

use anyhow::Result;
use hushtally::at::At;
use hushtally::clock::Clock;
use hushtally::interpret::{Details, Said};
use hushtally::plan::{Mood, Plan, RewardValue, Side};
use hushtally::session::{Input, Logged, Output, Session};
use hushtally::store::{AnimalRef, EventId, NewSession, SessionId, Source, Store};

/// The invented cockatiel's plan.
pub(crate) const PLAN: &str = r#"
animal = "Pepino"
species = "cockatiel"
behaviour = "rests a foot on the nail file"
note = "An invented bird. Calm counts too: pay it."
[[step]]
name = "looks at the file"
[[step]]
name = "touches the file"
[[step]]
name = "rests a foot on it"
[limits]
limited_hold_s = 6.0
"#;

/// A donkey with markup in its name, to see that it stays text.
pub(crate) const DONKEY: &str = r#"
animal = "Brindle <script>window.broken = 1</script> & \"Co\""
species = "donkey"
behaviour = "lifts a hoof"
[[step]]
name = "shifts its weight"
[[step]]
name = "lifts <b>one</b> hoof"
"#;

/// What the tests need to know of the record.
pub(crate) struct Demo {
    /// The session with doubts, nudges, notes and sides.
    pub(crate) rich: SessionId,
    /// Reps in it.
    pub(crate) reps: usize,
}

/// Numbers that look random and are the same in every run.
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// Fills a new database.
pub(crate) fn fill(file: &Path) -> Result<Demo> {
    let store = Store::open(file)?;
    let (clock, hands) = Clock::fake("2026-03-01T07:30:00Z".parse()?);
    let mut dice = Dice(0x5eed_1234_5678_9abc);
    for day in 0..24_u8 {
        hands.set_utc(format!("2026-03-{:02}T07:30:00Z", day + 1).parse()?);
        if [5, 6, 13].contains(&day) {
            continue;
        }
        let step = 1 + day / 9;
        for _ in 0..2 {
            hands.advance(std::time::Duration::from_secs(3600));
            let tags = tags(&mut dice, step, 14, day > 18);
            put(&store, &clock, PLAN, step, &tags)?;
        }
    }
    hands.set_utc("2026-03-25T08:00:00Z".parse()?);
    put(&store, &clock, DONKEY, 1, &tags(&mut dice, 1, 10, false))?;
    hands.set_utc("2026-03-26T08:00:00Z".parse()?);
    let mut rich = tags(&mut dice, 2, 22, true);
    let doubt = |at: f64, words: &str| {
        let (words, other) = (words.to_owned(), "talk".into());
        (at, Input::Doubted { words, other })
    };
    rich.push(doubt(31.4, "yes <i>three</i>"));
    rich.push(doubt(48.2, "miss"));
    rich.push((20.0, Input::said(Said::State { mood: Mood::Keen }, "keen")));
    rich.push((88.0, Input::said(Said::State { mood: Mood::Tired }, "tired")));
    rich.push((
        92.0,
        Input::Noted { text: "Light from the left; he looked at the window.".into() },
    ));
    rich.sort_by(|a, b| a.0.total_cmp(&b.0));
    let rich = put(&store, &clock, PLAN, 2, &rich)?;
    let reps = store.fold(rich)?.reps.len();
    store.refresh()?;
    Ok(Demo { rich, reps })
}

/// Tags of an invented session.
fn tags(dice: &mut Dice, step: u8, count: usize, sides: bool) -> Vec<(f64, Input)> {
    let mut at = 2.0;
    let mut tags = Vec::new();
    for number in 0..count {
        at += 2.5 + 6.0 * dice.roll();
        if number % 5 == 4 {
            tags.push((at - 1.6, Input::said(Said::Cue, "cue")));
        }
        let luck = dice.roll();
        let side = if dice.roll() < 0.5 { Side::Left } else { Side::Right };
        let side = sides.then_some(side);
        let said = if luck < 0.15 || (side == Some(Side::Right) && luck < 0.35) {
            Said::Miss(Details::default())
        } else {
            let step = Some(if luck < 0.4 { step.saturating_sub(1).max(1) } else { step });
            let value = (luck > 0.95).then_some(RewardValue::Jackpot);
            Said::Rep(Details { step, side, value, ..Details::default() })
        };
        tags.push((at, Input::said(said, "yes")));
    }
    tags
}

/// Puts a session of these tags into the store.
pub(crate) fn put(
    store: &Store,
    clock: &Clock,
    text: &str,
    step: u8,
    tags: &[(f64, Input)],
) -> Result<SessionId> {
    put_in(store, clock, text, step, tags, None)
}

/// The same, in the sitting that another session began.
pub(crate) fn put_in(
    store: &Store,
    clock: &Clock,
    text: &str,
    step: u8,
    tags: &[(f64, Input)],
    sitting: Option<SessionId>,
) -> Result<SessionId> {
    let mut plan = Plan::parse("demo.toml", text)?;
    plan.start_step = step;
    let id = store.begin_session(&NewSession {
        id: SessionId(clock.new_id()),
        animal: AnimalRef::Named { name: plan.animal.clone(), species: plan.species.clone() },
        behaviour: plan.behaviour.clone(),
        plan_file: "demo.toml".into(),
        plan_text: text.into(),
        start_step: step,
        told: Default::default(),
        person: Some("Ada".into()),
        place: Some("kitchen".into()),
        began: jiff::ZonedDateTime::new(clock.utc(), jiff::tz::TimeZone::UTC),
        source: Source::Simulated,
        source_name: None,
        made_by: "test".into(),
        sitting,
    })?;
    let mut session = Session::new(plan);
    let mut out = Vec::new();
    for (at, input) in tags {
        out.extend(session.handle(At::from_secs_f64(*at), input.clone()));
    }
    let end = tags.last().map_or(0.0, |tag| tag.0) + 8.0;
    out.extend(session.close(At::from_secs_f64(end)));
    let logged: Vec<(Logged, EventId)> = out
        .into_iter()
        .filter_map(|output| match output {
            Output::Append(logged) => Some((logged, EventId(clock.new_id()))),
            _ => None,
        })
        .collect();
    store.append_all(id, &logged, clock.utc())?;
    store.finish(id)?;
    Ok(id)
}
