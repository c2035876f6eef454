//! What takes the stage for a while, and tests of a cue.

use super::*;
use crate::history::cue::Given;

const ALL: [(Command, Aside); 4] = [
    (Command::Settle, Aside::Settle),
    (Command::Quiz, Aside::Quiz),
    (Command::Learn, Aside::Lesson),
    (Command::SetUp, Aside::SetUp),
];

#[test]
fn a_command_lets_it_take_the_stage_and_afterwards_we_are_where_we_were() {
    for (command, aside) in ALL {
        let mut dialogue = open(1);
        let began = dialogue.handle(secs(1), DialogueInput::command(command));
        assert_eq!(began, [DialogueEffect::Aside(aside)]);
        let back = dialogue.handle(secs(90), DialogueInput::Back { trouble: None });
        assert!(matches!(&back[..], [DialogueEffect::Say(DialogueLine::Back { .. })]), "{back:?}");
        let why = "no microphone".to_owned();
        let back = dialogue.handle(secs(90), DialogueInput::Back { trouble: Some(why.clone()) });
        assert_eq!(back[0], DialogueEffect::Say(DialogueLine::AsideFailed { why }));
        assert_eq!((dialogue.place(), dialogue.question()), (Place::Ready(0), None));
        assert_eq!(passes(&dialogue.handle(secs(91), DialogueInput::command(Command::Begin))), 1);
    }
}

#[test]
fn in_a_session_it_has_to_wait() {
    for (command, _) in ALL {
        let mut dialogue = training();
        let effects = dialogue.handle(secs(3), DialogueInput::command(command));
        assert!(effects.contains(&DialogueEffect::Say(DialogueLine::AfterSession)));
        let begins = |effect: &DialogueEffect| matches!(effect, DialogueEffect::Aside(_));
        assert!(!effects.iter().any(begins), "{effects:?}");
    }
}

#[test]
fn while_choosing_a_lesson_asks_of_which_plan_and_afterwards_the_list_is_read_again() {
    let mut dialogue = open(3);
    let asked = dialogue.handle(secs(1), DialogueInput::command(Command::Learn));
    assert!(matches!(&asked[..], [DialogueEffect::Say(DialogueLine::Which { .. })]), "{asked:?}");
    let chosen = dialogue.handle(secs(2), say(number(2)));
    assert_eq!(chosen, [DialogueEffect::Load(1), DialogueEffect::Aside(Aside::Lesson)]);
    let mut dialogue = open(3);
    let began = dialogue.handle(secs(1), DialogueInput::command(Command::Quiz));
    assert_eq!(began, [DialogueEffect::Aside(Aside::Quiz)]);
    let back = dialogue.handle(secs(60), DialogueInput::Back { trouble: None });
    assert!(matches!(&back[..], [DialogueEffect::Say(DialogueLine::Which { .. })]), "{back:?}");
}

/// The answers by yes and no, and what is kept.
#[test]
fn a_test_of_a_cue_is_told_by_yes_and_no() {
    let no = || Said::Miss(Details::default());
    let table = [
        (vec![marker(), marker()], Given::Own, true),
        (vec![marker(), no()], Given::Own, false),
        (vec![no(), marker(), no()], Given::Other, false),
        (vec![no(), no(), marker()], Given::None, true),
        (vec![no(), no(), no()], Given::None, false),
    ];
    for (answers, given, came) in table {
        let mut dialogue = open(1);
        let mut effects = dialogue.handle(secs(1), DialogueInput::command(Command::Probe));
        for (answer, at) in answers.into_iter().zip(2..) {
            assert!(matches!(&effects[..], [DialogueEffect::Say(DialogueLine::ProbeAsk { .. })]));
            effects = dialogue.handle(secs(at), say(answer));
        }
        assert_eq!(effects, [DialogueEffect::Probe { given, came }]);
        assert_eq!(dialogue.question(), None);
    }
}

#[test]
fn half_a_test_of_a_cue_is_none() {
    let kept = |effect: &DialogueEffect| matches!(effect, DialogueEffect::Probe { .. });
    let mut dialogue = open(1);
    let _asked = dialogue.handle(secs(1), DialogueInput::command(Command::Probe));
    let _asked = dialogue.handle(secs(2), say(marker()));
    let effects = dialogue.pass(secs(300));
    assert!(!effects.iter().any(kept) && dialogue.question().is_none(), "{effects:?}");
    let effects = training().handle(secs(3), DialogueInput::command(Command::Probe));
    assert!(effects.contains(&DialogueEffect::Say(DialogueLine::AfterSession)), "{effects:?}");
}
