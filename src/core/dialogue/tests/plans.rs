//! A plan made and changed by voice, help, and what was probably meant.

use super::*;
use crate::plan::Moment;
use crate::wording::Wording;

fn dictate(dialogue: &mut Dialogue, at: u64, text: &str) -> Vec<DialogueEffect> {
    dialogue.handle(secs(at), DialogueInput::Dictated { text: text.into() })
}

fn asks(effects: &[DialogueEffect]) -> Option<Part> {
    effects.iter().find_map(|effect| match effect {
        DialogueEffect::Say(DialogueLine::DraftAsk { part, .. }) => Some(*part),
        _ => None,
    })
}

/// Answers to every part, in order.
const ANSWERS: [&str; 8] = [
    "his name is pepino",
    "a cockatiel",
    "rests a foot on the file",
    "looks at the file",
    "steps towards it",
    "touches it",
    "a millet grain",
    "sunflower hearts",
];

/// A plan of which everything was answered.
fn answered() -> (Dialogue, Vec<DialogueEffect>) {
    let (mut dialogue, first) = Dialogue::open(Vec::new(), "juniper", "yes");
    assert_eq!(asks(&first), Some(Part::Animal), "without a plan it begins with one");
    assert_eq!(first.last(), Some(&DialogueEffect::Dictate));
    let mut effects = first;
    for (part, answer) in Part::ALL.into_iter().zip(ANSWERS) {
        assert_eq!(asks(&effects), Some(part));
        effects = dictate(&mut dialogue, 1, answer);
    }
    (dialogue, effects)
}

#[test]
fn without_a_plan_one_is_made_by_voice_read_back_and_kept_when_confirmed() {
    let (mut dialogue, effects) = answered();
    let [_, DialogueEffect::Say(line @ DialogueLine::DraftIs { plan, .. })] = &effects[..] else {
        panic!("{effects:?}")
    };
    assert_eq!((plan.animal.as_str(), plan.species.as_str()), ("Pepino", "cockatiel"));
    assert_eq!(plan.steps, ["looks at the file", "steps towards it", "touches it"]);
    assert_eq!(plan.better_treat.as_deref(), Some("sunflower hearts"));
    insta::assert_snapshot!(Wording::english().line(line), @"Pepino, cockatiel: rests a foot on the file. Step 1: looks at the file. Step 2: steps towards it. Step 3: touches it. Treat: a millet grain. Better: sunflower hearts. Say yes to keep it, miss to change a part.");
    let plan = plan.clone();
    let text = crate::plan::fresh(&plan);
    let parsed = Plan::parse("p.toml", &text).unwrap();
    assert_eq!(parsed.rewards.jackpot.what, "sunflower hearts");
    // Nothing is written before it is confirmed, and what cannot be written is not lost.
    assert_eq!(dialogue.handle(secs(2), say(marker())), [DialogueEffect::MakePlan(plan)]);
    let failed = DialogueInput::PlanMade(Err("the disk is full".into()));
    let _told = dialogue.handle(secs(3), failed);
    let again = dialogue.handle(secs(4), DialogueInput::command(Command::NewPlan));
    assert!(matches!(again[..], [DialogueEffect::Say(DialogueLine::DraftIs { .. })]), "{again:?}");
    let _confirmed = dialogue.handle(secs(5), say(marker()));
    let made = Choice { animal: "Pepino".into(), ..Choice::default() };
    let effects = dialogue.handle(secs(6), DialogueInput::PlanMade(Ok(made)));
    assert!(effects.contains(&DialogueEffect::Load(0)), "{effects:?}");
    assert_eq!(dialogue.place(), Place::Ready(0));
}

