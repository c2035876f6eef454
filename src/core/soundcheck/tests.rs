//! Whole checks, by made-up times and levels.

mod words;

use super::*;
use crate::dialogue::VoiceChange;
use crate::interpret::{Details, Said};
use crate::plan::{Command, Role, Words};

/// A check, and a clock that its events move.
struct Room {
    check: Check,
    now: Duration,
    told: Vec<SoundcheckEffect>,
}

impl Room {
    fn with(setup: Setup) -> Self {
        let (check, told) = Check::begin(setup);
        Room { check, now: Duration::ZERO, told }
    }

    fn new() -> Self {
        Room::with(setup())
    }

    fn send(&mut self, input: SoundcheckInput) -> Vec<SoundcheckEffect> {
        let effects = self.check.handle(self.now, input);
        self.told.extend(effects.clone());
        effects
    }

    /// Lets seconds pass at this level, by tenths.
    fn wait(&mut self, seconds: f64, dbfs: f32) -> Vec<SoundcheckEffect> {
        let mut all = Vec::new();
        for _ in 0..(seconds * 10.0).round() as usize {
            self.now += Duration::from_millis(100);
            all.extend(self.check.pass(self.now.saturating_sub(Duration::from_millis(500))));
            let level = SoundcheckInput::Level { rms_dbfs: dbfs, clipped: dbfs > -1.0 };
            all.extend(self.check.handle(self.now, level));
        }
        self.told.extend(all.clone());
        all
    }

    /// Our own voice ends, and something is said.
    fn hears(&mut self, said: Said) -> Vec<SoundcheckEffect> {
        self.now += Duration::from_secs(1);
        self.send(SoundcheckInput::Quiet);
        self.now += Duration::from_millis(300);
        let words = "words".to_owned();
        self.send(SoundcheckInput::Answer(Answer::Said { said, words, keyed: false }))
    }

    fn yes(&mut self) -> Vec<SoundcheckEffect> {
        self.hears(yes())
    }

    /// Past microphone, noise and level.
    fn heard_well(&mut self) -> Vec<SoundcheckEffect> {
        self.send(SoundcheckInput::MicOpen);
        self.send(SoundcheckInput::Quiet);
        self.wait(4.0, -60.0);
        self.send(SoundcheckInput::Quiet);
        self.wait(1.0, -60.0);
        self.wait(2.0, -30.0)
    }

    /// Every word as asked for.
    fn all_words(&mut self) -> Vec<SoundcheckEffect> {
        let words = self.check.setup.words.clone();
        words.into_iter().flat_map(|prompt| self.hears(prompt.said)).collect()
    }
}

fn setup() -> Setup {
    let mut words = prompts(&Words::english());
    words.truncate(4);
    Setup {
        mics: vec!["desk".into(), "headset".into()],
        ears: vec!["box".into(), "bud".into()],
        words,
        attention: "juniper".into(),
        yes: "yes".into(),
        no: "miss".into(),
        changes: ["slower", "faster", "louder", "quieter"].map(str::to_owned).to_vec(),
        instead: instead(),
        voices: vec!["one".into(), "other".into()],
    }
}

/// The same few words for every role.
fn instead() -> BTreeMap<Role, Vec<String>> {
    let words = ["meadow", "willow", "saffron"].map(str::to_owned).to_vec();
    prompts(&Words::english()).into_iter().map(|prompt| (prompt.role, words.clone())).collect()
}

fn yes() -> Said {
    Said::Rep(Details::default())
}

fn says(effects: &[SoundcheckEffect], wanted: impl Fn(&SoundcheckLine) -> bool) -> bool {
    effects.iter().any(|effect| matches!(effect, SoundcheckEffect::Say(line) if wanted(line)))
}

