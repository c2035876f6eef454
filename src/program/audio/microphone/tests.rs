//! Scripted devices: what a session hears while microphones come and go.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::num::NonZeroU32;
use std::rc::Rc;

use proptest::prelude::*;

use super::*;

const STEP: Duration = Duration::from_millis(20);

/// One device as a script: an event for each 20 ms, then silence without samples.
struct Scripted {
    rate: u32,
    events: VecDeque<CaptureEvent>,
}

impl Listen for Scripted {
    fn rate(&self) -> NonZeroU32 {
        NonZeroU32::new(self.rate).unwrap()
    }
    fn device(&self) -> &str {
        "scripted"
    }
    fn read(&mut self, buffer: &mut Vec<f32>) -> CaptureEvent {
        let event = self.events.pop_front().unwrap_or(CaptureEvent::Nothing);
        if event == CaptureEvent::Samples {
            buffer.resize(self.rate as usize / 50, 0.1);
        }
        event
    }
}

/// A device at a rate, or a try that fails.
type Try = Option<(u32, Vec<CaptureEvent>)>;

/// Opens one script after the other.
#[derive(Clone)]
struct Script(Rc<RefCell<VecDeque<Try>>>);

impl Script {
    fn new(devices: Vec<Try>) -> Self {
        Script(Rc::new(RefCell::new(devices.into())))
    }
}

impl Opener for Script {
    fn open(&mut self) -> Result<Box<dyn Listen + Send>, DeviceError> {
        match self.0.borrow_mut().pop_front().flatten() {
            Some((rate, events)) => Ok(Box::new(Scripted { rate, events: events.into() })),
            None => Err(DeviceError::Gone { device: "scripted".to_owned() }),
        }
    }
}

fn sound(blocks: usize) -> Vec<CaptureEvent> {
    vec![CaptureEvent::Samples; blocks]
}

fn with(mut events: Vec<CaptureEvent>, last: CaptureEvent) -> Vec<CaptureEvent> {
    events.push(last);
    events
}

/// Everything heard in `steps` of 20 ms, and the microphone afterwards.
fn run(devices: Vec<Try>, steps: u32) -> (Vec<Heard>, Microphone<Script>) {
    let mut microphone = Microphone::open(Script::new(devices)).unwrap();
    let mut heard = Vec::new();
    for step in 1..=steps {
        while let Some(next) = microphone.poll(STEP * step) {
            let more = matches!(next, Heard::Frame(_));
            heard.push(next);
            // Frames of one block are handed out one by one without reading further.
            if !more || microphone.ready.is_empty() {
                break;
            }
        }
    }
    (heard, microphone)
}

/// The events that are not frames, and a check that frames never overlap.
fn events(heard: &[Heard]) -> Vec<Heard> {
    let mut end = 0;
    for next in heard {
        if let Heard::Frame(frame) = next {
            assert!(frame.first_sample >= end, "frames overlap");
            end = frame.end_sample();
        }
    }
    heard.iter().filter(|h| !matches!(h, Heard::Frame(_))).cloned().collect()
}

fn at_ms(milliseconds: u64) -> At {
    At::after(Duration::from_millis(milliseconds))
}

#[test]
fn a_device_that_only_works_gives_frames_only() {
    let (heard, microphone) = run(vec![Some((48_000, sound(100)))], 100);
    assert_eq!(events(&heard), []);
    let samples: usize =
        heard.iter().map(|h| if let Heard::Frame(f) = h { f.samples.len() } else { 0 }).sum();
    assert!(samples > 31_000, "{samples} of 32000, the rest is in the resampler");
    assert_eq!(microphone.faults(), CaptureFaults::default());
}

#[test]
fn a_device_that_went_away_comes_back_at_the_right_session_time() {
    let gone = CaptureEvent::Trouble(Recovery::Reopen);
    let devices =
        vec![Some((48_000, with(sound(50), gone))), None, None, Some((44_100, sound(200)))];
    let (heard, microphone) = run(devices, 200);
    let events = events(&heard);
    let [Heard::Lost { at, why }, Heard::Gap(gap)] = events[..] else { panic!("{events:?}") };
    assert_eq!((at, why), (at_ms(1_000), GapReason::DeviceGone));
    assert_eq!((gap.from, gap.why), (at, why));
    let resumed = heard.iter().rev().find_map(|h| match h {
        Heard::Frame(f) => Some(f.clone()),
        _ => None,
    });
    // 200 steps of 20 ms are 4 s: the last frames are there, not 4 s minus the gap.
    let end = resumed.unwrap().end().as_secs_f64();
    assert!((3.95..=4.0).contains(&end), "ends at {end}");
    // Tries at once, after 0.25 s and after 0.5 s more; the sound of the first block began 20 ms earlier.
    assert!((1.70..1.90).contains(&gap.to.as_secs_f64()), "{gap:?}");
    assert_eq!(microphone.faults().reopened, 1);
    assert!(microphone.refusal().is_none());
}

