//! What is said of the animal's health, before, in and after a session.

use super::*;
use crate::history::body::{Fact, Noted, read};

fn concern() -> Alarm {
    open_of(Fact::Ill("sneezes".into()))
}

fn open_of(fact: Fact) -> Alarm {
    let day = jiff::civil::date(2026, 3, 1);
    read(&[Noted { day, fact }], day).concerns().remove(0)
}

fn dictate(dialogue: &mut Dialogue, at: u64, text: &str) -> Vec<DialogueEffect> {
    dialogue.handle(secs(at), DialogueInput::Dictated { text: text.into() })
}

fn ready() -> Dialogue {
    open(1)
}

fn kept(effects: &[DialogueEffect]) -> Vec<(Health, &str)> {
    let kept = effects.iter().filter_map(|effect| match effect {
        DialogueEffect::Health { what, text } => Some((*what, text.as_str())),
        DialogueEffect::Concern { yes: true, text } => Some((Health::Concern, text.as_str())),
        DialogueEffect::Concern { yes: false, text } => Some((Health::NoConcern, text.as_str())),
        _ => None,
    });
    kept.collect()
}

fn asks(effects: &[DialogueEffect]) -> Option<(&[String], How)> {
    effects.iter().find_map(|effect| match effect {
        DialogueEffect::Say(DialogueLine::SignsNoted { words, how, .. }) => {
            Some((words.as_slice(), *how))
        }
        _ => None,
    })
}

#[test]
fn with_an_open_concern_no_tag_begins_and_the_command_is_needed_twice() {
    let mut dialogue = open(2);
    let _chosen = dialogue.handle(secs(1), say(number(1)));
    let told = dialogue.handle(secs(2), DialogueInput::Concerns(vec![concern()]));
    assert!(matches!(&told[..], [DialogueEffect::Say(DialogueLine::Concerned { .. })]), "{told:?}");
    assert_eq!(
        dialogue.handle(secs(3), DialogueInput::Concerns(vec![concern()])),
        [],
        "told already"
    );
    for said in [marker(), Said::Miss(Details::default()), Said::Cue] {
        assert_eq!(passes(&dialogue.handle(secs(4), say(said))), 0);
    }
    let begin = |dialogue: &mut Dialogue, at| {
        passes(&dialogue.handle(secs(at), DialogueInput::command(Command::Begin)))
    };
    assert_eq!(begin(&mut dialogue, 10), 0);
    // Too late: it is asked again.
    assert_eq!(begin(&mut dialogue, 100), 0);
    assert_eq!(begin(&mut dialogue, 105), 1);
    // Another session takes it twice again; well again, once.
    let _begun = dialogue.handle(secs(106), DialogueInput::Began);
    let _ended = dialogue.handle(secs(200), DialogueInput::Ended);
    assert_eq!(begin(&mut dialogue, 210), 0);
    let _well = dialogue.handle(secs(211), DialogueInput::Concerns(Vec::new()));
    assert_eq!(begin(&mut dialogue, 212), 1);
}

#[test]
fn a_sign_in_a_note_is_shown_back_and_asked_about() {
    for (answer, what) in
        [(marker(), Health::Concern), (Said::Miss(Details::default()), Health::NoConcern)]
    {
        let mut dialogue = ready();
        let _asked = dialogue.handle(secs(1), DialogueInput::command(Command::Note));
        let out = dictate(&mut dialogue, 5, "blood and limping");
        assert_eq!(
            out[0],
            DialogueEffect::Note("blood and limping".into()),
            "kept as a note in any case"
        );
        assert_eq!(asks(&out), Some((&["blood".to_owned(), "limping".into()][..], How::Yes)));
        let answered = dialogue.handle(secs(9), say(answer));
        assert_eq!(kept(&answered), [(what, "blood and limping")]);
        assert_eq!(passes(&answered), 0, "the answer is not a try");
    }
    let mut dialogue = ready();
    let _asked = dialogue.handle(secs(1), DialogueInput::command(Command::Note));
    assert_eq!(asks(&dictate(&mut dialogue, 5, "he was keen today")), None);
}

