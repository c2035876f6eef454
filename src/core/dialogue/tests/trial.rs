//! Testing a change of plan by voice.

use super::*;

fn test_change(dialogue: &mut Dialogue, at: u64) -> Vec<DialogueEffect> {
    dialogue.handle(secs(at), DialogueInput::command(Command::TestChange))
}

fn told(dialogue: &mut Dialogue, at: u64, trials: Trials) -> Vec<DialogueEffect> {
    dialogue.handle(secs(at), DialogueInput::Trials(trials))
}

fn dictate(dialogue: &mut Dialogue, at: u64) -> Vec<DialogueEffect> {
    dialogue.handle(secs(at), DialogueInput::Dictated { text: "mornings only".into() })
}

fn begun(effects: &[DialogueEffect]) -> bool {
    effects.iter().any(|effect| matches!(effect, DialogueEffect::BeginTrial { .. }))
}

#[test]
fn a_test_is_begun_by_its_command_the_change_in_words_and_a_yes() {
    let mut dialogue = open(1);
    assert_eq!(test_change(&mut dialogue, 1), [DialogueEffect::Trials]);
    let asked = told(&mut dialogue, 1, Trials::None);
    assert_eq!(
        asked,
        [DialogueEffect::Say(DialogueLine::Dictate { what: "change" }), DialogueEffect::Dictate]
    );
    let back = dictate(&mut dialogue, 5);
    let (change, yes) = ("mornings only".to_owned(), "yes".to_owned());
    assert_eq!(back, [DialogueEffect::Say(DialogueLine::ChangeIs { change: change.clone(), yes })]);
    assert_eq!(dialogue.handle(secs(9), say(marker())), [DialogueEffect::BeginTrial { change }]);
    assert_eq!((dialogue.question(), dialogue.place()), (None, Place::Ready(0)));
}

#[test]
fn without_a_yes_nothing_is_drawn_and_what_was_dictated_is_a_note() {
    let note = DialogueEffect::Note("mornings only".into());
    let asked = || {
        let mut dialogue = open(1);
        let _told = test_change(&mut dialogue, 1);
        let _asked = told(&mut dialogue, 1, Trials::None);
        let _back = dictate(&mut dialogue, 5);
        dialogue
    };
    let ran_out = asked().pass(secs(100));
    assert!(ran_out.contains(&note) && !begun(&ran_out), "{ran_out:?}");
    let no = asked().handle(secs(8), say(Said::Miss(Details::default())));
    assert!(no.contains(&note) && no.contains(&DialogueEffect::Dictate), "{no:?}");
    let another = asked().handle(secs(8), DialogueInput::command(Command::Begin));
    assert!(another.contains(&note) && passes(&another) == 1 && !begun(&another), "{another:?}");
    // About how it sounds: the question waits.
    let mut dialogue = asked();
    let _slower = dialogue.handle(secs(8), DialogueInput::command(Command::Slower));
    assert!(begun(&dialogue.handle(secs(9), say(marker()))));
}

#[test]
fn while_one_goes_on_none_is_begun_and_after_a_result_the_command_once_more_begins_one() {
    let mut dialogue = open(1);
    let _told = test_change(&mut dialogue, 1);
    assert!(told(&mut dialogue, 1, Trials::GoOn).is_empty());
    assert_eq!(test_change(&mut dialogue, 5), [DialogueEffect::Trials]);
    let over = told(&mut dialogue, 5, Trials::Over);
    assert!(
        matches!(over[..], [DialogueEffect::Say(DialogueLine::TestAnother { .. })]),
        "{over:?}"
    );
    let again = test_change(&mut dialogue, 9);
    assert_eq!(
        again,
        [DialogueEffect::Say(DialogueLine::Dictate { what: "change" }), DialogueEffect::Dictate]
    );
}

#[test]
fn it_waits_for_the_end_of_a_session_and_for_a_plan() {
    let in_session = test_change(&mut training(), 10);
    assert!(
        in_session.contains(&DialogueEffect::Say(DialogueLine::AfterSession)),
        "{in_session:?}"
    );
    let mut dialogue = open(3);
    let which = test_change(&mut dialogue, 1);
    assert!(matches!(which[..], [DialogueEffect::Say(DialogueLine::Which { .. })]), "{which:?}");
    let chosen = dialogue.handle(secs(2), say(number(2)));
    assert_eq!(chosen, [DialogueEffect::Load(1), DialogueEffect::Trials]);
}