#[test]
fn a_part_is_asked_for_again_gone_back_to_left_out_and_changed_after_the_read_back() {
    let (mut dialogue, _) = Dialogue::open(Vec::new(), "juniper", "yes");
    assert_eq!(asks(&dictate(&mut dialogue, 1, "pepper")), Some(Part::Species));
    let back = dialogue.handle(secs(2), say(Said::Miss(Details::default())));
    assert_eq!(asks(&back), Some(Part::Animal));
    assert_eq!(asks(&dictate(&mut dialogue, 3, "Pepino")), Some(Part::Species));
    // The species is needed; twice in silence, and it waits until it is asked for.
    assert_eq!(asks(&dictate(&mut dialogue, 4, "")), Some(Part::Species));
    let left = dictate(&mut dialogue, 5, "");
    assert!(matches!(left[..], [DialogueEffect::Say(DialogueLine::DraftLeft { .. })]));
    let on = dialogue.handle(secs(60), DialogueInput::command(Command::NewPlan));
    assert_eq!(asks(&on), Some(Part::Species), "the name was not lost");
    for answer in ["cockatiel", "turns", "looks"] {
        let _asked = dictate(&mut dialogue, 61, answer);
    }
    // What a plan can do without is left out by silence, and by yes.
    assert_eq!(asks(&dictate(&mut dialogue, 62, "")), Some(Part::ThirdStep));
    assert_eq!(asks(&dialogue.handle(secs(63), say(marker()))), Some(Part::Treat));
    let _asked = dictate(&mut dialogue, 64, "");
    let read = dictate(&mut dialogue, 65, "");
    let [_, DialogueEffect::Say(DialogueLine::DraftIs { plan, .. })] = &read[..] else {
        panic!("{read:?}")
    };
    assert_eq!((plan.steps.len(), &plan.treat), (1, &None));
    let _which = dialogue.handle(secs(66), say(Said::Miss(Details::default())));
    assert_eq!(asks(&dictate(&mut dialogue, 67, "the better treat")), Some(Part::BetterTreat));
    let read = dictate(&mut dialogue, 68, "cheese");
    assert!(matches!(&read[..], [_, DialogueEffect::Say(DialogueLine::DraftIs { plan, .. })]
        if plan.better_treat.as_deref() == Some("cheese")));
}

#[test]
fn a_command_in_place_of_an_answer_is_carried_out_and_the_question_asked_again() {
    let (mut dialogue, _) = Dialogue::open(Vec::new(), "juniper", "yes");
    let effects = dialogue.handle(secs(1), DialogueInput::command(Command::Slower));
    assert_eq!(effects.last(), Some(&DialogueEffect::Dictate), "{effects:?}");
    assert_eq!(dialogue.question(), Some(&Question::Draft(Part::Animal)));
    assert!(dialogue.is_no_part(&[marker()]));
    assert!(dialogue.is_no_part(&[Said::Command { command: Command::Quit }]));
    for said in [&[][..], &[Said::Cue], &[number(2)]] {
        assert!(!dialogue.is_no_part(said), "{said:?}");
    }
    // And a session is never a place to make one.
    let mut dialogue = training();
    let effects = dialogue.handle(secs(5), DialogueInput::command(Command::NewPlan));
    assert!(effects.contains(&DialogueEffect::Say(DialogueLine::AfterSession)));
}

#[test]
fn a_plan_is_changed_when_the_command_is_said_once_more() {
    let mut dialogue = open(2);
    let _chosen = dialogue.handle(secs(1), say(number(2)));
    let ask = |dialogue: &mut Dialogue| {
        let _asked = dialogue.handle(secs(2), DialogueInput::command(Command::ChangePlan));
        let read = dictate(dialogue, 3, "eight tries");
        assert_eq!(read, [DialogueEffect::ReadChange("eight tries".into())]);
        let change = PlanChange::Tries { tries: 8 };
        let described = change.described(&Plan::of_default_words());
        let text = "eight tries".to_owned();
        let read = ChangeRead::Possible { text, change: change.clone(), described };
        let effects = dialogue.handle(secs(4), DialogueInput::ChangeRead(read));
        assert!(matches!(effects[..], [DialogueEffect::Say(DialogueLine::PlanChangeIs { .. })]));
        change
    };
    let change = ask(&mut dialogue);
    let effects = dialogue.handle(secs(5), DialogueInput::command(Command::ChangePlan));
    assert_eq!(effects, [DialogueEffect::ChangePlan(change)]);
    let changed = Choice { animal: "Other".into(), ..Choice::default() };
    let effects = dialogue.handle(secs(6), DialogueInput::PlanChanged(Ok(changed)));
    assert!(effects.contains(&DialogueEffect::Reload));
    assert_eq!(dialogue.choices()[1].animal, "Other");
    // Unanswered, nothing is changed, and what was said is kept.
    let _asked = ask(&mut dialogue);
    let effects = dialogue.pass(secs(200));
    assert_eq!(effects[0], DialogueEffect::Note("eight tries".into()));
    assert!(!effects.iter().any(|effect| matches!(effect, DialogueEffect::ChangePlan(_))));
}

