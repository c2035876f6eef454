//! Whole lessons from tables: numbers stand for sounds, and how far they are apart for how unlike they are.

use proptest::prelude::*;

use super::*;

impl Example for f32 {
    fn distance(&self, other: &Self) -> f32 {
        (self - other).abs()
    }
}

/// What happens next in a lesson.
#[derive(Debug, Clone, Copy)]
enum Now {
    /// This is heard, once our voice is silent.
    Hear(f32),
    /// Something that is not a tag.
    Noise,
    /// Nothing, for so long that it counts.
    Silence,
}
use Now::{Hear, Noise, Silence};

struct Class {
    lesson: Lesson<f32>,
    now: Duration,
    told: Vec<LessonEffect<f32>>,
}

impl Class {
    fn of(phrases: &[&str], times: usize) -> Self {
        let phrases = phrases.iter().map(|&phrase| phrase.to_owned()).collect();
        let (lesson, told) = Lesson::begin(phrases, times);
        Class { lesson, now: Duration::from_secs(5), told }
    }

    fn send(&mut self, input: LessonInput<f32>) {
        let effects = self.lesson.handle(self.now, input);
        self.carry_out(effects);
    }

    fn carry_out(&mut self, effects: Vec<LessonEffect<f32>>) {
        let keeps = effects.contains(&LessonEffect::Keep);
        self.told.extend(effects);
        if keeps {
            self.send(LessonInput::Kept { learnt: 1, unsteady: vec!["a".into(), "b".into()] });
        }
    }

    fn does(&mut self, now: Now) {
        self.now += Duration::from_secs(1);
        self.send(LessonInput::Quiet);
        self.now += Duration::from_secs(1);
        match now {
            Hear(example) => self.hear(Some(example)),
            Noise => self.hear(None),
            Silence => {
                self.now += WAIT;
                let effects = self.lesson.pass(self.now);
                self.carry_out(effects);
            }
        }
    }

    fn hear(&mut self, example: Option<f32>) {
        let until = self.now + Duration::from_millis(400);
        let taken_for = example.map(|example| format!("{example}"));
        self.send(LessonInput::Heard { until, example, taken_for });
    }

    fn go_through(&mut self, all: &[Now]) {
        all.iter().for_each(|now| self.does(*now));
    }

    /// What is said and shown, one word a line, and what is learnt.
    fn lines(&self) -> Vec<String> {
        let line = |line: &LessonLine| {
            let value = serde_json::to_value(line).unwrap();
            let phrase = value.get("phrase").and_then(|phrase| phrase.as_str());
            [value["line"].as_str(), phrase].into_iter().flatten().collect::<Vec<_>>().join(" ")
        };
        let text = |effect: &LessonEffect<f32>| match effect {
            LessonEffect::Say(said) | LessonEffect::Show(said) => line(said),
            LessonEffect::OnceMore { phrase } => format!("once more {phrase}"),
            LessonEffect::Learn { phrase, examples, taken_for } => {
                format!("learn {phrase} {examples:?} {}", taken_for.join(" "))
            }
            LessonEffect::Talk(example) => format!("heard talk {example}"),
            LessonEffect::Keep => "keep".to_owned(),
        };
        self.told.iter().map(text).collect()
    }
}

#[test]
fn each_phrase_its_times_then_talk_then_all_is_kept() {
    let mut class = Class::of(&["yes", "brr"], 2);
    class.go_through(&[Hear(1.0), Hear(2.0), Noise, Hear(50.0), Hear(50.0)]);
    assert_eq!(
        class.lines(),
        [
            "begin",
            "say yes",
            "taken",
            "once more yes",
            "learn yes [1.0, 2.0] 1 2",
            "say brr",
            "unfit brr",
            "taken",
            "once more brr",
            "learn brr [50.0, 50.0] 50 50",
            "talk",
        ]
    );
    class.told.clear();
    // Talk needs no pause for our own voice, and noise is none.
    class.does(Noise);
    for _ in 0..TALK {
        assert!(!class.lesson.is_over());
        class.now += Duration::from_secs(2);
        class.hear(Some(7.0));
    }
    assert_eq!(class.lines()[..TALK], vec!["heard talk 7"; TALK]);
    assert_eq!(class.lines()[TALK..], ["keep", "done"]);
    let done = LessonEffect::Say(LessonLine::Done { learnt: 1, unsteady: "a, b".to_owned() });
    assert_eq!(class.told.last(), Some(&done));
    assert!(class.lesson.is_over() && class.lesson.wake_at().is_none());
}