#[test]
fn session_time_goes_on_without_sound_and_the_device_is_awaited_for_ever() {
    let gone = CaptureEvent::Trouble(Recovery::Reopen);
    let (heard, microphone) = run(vec![Some((16_000, with(sound(50), gone)))], 30_000);
    assert_eq!(events(&heard), [Heard::Lost { at: at_ms(1_000), why: GapReason::DeviceGone }]);
    assert_eq!(microphone.session_time(STEP * 30_000), at_ms(600_000));
    assert_eq!(
        microphone.refusal().unwrap().to_string(),
        "scripted is not there. Plug it in again, or choose another device"
    );
}

#[test]
fn a_device_that_hangs_is_opened_again() {
    let (heard, _) = run(vec![Some((16_000, sound(50))), Some((16_000, sound(50)))], 300);
    let events = events(&heard);
    assert_eq!(events[0], Heard::Lost { at: at_ms(1_000), why: GapReason::Stalled });
    let Heard::Gap(gap) = events[1] else { panic!("{events:?}") };
    assert!((1.9..2.1).contains(&gap.to.as_secs_f64()), "{gap:?}");
}

#[test]
fn a_device_that_gives_nothing_but_troubles_is_opened_again() {
    let troubles = std::iter::repeat_n(CaptureEvent::Trouble(Recovery::CarryOn), 500);
    let gone = sound(50).into_iter().chain(troubles).collect();
    let (heard, _) = run(vec![Some((48_000, gone)), Some((48_000, sound(50)))], 200);
    assert_eq!(events(&heard)[0], Heard::Lost { at: at_ms(1_000), why: GapReason::Stalled });
    assert!(matches!(events(&heard)[1], Heard::Gap(_)), "it came back");
}

#[test]
fn a_program_that_was_held_up_takes_what_was_kept_for_it() {
    let one_by_one = || [CaptureEvent::Samples, CaptureEvent::Nothing].repeat(50);
    // A second of sound, three that were kept (but not there at the first look), and one more.
    let mut script = one_by_one();
    script.push(CaptureEvent::Nothing);
    script.extend(with(sound(150), CaptureEvent::Nothing));
    script.extend(one_by_one());
    let mut microphone = Microphone::open(Script::new(vec![Some((16_000, script))])).unwrap();
    let mut told = Vec::new();
    let held_up = (51..=52).map(|step| STEP * step + Duration::from_secs(3));
    let after = (201..=250).map(|step| STEP * step);
    for now in (1..=50).map(|step| STEP * step).chain(held_up).chain(after) {
        while let Some(next) = microphone.poll(now) {
            told.push(next);
        }
    }
    assert_eq!(events(&told), []);
    let Some(Heard::Frame(last)) = told.last() else { panic!("{told:?}") };
    assert!(last.end() > at_ms(4_900), "{:?}", last.end());
}

#[test]
fn an_hour_of_sleep_in_mid_session_is_a_gap_of_an_hour() {
    let hour = Duration::from_secs(3_600);
    let script = [CaptureEvent::Samples, CaptureEvent::Nothing].repeat(400);
    let mut microphone = Microphone::open(Script::new(vec![Some((16_000, script))])).unwrap();
    let mut told = Vec::new();
    let before = (1..=100).map(|step| STEP * step);
    let after = (101..=400).map(|step| STEP * step + hour);
    for now in before.chain(after) {
        while let Some(next) = microphone.poll(now) {
            told.push(next);
        }
    }
    let events = events(&told);
    let [Heard::Gap(gap)] = events[..] else { panic!("{events:?}") };
    let lasted = gap.to.since(gap.from).as_secs_f64();
    assert!((lasted - 3_600.0).abs() < 0.05, "{lasted} s");
    let Some(Heard::Frame(last)) = told.last() else { panic!("no sound after it") };
    assert!((last.end().as_secs_f64() - 3_608.0).abs() < 0.05, "{:?}", last.end());
}