#[test]
fn a_whole_check_by_voice_keeps_what_was_confirmed() {
    let mut room = Room::new();
    assert!(says(&room.heard_well(), |line| matches!(
        line,
        SoundcheckLine::WhichEar { count: 2, .. }
    )));
    room.send(SoundcheckInput::Quiet);
    assert!(room.wait(1.0, -60.0).contains(&SoundcheckEffect::Play(0)));
    // Nothing is said to the first sound.
    room.send(SoundcheckInput::Quiet);
    assert!(room.wait(5.0, -60.0).contains(&SoundcheckEffect::Play(1)));
    let effects = room.yes();
    assert_eq!(effects[0], SoundcheckEffect::UseEar(1));
    assert!(says(&room.yes(), |line| matches!(line, SoundcheckLine::Words { count: 4 })));
    let effects = room.all_words();
    assert!(says(
        &effects,
        |line| matches!(line, SoundcheckLine::Heard { right: 4, of: 4, advice } if advice.is_empty())
    ));
    let effects = room.hears(Said::Command { command: Command::Slower });
    assert_eq!(effects[0], SoundcheckEffect::Voice(VoiceChange::Slower));
    let effects = room.hears(Said::Miss(Details::default()));
    assert_eq!(effects[0], SoundcheckEffect::UseVoice(1));
    assert!(says(&effects, |line| matches!(line, SoundcheckLine::OtherVoice { .. })));
    let effects = room.yes();
    assert!(says(&effects, |line| matches!(line, SoundcheckLine::Keep { voice: true, .. })));
    assert!(room.yes().contains(&SoundcheckEffect::Save));
    assert!(!room.check.report().saved, "not before it is on disk");
    assert!(room.send(SoundcheckInput::Saved).contains(&SoundcheckEffect::End));

    let report = room.check.report();
    assert!(report.saved && !report.clipped);
    assert_eq!(report.noise_dbfs, Some(-60.0));
    assert_eq!(report.above_db, Some(30.0));
    assert_eq!((report.mic.as_deref(), report.ear.as_deref()), (Some("desk"), Some("bud")));
    assert_eq!(report.ear_kind, Some(EarKind::Earphone));
    assert!(report.voice_confirmed);
    assert_eq!(report.voice.as_deref(), Some("other"));
}

#[test]
fn voices_go_round_and_a_single_one_leaves_no_choice() {
    for (voices, expected) in [(2, Some("b")), (3, Some("b")), (1, None)] {
        let all = ["a", "b", "c"].map(str::to_owned)[..voices].to_vec();
        let setup = Setup { ears: Vec::new(), words: Vec::new(), voices: all, ..setup() };
        let mut room = Room::with(setup);
        room.heard_well();
        let mut used = Vec::new();
        for _ in 0..voices + 1 {
            for effect in room.hears(Said::Miss(Details::default())) {
                used.extend(match effect {
                    SoundcheckEffect::UseVoice(index) => Some(index),
                    _ => None,
                });
            }
        }
        let Some(expected) = expected else {
            assert!(used.is_empty() && !room.check.report().voice_confirmed);
            continue;
        };
        assert_eq!(used, (1..=voices + 1).map(|n| n % voices).collect::<Vec<_>>());
        room.yes();
        assert_eq!(room.check.report().voice.as_deref(), Some(expected));
    }
}

#[test]
fn nobody_there_means_that_nothing_is_kept() {
    let mut room = Room::new();
    room.send(SoundcheckInput::MicOpen);
    for _ in 0..200 {
        room.send(SoundcheckInput::Quiet);
        room.wait(1.0, -60.0);
        if room.told.last() == Some(&SoundcheckEffect::OpenMic(1)) {
            room.send(SoundcheckInput::MicOpen);
        }
    }
    assert!(room.check.is_over());
    assert!(says(&room.told, |line| *line == SoundcheckLine::NoMic));
    assert!(room.now < Duration::from_secs(210), "{:?}", room.now);
    assert_eq!(*room.check.report(), Report::default());
}

#[test]
fn somebody_who_goes_away_after_the_level_leaves_all_as_it_was() {
    let mut room = Room::new();
    room.heard_well();
    let began = room.now;
    while !room.check.is_over() && room.now < began + Duration::from_secs(180) {
        room.send(SoundcheckInput::Quiet);
        room.wait(1.0, -60.0);
    }
    let over = &room.told[room.told.len() - 2..];
    assert_eq!(over, [SoundcheckEffect::Say(SoundcheckLine::NotKept), SoundcheckEffect::End]);
    assert!(says(&room.told, |line| *line == SoundcheckLine::WordsLeftOut));
    assert!(!room.told.contains(&SoundcheckEffect::Save));
    let report = room.check.report();
    assert_eq!((report.ear.clone(), report.voice_confirmed, report.saved), (None, false, false));
    assert!(report.advice.is_empty(), "silence says nothing about words: {:?}", report.advice);
}