/// What the recogniser took a cough for is not a mistake about the phrase.
#[test]
fn a_cough_is_asked_again_and_another_way_of_saying_it_begins_from_scratch() {
    let mut class = Class::of(&["yes"], 3);
    class.go_through(&[Hear(1.0), Hear(3.0), Hear(90.0), Hear(2.0)]);
    assert_eq!(class.lines()[6..], ["unlike yes", "learn yes [1.0, 3.0, 2.0] 1 3 2", "talk"]);
    let mut class = Class::of(&["yes"], 3);
    class.go_through(&[Hear(1.0), Hear(3.0), Hear(90.0), Hear(91.0), Hear(92.0)]);
    assert_eq!(class.lines()[6..], ["unlike yes", "unlike yes", "from_scratch yes"]);
    class.go_through(&[Hear(90.0), Hear(91.0)]);
    assert_eq!(class.lines().iter().rev().nth(1).unwrap(), "learn yes [92.0, 90.0, 91.0] 92 90 91");
}

#[test]
fn silence_leaves_a_phrase_out_and_three_silences_are_nobody() {
    let mut class = Class::of(&["a", "b", "c", "d"], 2);
    class.go_through(&[Silence, Hear(1.0), Silence, Silence, Silence]);
    assert_eq!(
        class.lines(),
        [
            "begin",
            "say a",
            "left_out a",
            "say b",
            "taken",
            "once more b",
            "left_out b",
            "say c",
            "left_out c",
            "say d",
            "gone",
            "keep",
            "done",
        ]
    );
    // Silence after talk is its end.
    let mut class = Class::of(&[], 2);
    class.go_through(&[Hear(1.0), Silence]);
    assert_eq!(class.lines(), ["talk", "heard talk 1", "keep", "done"]);
}

#[test]
fn our_own_voice_is_not_an_example_and_without_sound_nothing_runs_out() {
    let mut class = Class::of(&["yes"], 2);
    class.hear(Some(1.0));
    assert_eq!(class.lines(), ["begin", "say yes"], "it is being asked for");
    class.send(LessonInput::Quiet);
    class.now = Duration::from_secs(4);
    class.hear(Some(1.0));
    assert_eq!(class.lines().len(), 2, "it began while we spoke");
    assert_eq!(class.lesson.wake_at(), Some(Duration::from_secs(15)));
    class.send(LessonInput::Deaf);
    assert_eq!(class.lesson.wake_at(), None);
    assert!(class.lesson.pass(Duration::from_secs(900)).is_empty());
    class.now = Duration::from_secs(900);
    class.send(LessonInput::Quiet);
    assert_eq!(class.lesson.wake_at(), Some(Duration::from_secs(910)));
}

fn anything() -> impl Strategy<Value = Vec<Now>> {
    let now = prop_oneof![
        4 => (0u8..60).prop_map(|example| Hear(f32::from(example))),
        1 => Just(Noise),
        1 => Just(Silence),
    ];
    proptest::collection::vec(now, 0..40)
}

proptest! {
    /// Whatever is heard: no phrase is learnt from fewer examples than asked for, each is learnt or left out once and in
    /// order, and asking more often what is due changes nothing.
    #[test]
    fn whatever_is_heard_it_keeps_its_order(all in anything(), times in 2usize..5) {
        let phrases = ["a", "b", "c"];
        let mut class = Class::of(&phrases, times);
        for now in all {
            class.does(now);
            prop_assert!(class.lesson.clone().pass(class.now).is_empty());
        }
        let mut past = Vec::new();
        for effect in &class.told {
            match effect {
                LessonEffect::Learn { phrase, examples, taken_for } => {
                    prop_assert_eq!((examples.len(), taken_for.len()), (times, times));
                    past.push(phrase.as_str());
                }
                LessonEffect::Say(LessonLine::LeftOut { phrase }) => past.push(phrase.as_str()),
                _ => {}
            }
        }
        prop_assert_eq!(&past[..], &phrases[..past.len()]);
    }
}
