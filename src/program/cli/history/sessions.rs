//! `hushtally sessions`

use std::collections::BTreeMap;
use std::fmt::Write as _;

use clap::Args;
use jiff::civil::Date;
use minijinja::context;
use serde::Serialize;

use super::{View, Who, chart, print_json};
use crate::cli::Failure;
use crate::session::Tries;
use crate::store::{Filter, SessionRow, Source};
use crate::terminal::{say, say_part};
use crate::wording::{filled, text};

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally sessions                            the latest twenty
  hushtally sessions --animal Pepino --latest 100
  hushtally sessions --from 2026-01-01 --to 2026-01-31 --json
  hushtally sessions --calendar                 how many on which day, a line a week")]
pub(crate) struct SessionsArgs {
    /// Only this animal's
    #[arg(long, value_name = "NAME")]
    animal: Option<String>,
    /// Its species, when two have one name
    #[arg(long, requires = "animal")]
    species: Option<String>,
    /// Only this behaviour's
    #[arg(long, value_name = "NAME")]
    behaviour: Option<String>,
    /// Only this trainer's
    #[arg(long, value_name = "NAME")]
    person: Option<String>,
    /// From this date on
    #[arg(long, value_name = "DATE")]
    from: Option<Date>,
    /// Up to this date
    #[arg(long, value_name = "DATE")]
    to: Option<Date>,
    /// How many of the latest (20 unless dates or the calendar are asked for)
    #[arg(long, value_name = "N")]
    latest: Option<u32>,
    /// A line a week
    #[arg(long)]
    calendar: bool,
    #[command(flatten)]
    view: View,
}

/// A session as JSON shows it.
#[derive(Debug, Serialize)]
pub(super) struct Shown {
    id: String,
    animal: String,
    behaviour: String,
    began: String,
    zone: String,
    day: Date,
    person: Option<String>,
    place: Option<String>,
    source: &'static str,
    step: u8,
    best_step: Option<u8>,
    active_s: f64,
    #[serde(flatten)]
    tries: Tries,
    paid: [u32; 3],
    latency_median_s: Option<f64>,
    longest_hold_s: Option<f64>,
    unsure: u32,
    ended_well: bool,
}

impl Shown {
    pub(super) fn of(row: &SessionRow) -> Self {
        Shown {
            id: row.id.to_string(),
            animal: row.animal.clone(),
            behaviour: row.behaviour.clone(),
            began: row.began.to_string(),
            zone: row.zone.clone(),
            day: row.day,
            person: row.person.clone(),
            place: row.place.clone(),
            source: row.source.name(),
            step: row.last_step,
            best_step: row.best_step,
            active_s: row.active.as_secs_f64(),
            tries: row.tries(),
            paid: row.paid,
            latency_median_s: row.latency_median.map(|latency| latency.as_secs_f64()),
            longest_hold_s: row.longest_hold.map(|hold| hold.as_secs_f64()),
            unsure: row.unsure,
            ended_well: row.ended_well,
        }
    }
}

pub(crate) fn run(args: &SessionsArgs) -> Result<(), Failure> {
    let store = args.view.store()?;
    let animal = match &args.animal {
        Some(name) => {
            let who = Who { animal: name.clone(), species: args.species.clone() };
            Some(who.find(&store)?.id)
        }
        None => None,
    };
    let dated = args.from.is_some() || args.to.is_some() || args.calendar;
    let rows = store.sessions(&Filter {
        animal,
        behaviour: args.behaviour.clone(),
        person: args.person.clone(),
        from: args.from,
        to: args.to,
        latest: args.latest.or((!dated).then_some(20)),
        ..Filter::default()
    })?;
    if args.view.json {
        return print_json(&rows.iter().map(Shown::of).collect::<Vec<_>>());
    }
    if rows.is_empty() {
        say!("{}", text("screen.no_session_fits"));
    } else if args.calendar {
        say_part!("{}", calendar(&rows));
    } else {
        let all = store.sessions(&Filter::default())?;
        let keys: Vec<String> = all.iter().map(|row| row.id.to_string()).collect();
        say_part!("{}", list(&rows, unique(keys.iter().map(String::as_str))));
    }
    Ok(())
}

/// Characters of a key that are shown at least.
pub(super) const LEAST_KEY: usize = 8;

/// How much of each of these keys tells it from every other: the same for all, so that they line up.
pub(super) fn unique<'k>(keys: impl Iterator<Item = &'k str>) -> usize {
    let mut keys: Vec<&str> = keys.collect();
    keys.sort_unstable();
    let shared =
        |(a, b): (&str, &str)| a.bytes().zip(b.bytes()).take_while(|(a, b)| a == b).count();
    let pairs = keys.iter().zip(keys.iter().skip(1)).filter(|(a, b)| a != b);
    pairs.map(|(a, b)| shared((a, b)) + 1).fold(LEAST_KEY, usize::max)
}

/// The begin of a key.
pub(super) fn short(key: &str, length: usize) -> &str {
    key.get(..length).unwrap_or(key)
}

