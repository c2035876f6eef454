//! The only reader of clocks and entropy. Everything else is given times and ids, so that a test can
//! fix them.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, SystemTime};

use jiff::Timestamp;
use uuid::Uuid;

/// Tells the time and makes ids; cheap to clone, every clone the same clock.
///
/// ```
/// use hushtally::clock::Clock;
/// use std::time::Duration;
/// let (clock, hands) = Clock::fake("2026-01-02T03:04:05Z".parse()?);
/// hands.advance(Duration::from_secs(2));
/// assert_eq!(clock.now(), Duration::from_secs(2));
/// assert_eq!(clock.utc().to_string(), "2026-01-02T03:04:07Z");
/// # Ok::<(), jiff::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Clock(Source);

#[derive(Debug, Clone)]
enum Source {
    Real { start: Duration },
    Fake(FakeHands),
}

impl Clock {
    /// The computer's clock.
    pub fn real() -> Self {
        Clock(Source::Real { start: since_boot() })
    }

    /// A clock that stands still at `utc` until its hands are moved, and whose ids are always the
    /// same in the same order.
    pub fn fake(utc: Timestamp) -> (Self, FakeHands) {
        let hands = FakeHands(Arc::new(Mutex::new(Fake { now: Duration::ZERO, utc, ids: 0 })));
        (Clock(Source::Fake(hands.clone())), hands)
    }

    /// Time since this clock was made. Never goes back, whatever happens to the time of day, and goes
    /// on while the computer sleeps: an hour with the lid closed is an hour.
    pub fn now(&self) -> Duration {
        match &self.0 {
            Source::Real { start } => since_boot().saturating_sub(*start),
            Source::Fake(hands) => hands.lock().now,
        }
    }

    /// The time of day, UTC. Can jump when someone sets the computer's clock; a time before 1970 or after 9999, which
    /// no record can hold, is the nearest that it can.
    pub fn utc(&self) -> Timestamp {
        match &self.0 {
            Source::Real { .. } => timestamp(time_of_day()),
            Source::Fake(hands) => hands.lock().utc,
        }
    }

    /// Whether the computer's clock can be believed: whatever is recorded keeps its date for ever.
    ///
    /// # Errors
    /// It tells a time long before or long after this program was made.
    pub fn check() -> Result<(), WrongClock> {
        let said = time_of_day();
        if BELIEVED_YEARS.contains(&year(said)) { Ok(()) } else { Err(WrongClock(said)) }
    }

    /// Processor time that this thread has used so far, whatever else the computer was doing.
    pub fn worked() -> Duration {
        read(rustix::time::ClockId::ThreadCPUTime)
    }

    /// A new UUIDv7: ids made later by the same program sort later.
    #[expect(clippy::disallowed_methods, reason = "this is the place that draws entropy")]
    pub fn new_id(&self) -> Uuid {
        match &self.0 {
            // Its time has 48 bits, and none for what was before 1970 or is after 10889.
            Source::Real { .. } if Clock::check().is_ok() => Uuid::now_v7(),
            Source::Real { .. } => {
                let millis = u64::try_from(self.utc().as_millisecond()).unwrap_or(0);
                let mut random = [0; 10];
                // Without chance two may be the same, and the record refuses the second.
                let _ = getrandom::fill(&mut random);
                uuid::Builder::from_unix_timestamp_millis(millis, &random).into_uuid()
            }
            Source::Fake(hands) => hands.lock().next_id(),
        }
    }

    /// 32 hexadecimal digits that nobody can guess; of a fake clock, always the same.
    ///
    /// # Errors
    /// The system has no entropy to give.
    pub fn new_secret(&self) -> Result<String, getrandom::Error> {
        let mut bytes = [0; 16];
        match &self.0 {
            Source::Real { .. } => getrandom::fill(&mut bytes)?,
            Source::Fake(_) => bytes = [0xab; 16],
        }
        Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
    }
}

/// Years in which this program may be used.
const BELIEVED_YEARS: std::ops::Range<i64> = 2000..2500;

/// The computer's clock tells a time that cannot be believed.
#[derive(Debug, thiserror::Error)]
#[error(
    "this computer's clock says that it is the year {}, and whatever is recorded would keep that date for ever: set the clock, then try again",
    year(*.0)
)]
pub struct WrongClock(SystemTime);

#[expect(clippy::disallowed_methods, reason = "this is the place that reads the clock")]
fn time_of_day() -> SystemTime {
    SystemTime::now()
}

/// The nearest moment that a record can hold.
fn timestamp(time: SystemTime) -> Timestamp {
    match time.duration_since(SystemTime::UNIX_EPOCH) {
        Ok(since) => Timestamp::UNIX_EPOCH.saturating_add(since).unwrap_or(Timestamp::MAX),
        Err(_) => Timestamp::UNIX_EPOCH,
    }
}

