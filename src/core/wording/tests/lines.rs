//! What the dialogue says, as it is said.

use super::*;

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
        DialogueLine::InOrder { behaviours: vec!["turn".into(), "wave".into(), "turn".into()] },
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
    Easy, hard, easy: turn, wave, turn.
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
