//! One owner of the session: one input, all its outputs, then the next.

use std::time::Duration;

use super::Outset;
use crate::at::At;
use crate::hear::Heard;
use crate::interpret::Said;
use crate::plan::Command;
use crate::plan::{Plan, Words};
use crate::session::{
    Answer, Derived, Event, Input, Logged, MissedBecause, NudgeKind, Outcome, Output, Rep,
    SAID_BEFORE_BEGIN, Session, Took,
};

/// What is not on disk is told again after this, while it lasts.
const TROUBLE_AGAIN: Duration = Duration::from_secs(60);
/// A miss by itself.
const RAN_OUT: Outcome = Outcome::Missed(MissedBecause::HoldRanOut);

/// An event with what is known about it beside the log.
#[derive(Debug, Clone, Copy)]
pub struct Happening<'a> {
    /// The event.
    pub logged: &'a Logged,
    /// For what was heard: when its last word ended, and how much sound had come in when it was decided.
    pub heard: Option<HeardTimes>,
    /// The rep that it made or changed, and its number counted from 1.
    pub rep: Option<(usize, &'a Rep)>,
    /// The words of its plan.
    pub words: &'a Words,
    /// For a take-back: what it took.
    pub took: Option<&'a Took>,
    /// For a detail or a change: whether it left the try as it was.
    pub idle: bool,
    /// Step worked on after it, counted from 1.
    pub working: u8,
}

/// Times of something heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HeardTimes {
    /// End of its last word.
    pub end: At,
    /// How much sound had come in when it was decided.
    pub decided: At,
}

/// The outside world, as a session needs it.
pub trait Shell {
    /// Puts something that happened and what followed from it on disk, all or nothing. False when it could not be
    /// saved: the shell keeps it and tries again, but must not acknowledge it.
    fn append(&mut self, logged: &[Logged]) -> bool;
    /// What came in and cannot be written to its session any more, since another program ended that or took it over;
    /// once. The session of its own that it goes into begins with `step`.
    fn adrift(&mut self, _step: u8) -> Option<Vec<(At, Input)>> {
        None
    }
    /// How the session begins that comes next, by what is known now; at `step` when that is asked for. `None` when what
    /// the conductor was given stands.
    fn begins(&mut self, _step: Option<u8>) -> Option<Outset> {
        None
    }
    /// Shows an event, after it was to be put on disk.
    fn show(&mut self, happening: Happening);
    /// Plays a nudge.
    fn play(&mut self, at: At, nudge: NudgeKind);
    /// Says and shows an answer.
    fn say(&mut self, at: At, answer: &Answer);
    /// Carries out a command that is not the engine's.
    fn asked(&mut self, at: At, command: Command);
    /// The session has ended; what is appended next belongs to a new one.
    fn ended(&mut self);
}

/// Feeds a session and carries out what it asks for.
pub struct Conductor {
    session: Session,
    /// The next session, before its begin.
    fresh: Session,
    /// Whether anything came in for the session.
    touched: bool,
    /// The step asked for before the begin.
    step: Option<u8>,
    unsaved: bool,
    /// When it was told last that something is not on disk.
    troubled: Option<At>,
    /// Whether a session begins by "begin" alone.
    by_word: bool,
}

impl Conductor {
    /// For a session by this plan, which its first tag begins; after its end the next tag begins another.
    pub fn new(plan: Plan) -> Self {
        Conductor::of(Session::new(plan))
    }

    /// For sessions that are like this one before its begin.
    pub fn of(fresh: Session) -> Self {
        Conductor {
            session: fresh.clone(),
            fresh,
            touched: false,
            step: None,
            unsaved: false,
            troubled: None,
            by_word: false,
        }
    }

    /// The same, for what is heard: a tag before "begin" is a doubt, unless the plan says that a tag begins. What is
    /// typed or pressed is meant.
    #[must_use]
    pub fn begun_by_word(mut self) -> Self {
        self.by_word = !self.fresh.plan().words.marker_begins();
        self
    }

    /// Whether no session is under way and a tag that is heard does not begin one.
    pub fn waits_for_begin(&self) -> bool {
        self.by_word && (self.session.finished() || !self.session.begun())
    }

    /// Goes on with a session that is already under way; the next one will be as said at first.
    pub fn go_on_with(&mut self, session: Session) {
        self.session = session;
        self.touched = true;
    }

