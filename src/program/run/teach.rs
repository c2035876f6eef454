//! A lesson by voice: asks for each word, listens, and says what became of it.

use std::time::Duration;

use super::Sounds;
use crate::at::At;
use crate::audio::choice::DeviceChoice;
use crate::audio::microphone::{self, Microphone};
use crate::clock::Clock;
use crate::hear::personal::{Ask, Became, Learnt, Lesson, Take, Takes};
use crate::hear::{Ears, Heard};
use crate::session::NudgeKind;
use crate::wording::Teaching;
use crate::wording::Wording;

/// How long a word is waited for.
const WAIT: Duration = Duration::from_secs(10);
/// How long to wait when there is no new sound.
const POLL: Duration = Duration::from_millis(4);

/// What a lesson needs from around it.
pub struct Classroom<'a> {
    /// The ear, when there is one.
    pub sounds: Option<Sounds>,
    /// Shows a line.
    pub show: &'a mut dyn FnMut(&str),
    /// The recogniser, to learn which words it takes these for; none where it cannot start.
    pub ears: Option<Ears>,
    /// Keeps what was learnt so far; called after every phrase.
    pub keep: &'a mut dyn FnMut(&Learnt) -> anyhow::Result<()>,
}

/// Holds the lesson to its end. What was learnt is kept after every phrase.
///
/// # Errors
/// When the microphone cannot be opened, or what was learnt cannot be kept.
pub fn teach(
    mut lesson: Lesson,
    choice: DeviceChoice,
    mut room: Classroom,
    clock: &Clock,
) -> anyhow::Result<()> {
    let mut microphone = Microphone::open(choice)?;
    let mut takes = Takes::default();
    let mut since = At::ZERO;
    if let Ask::Say { of, .. } = lesson.ask() {
        let phrases = lesson.left();
        room.say(&Teaching::Begin { phrases, times: of });
    }
    room.ask(&lesson.ask());
    while lesson.ask() != Ask::Done {
        let frame = match microphone.poll(clock.now()) {
            Some(microphone::Heard::Frame(frame)) => frame,
            Some(microphone::Heard::Lost { .. }) => {
                (room.show)("no sound; looking for the microphone");
                continue;
            }
            Some(microphone::Heard::Gap(_)) => continue,
            None => {
                std::thread::sleep(POLL);
                continue;
            }
        };
        let heard = takes.hear(&frame);
        // Both cut the sound by the same gate, so a take and its tags come with the same frame.
        let recognised = room.ears.as_mut().map(|ears| tags_in(&ears.hear(&frame)));
        if room.speaking() {
            // Our own voice is no example.
            since = frame.end();
            continue;
        }
        let spoken_until = since;
        for take in heard.into_iter().filter(|take| take.from >= spoken_until) {
            since = take.to;
            if let Some(words) = recognised.iter().flatten().next() {
                lesson.recognised(words.clone());
            }
            room.answer(&mut lesson, take)?;
        }
        if !takes.is_open() && frame.end() > since + WAIT {
            since = frame.end();
            if room.silence(&mut lesson) {
                break;
            }
        }
    }
    let learnt = lesson.learnt();
    (room.keep)(learnt)?;
    let unsteady = learnt.unsteady().join(", ");
    room.say(&Teaching::Done { learnt: learnt.phrases().count(), unsteady });
    if let Some(sounds) = room.sounds {
        sounds.finish(WAIT);
    }
    Ok(())
}

/// The words of each utterance that the recogniser takes for tags.
pub fn tags_in(heard: &[Heard]) -> Vec<String> {
    let words = |heard: &Heard| match heard {
        Heard::Tags(tags) => {
            Some(tags.iter().map(|tag| tag.words.as_str()).collect::<Vec<_>>().join(" "))
        }
        _ => None,
    };
    heard.iter().filter_map(words).collect()
}

impl Classroom<'_> {
    fn say(&mut self, line: &Teaching) {
        let text = Wording::english().teaching(line);
        (self.show)(&text);
        if let Some(sounds) = &mut self.sounds {
            sounds.say(&text);
        }
    }

    fn speaking(&mut self) -> bool {
        self.sounds.as_mut().is_some_and(Sounds::speaking)
    }

    fn ask(&mut self, ask: &Ask) {
        match ask {
            Ask::Say { phrase, .. } => self.say(&Teaching::Say { phrase: phrase.clone() }),
            Ask::Talk => self.say(&Teaching::Talk),
            Ask::Done => {}
        }
    }

    fn answer(&mut self, lesson: &mut Lesson, take: Take) -> anyhow::Result<()> {
        let before = lesson.ask();
        let became = lesson.take(take.features.filter(|_| !take.clipped));
        let phrase = match &before {
            Ask::Say { phrase, .. } => phrase.clone(),
            _ => return Ok(()),
        };
        match (became, lesson.ask()) {
            (Became::Kept, Ask::Say { phrase: next, take, of }) if next == phrase => {
                (self.show)(&format!("{} of {of}", take - 1));
                self.once_more(&phrase);
            }
            (Became::Kept, next) => {
                (self.keep)(lesson.learnt())?;
                self.ask(&next);
            }
            (Became::Unfit, _) => self.say(&Teaching::Unfit { phrase }),
            (Became::Unlike, _) => self.say(&Teaching::Unlike { phrase }),
            (Became::Anew, _) => self.say(&Teaching::Anew { phrase }),
        }
        Ok(())
    }

    /// A soft tone, or the word again where tones are kept silent.
    fn once_more(&mut self, phrase: &str) {
        match &mut self.sounds {
            Some(sounds) if sounds.nudges_are_silent() => sounds.say(phrase),
            Some(sounds) => sounds.nudge(NudgeKind::Heard),
            None => {}
        }
    }

    /// True when nobody is there.
    fn silence(&mut self, lesson: &mut Lesson) -> bool {
        let before = lesson.ask();
        let gone = lesson.silence();
        if gone {
            self.say(&Teaching::Gone);
            return true;
        }
        if let Ask::Say { phrase, .. } = before {
            self.say(&Teaching::LeftOut { phrase });
        }
        self.ask(&lesson.ask());
        false
    }
}
