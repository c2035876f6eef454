use super::*;

const ROOM_DB: f32 = -60.0;
const SPEECH_DB: f32 = -20.0;

impl Segmenter {
    /// Takes 10 ms of this level; its samples are silent.
    fn step(&mut self, level_db: f32) -> Option<Cut> {
        (0..STEP).for_each(|_| self.sound.push(0));
        let change = self.gate.step(level_db);
        self.took(change)
    }

    /// Takes levels, each for this many steps.
    fn every_cut(&mut self, levels: &[(usize, f32)]) -> Vec<Cut> {
        let steps = levels.iter().flat_map(|(steps, db)| std::iter::repeat_n(*db, *steps));
        steps.filter_map(|db| self.step(db)).collect()
    }

    /// The same, but for what can be over.
    fn levels(&mut self, levels: &[(usize, f32)]) -> Vec<Cut> {
        let mut cuts = self.every_cut(levels);
        cuts.retain(|cut| !matches!(cut, Cut::CanBeOver(_)));
        cuts
    }
}

/// The segments of these levels after two seconds of the room: first step, step after the last, quiet before.
fn segments(levels: &[(usize, f32)]) -> Vec<(usize, usize, usize)> {
    let mut segmenter = Segmenter::default();
    segmenter.levels(&[(200, ROOM_DB)]);
    let cuts = segmenter.levels(levels);
    cuts.iter()
        .filter_map(|cut| match cut {
            Cut::Ended(segment) => Some((segment.began, segment.end, segment.quiet_before)),
            _ => None,
        })
        .collect()
}

#[test]
fn levels_become_segments() {
    let (word, room) = (SPEECH_DB, ROOM_DB);
    type Row<'a> = (&'a str, &'a [(usize, f32)], &'a [(usize, usize, usize)]);
    let table: [Row; 6] = [
        ("a word", &[(40, word), (100, room)], &[(200, 240, 200)]),
        ("a held breath", &[(20, word), (10, room), (20, word), (50, room)], &[(200, 250, 200)]),
        (
            "two words",
            &[(20, word), (30, room), (20, word), (50, room)],
            &[(200, 220, 200), (250, 270, 30)],
        ),
        ("a click of 20 ms", &[(2, word), (100, room)], &[]),
        (
            "soft, so silent for longer",
            &[(20, -45.0), (20, room), (20, -45.0), (50, room)],
            &[(200, 260, 200)],
        ),
        ("not yet over", &[(40, word), (14, room)], &[]),
    ];
    for (what, levels, expected) in table {
        assert_eq!(segments(levels), expected, "{what}");
    }
}

#[test]
fn a_segment_knows_how_loud_it_is_and_what_it_rose_from() {
    let mut segmenter = Segmenter::default();
    segmenter.levels(&[(200, ROOM_DB)]);
    let cuts = segmenter.levels(&[(100, -45.0), (40, SPEECH_DB), (60, -45.0)]);
    let [Cut::Rose, Cut::Ended(segment)] = &cuts[..] else { panic!("{cuts:?}") };
    assert_eq!((segment.began, segment.end), (300, 340));
    assert_eq!((segment.loudest_db, segment.height_db, segment.rose), (SPEECH_DB, 25.0, true));
    assert!(!segment.stands_little_over_noise());
}

#[test]
fn what_is_read_of_a_segment_begins_before_it_but_not_in_the_one_before() {
    let mut segmenter = Segmenter::default();
    segmenter.levels(&[(200, ROOM_DB)]);
    let cuts = segmenter.levels(&[(20, SPEECH_DB), (18, ROOM_DB), (20, SPEECH_DB), (50, ROOM_DB)]);
    let [Cut::Ended(first), Cut::Ended(second)] = &cuts[..] else { panic!("{cuts:?}") };
    let sample = |step: usize| (step * STEP) as u64;
    assert_eq!((first.read_from, first.read_to), (sample(180), sample(235)));
    assert_eq!((first.from, first.to), (sample(200), sample(220)));
    assert_eq!((second.read_from, second.from), (sample(220), sample(238)));
    assert_eq!(first.decided(), At::from_secs_f64(2.35));
    assert_eq!(first.moment(0.5), At::from_secs_f64(2.3));
}