/// The year of the Gregorian calendar, to within a day: for years that no calendar here reaches, too.
fn year(time: SystemTime) -> i64 {
    /// Of a year of that calendar.
    const MEAN_SECONDS: i64 = 31_556_952;
    let seconds = match time.duration_since(SystemTime::UNIX_EPOCH) {
        Ok(since) => i64::try_from(since.as_secs()).unwrap_or(i64::MAX),
        Err(before) => i64::try_from(before.duration().as_secs()).map_or(i64::MIN, |s| -s),
    };
    1970 + seconds.div_euclid(MEAN_SECONDS)
}

/// Time since the computer started, sleep included. The standard library's clock stands still in sleep.
fn since_boot() -> Duration {
    #[cfg(any(target_os = "linux", target_os = "android"))]
    let clock = rustix::time::ClockId::Boottime;
    #[cfg(not(any(target_os = "linux", target_os = "android")))]
    let clock = rustix::time::ClockId::Monotonic;
    read(clock)
}

fn read(clock: rustix::time::ClockId) -> Duration {
    let time = rustix::time::clock_gettime(clock);
    Duration::new(
        u64::try_from(time.tv_sec).unwrap_or_default(),
        u32::try_from(time.tv_nsec).unwrap_or_default(),
    )
}

/// Moves a fake clock.
#[derive(Debug, Clone)]
pub struct FakeHands(Arc<Mutex<Fake>>);

#[derive(Debug)]
struct Fake {
    now: Duration,
    utc: Timestamp,
    ids: u64,
}

impl Fake {
    fn next_id(&mut self) -> Uuid {
        self.ids += 1;
        let millis = u64::try_from(self.utc.as_millisecond()).unwrap_or(0);
        // The counter takes the place of the random bits, most significant first, so that ids sort
        // in the order in which they were made. The first 12 of the 80 bits are shared with the
        // version field, hence the two leading zero bytes.
        let mut counter = [0; 10];
        counter[2..].copy_from_slice(&(self.ids & (u64::MAX >> 2)).to_be_bytes());
        uuid::Builder::from_unix_timestamp_millis(millis, &counter).into_uuid()
    }
}

impl FakeHands {
    /// Lets time pass: both the steady clock and the time of day go on.
    pub fn advance(&self, by: Duration) {
        let mut fake = self.lock();
        fake.now = fake.now.saturating_add(by);
        fake.utc = fake.utc.saturating_add(by).unwrap_or(Timestamp::MAX);
    }

    /// Sets the time of day alone, as a person or the network may do at any time.
    pub fn set_utc(&self, utc: Timestamp) {
        self.lock().utc = utc;
    }

    fn lock(&self) -> MutexGuard<'_, Fake> {
        // A panicking test leaves the fake as it is: nothing in it can be half done.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_steady_clock_does_not_follow_the_time_of_day() {
        let (clock, hands) = Clock::fake(Timestamp::UNIX_EPOCH);
        hands.advance(Duration::from_secs(5));
        hands.set_utc("2001-01-01T00:00:00Z".parse().unwrap());
        assert_eq!(clock.now(), Duration::from_secs(5));
        assert_eq!(clock.utc().to_string(), "2001-01-01T00:00:00Z");
    }

    #[test]
    fn ids_sort_in_the_order_in_which_they_were_made() {
        let (fake, hands) = Clock::fake("2026-01-02T03:04:05Z".parse().unwrap());
        for clock in [Clock::real(), fake] {
            let ids: Vec<_> = (0..2_000)
                .map(|i| {
                    if i % 500 == 0 {
                        hands.advance(Duration::from_millis(1));
                    }
                    clock.new_id()
                })
                .collect();
            assert!(ids.windows(2).all(|pair| pair[0] < pair[1]));
            assert!(ids.iter().all(|id| id.get_version_num() == 7));
        }
    }

    #[test]
    fn times_that_no_record_can_hold_are_the_nearest_that_it_can() {
        let after =
            |seconds| SystemTime::UNIX_EPOCH.checked_add(Duration::from_secs(seconds)).unwrap();
        let before = SystemTime::UNIX_EPOCH - Duration::from_secs(10 * 31_556_952);
        assert_eq!((year(before), timestamp(before)), (1960, Timestamp::UNIX_EPOCH));
        // 11000-01-01T00:00:00Z: 3 298 140 days of the proleptic Gregorian calendar, counted outside.
        let far = after(3_298_140 * 86_400);
        assert_eq!((year(far), timestamp(far)), (11_000, Timestamp::MAX));
        // 2026-11-27T00:00:00Z.
        assert_eq!(year(after(1_795_737_600)), 2026);
        assert!(Clock::check().is_ok());
    }

    #[test]
    fn fake_ids_are_the_same_every_time() {
        let made = || {
            let (clock, _hands) = Clock::fake("2026-01-02T03:04:05Z".parse().unwrap());
            [clock.new_id(), clock.new_id()]
        };
        assert_eq!(made(), made());
    }

    #[test]
    fn the_real_clock_goes_on() {
        let clock = Clock::real();
        let (first, id) = (clock.now(), clock.new_id());
        std::thread::sleep(Duration::from_millis(5));
        assert!(clock.now() >= first + Duration::from_millis(4));
        assert!(clock.new_id() > id);
    }
}
