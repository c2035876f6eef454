//! `hushtally plan next ANIMAL`

use std::path::PathBuf;
use std::time::Duration;

use clap::Args;
use minijinja::context;
use minijinja::value::{Serde, Value};

use super::{View, Who, body_of, chart, now, present_plan, print_json_with_alarms};
use crate::audio::choice::DeviceChoice;
use crate::cli::Failure;
use crate::clock::Clock;
use crate::history::body::Train;
use crate::history::next::{self, Next};
use crate::history::planned::Stands;
use crate::known::Known;
use crate::run::{Sounds, Tuning, tests_of};
use crate::session::Reason;
use crate::terminal::{say_part, tell};
use crate::wording::{Wording, filled, text as said};

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally plan next Pepino                      the behaviour whose turn it is
  hushtally plan next Pepino --plan pepino.toml   by the plan as it is now
  hushtally plan next Pepino --aloud              read aloud, in two or three sentences
  hushtally plan next Pepino --why                with method and source of each advice")]
pub(crate) struct NextArgs {
    #[command(flatten)]
    who: Who,
    /// Another behaviour than the one whose turn it is
    #[arg(long, value_name = "NAME")]
    behaviour: Option<String>,
    /// The plan as it is now, instead of as the latest session had it
    #[arg(long, value_name = "FILE")]
    plan: Option<PathBuf>,
    /// Read it aloud, too
    #[arg(long)]
    aloud: bool,
    /// Say why: method and source
    #[arg(long)]
    why: bool,
    /// Where it is read: part of the output's name
    #[arg(long, value_name = "NAME", env = "HUSHTALLY_EAR")]
    ear: Option<String>,
    #[command(flatten)]
    view: View,
}

pub(crate) fn run(args: &NextArgs) -> Result<(), Failure> {
    let store = args.view.store()?;
    let known = Known::read(&store, &args.who.find(&store)?)?;
    let today = now(&Clock::real()).date();
    let turn = args.behaviour.as_deref().or_else(|| next::behaviour(&known.history));
    let plan = present_plan(&known, turn, args.plan.as_deref())?;
    let next = next::plan(&known.history, &plan, &body_of(&known, today), today);
    if args.view.json {
        print_json_with_alarms(&next, "/alarms", &next.animal, &next.alarms)?;
    } else {
        say_part!("{}", text(&next, args.why));
        let goes_on = |(_, stands): &&(_, Stands)| !matches!(stands, Stands::Done(_));
        for (planned, stands) in tests_of(&known, &plan).iter().filter(goes_on) {
            let test = stands.said(&planned.change);
            say_part!("{}", chart::labelled(&said("screen.label_test"), &test, LABEL));
        }
    }
    if args.aloud {
        let ear = DeviceChoice::from_setting(args.ear.as_deref());
        let mut sounds =
            Sounds::start(ear, Tuning::default(), Clock::real(), |trouble| tell!("{trouble}"))
                .map_err(anyhow::Error::from)?;
        sounds.say(&Wording::english().next(&next));
        sounds.finish(Duration::from_secs(60));
    }
    Ok(())
}

/// Columns of a label and the space after it.
const LABEL: usize = 11;

fn text(next: &Next, why: bool) -> String {
    let mut text = String::new();
    let mut line = |label: &str, says: &str, reason: Option<&Reason>| {
        let because = reason.map_or(String::new(), |reason| format!("; {}", reason.because));
        let label = if label.is_empty() { String::new() } else { said(label) };
        text += &chart::labelled(&label, &format!("{says}{because}"), LABEL);
        if let Some(reason) = reason.filter(|_| why) {
            let values = context! { method => &reason.method, source => &reason.source };
            text += &chart::labelled("", &filled("screen.method_and_source", values), LABEL);
        }
    };
    // Before all else.
    let wording = Wording::english();
    let warnings = wording.warnings(&next.animal, &next.alarms);
    for (alarm, says) in next.alarms.iter().zip(&warnings) {
        line("screen.label_health", says, why.then_some(&alarm.reason));
    }
    let whose = context! { animal => &next.animal, behaviour => &next.behaviour };
    line("screen.label_next", &filled("screen.whose", whose), Some(&next.chosen));
    if next.train == Train::NotAtAll {
        line("", &said("screen.do_not_train"), None);
        return text;
    }
    if next.treats.reps == 0 {
        line("screen.label_today", &wording.used_up(), Some(&next.treats.reason));
    }
    if let Some(warm) = &next.warm_up {
        let label = if warm.try_first { "screen.label_try_first" } else { "screen.label_warm_up" };
        let step = context! { step => warm.step, name => &warm.name };
        line(label, &filled("screen.step_named", step), Some(&warm.reason));
    }
    let told = wording.decision(&next.decision, Some(&next.work.name));
    line("screen.label_work_on", &told, Some(&next.work.reason));
    for more in wording.beside(&next.decision) {
        line("", &more, None);
    }
    for earns in &next.earns {
        let earned = filled("screen.earned", Value::from(Serde(earns)));
        line(&format!("screen.label_{}", earns.value.name()), &earned, None);
    }
    if next.treats.reps > 0 {
        let treats = filled("screen.lay_out", Value::from(Serde(&next.treats)));
        line("screen.label_lay_out", &treats, Some(&next.treats.reason));
        let length = &next.length;
        let how_long = filled("screen.how_long_alone", Value::from(Serde(length)));
        line("screen.label_how_long", &how_long, Some(&length.reason));
    }
    if let Some(change) = &next.change {
        let values = context! { step => change.step, ways => change.ways_said() };
        line("screen.label_change", &filled("screen.ways", values), Some(&change.reason));
    }
    for due in &next.due {
        line("screen.label_revise", &filled("screen.rested", Value::from(Serde(due))), None);
    }
    for tip in &next.watch {
        line("screen.label_watch", &tip.says, Some(&tip.reason));
    }
    for tip in &next.film {
        line("screen.label_film", &tip.says, Some(&tip.reason));
    }
    text
}