    /// Makes the next session ready by what is known now. Nothing happens while one is under way.
    pub fn make_ready(&mut self, shell: &mut dyn Shell) {
        if self.touched && !self.session.finished() {
            return;
        }
        if let Some(outset) = shell.begins(self.step) {
            let plan = Plan { start_step: outset.step, ..self.fresh.plan().clone() };
            self.fresh = Session::with_prior(plan, outset.told.prior);
        } else if let Some(start_step) = self.step {
            let plan = Plan { start_step, ..self.fresh.plan().clone() };
            self.fresh = Session::with_prior(plan, self.fresh.prior().clone());
        }
        self.session = self.fresh.clone();
        self.touched = false;
    }

    /// Lets the next session begin at this step, or at the plan's last; nothing while one is under way.
    pub fn start_at(&mut self, step: u8, shell: &mut dyn Shell) {
        let last = u8::try_from(self.fresh.plan().steps.len()).unwrap_or(u8::MAX);
        self.step = Some(step.clamp(1, last.max(1)));
        self.make_ready(shell);
    }

    /// Lets the session at hand begin at this step, also when something came in for it before its begin; nothing once
    /// time was started.
    pub fn begin_at(&mut self, step: u8, shell: &mut dyn Shell) {
        self.start_at(step, shell);
        self.session.start_at(step);
    }

    /// The session now.
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// Takes in what was heard.
    pub fn hear(&mut self, heard: Heard, shell: &mut dyn Shell) {
        match heard {
            Heard::Tags(tags) => {
                for tag in tags {
                    let input = Input::Tagged { said: tag.said, words: tag.words };
                    let times = HeardTimes { end: tag.end, decided: tag.decided };
                    self.take(tag.at, input, Some(times), shell);
                }
            }
            Heard::Doubt(doubt) => {
                let input = Input::Doubted { words: doubt.words, other: doubt.other };
                let times = HeardTimes { end: doubt.end, decided: doubt.decided };
                self.take(doubt.at, input, Some(times), shell);
            }
            Heard::Withdrawn(doubt) => {
                let times = HeardTimes { end: doubt.end, decided: doubt.decided };
                for said in self.session.undoing(doubt.at) {
                    let words = doubt.other.clone();
                    let input = Input::Tagged { said, words };
                    self.take(doubt.end, input, Some(times), shell);
                }
                let input = Input::Doubted { words: doubt.words, other: doubt.other };
                self.take(doubt.end, input, Some(times), shell);
            }
            Heard::Note { text, .. } if text.is_empty() => {}
            Heard::Note { to, text, .. } => self.take(to, Input::Noted { text }, None, shell),
            Heard::Lost { from, to } => {
                let why = "the recogniser failed".to_owned();
                self.take(to, Input::Gap { lasted: to.since(from), why }, None, shell);
            }
            Heard::Other { .. } => {}
        }
    }

    /// Takes in something that happened at `at`.
    pub fn take(&mut self, at: At, input: Input, heard: Option<HeardTimes>, shell: &mut dyn Shell) {
        self.pick_up(shell);
        // What it is told is as of its first tag, however long it was waited for.
        self.make_ready(shell);
        (self.touched, self.step) = (true, None);
        let input = match input {
            Input::Tagged { said, words }
                if heard.is_some() && self.waits_for_begin() && said.may_begin() =>
            {
                Input::Doubted { words, other: SAID_BEFORE_BEGIN.into() }
            }
            other => other,
        };
        let outputs = self.session.handle(at, input);
        self.carry_out(at, outputs, heard, shell);
    }

    /// Lets time pass up to `settled`: no tag with an earlier onset can still come.
    pub fn pass(&mut self, settled: At, shell: &mut dyn Shell) {
        self.pick_up(shell);
        let outputs = self.session.advance(settled);
        self.carry_out(settled, outputs, None, shell);
    }

    /// Ends the session because the sound ended or the program closes.
    pub fn close(&mut self, at: At, shell: &mut dyn Shell) {
        self.pick_up(shell);
        let outputs = self.session.close(at);
        self.carry_out(at, outputs, None, shell);
    }

