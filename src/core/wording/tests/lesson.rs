//! What a lesson says, as it is said.

use super::*;

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
