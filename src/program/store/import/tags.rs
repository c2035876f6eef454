//! Lines of one session to the tags that the trainer would have said.

use std::time::Duration;

use super::line::RepLine;
use super::{LineError, LineErrors};
use crate::at::At;
use crate::interpret::{Details, Said};
use crate::plan::{Command, Plan};
use crate::session::{Derived, Event, Input, Logged, MissedBecause, Outcome, WhyEnded};
use crate::store::RepEdit;

/// The limited holds that a plan may have, in seconds.
const HOLDS: std::ops::Range<f64> = 0.1..3600.0;

/// The limited hold that a session's lines speak of: of a miss because it ran out, the time since the cue. None when
/// another line contradicts it.
pub(super) fn limited_hold(lines: &[RepLine]) -> Option<At> {
    let ran_out = lines.iter().filter(|line| line.ran_out && !line.is_added());
    let hold =
        ran_out.filter_map(|line| line.latency).find(|hold| HOLDS.contains(&hold.as_secs_f64()))?;
    let others = lines.iter().filter(|line| !(line.ran_out && line.latency == Some(hold)));
    others.into_iter().all(|line| line.latency < Some(hold)).then_some(hold)
}

/// Step worked on at the start.
pub(super) fn start_step(lines: &[RepLine]) -> u8 {
    let first = &lines[0];
    first.of_session.start_step.or(first.working).or(first.step).unwrap_or(1)
}

/// What a session's lines amount to.
#[derive(Debug, Default)]
pub(super) struct Tags {
    /// In order of time.
    pub(super) events: Vec<Logged>,
    /// What a miss that came by itself cannot have: place of its event, and what it was.
    pub(super) revised: Vec<(usize, RepEdit)>,
    /// Reps that were added or changed after the fact where they came from.
    pub(super) added: Vec<(At, RepEdit)>,
}

impl Tags {
    fn log(&mut self, at: At, event: Event) {
        self.events.push(Logged { at, event });
    }

    fn say(&mut self, at: At, said: Said, words: &str) {
        self.log(at, Event::Input(Input::said(said, words)));
    }

    fn command(&mut self, at: At, command: Command, words: &str) {
        self.say(at, Said::Command { command }, words);
    }

    /// Works on another step from `at` on.
    fn work_on(&mut self, at: At, working: &mut u8, to: Option<u8>) {
        let to = to.unwrap_or(*working);
        while *working != to {
            let (command, step) = if *working < to {
                (Command::StepUp, *working + 1)
            } else {
                (Command::StepBack, *working - 1)
            };
            self.command(at, command, "step");
            *working = step;
        }
    }

    /// The rep or miss of a line.
    fn score(&mut self, line: &RepLine, ran_out: bool, working: u8, plan: &Plan) {
        let place = self.events.len();
        match line.paid {
            Some(paid) => {
                let reached = plan.chain.as_ref().zip(line.links);
                let reached = reached.map(|(chain, links)| links.reached(chain, working));
                let step = reached.or(line.step).unwrap_or(working);
                let by_plan = plan.default_value(step, working);
                let value = (line.named || by_plan != paid).then_some(paid);
                if value.is_some() && !line.named {
                    let unnamed = RepEdit { value_named: Some(false), ..RepEdit::default() };
                    self.revised.push((place, unnamed));
                }
                let links = line.links_said();
                let details = Details { step: line.step, side: line.side, value, links };
                return self.say(line.at, Said::Rep(details), "yes");
            }
            None if ran_out => self.log(line.at, Event::Derived(Derived::HoldRanOut)),
            None => {
                let step = line.step.filter(|step| *step != working);
                let links = line.links_said();
                let details = Details { step, side: line.side, links, ..Details::default() };
                self.say(line.at, Said::Miss(details), "miss");
                if !line.ran_out {
                    return;
                }
            }
        }
        let more = RepEdit {
            step: line.step.filter(|step| ran_out && *step != working),
            side: line.side.filter(|_| ran_out).map(Some),
            outcome: (line.ran_out && !ran_out).then(|| outcome(line)),
            ..RepEdit::default()
        };
        if more != RepEdit::default() {
            self.revised.push((place, more));
        }
    }

    /// Puts everything in order of time; what is of one moment stays in the order in which it came.
    fn in_order(mut self) -> Self {
        let mut order: Vec<usize> = (0..self.events.len()).collect();
        order.sort_by_key(|place| self.events[*place].at);
        for (place, _) in &mut self.revised {
            *place = order.iter().position(|from| from == place).unwrap_or(*place);
        }
        self.events.sort_by_key(|logged| logged.at);
        self
    }
}