    fn carry_out(
        &mut self,
        at: At,
        outputs: Vec<Output>,
        heard: Option<HeardTimes>,
        shell: &mut dyn Shell,
    ) {
        // A tag and what follows from it are on disk together, or neither is.
        let appended = outputs.iter().filter_map(|output| match output {
            Output::Append(logged) => Some(logged.clone()),
            _ => None,
        });
        let appended: Vec<Logged> = appended.collect();
        if !appended.is_empty() {
            self.unsaved = !shell.append(&appended);
            self.troubled = self.troubled.filter(|_| self.unsaved);
        }
        if let Some(came_in) = shell.adrift(self.session.working()) {
            return self.begin_anew(came_in, heard, shell);
        }
        let mut trouble = false;
        for output in outputs {
            match output {
                Output::Append(logged) => self.show(&logged, heard, shell),
                // "Heard" means that it is on disk, so it is not played for what is not.
                Output::Play(NudgeKind::Heard) if self.unsaved => {
                    let again = |told: At| at.since(told) >= TROUBLE_AGAIN;
                    trouble = self.troubled.is_none_or(again);
                }
                Output::Play(nudge) => shell.play(at, nudge),
                Output::Say(answer) => shell.say(at, &answer),
                Output::Asked(command) => shell.asked(at, command),
            }
        }
        if trouble {
            self.troubled = Some(at);
            self.trouble(at, "what was said is not on disk yet", shell);
        }
    }

    /// Takes in a problem of Hushtally's own, in words for a person. Its sound comes when the engine gives it, as that of
    /// every nudge, so that no two come at once. Outside a session there is nothing to keep apart.
    pub fn trouble(&mut self, at: At, why: &str, shell: &mut dyn Shell) {
        if self.session.begun() && !self.session.finished() {
            self.take(at, Input::Trouble { why: why.to_owned() }, None, shell);
        } else {
            shell.play(at, NudgeKind::Trouble);
        }
    }

    /// The session may have been lost when something that waited was tried again.
    fn pick_up(&mut self, shell: &mut dyn Shell) {
        if let Some(came_in) = shell.adrift(self.session.working()) {
            self.begin_anew(came_in, None, shell);
        }
    }

    /// Goes through what could not be written to its session once more, as a session of its own. What is told of it
    /// then is told because it is on disk.
    fn begin_anew(
        &mut self,
        came_in: Vec<(At, Input)>,
        heard: Option<HeardTimes>,
        shell: &mut dyn Shell,
    ) {
        let mut plan = self.fresh.plan().clone();
        plan.start_step = self.session.working();
        self.fresh = Session::with_prior(plan, self.fresh.prior().clone());
        self.session = self.fresh.clone();
        self.touched = true;
        for (at, input) in came_in {
            let outputs = self.session.handle(at, input);
            self.carry_out(at, outputs, heard, shell);
        }
    }

    fn show(&mut self, logged: &Logged, heard: Option<HeardTimes>, shell: &mut dyn Shell) {
        let came_in = matches!(logged.event, Event::Input(_));
        let rep = self.rep_of(logged);
        let heard = heard.filter(|_| came_in);
        let took = match &logged.event {
            Event::Input(Input::Tagged { said: Said::TakeBack, .. }) => {
                self.session.took_back(logged.at)
            }
            _ => None,
        };
        let words = &self.session.plan().words;
        let idle = self.session.changed_nothing(logged.at);
        let working = self.session.working();
        shell.show(Happening { logged, heard, rep, words, took: took.as_ref(), idle, working });
        if matches!(logged.event, Event::Derived(Derived::Finished { .. })) {
            shell.ended();
        }
    }