#[test]
fn a_microphone_without_sound_gives_way_to_the_next_one() {
    let mut room = Room::new();
    room.send(SoundcheckInput::MicOpen);
    room.send(SoundcheckInput::Quiet);
    room.wait(4.0, -60.0);
    room.send(SoundcheckInput::Quiet);
    assert!(room.wait(9.0, -60.0).contains(&SoundcheckEffect::OpenMic(1)));
    let effects = room.send(SoundcheckInput::MicOpen);
    assert!(says(
        &effects,
        |line| matches!(line, SoundcheckLine::NextMic { name } if name == "headset")
    ));
    room.heard_well();
    assert_eq!(room.check.report().mic.as_deref(), Some("headset"));
}

#[test]
fn a_bad_level_is_told_and_taken_again_at_most_three_times() {
    use crate::dialogue::AudibilityVerdict::{Loud, Noisy};
    for (speech_dbfs, verdict, advice) in
        [(-50.0, Noisy, Advice::Nearer), (-0.5, Loud, Advice::LowerGain)]
    {
        let mut room = Room::new();
        room.send(SoundcheckInput::MicOpen);
        room.send(SoundcheckInput::Quiet);
        room.wait(4.0, -60.0);
        for round in 1..=3 {
            room.send(SoundcheckInput::Quiet);
            let effects = room.wait(2.0, speech_dbfs);
            let told = says(&effects, |line| {
                matches!(line, SoundcheckLine::Level { verdict: found, again, .. }
                    if *found == verdict && *again == (round < 3))
            });
            assert!(told, "{verdict:?}, round {round}: {effects:?}");
        }
        assert_eq!(room.check.report().advice, [advice]);
        assert_eq!(room.check.report().clipped, verdict == Loud);
    }
}

#[test]
fn a_word_that_is_heard_without_its_level_does_not_speak_against_the_microphone() {
    for (early, advice) in [(true, Vec::new()), (false, vec![Advice::Nearer])] {
        let mut room = Room::new();
        room.send(SoundcheckInput::MicOpen);
        room.send(SoundcheckInput::Quiet);
        room.wait(4.0, -60.0);
        for round in 1..=3 {
            if !early {
                room.send(SoundcheckInput::Quiet);
            }
            // Said over our own voice, or hardly louder than the noise.
            room.wait(1.0, if early { -30.0 } else { -58.0 });
            let input = SoundcheckInput::Answer(Answer::Said {
                said: yes(),
                words: "yes".into(),
                keyed: false,
            });
            let effects = room.send(input);
            let again = says(&effects, |line| matches!(line, SoundcheckLine::SayAgain { .. }));
            assert_eq!(again, round < 3, "{effects:?}");
        }
        assert!(says(&room.told, |line| matches!(line, SoundcheckLine::WhichEar { .. })));
        let report = room.check.report();
        assert_eq!((report.mic.as_deref(), &report.advice), (Some("desk"), &advice));
    }
}

#[test]
fn our_own_voice_is_neither_noise_nor_speech() {
    let mut room = Room::new();
    room.send(SoundcheckInput::MicOpen);
    // The loudspeaker says the first sentence.
    room.wait(4.0, -20.0);
    room.send(SoundcheckInput::Quiet);
    room.wait(4.0, -60.0);
    assert_eq!(room.check.report().noise_dbfs, Some(-60.0));
    room.wait(4.0, -20.0);
    assert_eq!(room.check.report().speech_dbfs, None);
}

#[test]
fn what_was_said_before_a_question_does_not_answer_it() {
    let mut room = Room::new();
    room.heard_well();
    room.send(SoundcheckInput::Quiet);
    room.wait(1.0, -60.0);
    // The word for the level is only recognised now.
    let early = room.now - Duration::from_secs(3);
    let input =
        SoundcheckInput::Answer(Answer::Said { said: yes(), words: "yes".into(), keyed: false });
    assert!(room.check.handle(early, input).is_empty());
    assert_eq!(room.check.report().ear, None);
}

