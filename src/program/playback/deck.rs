//! What the player does from moment to moment, without a thread or a clock: two lanes of sounds, one
//! after the other in each, on an output that may come and go.

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use super::output::{Output, OutputOpener};
use super::sound::{DropReason, Lane, Played, Sound, SoundId};
use super::source::{Playing, Progress};
use crate::audio::device::{DeviceError, Recovery};

/// Sounds that can wait in one lane.
const WAITING: usize = 64;
const FIRST_RETRY: Duration = Duration::from_millis(500);
const LONGEST_RETRY: Duration = Duration::from_secs(8);
/// An output that takes no samples for this long is dead. Counted in ticks of [`LONGEST_TICK`] at most,
/// so that a program that was held up does not blame the output. PulseAudio's null output takes nothing
/// for up to two seconds after a start (seen).
const STALL: Duration = Duration::from_secs(3);
const LONGEST_TICK: Duration = Duration::from_millis(60);

/// A sound that was asked for.
pub(crate) struct Asked {
    pub(crate) id: SoundId,
    pub(crate) sound: Sound,
    pub(crate) at: Duration,
    /// Count of stops of its lane at that time.
    pub(crate) born: u64,
}

/// Counts of stops, by lane.
pub(crate) type Stops = [Arc<AtomicU64>; 2];

struct Current {
    id: SoundId,
    progress: Arc<Progress>,
    told: bool,
}

#[derive(Default)]
struct Track {
    waiting: VecDeque<Asked>,
    current: Option<Current>,
}

/// Watches an output's beats.
#[derive(Default)]
struct Pulse {
    beats: u64,
    silent_for: Duration,
    looked: Option<Duration>,
}

impl Pulse {
    fn has_stopped(&mut self, now: Duration, beats: u64) -> bool {
        let passed = now.saturating_sub(self.looked.unwrap_or(now)).min(LONGEST_TICK);
        self.looked = Some(now);
        if beats == self.beats {
            self.silent_for += passed;
        } else {
            (self.beats, self.silent_for) = (beats, Duration::ZERO);
        }
        self.silent_for >= STALL
    }
}

pub(crate) struct Deck<O> {
    opener: O,
    output: Option<Box<dyn Output>>,
    pulse: Pulse,
    tracks: [Track; 2],
    stops: Stops,
    retry_at: Duration,
    tries: u32,
    told_away: Option<DeviceError>,
    told: Vec<Played>,
}

impl<O: OutputOpener> Deck<O> {
    pub(crate) fn new(opener: O, stops: Stops) -> Self {
        Deck {
            opener,
            output: None,
            pulse: Pulse::default(),
            tracks: Default::default(),
            stops,
            retry_at: Duration::ZERO,
            tries: 0,
            told_away: None,
            told: Vec::new(),
        }
    }

    pub(crate) fn ask(&mut self, asked: Asked) {
        let track = &mut self.tracks[asked.sound.lane as usize];
        if track.waiting.len() < WAITING {
            track.waiting.push_back(asked);
        } else {
            self.told.push(Played::Dropped { id: asked.id, why: DropReason::TooMany });
        }
    }

    /// True if anything plays or waits.
    pub(crate) fn is_busy(&self) -> bool {
        self.tracks.iter().any(|t| t.current.is_some() || !t.waiting.is_empty())
    }

    /// Looks after everything, and gives what there is to report.
    pub(crate) fn tick(&mut self, now: Duration) -> Vec<Played> {
        self.look_after_output(now);
        for lane in [Lane::Nudge, Lane::Speech] {
            self.follow(lane, now);
            self.begin_next(lane, now);
        }
        std::mem::take(&mut self.told)
    }