#[test]
fn a_segment_may_be_over_and_then_too_long_unless_it_is_talk() {
    let mut segmenter = Segmenter::default();
    segmenter.levels(&[(200, ROOM_DB), (40, SPEECH_DB), (3, ROOM_DB)]);
    assert_eq!(segmenter.progress(), None);
    segmenter.levels(&[(1, ROOM_DB)]);
    let sample = |step: usize| (step * STEP) as u64;
    assert_eq!(segmenter.progress(), Some(Progress::MaybeOver(sample(180), sample(244))));
    assert_eq!(segmenter.ongoing(), Some(Ongoing { steps: 44, loudest_db: SPEECH_DB }));
    assert_eq!(segmenter.settled(), At::from_secs_f64(2.0 - 0.45));
    segmenter.levels(&[(207, SPEECH_DB)]);
    let Some(Progress::TooLong(so_far)) = segmenter.progress() else { panic!() };
    assert_eq!((so_far.began, so_far.end, so_far.loudest_db), (200, 451, SPEECH_DB));
    segmenter.is_talk();
    assert_eq!(segmenter.progress(), None);
    assert_eq!(segmenter.settled(), At::from_secs_f64(4.51 - 0.45));
    let at = At::from_secs_f64;
    let cuts = segmenter.levels(&[(20, ROOM_DB)]);
    assert_eq!(cuts, [Cut::TalkEnded { from: at(2.0), to: at(4.51) }]);
    // What comes next is not talk.
    let next = segmenter.levels(&[(30, ROOM_DB), (40, SPEECH_DB), (20, ROOM_DB)]);
    assert!(matches!(&next[..], [Cut::Ended(segment)] if segment.quiet_before == 50), "{next:?}");
}

#[test]
fn a_divided_segment_goes_on_where_it_was_divided() {
    let mut segmenter = Segmenter::default();
    segmenter.levels(&[(200, ROOM_DB), (252, SPEECH_DB)]);
    let Some(Progress::TooLong(so_far)) = segmenter.progress() else { panic!() };
    // What is read begins 20 steps before the segment.
    let before = segmenter.divide(&so_far, 2.0);
    assert_eq!((before.began, before.end, before.to), (200, 380, 380 * STEP as u64));
    assert_eq!(segmenter.progress(), None);
    let cuts = segmenter.levels(&[(20, ROOM_DB)]);
    let [Cut::Ended(rest)] = &cuts[..] else { panic!("{cuts:?}") };
    assert_eq!((rest.began, rest.end, rest.quiet_before), (380, 452, 0));
    assert_eq!(rest.read_from, rest.from, "what was given is not read again");
    // There is no quiet before it, so its onset is where it was divided.
    assert_eq!(rest.onset, moment(rest.from, EARLY_S));
}

#[test]
fn after_a_gap_samples_are_counted_on_from_where_sound_comes_again() {
    let mut segmenter = Segmenter::default();
    segmenter.levels(&[(200, ROOM_DB), (20, SPEECH_DB)]);
    assert!(matches!(segmenter.finish(), Some(Cut::Ended(_))), "the gap ends what was open");
    segmenter.go_on_at(100_000);
    assert_eq!(segmenter.next_sample(), 100_000);
    let cuts = segmenter.levels(&[(100, ROOM_DB), (40, SPEECH_DB), (20, ROOM_DB)]);
    let [Cut::Ended(segment)] = &cuts[..] else { panic!("{cuts:?}") };
    assert_eq!(segment.from, 100_000 + 100 * STEP as u64);
    assert_eq!(segmenter.latest(), At::of_sample(segment.from, RATE));
}

#[test]
fn a_word_across_a_gap_begins_where_sound_comes_again() {
    let mut segmenter = Segmenter::default();
    segmenter.levels(&[(200, ROOM_DB), (5, SPEECH_DB)]);
    assert!(matches!(segmenter.finish(), Some(Cut::Ended(_))));
    segmenter.go_on_at(100_000);
    let cuts = segmenter.levels(&[(20, SPEECH_DB), (20, ROOM_DB)]);
    let [Cut::Ended(rest)] = &cuts[..] else { panic!("{cuts:?}") };
    assert!(rest.from < 100_000, "by its level it reaches back into what was before");
    assert_eq!(rest.onset, At::of_sample(100_000, RATE));
}