#[test]
fn after_its_end_nothing_is_begun_any_more() {
    let end = |room: &Room| room.told.iter().position(|effect| *effect == SoundcheckEffect::End);
    let mut nobody = Room::with(Setup { mics: vec!["desk".into()], ..setup() });
    nobody.send(SoundcheckInput::MicFailed { why: "busy".into() });
    let mut stopped = Room::new();
    stopped.heard_well();
    stopped.hears(Said::Command { command: Command::Quit });
    for mut room in [nobody, stopped] {
        assert_eq!(end(&room), Some(room.told.len() - 1), "it said that it ends");
        for input in [
            SoundcheckInput::MicFailed { why: "it stopped".into() },
            SoundcheckInput::MicOpen,
            SoundcheckInput::Quiet,
            SoundcheckInput::EarFailed { why: "busy".into() },
            SoundcheckInput::Saved,
            SoundcheckInput::Answer(Answer::Said { said: yes(), words: "yes".into(), keyed: true }),
        ] {
            assert_eq!(room.send(input.clone()), [], "{input:?}");
        }
        assert_eq!(room.wait(30.0, -60.0), []);
    }
}

#[test]
fn keys_alone_go_through_it_too() {
    let mut room = Room::new();
    let key = |room: &mut Room, said| {
        room.now += Duration::from_millis(100);
        room.send(SoundcheckInput::Answer(Answer::Said { said, words: String::new(), keyed: true }))
    };
    room.send(SoundcheckInput::MicOpen);
    room.send(SoundcheckInput::Quiet);
    room.wait(4.0, -60.0);
    assert!(says(&key(&mut room, yes()), |line| matches!(line, SoundcheckLine::WhichEar { .. })));
    room.send(SoundcheckInput::Quiet);
    room.wait(1.0, -60.0);
    assert_eq!(key(&mut room, yes())[0], SoundcheckEffect::UseEar(0));
    key(&mut room, Said::Miss(Details::default()));
    for _ in 0..4 {
        key(&mut room, yes());
    }
    key(&mut room, yes());
    assert!(key(&mut room, yes()).contains(&SoundcheckEffect::Save));
    let report = room.check.report();
    assert_eq!(report.ear_kind, Some(EarKind::Loudspeaker));
    assert_eq!(report.advice, [Advice::Earphone]);
    assert_eq!(report.heard(), (0, 0), "a key is not a word that was heard");
    assert_eq!(report.speech_dbfs, None);
}

#[test]
fn no_and_close_down_keep_nothing() {
    let mut room = Room::new();
    room.heard_well();
    let effects = room.hears(Said::Command { command: Command::Quit });
    assert_eq!(effects, [SoundcheckEffect::Say(SoundcheckLine::NotKept), SoundcheckEffect::End]);

    let mut room = Room::with(Setup { ears: Vec::new(), words: Vec::new(), ..setup() });
    room.heard_well();
    room.yes();
    let effects = room.hears(Said::Miss(Details::default()));
    assert_eq!(effects, [SoundcheckEffect::Say(SoundcheckLine::NotKept), SoundcheckEffect::End]);
    assert!(!room.told.contains(&SoundcheckEffect::Save));
}

#[test]
fn an_output_that_does_not_open_is_passed_over_and_the_old_one_speaks_on() {
    let mut room = Room::new();
    room.heard_well();
    room.send(SoundcheckInput::Quiet);
    room.wait(1.0, -60.0);
    let effects = room.send(SoundcheckInput::EarFailed { why: "busy".into() });
    assert_eq!(effects.last(), Some(&SoundcheckEffect::Play(1)));
    let effects = room.send(SoundcheckInput::EarFailed { why: "busy".into() });
    assert!(effects.contains(&SoundcheckEffect::UseEar(0)));
    assert_eq!(room.check.report().ear, None);
    assert!(!room.check.report().voice_confirmed);
}

#[test]
fn repeat_asks_again_and_waits_as_long() {
    let mut room = Room::with(Setup { ears: Vec::new(), words: Vec::new(), ..setup() });
    room.heard_well();
    room.send(SoundcheckInput::Quiet);
    room.wait(10.0, -60.0);
    let effects = room.hears(Said::Command { command: Command::Repeat });
    assert!(says(&effects, |line| matches!(line, SoundcheckLine::Voice { .. })));
    room.send(SoundcheckInput::Quiet);
    room.wait(10.0, -60.0);
    assert!(!says(&room.told, |line| matches!(line, SoundcheckLine::Keep { .. })), "not yet");
    room.wait(4.0, -60.0);
    assert!(says(&room.told, |line| matches!(line, SoundcheckLine::Keep { voice: false, .. })));
}