    fn look_after_output(&mut self, now: Duration) {
        let trouble = self.output.as_mut().and_then(|o| o.trouble());
        let stalled = match &self.output {
            Some(output) => self.pulse.has_stopped(now, output.beats()),
            None => false,
        };
        if self.pulse.beats > 0 {
            self.tries = 0;
        }
        if stalled || matches!(trouble, Some(Recovery::Reopen | Recovery::Stop)) {
            let device = self.output.as_ref().map_or_else(String::new, |o| o.device().to_owned());
            self.close(now, DeviceError::Gone { device });
        }
        if self.output.is_some() || now < self.retry_at {
            return;
        }
        match self.opener.open() {
            Ok(output) => {
                self.told.push(Played::OutputReady { device: output.device().to_owned() });
                self.output = Some(output);
                self.pulse = Pulse::default();
                self.told_away = None;
            }
            Err(error) => {
                self.wait_longer(now);
                self.tell_away(error);
            }
        }
    }

    fn close(&mut self, now: Duration, error: DeviceError) {
        self.output = None;
        for track in &mut self.tracks {
            if let Some(current) = track.current.take() {
                self.told.push(Played::Ended { id: current.id, at: now, cut: true });
            }
        }
        // One that fails as soon as it is opened is left longer and longer, too.
        self.wait_longer(now);
        self.tell_away(error);
    }

    fn wait_longer(&mut self, now: Duration) {
        self.retry_at = now + FIRST_RETRY.saturating_mul(1 << self.tries.min(8)).min(LONGEST_RETRY);
        self.tries += 1;
    }

    fn tell_away(&mut self, error: DeviceError) {
        if self.told_away.as_ref() != Some(&error) {
            self.told.push(Played::OutputAway { error: error.clone() });
            self.told_away = Some(error);
        }
    }

    fn follow(&mut self, lane: Lane, now: Duration) {
        let track = &mut self.tracks[lane as usize];
        let Some(current) = &mut track.current else { return };
        let latency = self.output.as_ref().map_or(Duration::ZERO, |o| o.latency());
        if !current.told && current.progress.started.load(Ordering::Acquire) {
            current.told = true;
            self.told.push(Played::Started { id: current.id, at: now });
        }
        if current.progress.ended.load(Ordering::Acquire) {
            let cut = current.progress.cut.load(Ordering::Acquire);
            self.told.push(Played::Ended { id: current.id, at: now + latency, cut });
            track.current = None;
        }
    }