    /// The rep that an event made or changed.
    fn rep_of(&self, logged: &Logged) -> Option<(usize, &Rep)> {
        let reps = self.session.reps();
        let number_of = |index: usize| Some((index + 1, &reps[index]));
        match &logged.event {
            Event::Input(Input::Tagged { said: Said::Rep(_) | Said::Miss(_), .. }) => number_of(
                reps.iter().rposition(|rep| rep.at == logged.at && rep.outcome != RAN_OUT)?,
            ),
            Event::Derived(Derived::HoldRanOut) => number_of(
                reps.iter().rposition(|rep| rep.at == logged.at && rep.outcome == RAN_OUT)?,
            ),
            // Only the latest try is ever changed.
            Event::Input(Input::Tagged { said: Said::Detail(_) | Said::Change(_), .. }) => {
                number_of(reps.len().checked_sub(1)?)
            }
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hear::{Doubt, HeardTag};
    use crate::interpret::{Details, SAID_BY_ANOTHER};
    use crate::plan::Mood;

    /// Keeps nothing but which nudges were played.
    #[derive(Default)]
    struct Nowhere(Vec<NudgeKind>);

    impl Shell for Nowhere {
        fn append(&mut self, _: &[Logged]) -> bool {
            true
        }
        fn show(&mut self, _: Happening) {}
        fn play(&mut self, _: At, nudge: NudgeKind) {
            self.0.push(nudge);
        }
        fn say(&mut self, _: At, _: &Answer) {}
        fn asked(&mut self, _: At, _: Command) {}
        fn ended(&mut self) {}
    }

    fn tags(said: &[(f64, Said)]) -> Heard {
        let tag = |(at, said): &(f64, Said)| {
            let at = At::from_secs_f64(*at);
            HeardTag { at, end: at, said: said.clone(), words: "w".into(), decided: at }
        };
        Heard::Tags(said.iter().map(tag).collect())
    }

    fn talk(since: f64, end: f64) -> Heard {
        let (at, end) = (At::from_secs_f64(since), At::from_secs_f64(end));
        Heard::Withdrawn(Doubt { at, end, words: "w".into(), other: "talk".into(), decided: end })
    }

    /// Moments of tries and doubts, and when time was started, for a plan of these words.
    fn heard_by_word(
        heard: impl IntoIterator<Item = Heard>,
        begins: bool,
    ) -> (Vec<f64>, usize, bool) {
        let mut plan = Plan::of_default_words();
        plan.words.set_marker_begins(begins);
        let mut conductor = Conductor::new(plan).begun_by_word();
        let mut shell = Nowhere::default();
        heard.into_iter().for_each(|heard| conductor.hear(heard, &mut shell));
        let session = conductor.session();
        let at = session.reps().iter().map(|rep| rep.at.as_secs_f64()).collect();
        (at, session.summary().unsure, session.begun())
    }

    /// A disk that takes nothing up to a moment; what is played, and when.
    struct Disk(At, Vec<(At, NudgeKind)>, At);

    impl Shell for Disk {
        fn append(&mut self, logged: &[Logged]) -> bool {
            self.2 = logged.last().map_or(self.2, |logged| logged.at);
            self.2 >= self.0
        }
        fn show(&mut self, _: Happening) {}
        fn play(&mut self, at: At, nudge: NudgeKind) {
            self.1.push((at, nudge));
        }
        fn say(&mut self, _: At, _: &Answer) {}
        fn asked(&mut self, _: At, _: Command) {}
        fn ended(&mut self) {}
    }

    #[test]
    fn trouble_with_the_disk_sounds_as_every_nudge_does_one_at_a_time_and_not_for_each_tag() {
        let at = At::from_secs_f64;
        let mut disk = Disk(at(200.0), Vec::new(), At::ZERO);
        let mut plan = Plan::of_default_words();
        plan.limits.rate_floor_per_min = 0.0;
        let mut conductor = Conductor::new(plan);
        // Anxious: a nudge of another kind comes in the middle of it.
        for second in (1..=58).map(|n| f64::from(n) * 4.0) {
            let said = match second {
                100.0 => Said::State { mood: Mood::Worried },
                _ => Said::Rep(Details::default()),
            };
            conductor.take(at(second), Input::said(said, "w"), None, &mut disk);
            conductor.pass(at(second + 3.0), &mut disk);
        }
        let of = |kind: NudgeKind| -> Vec<f64> {
            let kind = disk.1.iter().filter(|(_, played)| *played == kind);
            kind.map(|(at, _)| at.as_secs_f64()).collect()
        };
        let trouble = of(NudgeKind::Trouble);
        assert!((3..=4).contains(&trouble.len()), "{:?}", disk.1);
        assert!(trouble[0] < 8.0, "told at once: {trouble:?}");
        assert!(trouble.windows(2).all(|two| two[1] - two[0] >= 60.0), "{trouble:?}");
        // No receipt for what is not on disk, and every one after that.
        assert!(of(NudgeKind::Heard).iter().all(|at| *at >= 200.0), "{:?}", disk.1);
        assert!(of(NudgeKind::Heard).len() >= 7, "{:?}", disk.1);
        let nudges = disk.1.iter().filter(|(_, kind)| kind.family().is_some());
        let nudges: Vec<f64> = nudges.map(|(at, _)| at.as_secs_f64()).collect();
        assert!(nudges.len() > trouble.len(), "{:?}", disk.1);
        // What follows trouble keeps the gap; trouble itself does not wait.
        let after = |from: f64| nudges.iter().find(|at| **at > from).copied();
        for at in &trouble {
            assert!(after(*at).is_none_or(|next| next - at >= 20.0), "{:?}", disk.1);
        }
    }

    #[test]
    fn a_tag_that_is_heard_begins_nothing_unless_the_plan_says_so() {
        let yes = || Said::Rep(Details::default());
        let command = |command| Said::Command { command };
        let radio = || tags(&[(1.0, yes()), (2.0, Said::Miss(Details::default()))]);
        assert_eq!(heard_by_word([radio()], false), (vec![], 2, false));
        assert_eq!(heard_by_word([radio()], true), (vec![1.0, 2.0], 0, true));
        let begun = || tags(&[(5.0, command(Command::Begin)), (6.0, yes())]);
        assert_eq!(heard_by_word([radio(), begun()], false), (vec![6.0], 2, true));
        // What was heard after the end waits in a session of its own, and counts nowhere.
        let after = tags(&[(9.0, command(Command::Finish)), (12.0, yes())]);
        assert_eq!(heard_by_word([begun(), after], false), (vec![], 1, false));
    }

    #[test]
    fn what_is_typed_or_pressed_is_meant_and_begins() {
        let mut conductor = Conductor::new(Plan::of_default_words()).begun_by_word();
        let yes = Input::said(Said::Rep(Details::default()), "short press");
        conductor.take(At::from_secs_f64(3.0), yes, None, &mut Nowhere::default());
        assert!(conductor.session().begun() && !conductor.waits_for_begin());
    }

    #[test]
    fn what_never_began_ends_without_a_recap_and_is_not_gone_on_with() {
        let mut session = Session::new(Plan::of_default_words());
        let doubt = Input::Doubted { words: "yes".into(), other: SAID_BEFORE_BEGIN.into() };
        let _ = session.handle(At::from_secs_f64(3.0), doubt);
        let out = session.close(At::from_secs_f64(9.0));
        let finished = |output: &Output| {
            matches!(
                output,
                Output::Append(Logged { event: Event::Derived(Derived::Finished { .. }), .. })
            )
        };
        assert!(out.iter().any(finished), "{out:?}");
        assert!(!out.iter().any(|output| matches!(output, Output::Say(_))), "{out:?}");
    }

    /// The reps' moments and the number of doubts after all this.
    fn reps(heard: impl IntoIterator<Item = Heard>) -> (Vec<f64>, usize) {
        let mut conductor = Conductor::new(Plan::of_default_words());
        let mut shell = Nowhere::default();
        heard.into_iter().for_each(|heard| conductor.hear(heard, &mut shell));
        let session = conductor.session();
        let at = session.reps().iter().map(|rep| rep.at.as_secs_f64()).collect();
        (at, session.summary().unsure)
    }

    #[test]
    fn a_doubt_is_told_but_not_each_repetition_by_another() {
        let told = |other: &str| {
            let mut conductor = Conductor::new(Plan::of_default_words());
            let mut shell = Nowhere::default();
            let (at, end) = (At::from_secs_f64(5.0), At::from_secs_f64(5.4));
            let doubt = Doubt { at, end, words: "yes".into(), other: other.into(), decided: end };
            conductor.hear(Heard::Doubt(doubt), &mut shell);
            conductor.pass(At::from_secs_f64(30.0), &mut shell);
            (shell.0, conductor.session().summary().unsure)
        };
        assert_eq!(told("yet"), (vec![NudgeKind::NotSure], 1));
        assert_eq!(told(SAID_BY_ANOTHER), (vec![], 1));
    }

    #[test]
    fn talk_withdraws_what_was_said_with_it_and_nothing_before() {
        let yes = || Said::Rep(Details::default());
        let before = || tags(&[(1.0, yes())]);
        let after = |said: &[(f64, Said)]| reps([before(), tags(said), talk(5.0, 6.0)]);
        assert_eq!(after(&[(5.0, yes()), (5.5, yes())]), (vec![1.0], 1), "yes, yes, I am coming");
        assert_eq!(after(&[(5.0, Said::TakeBack)]), (vec![1.0], 1), "cancel, that was not mine");
        assert_eq!(after(&[(5.0, yes()), (5.5, Said::TakeBack)]), (vec![1.0], 1), "both");
        // The tag never came to the session: it was our own voice, or an answer.
        assert_eq!(reps([before(), talk(5.0, 6.0)]), (vec![1.0], 1));
    }
}
