use std::collections::VecDeque;
use std::sync::Mutex;

use super::*;
use crate::hear::fixture::{readings, segment};

/// Gives what it was told to, whatever it is fed, and keeps how much that was; at the end it is lost.
#[derive(Default)]
struct Scripted {
    answers: Mutex<VecDeque<Vec<Alternative>>>,
    fed: Mutex<Vec<usize>>,
    feeding: Mutex<usize>,
}

impl Scripted {
    fn new(answers: &[&[(f32, &str)]]) -> Arc<Self> {
        let answers = Mutex::new(answers.iter().map(|list| readings(list)).collect());
        Arc::new(Scripted { answers, ..Scripted::default() })
    }

    /// How many samples each segment had that it was asked for.
    fn fed(&self) -> Vec<usize> {
        self.fed.lock().unwrap().clone()
    }
}

impl Recognise for Scripted {
    fn feed(&self, samples: &[i16]) {
        *self.feeding.lock().unwrap() += samples.len();
    }

    fn finish(&self) -> Option<Vec<Alternative>> {
        let fed = std::mem::take(&mut *self.feeding.lock().unwrap());
        self.fed.lock().unwrap().push(fed);
        self.answers.lock().unwrap().pop_front()
    }
}

/// Recognisers that answer so: with tags, among ordinary words, as commands.
struct Answers {
    tags: Arc<Scripted>,
    open: Arc<Scripted>,
    commands: Arc<Scripted>,
}

impl Answers {
    fn readers(&self) -> Readers {
        self.readers_with(None)
    }

    /// With another model's for what is in noise.
    fn readers_with(&self, in_noise: Option<&Answers>) -> Readers {
        Readers::new(Recognisers {
            of_tags: self.of_tags(),
            in_noise: in_noise.map(Answers::of_tags),
            commands: self.commands.clone(),
        })
    }

    fn of_tags(&self) -> TagRecognisers {
        TagRecognisers { tags: self.tags.clone(), open: self.open.clone() }
    }
}

fn answers(tags: &[&[(f32, &str)]], open: &[&[(f32, &str)]]) -> Answers {
    const FINISH: &[(f32, &str)] = &[(9.0, "juniper finish")];
    let commands = Scripted::new(&[FINISH; 3]);
    Answers { tags: Scripted::new(tags), open: Scripted::new(open), commands }
}

/// Four seconds without sound.
fn silence() -> RecentSound {
    let mut sound = RecentSound::new(64_000);
    (0..64_000).for_each(|_| sound.push(0));
    sound
}

/// The scores and words of a list.
fn shown(list: &[Alternative]) -> Vec<(f32, String)> {
    list.iter().map(|a| (a.score, a.text())).collect()
}

const GO: &[(f32, &str)] = &[(9.0, "go"), (7.0, "no")];
const NO: &[(f32, &str)] = &[(9.0, "no"), (8.0, "go")];

#[test]
fn a_segment_well_over_the_noise_is_read_once_by_each_that_is_asked() {
    let answers = answers(&[GO], &[NO]);
    let (mut readers, sound) = (answers.readers(), silence());
    let word = segment(200, 240);
    readers.learn_room(&sound, &word);
    let mut asked = readers.about(&sound, &word);
    let read = Readings { open: asked.open().unwrap(), tags: asked.tags().unwrap() };
    assert_eq!(
        (shown(&read.tags), shown(&read.open)),
        (shown(&readings(GO)), shown(&readings(NO)))
    );
    assert_eq!(asked.denoised(read.clone()), read);
    let whole = vec![75 * STEP];
    assert_eq!((answers.tags.fed(), answers.open.fed()), (whole.clone(), whole));
    assert!(answers.commands.fed().is_empty());
}