/// A line or a few a session; `key` is how much of a key tells one session from all others.
fn list(rows: &[SessionRow], key: usize) -> String {
    let heads = [
        "date",
        "animal",
        "behaviour",
        "step",
        "tries",
        "rewarded",
        "missed",
        "time",
        "a_minute",
        "by",
        "session",
    ];
    let mut lines = vec![heads.map(|head| text(&format!("screen.list_{head}"))).to_vec()];
    for row in rows {
        let minutes = row.active.as_secs_f64() / 60.0;
        let rate = if minutes > 0.0 {
            chart::tidy(f64::from(row.rewarded) / minutes)
        } else {
            String::new()
        };
        let invented = row.source == Source::Simulated;
        lines.push(vec![
            row.day.to_string(),
            filled("screen.animal_or_invented", context! { animal => &row.animal, invented }),
            row.behaviour.clone(),
            row.last_step.to_string(),
            row.tries().all().to_string(),
            row.rewarded.to_string(),
            row.missed.to_string(),
            chart::clock(row.active.as_secs_f64()),
            rate,
            row.person.clone().unwrap_or_default(),
            short(&row.id.to_string(), key).to_owned(),
        ]);
    }
    chart::table(&lines, 3)
}

/// A line a week, from Monday on, with the sessions of each day; weeks without any are named as a gap.
fn calendar(rows: &[SessionRow]) -> String {
    let mut weeks: BTreeMap<Date, ([u32; 7], f64)> = BTreeMap::new();
    for row in rows {
        let weekday = row.day.weekday().to_monday_zero_offset();
        let back = jiff::Span::new().days(i64::from(weekday));
        let monday = row.day.checked_sub(back).unwrap_or(row.day);
        let week = weeks.entry(monday).or_default();
        week.0[usize::try_from(weekday).unwrap_or(0)] += 1;
        week.1 += row.active.as_secs_f64();
    }
    let mut weeks_shown =
        format!("{:12}{}\n", text("screen.calendar_week_of"), text("screen.calendar_days"));
    let mut before: Option<Date> = None;
    for (monday, (days, seconds)) in weeks {
        let gap =
            before.and_then(|b| monday.since(b).ok()).map_or(0, |span| span.get_days() / 7 - 1);
        if gap > 0 {
            let _ = writeln!(
                weeks_shown,
                "            {}",
                filled("screen.calendar_gap", context! { gap })
            );
        }
        before = Some(monday);
        let cells: Vec<String> =
            days.iter().map(|n| if *n == 0 { " .".into() } else { format!("{n:2}") }).collect();
        let sessions: u32 = days.iter().sum();
        let _ = writeln!(
            weeks_shown,
            "{monday}  {}   {}",
            cells.join(" "),
            filled(
                "screen.calendar_week",
                context! { sessions, minutes => (seconds / 60.0).round() as u64 }
            )
        );
    }
    weeks_shown
}

#[cfg(test)]
pub(super) mod tests {
    use std::time::Duration;

    use super::*;
    use crate::store::{AnimalId, SessionId};

    pub(in super::super) fn row(day: &str) -> SessionRow {
        let id = uuid::Uuid::from_u128(7);
        SessionRow {
            id: SessionId(id),
            animal_id: AnimalId(id),
            animal: "Pepino".into(),
            species: "cockatiel".into(),
            behaviour: "rests a foot".into(),
            plan_version: 1,
            person: Some("Ada".into()),
            place: None,
            began: "2026-01-02T16:00:00Z".parse().unwrap(),
            zone: "Europe/Berlin".into(),
            offset_s: 3600,
            day: day.parse().unwrap(),
            source: Source::Simulated,
            start_step: 1,
            last_step: 2,
            best_step: Some(3),
            active: Duration::from_secs(125),
            rewarded: 17,
            missed: 3,
            paid: [5, 11, 1],
            latency_median: None,
            longest_hold: None,
            unsure: 0,
            edits: 0,
            main_nudge: None,
            ended_well: true,
            ended: None,
            sitting: None,
            declining: None,
        }
    }

    #[test]
    fn keys_are_as_long_as_tells_them_apart() {
        let keys = ["01a213a7-c9c8-7000", "01a213a7-c9d8-7000", "01b00000-0000-7000"];
        assert_eq!(unique(keys.into_iter()), "01a213a7-c9c".len());
        assert_eq!(unique(keys[1..].iter().copied()), LEAST_KEY);
        assert_eq!(short(keys[0], LEAST_KEY), "01a213a7");
    }

    #[test]
    fn a_session_is_a_line_or_a_few_that_fit() {
        insta::assert_snapshot!(list(&[row("2026-01-02")], 8), @r"
        2026-01-02, Pepino (invented), rests a foot
            step 2; tries 20; rewarded 17; missed 3; time 2:05; a minute 8.2; by Ada;
            session 00000000
        ");
    }

    #[test]
    fn the_calendar_has_a_line_a_week_and_names_gaps() {
        let rows = ["2025-12-29", "2026-01-02", "2026-01-02", "2026-01-25"].map(row);
        insta::assert_snapshot!(calendar(&rows), @r"
        week of     Mo Tu We Th Fr Sa Su
        2025-12-29   1  .  .  .  2  .  .   3 sessions, 6 minutes
                    2 weeks without a session
        2026-01-19   .  .  .  .  .  .  1   1 session, 2 minutes
        ");
    }
}