/// What can be over: first step, step after the last; and at which step that was known.
fn can_be_over(levels: &[(usize, f32)]) -> Vec<(usize, usize, usize)> {
    let mut segmenter = Segmenter::default();
    segmenter.levels(&[(200, ROOM_DB)]);
    let mut found = Vec::new();
    for (steps, level_db) in levels {
        for _ in 0..*steps {
            if let Some(Cut::CanBeOver(segment)) = segmenter.step(*level_db) {
                found.push((segment.began, segment.end, segmenter.steps()));
            }
        }
    }
    found
}

#[test]
fn what_has_become_soft_can_be_over() {
    let (word, faint, softer) = (SPEECH_DB, SPEECH_DB - 20.5, SPEECH_DB - 12.5);
    type Row<'a> = (&'a str, &'a [(usize, f32)], &'a [(usize, usize, usize)]);
    let table: [Row; 7] = [
        ("a word and its echo", &[(40, word), (20, faint), (60, ROOM_DB)], &[(200, 240, 255)]),
        ("a stop holds its breath", &[(20, word), (14, faint), (20, word)], &[]),
        ("a soft end", &[(40, word), (30, softer)], &[(200, 240, 262)]),
        ("first soft, then faint", &[(40, word), (8, softer), (15, faint)], &[(200, 240, 262)]),
        (
            "more of it",
            &[(20, word), (16, faint), (20, word), (16, faint)],
            &[(200, 220, 235), (200, 256, 271)],
        ),
        ("longer than most tags", &[(81, word), (20, faint)], &[]),
        ("shorter than any", &[(5, word), (20, faint)], &[]),
    ];
    for (what, levels, expected) in table {
        assert_eq!(can_be_over(levels), expected, "{what}");
    }
}

/// A segmenter in which 40 steps of speech can be over and were told.
fn told() -> Segmenter {
    let mut segmenter = Segmenter::default();
    segmenter.levels(&[(200, ROOM_DB)]);
    let cuts = segmenter.every_cut(&[(40, SPEECH_DB), (15, -45.0)]);
    let [Cut::CanBeOver(so_far)] = &cuts[..] else { panic!("{cuts:?}") };
    segmenter.told(so_far);
    segmenter
}

#[test]
fn what_was_told_ends_without_being_cut_again_when_only_its_echo_came() {
    let mut segmenter = told();
    let settled = segmenter.settled();
    assert_eq!(segmenter.every_cut(&[(10, -45.0), (40, ROOM_DB)]), [Cut::ToldEnded(265)]);
    assert_eq!(segmenter.progress(), None);
    assert_eq!(settled, At::from_secs_f64(2.0 - 0.45), "what it is may still be corrected");
}

#[test]
fn more_of_what_was_told_is_cut_together_with_it() {
    let mut segmenter = told();
    let cuts = segmenter.every_cut(&[(30, SPEECH_DB), (40, ROOM_DB)]);
    let [Cut::Ended(whole)] = &cuts[..] else { panic!("{cuts:?}") };
    assert_eq!((whole.began, whole.end, whole.quiet_before), (200, 285, 200));
    // What comes after it is told like anything else.
    let next = segmenter.every_cut(&[(40, SPEECH_DB), (15, -45.0)]);
    assert!(matches!(&next[..], [Cut::CanBeOver(_)]), "{next:?}");
}

#[test]
fn what_rises_out_of_what_was_told_is_a_segment_of_its_own() {
    let mut segmenter = Segmenter::default();
    segmenter.levels(&[(200, ROOM_DB)]);
    let cuts = segmenter.every_cut(&[(60, -35.0), (15, -56.0)]);
    let [Cut::CanBeOver(so_far)] = &cuts[..] else { panic!("{cuts:?}") };
    segmenter.told(so_far);
    let cuts = segmenter.levels(&[(40, SPEECH_DB), (40, ROOM_DB)]);
    let [Cut::Rose, Cut::Ended(next)] = &cuts[..] else { panic!("{cuts:?}") };
    assert_eq!(next.read_from, 260 * STEP as u64, "what was told is not read again");
}