/// The words told, and the moment.
fn told(effects: &[DialogueEffect]) -> Option<(Moment, Vec<String>)> {
    effects.iter().find_map(|effect| match effect {
        DialogueEffect::Say(DialogueLine::Help { moment, words, .. }) => {
            Some((*moment, words.iter().map(|word| word.name.clone()).collect()))
        }
        _ => None,
    })
}

#[test]
fn help_tells_every_word_three_at_a_time_and_a_group_can_be_skipped() {
    let mut dialogue = open(2);
    let _chosen = dialogue.handle(secs(1), say(number(1)));
    let mut heard = Vec::new();
    let mut effects = dialogue.handle(secs(2), DialogueInput::command(Command::Help));
    while let Some((_, words)) = told(&effects) {
        assert!((1..=3).contains(&words.len()), "{words:?}");
        heard.extend(words);
        if dialogue.question().is_none() {
            break;
        }
        effects = dialogue.handle(secs(3), say(marker()));
    }
    let all = crate::plan::by_moment(&crate::plan::Words::english());
    let all: Vec<String> =
        all.into_iter().flat_map(|(_, words)| words).map(|word| word.name).collect();
    assert_eq!(heard, all);
    // Each with its meaning.
    let english = Wording::english();
    for name in &all {
        assert_ne!(english.meaning(name), name, "{name} has no meaning");
    }
    let effects = dialogue.handle(secs(4), DialogueInput::command(Command::Help));
    assert_eq!(told(&effects).map(|(moment, _)| moment), Some(Moment::Before));
    let effects = dialogue.handle(secs(5), say(Said::Miss(Details::default())));
    assert_eq!(told(&effects).map(|(moment, _)| moment), Some(Moment::During));
    // In a session its own come first, no tag answers, and the command once more tells others.
    let mut dialogue = training();
    let effects = dialogue.handle(secs(5), DialogueInput::command(Command::Help));
    let first = told(&effects).unwrap();
    assert_eq!(first.0, Moment::During);
    let effects = dialogue.handle(secs(6), DialogueInput::command(Command::Help));
    assert_ne!(told(&effects).unwrap().1, first.1);
    assert_eq!(passes(&dialogue.handle(secs(7), say(marker()))), 1);
    assert_eq!(dialogue.question(), None);
}

#[test]
fn what_is_close_to_a_command_is_asked_about_outside_a_session_only() {
    let no_command = |words: &str| DialogueInput::NoCommand { words: words.into() };
    let mut dialogue = open(2);
    let _chosen = dialogue.handle(secs(1), say(number(1)));
    let effects = dialogue.handle(secs(2), no_command("juniper wiegh in"));
    let [DialogueEffect::Say(line)] = &effects[..] else { panic!("{effects:?}") };
    assert_eq!(Wording::english().line(line), "Did you mean: weigh in? Then say yes.");
    let effects = dialogue.handle(secs(3), say(marker()));
    assert!(effects.contains(&DialogueEffect::Dictate), "it is carried out: {effects:?}");
    let effects = dialogue.handle(secs(300), no_command("juniper look at that bird"));
    assert!(
        matches!(
            effects[..],
            [DialogueEffect::Show(_), DialogueEffect::Show(_)]
                | [DialogueEffect::Say(_), DialogueEffect::Show(_)]
        ),
        "no voice for talk: {effects:?}"
    );
    let mut dialogue = training();
    assert_eq!(dialogue.handle(secs(5), no_command("juniper wiegh in")), []);
    assert_eq!(dialogue.question(), None);
}