#[test]
fn a_device_without_any_sound_from_the_start_is_told() {
    let (heard, _) = run(vec![Some((16_000, vec![])), Some((16_000, sound(50)))], 400);
    let events = events(&heard);
    assert_eq!(events[0], Heard::Lost { at: At::ZERO, why: GapReason::Stalled });
    assert!(matches!(events[1], Heard::Gap(Gap { from: At::ZERO, to: At::ZERO, .. })));
}

#[test]
fn sound_that_this_program_was_too_slow_for_is_a_gap_of_its_length() {
    let mut script = with(sound(10), CaptureEvent::Missing(48_000));
    script.extend(sound(10));
    let (heard, microphone) = run(vec![Some((48_000, script))], 21);
    let gap = Gap { from: at_ms(200), to: at_ms(1_200), why: GapReason::TooSlow };
    assert_eq!(events(&heard), [Heard::Gap(gap)]);
    let after = heard.iter().skip_while(|h| !matches!(h, Heard::Gap(_))).nth(1);
    assert!(matches!(after, Some(Heard::Frame(f)) if f.at() == gap.to), "{after:?}");
    assert_eq!(microphone.faults().missing, Duration::from_secs(1));
}

#[test]
fn an_xrun_without_loss_is_counted_and_is_not_a_gap() {
    let mut script = with(sound(100), CaptureEvent::Trouble(Recovery::LogGap));
    script.extend(sound(1));
    script.extend(sound(100));
    let (heard, microphone) = run(vec![Some((16_000, script))], 200);
    assert_eq!(microphone.faults().xruns, 1);
    // The script's trouble takes one step of 20 ms without samples: the least that is reported.
    assert!(events(&heard).len() <= 1, "{:?}", events(&heard));
}

#[test]
fn a_device_that_keeps_failing_is_tried_ever_more_rarely() {
    let flaky = Some((16_000, with(sound(2), CaptureEvent::Trouble(Recovery::Reopen))));
    let (heard, _) = run(vec![flaky; 100], 1_500);
    let told = events(&heard).len();
    // In 30 s: at 0, 0.3, 0.9, 2, 4, 8, ... and every four seconds, twice each.
    assert!((16..26).contains(&told), "{told} events");
}

#[test]
fn a_first_open_that_fails_says_why() {
    let error = Microphone::open(Script::new(vec![None])).err().unwrap();
    assert!(error.to_string().contains("Plug it in"));
}

fn any_event() -> impl Strategy<Value = CaptureEvent> {
    prop_oneof![
        20 => Just(CaptureEvent::Samples),
        3 => Just(CaptureEvent::Nothing),
        1 => (0u64..200_000).prop_map(CaptureEvent::Missing),
        1 => Just(CaptureEvent::Trouble(Recovery::LogGap)),
        1 => Just(CaptureEvent::Trouble(Recovery::CarryOn)),
        1 => Just(CaptureEvent::Trouble(Recovery::Reopen)),
        1 => Just(CaptureEvent::Trouble(Recovery::Stop)),
    ]
}

fn any_device() -> impl Strategy<Value = Try> {
    let rate = prop_oneof![Just(16_000u32), Just(44_100), Just(48_000)];
    proptest::option::weighted(0.8, (rate, proptest::collection::vec(any_event(), 0..120)))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]
    #[test]
    fn whatever_devices_do_frames_never_overlap_and_every_hole_is_told(
        first in proptest::collection::vec(any_event(), 0..120),
        devices in proptest::collection::vec(any_device(), 0..6),
    ) {
        let mut script = vec![Some((48_000, first))];
        script.extend(devices);
        let (heard, _) = run(script, 1_500);
        let (mut end, mut lost) = (0u64, None);
        for next in heard {
            match next {
                Heard::Frame(frame) => {
                    prop_assert!(lost.is_none(), "sound while lost");
                    // A resampler rounds up when it is emptied: one sample at most.
                    prop_assert!(frame.first_sample.abs_diff(end) <= 1, "{} after {end}", frame.first_sample);
                    end = frame.end_sample();
                }
                Heard::Lost { at, .. } => {
                    prop_assert!(lost.is_none(), "lost twice");
                    lost = Some(at);
                }
                Heard::Gap(gap) => {
                    prop_assert!(gap.to >= gap.from);
                    lost = None;
                    end = samples_at(gap.to + Duration::from_nanos(50));
                }
            }
        }
    }
}
