//! `hushtally plan …`

use std::io::Write as _;
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{Args, Subcommand};
use minijinja::context;
use serde::Serialize;

use super::{next, print_json, trial, wrong};
use crate::cli::{Class, Failure, places};
use crate::history::body::parse_weight;
use crate::new_file::{self, Existing};
use crate::plan::{
    BodyKind, EditError, Fresh, Plan, PlanChange, asked, change_plan, file_name, fresh,
};
use crate::private::create_folder;
use crate::terminal::{Out, say, unless_gone};
use crate::wording::filled;

#[derive(Debug, Args)]
pub(crate) struct PlanArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Write a new plan
    New(NewArgs),
    /// Say what to do in the next session
    Next(next::NextArgs),
    /// Test a change of the plan fairly: its day is drawn by lot
    Test(trial::TestArgs),
    /// Put smaller steps in front of a step; its history stays with it
    Split(SplitArgs),
    /// Make a step and the one after it into one; it takes the history of both
    Merge(MergeArgs),
    /// Change steps by a sentence, such as "step four is too big, split it"
    Change(ChangeArgs),
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally plan new --animal Pepino --species cockatiel --behaviour \"rests a foot on the nail file\"
  hushtally plan new pepino --animal Pepino --species cockatiel \\
      --behaviour \"rests a foot on the nail file\" \\
      --step \"looks at the file\" --step \"touches it\" --step \"rests a foot on it\" --weight \"92 g\"")]
struct NewArgs {
    /// The file to write: a name in the folder where `hushtally listen` looks, or a path of your own (./pepino.toml).
    /// Without it the animal's name. One that is there already is left alone
    file: Option<PathBuf>,
    /// Folder of the plans, when not the usual one
    #[arg(long, value_name = "FOLDER", env = "HUSHTALLY_PLANS")]
    plans: Option<PathBuf>,
    /// The animal's name
    #[arg(long, value_name = "NAME")]
    animal: String,
    /// Its species
    #[arg(long)]
    species: String,
    /// The goal behaviour
    #[arg(long)]
    behaviour: String,
    /// A step, in order; again for each
    #[arg(long = "step", value_name = "NAME")]
    steps: Vec<String>,
    /// Its weight with unit, for the day's treat budget
    #[arg(long)]
    weight: Option<String>,
    /// How its need of energy is reckoned, where its species does not say so: passerine, other_bird, small_mammal,
    /// dog, cat, farm_mammal, horse, donkey
    #[arg(long, value_name = "KIND")]
    kind: Option<String>,
    /// Print the steps as JSON
    #[arg(long)]
    json: bool,
    /// Another record (a database file), which a plan is never written over
    #[arg(long, value_name = "FILE", env = "HUSHTALLY_DB")]
    db: Option<PathBuf>,
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally plan split pepino.toml 3
  hushtally plan split pepino.toml 3 --into \"lifts the foot\" --into \"sets it down\"")]
struct SplitArgs {
    /// The plan (TOML)
    file: PathBuf,
    /// Number of the step
    step: u8,
    /// A smaller step, in order; again for each
    #[arg(long, value_name = "NAME")]
    into: Vec<String>,
    #[command(flatten)]
    how: How,
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally plan merge pepino.toml 3     step 3 and step 4")]
struct MergeArgs {
    /// The plan (TOML)
    file: PathBuf,
    /// Number of the earlier step
    step: u8,
    #[command(flatten)]
    how: How,
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally plan change pepino.toml \"step four is too big, split it\"
  hushtally plan change pepino.toml \"merge steps two and three\" --show")]
struct ChangeArgs {
    /// The plan (TOML)
    file: PathBuf,
    /// What to change
    sentence: String,
    #[command(flatten)]
    how: How,
}

#[derive(Debug, Args)]
struct How {
    /// Print the changed plan and leave the file as it is
    #[arg(long)]
    show: bool,
    /// Print the steps as JSON
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Shown<'a> {
    step: usize,
    name: &'a str,
    id: &'a str,
    was: &'a [String],
}