fn outcome(line: &RepLine) -> Outcome {
    match line.paid {
        Some(value) => Outcome::Rewarded(value),
        None if line.ran_out => Outcome::Missed(MissedBecause::HoldRanOut),
        None => Outcome::Missed(MissedBecause::Said),
    }
}

/// Active time against session time, since the try before: where time ran on.
struct Runs(Vec<(Duration, At)>);

impl Runs {
    fn moment(&self, active: Duration) -> At {
        let after = self.0.partition_point(|(from, _)| *from <= active);
        let (from, at) = self.0[after.saturating_sub(1)];
        at + active.saturating_sub(from)
    }
}

/// The tags of lines in order of time, for a session by `plan`. Lines that do not fit are reported in `errors`.
///
/// Time runs from the start of the session, not from its first rep. Where active time stood still between two reps
/// there was a pause, right after the first of them.
pub(super) fn tags(lines: &[RepLine], plan: &Plan, errors: &mut LineErrors) -> Tags {
    let mut tags = Tags::default();
    let hold = limited_hold(lines);
    let first = &lines[0];
    let mut wrong = |line: &RepLine, column, found: At, expected: &str| {
        let found = format!("{} s", found.as_secs_f64());
        errors.add(LineError { line: line.line, column, found, expected: expected.into() });
    };
    let begin = first.active.map_or(At::ZERO, |active| first.at.back(active.elapsed()));
    let mut working = start_step(lines);
    tags.command(begin, Command::Begin, "begin");
    tags.log(begin, Event::Derived(Derived::Began { step: working }));
    let (mut last, mut active) = (begin, Duration::ZERO);
    let mut runs = Runs(vec![(active, begin)]);
    for line in lines {
        if line.of_session != first.of_session {
            let found = line.of_session.active.unwrap_or_default();
            let expected = "the same length, first and last step in every line of a session";
            wrong(line, "session_active_s", found, expected);
        }
        let since = line.at.since(last);
        let run = match line.active {
            Some(now) => now.elapsed().checked_sub(active).filter(|run| *run <= since),
            None => Some(since),
        };
        let Some(run) = run else {
            let expected = "what it was at the try before, and no more on top than the time since";
            wrong(line, "active_s", line.active.unwrap_or_default(), expected);
            continue;
        };
        if !line.is_added() {
            tags.work_on(last, &mut working, line.working);
        }
        if run < since {
            tags.command(last, Command::Pause, "pause");
            tags.command(line.at.back(run), Command::GoOn, "go on");
            runs.0.push((active, line.at.back(run)));
        }
        (last, active) = (line.at, active + run);
        if line.is_added() {
            tags.added.push((
                line.at,
                RepEdit {
                    working: line.working,
                    step: line.step,
                    links: line.links.map(|links| links.as_said()),
                    outcome: Some(outcome(line)),
                    side: line.side.map(Some),
                    value_named: (line.paid.is_some() && !line.named).then_some(false),
                    ..RepEdit::default()
                },
            ));
            continue;
        }
        let mut opened = [
            ("latency_s", line.latency, Said::Cue, "cue"),
            ("duration_s", line.duration, Said::HoldStart, "start"),
        ];
        // In the order of time: the longer span began first.
        opened.sort_by_key(|(_, span, _, _)| std::cmp::Reverse(*span));
        for (column, span, opener, words) in opened {
            let Some(span) = span else { continue };
            match active.checked_sub(span.elapsed()).filter(|from| *from >= runs.0[0].0) {
                Some(from) => tags.say(runs.moment(from), opener, words),
                None => wrong(line, column, span, "no more than the time since the try before"),
            }
        }
        let ran_out = line.ran_out && line.latency.is_some() && line.latency == hold;
        tags.score(line, ran_out, working, plan);
        runs = Runs(vec![(active, last)]);
    }
    let whole = first.of_session.active.map_or(active, At::elapsed);
    if whole < active {
        let expected = "at least active_s of its last try";
        wrong(first, "session_active_s", first.of_session.active.unwrap_or_default(), expected);
    }
    tags.work_on(last, &mut working, first.of_session.last_step);
    let end = last + whole.saturating_sub(active);
    tags.log(end, Event::Derived(Derived::Finished { why: WhyEnded::SoundEnded }));
    tags.in_order()
}
