//! The shell of a real session: record, screen and ear.

use minijinja::context;

use super::{Happening, Hook, Outset, Printer, Recorder, Shell, Sounds, Tuning};
use crate::at::At;
use crate::audio::choice::DeviceChoice;
use crate::clock::Clock;
use crate::dialogue::{DialogueLine, How};
use crate::history::body::Alarm;
use crate::session::{Answer, Event, Input, Logged, NudgeKind, Summary};
use crate::wording::{Signs, Wording, filled, text};
use std::time::Duration;

/// The last sentence is read to its end, unless something is wrong with the output.
const LONGEST_GOODBYE: Duration = Duration::from_secs(10);

/// Record, screen and ear of a session. Without a recorder nothing is kept, without sounds it is silent.
pub struct Desk {
    /// The record.
    pub recorder: Option<Recorder>,
    /// The screen.
    pub printer: Box<dyn Printer>,
    /// The ear.
    pub sounds: Option<Sounds>,
    /// A program that is run at each nudge.
    pub hook: Option<Hook>,
    /// Whether what a nudge means is said after it.
    pub nudge_words: bool,
    /// An animal and its open health concerns; a recap of it begins with them.
    pub concerns: (String, Vec<Alarm>),
    wording: Wording,
    clock: Clock,
    /// Session time and clock time of one moment, to tell the one from the other. None in a replay.
    anchor: Option<(At, Duration)>,
    last_said: Option<String>,
    /// When, in session time, what is shown next was saved.
    saved_at: Option<At>,
    save_failed: bool,
}

impl Desk {
    /// A desk with a screen.
    pub fn new(printer: Box<dyn Printer>, clock: Clock) -> Self {
        Desk {
            recorder: None,
            printer,
            sounds: None,
            hook: None,
            nudge_words: false,
            concerns: (String::new(), Vec::new()),
            wording: Wording::of(&locale()),
            clock,
            anchor: None,
            last_said: None,
            saved_at: None,
            save_failed: false,
        }
    }

    /// Plays and speaks through this output from now on; what does not work is shown on the screen.
    pub fn talk_through(&mut self, output: DeviceChoice, tuning: Tuning) {
        let mut troubles = Vec::new();
        match Sounds::start(output, tuning, self.clock.clone(), |trouble| troubles.push(trouble)) {
            Ok(sounds) => self.sounds = Some(sounds),
            Err(error) => {
                let error = error.to_string();
                troubles.push(filled("screen.output_fails", context! { error }));
            }
        }
        troubles.iter().for_each(|trouble| self.printer.remark(trouble));
    }

    /// Lets the ear go; `to_the_end` once the last sentence has been read.
    pub(super) fn goodbye(&mut self, to_the_end: bool) {
        if let Some(sounds) = self.sounds.take() {
            sounds.finish(if to_the_end { LONGEST_GOODBYE } else { Duration::ZERO });
        }
    }

    /// Tells what session time it is by the clock at `now`.
    pub fn set_time(&mut self, session: At, now: Duration) {
        self.anchor = Some((session, now));
    }

    /// Session time now, live.
    pub fn session_time(&self) -> Option<At> {
        let (session, then) = self.anchor?;
        Some(session + self.clock.now().saturating_sub(then))
    }

    /// Session time at a moment of the steady clock, live.
    pub fn session_at(&self, clock: Duration) -> Option<At> {
        let (session, then) = self.anchor?;
        Some((session + clock.saturating_sub(then)).back(then.saturating_sub(clock)))
    }

    /// The steady clock's time at a moment of the session.
    pub fn clock_time(&self, at: At) -> Duration {
        let Some((session, then)) = self.anchor else { return self.clock.now() };
        (then + at.since(session)).saturating_sub(session.since(at))
    }

    /// The sentences.
    pub(super) fn wording(&self) -> &Wording {
        &self.wording
    }

    /// Says the last text again.
    pub fn repeat(&mut self, at: At) {
        if let Some(text) = self.last_said.clone() {
            self.tell(at, text);
        }
    }

    /// Tries again to save what could not be saved.
    pub fn save_again(&mut self) {
        if let Some(recorder) = self.recorder.as_mut().filter(|recorder| recorder.waiting() > 0) {
            let result = recorder.save();
            let waiting = recorder.waiting();
            self.report_save(result.map(|()| waiting == 0));
        }
    }

    /// Shows and says a text.
    pub fn tell(&mut self, at: At, text: String) {
        self.printer.said(at, &text);
        if let Some(sounds) = &mut self.sounds {
            sounds.say(&text);
        }
        self.last_said = Some(text);
    }

    /// Shows and says something that is not to be said again: an item of a list that is read.
    pub(super) fn read(&mut self, text: &str) {
        let at = self.session_time().unwrap_or(At::ZERO);
        self.printer.said(at, text);
        if let Some(sounds) = &mut self.sounds {
            sounds.hush();
            sounds.say(text);
        }
    }

    /// Shows and says a line of the dialogue.
    pub fn tell_line(&mut self, at: At, line: &DialogueLine) {
        let text = self.wording.line(line);
        self.tell(at, text);
    }