pub(crate) fn run(args: &PlanArgs) -> Result<(), Failure> {
    match &args.what {
        What::New(args) => new(args),
        What::Next(args) => next::run(args),
        What::Test(args) => trial::run(args),
        What::Split(args) => {
            let change = PlanChange::Split { step: args.step, into: args.into.clone() };
            change_file(&args.file, &change, &args.how)
        }
        What::Merge(args) => {
            change_file(&args.file, &PlanChange::Merge { step: args.step }, &args.how)
        }
        What::Change(args) => {
            let (plan, _) = places::plan(&args.file)?;
            let change = asked(&args.sentence, plan.start_step).ok_or_else(|| {
                wrong(format!(
                    "\"{}\" does not name one step and one change; say \"step four is too big, split it\" or \"merge steps two and three\"",
                    args.sentence
                ))
            })?;
            change_file(&args.file, &change, &args.how)
        }
    }
}

fn new(args: &NewArgs) -> Result<(), Failure> {
    let weight_g = match &args.weight {
        None => None,
        Some(text) => Some(
            parse_weight(text)
                .ok_or_else(|| wrong(format!("--weight {text}: a number with g, kg, oz or lb")))?,
        ),
    };
    let body = weight_g.map(|grams| Ok::<_, Failure>((grams, kind(args)?))).transpose()?;
    let text = fresh(&Fresh {
        animal: args.animal.clone(),
        species: args.species.clone(),
        behaviour: args.behaviour.clone(),
        steps: args.steps.clone(),
        body,
        ..Fresh::default()
    });
    let folder = places::plans_folder(args.plans.as_deref(), &places::settings()?)?;
    let named = args.file.clone().unwrap_or_else(|| file_name(&args.animal).into());
    let file = places::new_plan_file(&named, &folder);
    let plan = Plan::parse(&file.to_string_lossy(), &text)?;
    let listened_for = file.parent() == Some(&folder);
    if listened_for {
        create_folder(&folder)
            .with_context(|| format!("the folder of plans {} cannot be made", folder.display()))?;
    }
    let record = places::record_path(args.db.as_deref()).ok();
    new_file::write(&file, text.as_bytes(), Existing::Kept, record.as_deref())
        .map_err(|error| Failure::new(Class::Usage, error))?;
    if args.json {
        return print_json(&steps(&plan));
    }
    let file = file.display().to_string();
    say!("{}", filled("screen.plan_written", context! { file => &file }));
    let named = (!listened_for).then_some(file);
    say!("{}", filled("screen.plan_then", context! { named }));
    Ok(())
}

/// How the animal's need of energy is reckoned: as named, else by its species. What is not certain is asked for.
fn kind(args: &NewArgs) -> Result<BodyKind, Failure> {
    let kinds = BodyKind::ALL.map(BodyKind::name).join(", ");
    match &args.kind {
        Some(name) => BodyKind::of_name(name)
            .ok_or_else(|| wrong(format!("--kind {name}: there is {kinds}"))),
        None => BodyKind::of_species(&args.species).ok_or_else(|| {
            wrong(format!(
                "how much a \"{}\" needs is not known here, so its day's budget of treats cannot be reckoned: say which of these is nearest by --kind ({kinds}), or leave out --weight",
                args.species
            ))
        }),
    }
}

fn change_file(path: &Path, change: &PlanChange, how: &How) -> Result<(), Failure> {
    let path = &places::plan_file(path);
    let name = path.to_string_lossy();
    let (_, text) = places::plan(path)?;
    let changed = change_plan(&name, &text, change).map_err(|error| match error {
        EditError::Plan(faults) => Failure::from(faults),
        other => Failure::new(Class::Usage, other),
    })?;
    let plan = Plan::parse(&name, &changed)?;
    if !how.show {
        new_file::change(path, text.as_bytes(), changed.as_bytes())?;
    }
    if how.json {
        return print_json(&steps(&plan));
    }
    if how.show {
        unless_gone(Out::data().write_all(changed.as_bytes())).context("it cannot be printed")?;
        return Ok(());
    }
    say!("{}", filled("screen.plan_changed", context! { name => name.as_ref() }));
    for (number, step) in (1..).zip(&plan.steps) {
        say!("  {number}  {}", step.name);
    }
    Ok(())
}

fn steps(plan: &Plan) -> Vec<Shown<'_>> {
    plan.steps
        .iter()
        .enumerate()
        .map(|(index, step)| Shown {
            step: index + 1,
            name: &step.name,
            id: step.key(),
            was: &step.was,
        })
        .collect()
}
