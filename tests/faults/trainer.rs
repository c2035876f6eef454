//! The child that trains: a whole session by conductor, desk and recorder, as `listen` has it, with what it finds
//! unfinished gone on with or left.

use std::io::Read;
use std::path::Path;
use std::process::{Child, ExitCode};
use std::time::Duration;

use hushtally::at::At;
use hushtally::clock::Clock;
use hushtally::interpret::{Details, Said};
use hushtally::plan::{Command, Mood, Plan};
use hushtally::run::{Conductor, Desk, Origin, Plain, Recorder, Unfinished};
use hushtally::session::Input;
use hushtally::store::{EventId, Source, Store};

use crate::writer::say;

/// Short enough for nudges to come, and for cues to run out.
const PLAN: &str = "animal = \"Pepino\"\nspecies = \"cockatiel\"\nbehaviour = \"rests a foot\"\n\
    [[step]]\nname = \"looks\"\n[[step]]\nname = \"touches\"\n\
    [limits]\nlimited_hold_s = 2.0\nplanned_minutes = 0.2\nplanned_reps = 6\n";
/// Tags of one child are numbered from its own number times this.
const EACH: u64 = 1_000;

/// `train DATABASE NUMBER SEED`: says `ack N` for each try that is acknowledged, and `done` at its end.
pub(crate) fn main(args: &[String]) -> ExitCode {
    let [db, number, seed] = args else { return ExitCode::from(2) };
    let (Ok(number), Ok(seed)) = (number.parse::<u64>(), seed.parse::<u64>()) else {
        return ExitCode::from(2);
    };
    match train(Path::new(db), number, &mut fastrand::Rng::with_seed(seed)) {
        Ok(()) => say("done\n"),
        Err(error) => say(&format!("err {error:#}\n")),
    }
    ExitCode::SUCCESS
}

fn train(db: &Path, number: u64, random: &mut fastrand::Rng) -> anyhow::Result<()> {
    let clock = Clock::real();
    let plan = Plan::parse("pepino.toml", PLAN)?;
    let store = Store::open(db)?;
    let unfinished = Unfinished::find(&store, &plan, clock.utc())?;
    let origin = Origin {
        plan: plan.clone(),
        plan_file: "pepino.toml".into(),
        plan_text: PLAN.into(),
        source: Source::Live,
        source_name: None,
        person: Some(format!("trainer {number}")),
        place: None,
    };
    let mut desk = Desk::new(Box::new(Plain::new(std::io::sink())), clock.clone());
    desk.recorder = Some(Recorder::new(store, clock.clone(), origin));
    let mut conductor = Conductor::new(plan);
    let mut at = At::from_secs_f64(0.5);
    match unfinished.resumable {
        Some(resumable) if random.bool() => {
            let resumed = resumable.go_on(at, &mut desk);
            at = at + resumed.offset;
            conductor.go_on_with(resumed.session);
            take(&mut conductor, at, Said::Command { command: Command::GoOn }, "go on", &mut desk);
        }
        Some(resumable) => {
            resumable.leave(&mut desk, || EventId(clock.new_id()), clock.utc());
        }
        None => {}
    }
    for n in (0..random.u64(3..20)).map(|n| number * EACH + n) {
        at = at + Duration::from_millis(random.u64(50..4_000));
        let said = match random.u8(..16) {
            0 | 1 => Said::Cue,
            2 => Said::State { mood: Mood::Tired },
            3 => Said::Command { command: Command::StepUp },
            4 => Said::Command { command: Command::Finish },
            5 | 6 => Said::Miss(Details::default()),
            _ => Said::Rep(Details::default()),
        };
        let is_try = matches!(said, Said::Rep(_) | Said::Miss(_));
        let saved = take(&mut conductor, at, said, &n.to_string(), &mut desk);
        if saved && is_try {
            say(&format!("ack {n}\n"));
        }
        conductor.pass(at + Duration::from_millis(40), &mut desk);
        desk.save_again();
        std::thread::sleep(Duration::from_micros(random.u64(..2_500)));
    }
    match random.u8(..3) {
        0 => {
            conductor.close(at + Duration::from_secs(3), &mut desk);
        }
        1 => {
            let finish = Said::Command { command: Command::Finish };
            take(&mut conductor, at + Duration::from_secs(1), finish, "finish", &mut desk);
        }
        // Gone without an end.
        _ => {}
    }
    Ok(())
}

/// Whether it is on disk.
fn take(conductor: &mut Conductor, at: At, said: Said, words: &str, desk: &mut Desk) -> bool {
    conductor.take(at, Input::said(said, words), None, desk);
    desk.recorder.as_ref().is_some_and(|recorder| recorder.waiting() == 0)
}

/// What a trainer said before it ended.
#[derive(Debug, Default)]
pub(crate) struct Told {
    /// Tries that were acknowledged.
    pub(crate) acked: Vec<u64>,
    /// Whether it came to its end.
    pub(crate) done: bool,
    pub(crate) errors: Vec<String>,
}

/// Everything that a trainer says until it ends.
pub(crate) fn listen(mut child: Child) -> Told {
    let mut bytes = Vec::new();
    if let Some(mut out) = child.stdout.take() {
        let _ = out.read_to_end(&mut bytes);
    }
    let _ = child.wait();
    let text = String::from_utf8_lossy(&bytes);
    let mut told = Told::default();
    for line in text.split_inclusive('\n').filter_map(|line| line.strip_suffix('\n')) {
        match line.split_once(' ') {
            Some(("ack", n)) => told.acked.extend(n.parse::<u64>()),
            Some(("err", why)) => told.errors.push(why.to_owned()),
            _ => told.done |= line == "done",
        }
    }
    told
}