#[test]
fn in_a_session_no_tag_answers_it_but_its_command_does_and_afterwards_it_is_asked_again() {
    let mut dialogue = training();
    let _asked = dialogue.handle(secs(10), DialogueInput::command(Command::Note));
    let out = dictate(&mut dialogue, 15, "blood on the perch");
    assert_eq!(asks(&out).map(|(_, how)| how), Some(How::Command));
    let tag = dialogue.handle(secs(16), say(marker()));
    assert_eq!((kept(&tag).len(), passes(&tag)), (0, 1));
    let mut later = dialogue.clone();
    // By its command, also after some tries.
    let said = dialogue.handle(secs(20), DialogueInput::command(Command::Concern));
    assert_eq!(kept(&said), [(Health::Concern, "blood on the perch")]);
    let ended = dialogue.handle(secs(30), DialogueInput::Ended);
    assert_eq!(asks(&ended), None, "answered");
    // Without it, after the session, by yes or no.
    let ended = later.handle(secs(30), DialogueInput::Ended);
    assert_eq!(asks(&ended).map(|(_, how)| how), Some(How::Yes));
    assert_eq!(kept(&later.handle(secs(33), say(marker()))).len(), 1);
}

#[test]
fn an_earlier_note_that_nobody_answered_is_asked_about_when_the_animal_is_chosen() {
    let words = vec!["blood".to_owned()];
    let note = open_of(Fact::Signs { text: "blood on the perch".into(), words });
    let mut dialogue = open(2);
    let _chosen = dialogue.handle(secs(1), say(number(1)));
    let told = dialogue.handle(secs(2), DialogueInput::Concerns(vec![note]));
    assert_eq!(asks(&told).map(|(_, how)| how), Some(How::Yes));
    let no = dialogue.handle(secs(5), say(Said::Miss(Details::default())));
    assert_eq!(kept(&no), [(Health::NoConcern, "blood on the perch")]);
}

#[test]
fn ill_sore_food_and_a_weight_are_kept_before_in_and_after_a_session() {
    let after = || {
        let mut dialogue = training();
        let _ended = dialogue.handle(secs(100), DialogueInput::Ended);
        dialogue
    };
    for make in [ready, training, after] {
        for (command, what) in [
            (Command::Ill, Health::Ill),
            (Command::Sore, Health::Sore),
            (Command::Concern, Health::Concern),
            (Command::Food, Health::Food),
        ] {
            let mut dialogue = make();
            let asked = dialogue.handle(secs(101), DialogueInput::command(command));
            assert!(asked.contains(&DialogueEffect::Dictate), "{command:?}: {asked:?}");
            let out = dictate(&mut dialogue, 105, "two words");
            assert_eq!(kept(&out), [(what, "two words")]);
            // Whoever says no more has said it all the same.
            let _asked = dialogue.handle(secs(110), DialogueInput::command(command));
            let silent = dictate(&mut dialogue, 115, "");
            let expected: &[_] = if what == Health::Food { &[] } else { &[(what, "")] };
            assert_eq!(kept(&silent), expected);
        }
        let mut dialogue = make();
        let asked = dialogue.handle(secs(101), DialogueInput::command(Command::Weight));
        assert!(asked.contains(&DialogueEffect::Dictate), "{asked:?}");
        let _back = dictate(&mut dialogue, 105, "ninety two");
        let confirm = match dialogue.place() {
            Place::Training(_) => DialogueInput::command(Command::Weight),
            _ => say(marker()),
        };
        let out = dialogue.handle(secs(108), confirm);
        assert!(
            out.iter().any(|effect| matches!(effect, DialogueEffect::Weight { .. })),
            "{out:?}"
        );
    }
}

#[test]
fn well_again_is_asked_back_while_something_is_open() {
    let mut dialogue = ready();
    let well = |dialogue: &mut Dialogue, at| {
        dialogue.handle(secs(at), DialogueInput::command(Command::Well))
    };
    assert_eq!(kept(&well(&mut dialogue, 1)), [(Health::Well, "")]);
    let _told = dialogue.handle(secs(2), DialogueInput::Concerns(vec![concern()]));
    assert_eq!(kept(&well(&mut dialogue, 3)), []);
    assert_eq!(kept(&dialogue.handle(secs(8), say(marker()))), [(Health::Well, "")]);
    let mut training = training();
    let _told = training.handle(secs(10), DialogueInput::Concerns(vec![concern()]));
    assert_eq!(kept(&well(&mut training, 11)), []);
    assert_eq!(kept(&well(&mut training, 15)), [(Health::Well, "")]);
}

#[test]
fn a_plan_may_ask_to_look_at_the_animal_before_the_first_try() {
    let choice = Choice { animal: "Pepino".into(), look_first: true, ..Choice::default() };
    let (mut dialogue, _) = Dialogue::open(vec![choice], "juniper", "yes");
    let begin = |dialogue: &mut Dialogue, at| {
        dialogue.handle(secs(at), DialogueInput::command(Command::Begin))
    };
    let asked = begin(&mut dialogue, 1);
    assert!(matches!(asked[..], [DialogueEffect::Say(DialogueLine::Hold { .. })]), "{asked:?}");
    assert_eq!(passes(&begin(&mut dialogue, 6)), 1);
}
