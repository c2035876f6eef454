//! Every sentence, as it is said.

use std::time::Duration;

use super::*;
use crate::dialogue::{Audibility, AudibilityVerdict, Choice, Numbered, VoiceChange};
use crate::plan::Plan;
use crate::sentences::{LANGUAGES, Prompts};
use crate::session::Session;
use longest::{decided, longest};

fn summary() -> Summary {
    let plan = Plan::of_default_words();
    let next = Session::new(plan.clone()).decision();
    Summary::of(&plan, &[], 1, Duration::from_secs(130), 1, None, None, next)
}

#[test]
fn the_next_session_is_told_in_a_few_sentences() {
    use crate::history::{AnimalHistory, Ladder, body, next};
    use jiff::civil::date;
    let plan = Plan::of_default_words();
    let history = AnimalHistory::new("Pepino", "cockatiel", vec![Ladder::of(1, &plan)], Vec::new());
    let body = body::read(&[], date(2026, 1, 2));
    let told = Wording::english().next(&next::plan(&history, &plan, &body, date(2026, 1, 2)));
    insta::assert_snapshot!(told, @"Pepino, any behaviour. Begin with step 1, as it comes. Lay out 20 treats. 3 minutes or 20 rewarded tries.");
    let ill = body::Noted { day: date(2026, 1, 2), fact: body::Fact::Ill("sneezes".into()) };
    let body = body::read(&[ill], date(2026, 1, 2));
    let told = Wording::english().next(&next::plan(&history, &plan, &body, date(2026, 1, 2)));
    insta::assert_snapshot!(told, @"Pepino: noted ill today: sneezes; no training is planned until you say Pepino is well; see a veterinarian. Do not train today.");
}