    fn begin_next(&mut self, lane: Lane, now: Duration) {
        let track = &mut self.tracks[lane as usize];
        let stops = &self.stops[lane as usize];
        while track.current.is_none() {
            let Some(asked) = track.waiting.pop_front() else { return };
            let waited = now.saturating_sub(asked.at);
            let why = if asked.born != stops.load(Ordering::Acquire) {
                Some(DropReason::Stopped)
            } else if asked.sound.stale_after.is_some_and(|longest| waited > longest) {
                Some(DropReason::Stale)
            } else if self.output.is_none() {
                Some(DropReason::NoOutput)
            } else {
                None
            };
            if let Some(why) = why {
                self.told.push(Played::Dropped { id: asked.id, why });
                continue;
            }
            let Sound { samples, rate, .. } = asked.sound;
            let progress = Arc::new(Progress::default());
            let playing =
                Playing::new(samples, rate, Arc::clone(&progress), Arc::clone(stops), asked.born);
            if let Some(output) = &mut self.output {
                output.add(playing);
            }
            track.current = Some(Current { id: asked.id, progress, told: false });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::num::NonZeroU32;
    use std::sync::Mutex;

    const MS: Duration = Duration::from_millis(1);

    /// What the scripted output was given, and how it behaves.
    #[derive(Default)]
    struct World {
        playing: Vec<Playing>,
        trouble: Option<Recovery>,
        refuses: bool,
        opened: u32,
        beats: u64,
    }

    #[derive(Clone, Default)]
    struct Scripted(Arc<Mutex<World>>);

    impl Output for Scripted {
        fn add(&mut self, sound: Playing) {
            self.0.lock().unwrap().playing.push(sound);
        }
        fn trouble(&mut self) -> Option<Recovery> {
            self.0.lock().unwrap().trouble.take()
        }
        fn beats(&self) -> u64 {
            self.0.lock().unwrap().beats
        }
        fn latency(&self) -> Duration {
            50 * MS
        }
        fn device(&self) -> &str {
            "ear"
        }
    }

    impl OutputOpener for Scripted {
        fn open(&mut self) -> Result<Box<dyn Output>, DeviceError> {
            let mut world = self.0.lock().unwrap();
            world.opened += 1;
            if world.refuses {
                return Err(DeviceError::Gone { device: "ear".to_owned() });
            }
            Ok(Box::new(self.clone()))
        }
    }

    impl Scripted {
        /// Pulls samples for `ms` from everything that plays, as the sound system would.
        fn pull(&self, ms: usize) -> Vec<f32> {
            let mut world = self.0.lock().unwrap();
            world.beats += ms as u64;
            let mut mixed = vec![0.0; ms];
            world.playing.retain_mut(|sound| {
                mixed.iter_mut().all(|m| sound.next().map(|s| *m += s).is_some())
            });
            mixed
        }
    }

    struct Bench {
        deck: Deck<Scripted>,
        world: Scripted,
        stops: Stops,
        now: Duration,
        ids: u64,
    }

    impl Bench {
        fn new() -> Self {
            let (world, stops): (Scripted, Stops) = Default::default();
            let deck = Deck::new(world.clone(), stops.clone());
            Bench { deck, world, stops, now: Duration::ZERO, ids: 0 }
        }

        /// Asks for a sound of `ms` at 1000 samples a second.
        fn ask(&mut self, lane: Lane, ms: usize, stale_after: Option<Duration>) -> SoundId {
            self.ids += 1;
            let id = SoundId(self.ids);
            let rate = NonZeroU32::new(1_000).unwrap();
            let sound = Sound { samples: vec![0.5; ms].into(), rate, lane, stale_after };
            let born = self.stops[lane as usize].load(Ordering::Acquire);
            self.deck.ask(Asked { id, sound, at: self.now, born });
            id
        }

        /// Lets `ms` pass in steps of 5 ms.
        fn run(&mut self, ms: usize) -> Vec<Played> {
            let mut told = Vec::new();
            for _ in 0..ms / 5 {
                told.extend(self.deck.tick(self.now));
                self.world.pull(5);
                self.now += 5 * MS;
            }
            told
        }
    }

    #[test]
    fn a_sound_is_told_from_start_to_end() {
        let mut bench = Bench::new();
        let id = bench.ask(Lane::Nudge, 100, None);
        let told = bench.run(200);
        let [
            Played::OutputReady { .. },
            Played::Started { id: began, at },
            Played::Ended { id: over, at: end, cut: false },
        ] = &told[..]
        else {
            panic!("{told:?}")
        };
        assert_eq!((*began, *over), (id, id));
        // The last sample was handed over at 105 and sounds 50 ms later.
        assert!(*at <= 5 * MS && (150 * MS..=160 * MS).contains(end), "{at:?} {end:?}");
        assert!(!bench.deck.is_busy());
    }

    #[test]
    fn one_lane_takes_turns_and_two_lanes_sound_together() {
        let mut bench = Bench::new();
        bench.ask(Lane::Nudge, 100, None);
        bench.ask(Lane::Nudge, 100, None);
        bench.ask(Lane::Speech, 100, None);
        bench.run(10);
        assert_eq!(bench.world.0.lock().unwrap().playing.len(), 2);
        bench.run(150);
        assert_eq!(bench.world.0.lock().unwrap().playing.len(), 1, "the second nudge, alone");
    }

    #[test]
    fn a_stop_ends_what_plays_and_what_waits_in_its_lane_only() {
        let mut bench = Bench::new();
        let [speech, next, nudge] = [
            bench.ask(Lane::Speech, 1_000, None),
            bench.ask(Lane::Speech, 1_000, None),
            bench.ask(Lane::Nudge, 1_000, None),
        ];
        bench.run(100);
        bench.stops[Lane::Speech as usize].fetch_add(1, Ordering::Release);
        let after = bench.ask(Lane::Speech, 10, None);
        let told = bench.run(60);
        assert!(
            told.iter().any(|t| matches!(t, Played::Ended { id, cut: true, .. } if *id == speech))
        );
        assert!(told.contains(&Played::Dropped { id: next, why: DropReason::Stopped }));
        assert!(
            told.iter().any(|t| matches!(t, Played::Ended { id, cut: false, .. } if *id == after))
        );
        assert!(!told.iter().any(|t| matches!(t, Played::Ended { id, .. } if *id == nudge)));
    }

    #[test]
    fn a_nudge_that_waited_too_long_is_not_played() {
        let mut bench = Bench::new();
        bench.ask(Lane::Nudge, 600, None);
        let late = bench.ask(Lane::Nudge, 100, Some(500 * MS));
        let told = bench.run(1_000);
        assert!(told.contains(&Played::Dropped { id: late, why: DropReason::Stale }), "{told:?}");
    }

    #[test]
    fn without_an_output_sounds_are_dropped_and_it_is_tried_ever_more_rarely() {
        let mut bench = Bench::new();
        bench.world.0.lock().unwrap().refuses = true;
        let id = bench.ask(Lane::Nudge, 100, None);
        let told = bench.run(60_000);
        let away = told.iter().filter(|t| matches!(t, Played::OutputAway { .. })).count();
        assert_eq!(away, 1, "told once");
        assert!(told.contains(&Played::Dropped { id, why: DropReason::NoOutput }));
        let opened = bench.world.0.lock().unwrap().opened;
        assert!((8..16).contains(&opened), "{opened} tries in a minute");
        bench.world.0.lock().unwrap().refuses = false;
        let told = bench.run(9_000);
        assert!(told.iter().any(|t| matches!(t, Played::OutputReady { .. })));
    }

    #[test]
    fn an_output_that_goes_away_ends_its_sounds_and_comes_back() {
        let mut bench = Bench::new();
        let id = bench.ask(Lane::Speech, 5_000, None);
        bench.run(100);
        bench.world.0.lock().unwrap().trouble = Some(Recovery::Reopen);
        let told = bench.run(1_000);
        assert!(
            told.iter().any(|t| matches!(t, Played::Ended { id: i, cut: true, .. } if *i == id))
        );
        let away = told.iter().position(|t| matches!(t, Played::OutputAway { .. })).unwrap();
        assert!(told[away..].iter().any(|t| matches!(t, Played::OutputReady { .. })));
    }

    #[test]
    fn an_output_that_takes_no_samples_is_opened_again() {
        let mut bench = Bench::new();
        bench.ask(Lane::Nudge, 100, None);
        let mut told = Vec::new();
        for _ in 0..1_600 {
            told.extend(bench.deck.tick(bench.now)); // and nobody pulls
            bench.now += 5 * MS;
        }
        assert!(told.iter().any(|t| matches!(t, Played::OutputAway { .. })), "{told:?}");
        // In eight seconds: at 0, at 3.5 (dead for 3, wait 0.5) and at 7.5 (dead for 3, wait 1).
        assert_eq!(bench.world.0.lock().unwrap().opened, 3);
    }

    #[test]
    fn too_many_sounds_are_dropped_and_told() {
        let mut bench = Bench::new();
        for _ in 0..100 {
            bench.ask(Lane::Nudge, 10, None);
        }
        let told = bench.run(5);
        let dropped = told
            .iter()
            .filter(|t| matches!(t, Played::Dropped { why: DropReason::TooMany, .. }))
            .count();
        assert_eq!(dropped, 36);
    }
}