    /// Shows a line of the dialogue.
    pub fn show_line(&mut self, line: &DialogueLine) {
        let text = self.wording.line(line);
        self.printer.remark(&text);
    }

    /// Shows and says what a recap leaves out.
    pub fn tell_details(&mut self, at: At, summary: &Summary) {
        let text = self.wording.details(summary);
        self.tell(at, text);
    }

    /// What cannot be read is told where the plan for next time is asked for.
    fn treats_used_up(&self) -> bool {
        let recorder = self.recorder.as_ref();
        recorder.is_some_and(|recorder| recorder.treats_used_up().unwrap_or(false))
    }

    fn report_save(&mut self, result: Result<bool, crate::store::StoreError>) -> bool {
        match result {
            Ok(saved) => {
                if self.save_failed && saved {
                    self.printer.remark(&text("screen.saved_again"));
                    self.save_failed = false;
                }
                saved
            }
            // The conductor asks what is adrift, and that is told.
            Err(error) if error.is_out_of_session() => false,
            Err(error) => {
                if !self.save_failed {
                    let error = error.to_string();
                    self.printer.remark(&filled("screen.not_saved", context! { error }));
                    self.save_failed = true;
                }
                false
            }
        }
    }
}

/// What the user speaks, by the usual variables.
fn locale() -> String {
    ["LC_ALL", "LC_MESSAGES", "LANG"]
        .into_iter()
        .find_map(|name| std::env::var(name).ok().filter(|value| !value.is_empty()))
        .unwrap_or_else(|| "en".to_owned())
}

impl Shell for Desk {
    fn turn_to(&mut self, place: usize) {
        if let Some(recorder) = &mut self.recorder {
            recorder.turn_to(place);
        }
        self.printer.turn_to(place);
    }

    fn append(&mut self, logged: &[Logged]) -> bool {
        let result = self.recorder.as_mut().map(|recorder| recorder.append(logged));
        let saved = match result {
            Some(result) => self.report_save(result.map(|()| true)),
            None => true,
        };
        self.saved_at = if saved && self.recorder.is_some() { self.session_time() } else { None };
        saved
    }

    fn adrift(&mut self, step: u8) -> Option<Vec<(At, Input)>> {
        let recorder = self.recorder.as_mut()?;
        let came_in = recorder.adrift()?;
        recorder.start_at(step);
        let at = self.session_time().or(came_in.last().map(|(at, _)| *at)).unwrap_or(At::ZERO);
        self.tell_line(at, &DialogueLine::SessionTaken);
        Some(came_in)
    }

    fn begins(&mut self, place: usize, step: Option<u8>) -> Option<Outset> {
        let (outset, error) = self.recorder.as_mut()?.begins(place, step)?;
        if let Some(error) = error {
            self.show_line(&DialogueLine::PastUnknown { why: error.to_string() });
        }
        Some(outset)
    }

    fn show(&mut self, happening: Happening) {
        self.printer.event(&happening, self.saved_at);
        // Live the dialogue asks about what it was given; a recording has nobody who could answer.
        if let (Event::Input(Input::Noted { text }), None) = (&happening.logged.event, self.anchor)
        {
            let words = Signs::english().find(text);
            if !words.is_empty() {
                let (how, at) = (How::Later, happening.logged.at);
                let (attention, yes) = (String::new(), String::new());
                self.tell_line(at, &DialogueLine::SignsNoted { words, how, attention, yes });
            }
        }
    }

    fn play(&mut self, at: At, nudge: NudgeKind) {
        if let Some(sounds) = &mut self.sounds {
            sounds.nudge(nudge);
            // Where the animal would hear the sound, it would hear the words.
            if self.nudge_words && nudge.family().is_some() && !sounds.nudges_are_silent() {
                sounds.say(self.wording.nudge(nudge));
            }
        }
        if let Some(Err(error)) = self.hook.as_ref().map(|hook| hook.run(nudge.name())) {
            let error = error.to_string();
            self.printer.remark(&filled("screen.hook_failed", context! { error }));
            self.hook = None;
        }
        self.printer.nudge(at, nudge);
    }

    fn say(&mut self, at: At, answer: &Answer) {
        let (animal, concerns) = &self.concerns;
        let text = match answer {
            Answer::Recap(summary) => {
                let concerns = if summary.animal == *animal { &concerns[..] } else { &[] };
                let mut summary = summary.clone();
                summary.was_begun_by(self.recorder.as_ref().and_then(Recorder::person));
                self.wording.recap(&summary, concerns, self.treats_used_up())
            }
            Answer::RecapOfAll { sessions } => {
                let mut sessions = sessions.clone();
                for summary in &mut sessions {
                    summary.was_begun_by(self.recorder.as_ref().and_then(Recorder::person));
                }
                self.wording.recap_of_all(&sessions, animal, concerns, self.treats_used_up())
            }
            _ => self.wording.say(answer),
        };
        self.tell(at, text);
    }
}