#[test]
fn a_segment_little_over_the_noise_is_read_again_in_two_ways_and_most_readings_count() {
    let answers = answers(&[GO, NO, NO], &[GO, GO, GO]);
    let (mut readers, sound) = (answers.readers(), silence());
    let word = Segment { height_db: NOISY_DB - 1.0, ..segment(200, 240) };
    readers.learn_room(&sound, &word);
    let mut asked = readers.about(&sound, &word);
    let read = Readings { open: asked.open().unwrap(), tags: asked.tags().unwrap() };
    let read = asked.denoised(read);
    // no: 2, 0 and 0 behind; go: 0, 1 and 1.
    let expected = [("go", 2.0 / 3.0), ("no", 2.0 / 3.0)];
    for ((score, words), (expected, behind)) in shown(&read.tags).into_iter().zip(expected) {
        assert_eq!(words, expected);
        assert!((9.0 - score - behind).abs() < 1e-5, "{words}: {score}");
    }
    assert_eq!(shown(&read.open)[0], (9.0, "go".to_owned()));
    assert_eq!(answers.tags.fed(), vec![75 * STEP; 3]);
    asked.commands();
    assert_eq!(answers.commands.fed(), vec![75 * STEP; 3]);
}

#[test]
fn a_model_that_knows_noise_reads_what_is_in_noise_in_place_of_the_others_filters() {
    const SURELY_NO: &[(f32, &str)] = &[(9.0, "no"), (4.0, "go")];
    let published = answers(&[GO; 3], &[GO; 3]);
    let taught = answers(&[SURELY_NO; 3], &[SURELY_NO; 3]);
    let (mut readers, sound) = (published.readers_with(Some(&taught)), silence());
    let quiet = segment(200, 240);
    let noisy = Segment { height_db: NOISY_DB - 1.0, ..segment(200, 240) };
    let read_of = |readers: &mut Readers, segment| {
        let mut asked = readers.about(&sound, segment);
        let read = Readings { open: asked.open().unwrap(), tags: asked.tags().unwrap() };
        let read = asked.denoised(read);
        (read.tags[0].text(), read.open[0].text())
    };
    assert_eq!(read_of(&mut readers, &quiet), ("go".to_owned(), "go".to_owned()));
    assert!(taught.tags.fed().is_empty(), "in quiet it is not asked");
    // Where the room was not heard, as it is alone.
    assert_eq!(read_of(&mut readers, &noisy), ("no".to_owned(), "no".to_owned()));
    assert_eq!((published.tags.fed().len(), taught.tags.fed().len()), (2, 1));
    readers.learn_room(&sound, &noisy);
    read_of(&mut readers, &noisy);
    assert_eq!((published.tags.fed().len(), taught.tags.fed().len()), (3, 3));
}

#[test]
fn a_room_that_was_not_heard_gives_no_filter() {
    let answers = answers(&[GO], &[GO]);
    let (mut readers, sound) = (answers.readers(), silence());
    let word = Segment { height_db: 10.0, quiet_before: 30, ..segment(200, 240) };
    readers.learn_room(&sound, &word);
    let read = Readings { open: readings(GO), tags: readings(NO) };
    assert_eq!(readers.about(&sound, &word).denoised(read.clone()), read);
}

#[test]
fn what_was_read_ahead_is_not_read_again() {
    let answers = answers(&[GO], &[NO]);
    let (mut readers, sound) = (answers.readers(), silence());
    let word = segment(200, 240);
    readers.ahead(&sound, word.read_from, word.read_to - 5 * STEP as u64);
    assert!(readers.about(&sound, &word).open().is_some());
    assert_eq!(answers.open.fed(), [75 * STEP]);
}

#[test]
fn readers_that_are_dropped_or_told_give_up_what_they_were_reading() {
    let answers = answers(&[GO, GO, NO], &[GO, GO, NO]);
    let (mut readers, sound) = (answers.readers(), silence());
    let word = segment(200, 240);
    readers.ahead(&sound, word.read_from, word.read_from + 800);
    readers.give_up();
    readers.ahead(&sound, word.read_from, word.read_from + 1_600);
    drop(readers);
    let read = answers.readers().about(&sound, &word).tags().unwrap();
    assert_eq!(shown(&read), shown(&readings(NO)), "not the rest of another segment");
    assert_eq!(answers.tags.fed(), [800, 1_600, 75 * STEP]);
}

#[test]
fn a_recogniser_that_ends_over_a_segment_gives_no_readings() {
    let answers = answers(&[], &[GO]);
    let (mut readers, sound) = (answers.readers(), silence());
    let word = segment(200, 240);
    let mut asked = readers.about(&sound, &word);
    assert!(asked.tags().is_none() && asked.open().is_some());
}