#[test]
fn every_answer() {
    let english = Wording::english();
    let answers = [
        Answer::Time { active_s: 61.0, planned_s: 180.0 },
        Answer::Rate { per_min: 7.04, floor_per_min: 6.0 },
        Answer::Count { tries: Tries { rewarded: 3, missed: 0 }, planned: 20 },
        Answer::Treats { given: 1, left: None },
        Answer::Treats { given: 1, left: Some(1) },
        Answer::Treats { given: 10, left: Some(0) },
        Answer::TakesOver { person: "Ada".into() },
        Answer::Refilled { laid_out: None },
        Answer::Refilled { laid_out: Some(40) },
        Answer::Step { number: 2, name: "touches the file".into() },
        Answer::Why { nudge: None, reason: None, held_back: Vec::new() },
        Answer::Begun { number: 2, of: 5, name: "small lift".into() },
        Answer::Now { state: "begun" },
        Answer::Idle { number: 3 },
        Answer::TookBack(Took::Unsure),
        Answer::TookBack(Took::Refilled),
        Answer::TookBack(Took::TakesOver { name: "Ada".into() }),
        Answer::Recap(summary()),
        Answer::Recap(longest()),
    ];
    let said: Vec<String> = answers.iter().map(|answer| english.say(answer)).collect();
    insta::assert_snapshot!(said.join("\n"), @r"
    1 minute of 3 minutes.
    7 a minute. The floor is 6.
    3 tries: 3 rewarded, none missed. Planned: 20 rewarded.
    1 treat given.
    1 treat left.
    None of the treats laid out is left.
    Ada trains from here.
    Treats are counted from here.
    40 treats again.
    Step 2, touches the file.
    There was no nudge yet.
    Begun: step 2 of 5, small lift.
    Begun.
    Nothing changed: try 3 was like that already.
    Took back what was not sure.
    Took back that the pouch was filled again.
    Took back that Ada takes over.
    any animal, any behaviour: 0 tries in 2 minutes 10 seconds: none rewarded, none missed. Next time, begin with step 1. 1 tag to settle in the review.
    Pepino, rests a foot on the nail file while the file moves: 29 tries in 2 minutes 50 seconds: 17 rewarded, 12 missed. 5.9 rewards a minute. Best so far: step 5. It ended on a miss. Next time, go back to step 3. 2 tags to settle in the review.
    ");
    for kind in NudgeKind::ALL {
        assert_ne!(english.nudge(kind), kind.name(), "a nudge without words");
    }
}

#[test]
fn a_recap_says_what_happened_and_then_one_thing_to_do_next() {
    let english = Wording::english();
    let recap = |summary: Summary| {
        let said = english.say(&Answer::Recap(Summary { unsure: 0, ..summary }));
        assert_eq!(said.matches("Next time").count(), 1, "{said}");
        said.split("Best so far: step 5. ").nth(1).unwrap().to_owned()
    };
    let well = || Summary { ended_well: true, ..longest() };
    let nudged = |kind| recap(Summary { main_nudge: Some(kind), ..well() });
    // What the plan's end, a high point or the trainer's own doubt told says nothing of the step.
    for kind in NudgeKind::ALL {
        let what = nudged(kind);
        let rare = matches!(kind, NudgeKind::RateFalling | NudgeKind::PayThisOne);
        let often = kind == NudgeKind::JackpotsOften;
        let happened = if rare {
            "Rewards got rare. "
        } else if often {
            "Jackpots came often. "
        } else {
            ""
        };
        assert_eq!(what, format!("{happened}Next time, go back to step 3."), "{kind:?}");
    }
    let of = |met, missed| recap(Summary { next: Box::new(decided(4, met, missed)), ..well() });
    let last = |met, missed| recap(Summary { next: Box::new(decided(5, met, missed)), ..well() });
    let all = [
        of(0, 0),
        of(2, 1),
        of(19, 1),
        of(12, 8),
        last(19, 1),
        recap(Summary { ended_well: false, ..longest() }),
        recap(Summary { declined_s: Some(130.0), next: Box::new(decided(4, 19, 1)), ..longest() }),
    ];
    insta::assert_snapshot!(all.join("\n"), @r"
    Next time, begin with step 4.
    Next time, stay at step 4.
    Next time, go up to step 5.
    Next time, stay at step 4.
    Next time, ask for step 5 in other places and with other people.
    It ended on a miss. Next time, go back to step 3.
    It declined after 2 minutes 10 seconds. Next time, stop sooner, and go up to step 5.
    ");
}

#[test]
fn the_details() {
    let english = Wording::english();
    let few = Summary { paid: [3, 0, 0], latency_median_s: Some(1.0), ..summary() };
    insta::assert_snapshot!(format!("{}\n{}", english.details(&longest()), english.details(&few)), @r"
    Working on step 4, rests the foot for two seconds. 7 high, 9 low, 1 jackpot. Named so: 2 bonus. Usual latency 1.8 seconds. Longest hold 12 seconds. I told you: The step may be too much. I held back: Few treats are left. It ended on a miss.
    Working on step 1, as it comes. All 3 low. Usual latency 1 second.
    ");
}

#[test]
fn every_line() {
    let english = Wording::english();
    let choice = |days_ago| Choice {
        animal: "Pepino".into(),
        behaviour: "rests a foot".into(),
        days_ago,
        ..Choice::default()
    };
    let (attention, yes) = ("juniper".to_owned(), "yes".to_owned());
    let cut_off = |edited| DialogueLine::CutOff {
        animal: "Pepino".into(),
        minutes: 5,
        tries: Tries { rewarded: 10, missed: 2 },
        go_on: "juniper carry on".into(),
        begin: "juniper begin".into(),
        edited,
    };
    let animal = "Pepino".to_owned();
    let number = |number| Numbered { number, choice: choice(None) };
    let lines = [
        DialogueLine::Which {
            choices: vec![number(1), number(2)],
            more: 0,
            attention: attention.clone(),
        },
        DialogueLine::Which { choices: vec![number(6)], more: 3, attention: attention.clone() },
        DialogueLine::NoSuchNumber { number: 4, last: 3 },
        DialogueLine::NoSuchNumber { number: 4, last: 1 },
        DialogueLine::SayNumber,
        DialogueLine::Chosen { choice: choice(None), attention: attention.clone() },
        DialogueLine::Next { choice: choice(None), yes: yes.clone() },
        DialogueLine::Next { choice: choice(Some(0)), yes: yes.clone() },
        DialogueLine::Next { choice: choice(Some(1)), yes: yes.clone() },
        DialogueLine::Unusable { reason: "There is no step in it.".into() },
        DialogueLine::Waiting { words: "two".into(), attention: attention.clone() },
        DialogueLine::NoSession { attention: attention.clone() },
        DialogueLine::AfterSession,
        DialogueLine::StillGoing { animal: animal.clone(), what: "quit" },
        DialogueLine::StillGoing { animal: animal.clone(), what: "next_plan" },
        DialogueLine::NothingChanged,
        DialogueLine::Dictate { what: "weight" },
        DialogueLine::Dictate { what: "note" },
        DialogueLine::Dictate { what: "change" },
        DialogueLine::ChangeIs { change: "mornings only".into(), yes: yes.clone() },
        DialogueLine::TestAnother { attention: attention.clone() },
        DialogueLine::Noted { text: "he was keen today".into() },
        DialogueLine::NothingHeard,
        DialogueLine::WeightIs {
            animal,
            grams: 92.5,
            yes,
            attention: attention.clone(),
            training: false,
        },
        DialogueLine::NoWeight { text: "rather heavy".into() },
        DialogueLine::WeightKept { grams: 1.0 },
        DialogueLine::WeightNoted { grams: 1200.0 },
        DialogueLine::Captured { behaviour: "rests a foot".into() },
        DialogueLine::InSession {
            person: Some("Ada".into()),
            animal: "Pepino".into(),
            behaviour: "rests a foot".into(),
            minutes: 5,
        },
        DialogueLine::InSession {
            person: None,
            animal: "Pepino".into(),
            behaviour: "rests a foot".into(),
            minutes: 1,
        },
        DialogueLine::SessionTaken,
        cut_off(false),
        cut_off(true),
        DialogueLine::StaysOpen { why: "the disk is full".into() },
        DialogueLine::OldWordsUnknown { why: "there is no model".into() },
        DialogueLine::PastUnknown { why: "the disk reported an error".into() },
        DialogueLine::BeginsAt { number: 2, of: 5, name: "small lift".into() },
        DialogueLine::Voice { change: VoiceChange::Slower },
        DialogueLine::Forgotten { attention: attention.clone() },
        DialogueLine::After { attention },
        DialogueLine::NothingYet,
        DialogueLine::SoundCheck { audibility: Audibility::of(Some(-30.0), Some(-60.0)) },
        DialogueLine::SoundCheck { audibility: Audibility::of(Some(-50.0), Some(-60.0)) },
        DialogueLine::SoundCheck { audibility: Audibility::of(Some(-3.0), Some(-60.0)) },
        DialogueLine::SoundCheck { audibility: Audibility::of(None, None) },
        DialogueLine::Goodbye,
        DialogueLine::Over { words: "yes".into() },
    ];
    let said: Vec<String> = lines.iter().map(|line| english.line(line)).collect();
    insta::assert_snapshot!(said.join("\n"), @r"
    Which one? 1: Pepino, rests a foot. 2: Pepino, rests a foot.
    Which one? 6: Pepino, rests a foot. 3 more: say juniper, next plan.
    There is no 4. They go up to 3.
    There is no 4. There is only one.
    Say its number, please.
    Pepino, rests a foot. Say juniper, begin; or just mark the first one.
    Next: Pepino, rests a foot, not trained yet. Say yes, or next plan again for the list.
    Next: Pepino, rests a foot, last trained today. Say yes, or next plan again for the list.
    Next: Pepino, rests a foot, last trained 1 day ago. Say yes, or next plan again for the list.
    That plan cannot be used. There is no step in it.
    Nothing is kept yet: no plan is chosen. Say juniper, begin.
    No session is under way. Say juniper, begin.
    After the session, please.
    The session with Pepino is still going on. Say it again to end it and close down.
    The session with Pepino is still going on. Say it again to end it.
    Nothing was changed.
    How many grams?
    I am writing.
    No change is being tested. What will be changed?
    Test this change: mornings only? Say yes, and a lot draws the session at which you make it.
    To test another change, say juniper, fair test, once more.
    Noted: he was keen today.
    I heard nothing. Nothing was noted.
    Pepino, 92.5 grams? Say yes to keep it.
    I heard: rather heavy. There is no single weight in it, so it was kept as a note.
    1 gram, kept.
    1.2 kilograms was not confirmed. It was kept as a note.
    Captured: rests a foot, offered without a cue.
    Ada has been in session with Pepino, rests a foot, for 5 minutes. What you say here is kept as a session of its own.
    Another program has been in session with Pepino, rests a foot, for 1 minute. What you say here is kept as a session of its own.
    Another program has ended this session. From here on it is kept as a session of its own; nothing is lost.
    A session with Pepino was cut off 5 minutes ago, after 12 tries: 10 rewarded, 2 missed. Say juniper carry on to go on with it, or juniper begin for a new one.
    A session with Pepino was cut off 5 minutes ago, after 12 tries: 10 rewarded, 2 missed. The plan was changed since then. Say juniper carry on to go on by the plan as it was, or juniper begin for a new session by the plan as it is now.
    The session before stays open: the disk is full
    The words of the plan as it was cannot be listened for, so say those of the plan as it is now: there is no model
    The record of earlier sessions cannot be read, so this one begins as if it were the first: the disk reported an error
    Step 2 of 5, small lift.
    Slower, like this.
    I heard nothing for a long time and paused the session. Say juniper, carry on.
    Say juniper, begin for another one; next plan; or close down.
    There is no session to read back yet.
    I hear you well.
    I hear you badly. Come nearer to the microphone, or make the room quieter.
    You are too loud for the microphone. Move it away a little.
    I have not heard enough yet. Ask again.
    Everything is kept. Goodbye.
    Closing down; yes was not kept.
    ");
    for (change, words) in [
        (VoiceChange::Faster, "Faster, like this."),
        (VoiceChange::Louder, "Louder, like this."),
        (VoiceChange::Quieter, "Quieter, like this."),
    ] {
        assert_eq!(english.line(&DialogueLine::Voice { change }), words);
    }
}

#[test]
fn every_line_of_the_sound_check() {
    use crate::soundcheck::{Advice, EarKind, Missed, NotSure, SoundcheckLine};
    let english = Wording::english();
    let (yes, no, name) = ("yes".to_owned(), "miss".to_owned(), "headset".to_owned());
    let missed = |taken_for: Option<&str>| Missed {
        phrase: "calm".into(),
        taken_for: taken_for.map(str::to_owned),
    };
    let not_sure = |taken_for: Option<&str>, instead: &[&str]| NotSure {
        missed: missed(taken_for),
        instead: instead.iter().map(|word| (*word).to_owned()).collect(),
    };
    let level = |verdict, above_db, again| SoundcheckLine::Level {
        verdict,
        speech_dbfs: -30.0,
        above_db,
        again,
        yes: yes.clone(),
    };
    let keep = |ear: Option<&str>, ear_kind, voice| SoundcheckLine::Keep {
        mic: name.clone(),
        ear: ear.map(str::to_owned),
        ear_kind,
        voice,
        yes: yes.clone(),
    };
    let advice = vec![
        Advice::Nearer,
        Advice::LowerGain,
        Advice::OtherMicrophone,
        Advice::Earphone,
        Advice::OtherWords {
            words: vec![
                not_sure(Some("come"), &["meadow", "pencil"]),
                not_sure(Some("calm"), &["willow"]),
                not_sure(None, &[]),
            ],
        },
        Advice::OtherWords { words: vec![not_sure(None, &["meadow"]); 6] },
    ];
    let lines = [
        SoundcheckLine::There { mics: vec!["default".into(), name.clone()], ears: Vec::new() },
        SoundcheckLine::BeQuiet,
        SoundcheckLine::MicFailed { name: name.clone(), why: "It is busy.".into() },
        SoundcheckLine::NextMic { name: name.clone() },
        SoundcheckLine::NoMic,
        SoundcheckLine::Noise { dbfs: -61.6 },
        SoundcheckLine::SayWord { yes: yes.clone() },
        SoundcheckLine::SayAgain { yes: yes.clone() },
        level(AudibilityVerdict::Well, 31.2, false),
        level(AudibilityVerdict::Noisy, 9.0, true),
        level(AudibilityVerdict::Noisy, 9.0, false),
        level(AudibilityVerdict::Loud, 50.0, true),
        level(AudibilityVerdict::Unknown, 0.0, true),
        SoundcheckLine::WhichEar { count: 1, yes: yes.clone() },
        SoundcheckLine::WhichEar { count: 3, yes: yes.clone() },
        SoundcheckLine::Playing { name: name.clone() },
        SoundcheckLine::EarFailed { name: name.clone(), why: "It is busy.".into() },
        SoundcheckLine::NoEar,
        SoundcheckLine::WhichKind { yes: yes.clone(), no },
        SoundcheckLine::KindOpen,
        SoundcheckLine::Instead {
            words: vec![not_sure(None, &["meadow", "pencil"]), not_sure(None, &[])],
        },
        SoundcheckLine::Words { count: 20 },
        SoundcheckLine::Word { phrase: "calm".into() },
        SoundcheckLine::WordHeard { phrase: "calm".into() },
        SoundcheckLine::WordMissed { missed: missed(Some("come")), again: true },
        SoundcheckLine::WordMissed { missed: missed(None), again: false },
        SoundcheckLine::WordMissed { missed: missed(Some("calm")), again: false },
        SoundcheckLine::WordsLeftOut,
        SoundcheckLine::Heard { right: 20, of: 20, advice: Vec::new() },
        SoundcheckLine::Heard { right: 18, of: 20, advice },
        SoundcheckLine::Voice {
            attention: "juniper".into(),
            phrases: ["slower", "faster", "louder", "quieter"].map(str::to_owned).to_vec(),
            yes: yes.clone(),
            no: Some("miss".into()),
        },
        SoundcheckLine::OtherVoice { yes: yes.clone(), no: "miss".into() },
        SoundcheckLine::Changed { change: VoiceChange::Slower, yes: yes.clone() },
        keep(None, None, false),
        keep(Some("bud"), None, true),
        keep(Some("bud"), Some(EarKind::Earphone), true),
        keep(Some("box"), Some(EarKind::Loudspeaker), true),
        SoundcheckLine::Kept,
        SoundcheckLine::NotKept,
        SoundcheckLine::Unsaved { why: "the disk is full".into() },
        SoundcheckLine::NotNow { words: "two".into() },
    ];
    let said: Vec<String> = lines.iter().map(|line| english.check(line)).collect();
    insta::assert_snapshot!(said.join("\n"), @r#"
    Microphones: default, headset. Outputs: none.
    Sound check. Please be quiet for three seconds.
    The microphone headset does not open. It is busy.
    I have heard nothing so far. Now the microphone headset. Please be quiet for three seconds.
    I can't hear you on any microphone. Plug one in or switch it on, and check again. Nothing was kept.
    the room's noise: -62 dBFS (0 is the loudest that can be recorded)
    Now say yes, as you do in training.
    I heard that. Once more, please, after me: yes.
    I hear you well: -30 dBFS, 31 decibels above the room; 15 or more are good.
    I hear you badly: -30 dBFS, 9 decibels above the room; 15 or more are good. Come nearer to the microphone, or make the room quieter. Then say yes again.
    I hear you badly: -30 dBFS, 9 decibels above the room; 15 or more are good. Come nearer to the microphone, or make the room quieter.
    You are too loud for the microphone: -30 dBFS, 50 decibels above the room; 15 or more are good. Move the microphone away, or turn its gain down. Then say yes again.
    I have not heard enough: -30 dBFS, 0 decibels above the room; 15 or more are good. Then say yes again.
    A soft sound comes now. Say yes when you hear it where you want it.
    Soft sounds come now, on 3 outputs. Say yes after the one you want.
    a soft sound on headset
    headset does not open: It is busy.
    You chose no output. I leave it as it is; everything stands on the screen too.
    Do only you hear this? Say yes for an earphone, miss for a loudspeaker.
    not answered; it is found out in training whether the microphone hears it
    words that may take their place: calm: meadow or pencil; calm: none known
    Now 20 words. Say each one after me.
    calm
    heard: calm
    not heard: calm (taken for "come"); once more
    not heard: calm
    not heard surely: calm
    I do not hear you any more, so I leave the other words out.
    I heard 20 of 20 words.
    I heard 18 of 20 words. Come nearer to the microphone, or make the room quieter. Turn the microphone's gain down, or move it away. That is few, at a right level: try another microphone. On a loudspeaker nudges stay silent, since the animal hears them; one earphone is better. Not heard surely: calm, as come, better meadow or pencil; calm, better willow; calm. Words are changed in the plan. Not heard surely: calm; calm; calm; calm; calm; calm. Words are changed in the plan.
    This is how I speak. Say juniper and slower, faster, louder, or quieter; miss for another voice; yes when it is right.
    This is another voice: nine of ten, step two. Say yes when it is right, miss for the next one.
    Slower, like this. Say yes when it is right.
    Microphone: headset. Say yes to keep this.
    Microphone: headset. Output: bud. The voice as it is now. Say yes to keep this.
    Microphone: headset. Output: bud, an earphone. The voice as it is now. Say yes to keep this.
    Microphone: headset. Output: box, a loudspeaker. The voice as it is now. Say yes to keep this.
    Kept. Training uses it from now on.
    Nothing was kept; all is as it was.
    It could not be kept: the disk is full
    heard, and not asked for now: two
    "#);
}

#[test]
fn a_language_without_a_folder_and_a_sentence_without_a_translation_are_english() {
    let answer = Answer::Step { number: 2, name: "x".into() };
    assert_eq!(Wording::of("xx_YY.UTF-8").say(&answer), "Step 2, x.");
    let mut prompts = Prompts::default();
    for file in LANGUAGES[0].1 {
        prompts.add(Prompts::parse(file));
    }
    prompts.add(Prompts::parse("step = \"Schritt {{ number }}: {{ name }}.\""));
    let partly = Wording(Sentences::from_prompts(prompts).into());
    assert_eq!(partly.say(&answer), "Schritt 2: x.");
    assert_eq!(partly.say(&Answer::Now { state: "begun" }), "Begun.");
}

#[test]
fn every_line_of_a_lesson() {
    use crate::lesson::LessonLine;
    let english = Wording::english();
    let phrase = "yes".to_owned();
    let told = [
        LessonLine::Begin { phrases: 2, times: 5 },
        LessonLine::Say { phrase: phrase.clone() },
        LessonLine::Taken { take: 1, of: 5 },
        LessonLine::Unfit { phrase: phrase.clone() },
        LessonLine::Unlike { phrase: phrase.clone() },
        LessonLine::FromScratch { phrase: phrase.clone() },
        LessonLine::LeftOut { phrase },
        LessonLine::Talk,
        LessonLine::Gone,
        LessonLine::Done { learnt: 1, unsteady: String::new() },
        LessonLine::Done { learnt: 2, unsteady: "yes".to_owned() },
    ]
    .map(|line| english.lesson(&line));
    insta::assert_snapshot!(told.join("\n"), @r"
    I will learn 2 words, 5 times each. A soft tone means: I have it, once more.
    Say: yes.
    1 of 5
    That was too short, too long, or too loud. Once more: yes.
    That was unlike the others. Once more: yes.
    Then we begin yes again from the first time.
    I heard nothing, so yes is left out.
    Now talk about anything for half a minute, in short sentences, without these words.
    Nobody seems to be there. What was learnt so far is kept.
    Learnt: 1 word.
    Learnt: 2 words. Not steady yet: yes. Say these the same way each time, or choose another sound.
    ");
}

mod english;
mod health;
mod longest;
mod over_time;
mod settle;

#[test]
fn a_closer_look_is_told_in_sentences_and_what_says_nothing_is_not() {
    use crate::history::closer::{Closer, Hands, Jackpots, Minute, Minutes, Pays, ToCriterion};
    use crate::history::{AnimalHistory, Found, Ladder, length};
    use crate::plan::{Plan, RewardValue};
    use crate::stats::Estimate;
    let about = |point: f64, low: f64, high: f64| Estimate { point, low, high, n: 100 };
    let minute = |minute, share, took| Minute { minute, share, took_s: Some(took) };
    let hands = |person: &str, marker_to_cue_s| Hands {
        person: person.into(),
        sessions: 8,
        cue_to_cue_s: None,
        marker_to_cue_s,
        try_to_try_s: None,
        unsaid: Some(about(0.12, 0.08, 0.18)),
    };
    let closer = Closer {
        minutes: Minutes {
            latest: vec![
                minute(1, about(0.82, 0.75, 0.88), about(2.1, 1.9, 2.4)),
                minute(3, about(0.61, 0.5, 0.71), about(3.0, 2.6, 3.5)),
            ],
            before: Vec::new(),
            sessions: 20,
            from_cue: true,
        },
        to_criterion: ToCriterion {
            took: vec![3, 4, 5],
            usual: Found::Known(about(3.9, 1.6, 9.5)),
            so_far: Some(11),
            beyond: true,
        },
        pays: vec![Pays {
            value: RewardValue::High,
            what: "a sunflower heart".into(),
            next_s: about(3.2, 3.0, 3.5),
            quickest: true,
            wanes: Some(about(1.4, 1.2, 1.7)),
        }],
        jackpots: Some(Jackpots { jackpots: 4, more_met: about(0.05, -0.3, 0.4) }),
        hands: vec![hands("Ada", Some(about(4.0, 3.6, 4.4))), hands("Ben", None)],
    };
    let looked = Wording::english().look(&closer);
    insta::assert_snapshot!(looked.all().collect::<Vec<_>>().join("\n"), @r"
    In the latest 20 sessions, 82 of 100 tries are met in the first minute (75 to 88), 61 in minute 3 (50 to 71). An answer takes 2.1 seconds at first (1.9 to 2.4), 3 seconds then (2.6 to 3.5).
    A step takes about 4 sessions, the next one 2 to 10. The present one has had 11 sessions: longer than this animal's steps take.
    After a sunflower heart the next try comes in 3.2 seconds (3 to 3.5), quicker than after anything else. Late in a session it takes 1.4 times as long (1.2 to 1.7): it wanes.
    Ada: 4 seconds from the marker to the next cue (3.6 to 4.4). Of 100 cues, 12 had neither a marker nor a miss said after them (8 to 18).
    ");
    let plan = Plan::of_default_words();
    let nothing = AnimalHistory::new("A", "s", vec![Ladder::of(1, &plan)], Vec::new());
    let length = length::advise(&nothing, "b", &plan.limits);
    assert_eq!(
        Wording::english().stays_good(&length),
        "How long it stays good is not known: not enough sessions yet: 5 needed, 0 so far."
    );
    assert!(!Wording::english().nothing_yet().is_empty());
}
