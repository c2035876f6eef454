//! Whole rounds, by made-up times.

use proptest::prelude::*;

use super::*;

struct Round {
    quiz: Quiz,
    now: Duration,
    told: Vec<QuizEffect>,
}

impl Round {
    fn of(order: &[NudgeFamily]) -> Self {
        let (quiz, told) = Quiz::begin(order.to_vec());
        Round { quiz, now: Duration::from_secs(5), told }
    }

    fn send(&mut self, input: QuizInput) -> Vec<QuizEffect> {
        let effects = self.quiz.handle(self.now, input);
        self.told.extend(effects.clone());
        effects
    }

    fn says(&mut self, said: Said) -> Vec<QuizEffect> {
        self.now += Duration::from_secs(4);
        self.send(QuizInput::Quiet);
        self.now += Duration::from_secs(1);
        self.send(QuizInput::Answer(Answer::Said { said, words: String::new(), keyed: false }))
    }

    fn silence(&mut self) {
        self.send(QuizInput::Quiet);
        self.now += ANSWER_FOR;
        let effects = self.quiz.pass(self.now);
        self.told.extend(effects);
    }
}

fn number(step: u8) -> Said {
    Said::Detail(Details { step: Some(step), ..Details::default() })
}

const NO: Said = Said::Miss(Details::NONE);
const YES: Said = Said::Rep(Details::NONE);

#[test]
fn every_sound_is_taught_before_it_is_asked() {
    let round = Round::of(&CHOICES);
    let played: Vec<NudgeFamily> = round
        .told
        .iter()
        .filter_map(|effect| match effect {
            QuizEffect::Play(family) => Some(*family),
            _ => None,
        })
        .collect();
    assert_eq!(played[..4], CHOICES);
    assert_eq!(played.len(), 5, "then the first question");
    assert_eq!(round.told.last(), Some(&QuizEffect::Say(QuizLine::Ask)));
}

#[test]
fn what_was_missed_comes_again_until_it_is_known() {
    use NudgeFamily::{EasierOrPay, EndSoon};
    let mut round = Round::of(&[EndSoon, EasierOrPay]);
    let wrong = round.says(number(4));
    assert_eq!(
        wrong[..2],
        [QuizEffect::Say(QuizLine::Wrong { family: EndSoon }), QuizEffect::Play(EndSoon)]
    );
    assert_eq!(round.says(number(2))[0], QuizEffect::Say(QuizLine::Right { family: EasierOrPay }));
    let end = round.says(number(1));
    assert_eq!(end[0], QuizEffect::Say(QuizLine::Right { family: EndSoon }));
    assert_eq!(end[1], QuizEffect::Say(QuizLine::Over { right: 1, asked: 2, missed: vec![] }));
    assert!(round.quiz.is_over());
}

#[test]
fn a_sound_that_is_never_known_does_not_go_on_for_ever() {
    let mut round = Round::of(&[NudgeFamily::NeedsYou]);
    for _ in 0..MOST_TIMES {
        assert!(!round.quiz.is_over());
        round.says(number(1));
    }
    assert!(round.quiz.is_over());
    assert_eq!(round.quiz.score().missed, [NudgeFamily::NeedsYou]);
}

#[test]
fn one_switch_is_enough() {
    let mut round = Round::of(&[NudgeFamily::ReadyForMore]);
    let offered = |effects: &[QuizEffect]| effects[0].clone();
    let perhaps = |family| QuizEffect::Say(QuizLine::Perhaps { family });
    assert_eq!(offered(&round.says(YES)), perhaps(NudgeFamily::EndSoon));
    assert_eq!(offered(&round.says(NO)), perhaps(NudgeFamily::EasierOrPay));
    assert_eq!(offered(&round.says(NO)), perhaps(NudgeFamily::ReadyForMore));
    let end = round.says(YES);
    assert_eq!(end[0], QuizEffect::Say(QuizLine::Right { family: NudgeFamily::ReadyForMore }));
}

#[test]
fn our_own_voice_answers_nothing_and_silence_ends_it() {
    let mut round = Round::of(&CHOICES);
    assert!(
        round
            .send(QuizInput::Answer(Answer::Said {
                said: number(1),
                words: String::new(),
                keyed: false
            }))
            .is_empty()
    );
    round.silence();
    assert_eq!(round.told.last(), Some(&QuizEffect::Say(QuizLine::Ask)), "asked once more");
    round.silence();
    assert_eq!(round.told.last(), Some(&QuizEffect::End));
    assert_eq!(round.quiz.score().asked, 0);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn it_ends_whatever_is_answered(answers in prop::collection::vec(0..7_u8, 60)) {
        let mut round = Round::of(&CHOICES);
        for answer in answers {
            let said = match answer {
                0 => YES,
                6 => NO,
                step => number(step),
            };
            // Whoever only says no is read the choices for ever; a number or yes after that decides.
            let _ = round.says(said);
        }
        while !round.quiz.is_over() {
            let _ = round.says(number(1));
        }
        let score = round.quiz.score();
        prop_assert_eq!(score.asked, 4);
        prop_assert!(score.right + score.missed.len() <= 4);
        prop_assert_eq!(round.told.iter().filter(|effect| **effect == QuizEffect::End).count(), 1);
    }
}

#[test]
fn every_line_has_its_words() {
    let english = crate::wording::Wording::english();
    let family = NudgeFamily::EasierOrPay;
    let lines = [
        QuizLine::Begin,
        QuizLine::Teach { number: 2, family },
        QuizLine::How,
        QuizLine::Ask,
        QuizLine::Perhaps { family },
        QuizLine::Right { family },
        QuizLine::Wrong { family },
        QuizLine::NoAnswer,
        QuizLine::Over { right: 3, asked: 4, missed: vec![] },
        QuizLine::Over { right: 2, asked: 4, missed: vec![family] },
        QuizLine::Over { right: 0, asked: 0, missed: vec![] },
    ];
    let said: Vec<String> = lines.iter().map(|line| english.quiz(line)).collect();
    insta::assert_snapshot!(said.join("\n"), @r"
    There are four sounds. Each asks for one thing to do.
    2: make it easier, or pay the next one.
    Now without the words. Say the number of what you hear. With a switch, a press has the choices read; press again at the right one.
    Which one was it?
    Make it easier, or pay the next one?
    Right: make it easier, or pay the next one.
    No, that is: make it easier, or pay the next one.
    One, two, three or four.
    3 of 4 known at once.
    2 of 4 known at once. Listen again to: make it easier, or pay the next one.
    Nothing was answered.
    ");
}
