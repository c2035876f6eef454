//! Where things are: the model, the record, the plan that the user named.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use anyhow::Context;
use etcetera::BaseStrategy;

use super::{Class, Failure};
use crate::config::Settings;
use crate::given;
use crate::hear::personal::{Learnt, LearntStore};
use crate::hear::{Ears, HearError, SpeechModel};
use crate::plan::Plan;
use crate::score::{TruthSegment, truth_segments};
use crate::store::{Filter, SessionId, Store};
use crate::wording::text;

/// Where model and record are, when not in the usual places.
#[derive(Debug, clap::Args)]
pub(super) struct PlaceArgs {
    /// Folder of another speech model, or the name of a fetched one
    #[arg(long, value_name = "FOLDER", env = "HUSHTALLY_MODEL")]
    pub(super) model: Option<PathBuf>,
    /// Another record (a database file)
    #[arg(long, value_name = "FILE", env = "HUSHTALLY_DB")]
    pub(super) db: Option<PathBuf>,
}

/// Whose sounds are listened for.
#[derive(Debug, Clone, clap::Args)]
pub(super) struct LearntArgs {
    /// Who trains: goes into the record, and their learnt sounds are used
    #[arg(long, value_name = "NAME", env = "HUSHTALLY_PERSON")]
    pub(super) person: Option<String>,
    /// Do not use what `hushtally words learn` learnt
    #[arg(long, env = "HUSHTALLY_NO_LEARNT", value_parser = clap::builder::FalseyValueParser::new())]
    no_learnt: bool,
}

impl LearntArgs {
    /// What was learnt from this person, or else from whoever trains; nothing when it is not wanted.
    pub(super) fn load(&self, db: Option<&Path>) -> Result<Learnt, Failure> {
        if self.no_learnt {
            return Ok(Learnt::default());
        }
        let store = learnt_store(db)?;
        let own = self.person.as_deref().map(|person| store.load(Some(person))).transpose()?;
        match own.flatten() {
            Some(learnt) => Ok(learnt),
            None => Ok(store.load(None)?.unwrap_or_default()),
        }
    }
}

/// Where learnt sounds are kept: beside the record.
pub(super) fn learnt_store(db: Option<&Path>) -> Result<LearntStore, Failure> {
    let record = record_path(db)?;
    Ok(LearntStore::in_folder(record.parent().unwrap_or(Path::new("")).join("learnt")))
}

/// The folder that `models/fetch` fills and where the record lives.
fn data_folder() -> Result<PathBuf, Failure> {
    if let Some(home) = std::env::var_os("HUSHTALLY_HOME").filter(|home| !home.is_empty()) {
        return Ok(home.into());
    }
    let places = etcetera::choose_base_strategy()
        .context("your home folder is unknown; set HUSHTALLY_HOME to a folder of your own")?;
    Ok(places.data_dir().join("hushtally"))
}

/// The folder of the speech model: as asked for, or as the plan says, or the small English one.
/// A name without a slash is a folder among the user's models, or among those installed beside the program.
fn model_folder(asked: Option<&Path>, named: Option<&str>) -> Result<PathBuf, Failure> {
    let name = match (asked, named) {
        (Some(folder), _) if folder.exists() => return Ok(folder.to_owned()),
        (Some(folder), _) => folder,
        (None, Some(name)) => Path::new(name),
        (None, None) => Path::new("en-us-small"),
    };
    let own = data_folder()?.join("models").join(name);
    let installed = installed_models().map(|models| models.join(name));
    Ok(match installed {
        Some(installed) if !own.exists() && installed.exists() => installed,
        _ => own,
    })
}

/// `share/hushtally/models` of the prefix that the program was installed to.
fn installed_models() -> Option<PathBuf> {
    let program = std::env::current_exe().ok()?;
    Some(program.parent()?.parent()?.join("share/hushtally/models"))
}

/// Bytes of the largest plan.
const LARGEST_PLAN: u64 = 1 << 20;
/// Bytes of the largest list of what was said in recordings.
const LARGEST_TRUTH: u64 = 64 << 20;

/// What was said in the recordings of a folder: its truth.csv.
pub(super) fn truth(folder: &Path) -> Result<BTreeMap<String, Vec<TruthSegment>>, Failure> {
    let file = folder.join("truth.csv");
    let text = given::text(&file, LARGEST_TRUTH)
        .with_context(|| format!("{} cannot be read", file.display()));
    text.and_then(|text| truth_segments(&text).with_context(|| file.display().to_string()))
        .map_err(|error| Failure::new(Class::Usage, error))
}

/// The file of a plan that was named: as it stands, or a bare name of one in the folder of plans, its `.toml` left out
/// or not.
pub(super) fn plan_file(named: &Path) -> PathBuf {
    if !is_bare(named) || named.exists() {
        return named.to_owned();
    }
    let Ok(folder) = settings().and_then(|settings| plans_folder(None, &settings)) else {
        return named.to_owned();
    };
    let found = folder.join(with_ending(named));
    if found.exists() { found } else { named.to_owned() }
}

/// Where a new plan of this name goes: a bare name into the folder of plans, where `hushtally listen` looks.
pub(super) fn new_plan_file(named: &Path, folder: &Path) -> PathBuf {
    if is_bare(named) { folder.join(with_ending(named)) } else { named.to_owned() }
}

fn is_bare(path: &Path) -> bool {
    path.parent().is_some_and(|folder| folder.as_os_str().is_empty())
}

fn with_ending(name: &Path) -> PathBuf {
    let mut name = name.to_owned();
    if name.extension().is_none_or(|ending| ending != "toml") {
        name.as_mut_os_string().push(".toml");
    }
    name
}

/// Reads the plan file: the plan and its text.
pub(super) fn plan(path: &Path) -> Result<(Plan, String), Failure> {
    let path = &plan_file(path);
    let text = given::text(path, LARGEST_PLAN)
        .with_context(|| format!("the plan {} cannot be read", path.display()))
        .map_err(|error| Failure::new(Class::Usage, error))?;
    Ok((Plan::parse(&path.to_string_lossy(), &text)?, text))
}

/// The record, made when it is missing.
pub(super) fn record(asked: Option<&Path>) -> Result<Store, Failure> {
    Ok(Store::open(&record_path(asked)?)?)
}

/// The record that is there, to look at it.
pub(super) fn record_to_look(asked: Option<&Path>) -> Result<Store, Failure> {
    Ok(Store::open_to_look(&there_already(asked)?)?)
}

/// The record that is there; where it cannot be written, to look at it.
pub(super) fn existing_record(asked: Option<&Path>) -> Result<Store, Failure> {
    Ok(Store::open_existing(&there_already(asked)?)?)
}

fn there_already(asked: Option<&Path>) -> Result<PathBuf, Failure> {
    let path = record_path(asked)?;
    if path.exists() {
        return Ok(path);
    }
    let error = anyhow::anyhow!(
        "there is no record yet at {}; `hushtally listen PLAN` begins one",
        path.display()
    );
    Err(Failure::new(Class::Usage, error))
}

/// Where the record is, or would be.
pub(super) fn record_path(asked: Option<&Path>) -> Result<PathBuf, Failure> {
    match asked {
        Some(path) => Ok(path.to_owned()),
        None => Ok(data_folder()?.join("record.db")),
    }
}

/// The speech model: as asked for, or as the plan names it, or the one that was fetched.
pub(super) fn model(asked: Option<&Path>, named: Option<&str>) -> anyhow::Result<SpeechModel> {
    load(&model_folder(asked, named).map_err(|failure| failure.error)?)
}

fn load(folder: &Path) -> anyhow::Result<SpeechModel> {
    let seen = data_folder().map_err(|failure| failure.error)?.join("models-seen");
    Ok(SpeechModel::load(folder, &seen).map_err(HearError::from)?)
}

/// Ears for the plan's words.
pub(super) fn ears(asked: Option<&Path>, plan: &Plan) -> Result<Ears, Failure> {
    Ok(Ears::new(speech_model(asked, plan)?, &plan.words)?)
}

/// Ears for the plan's words, with what was learnt.
pub(super) fn taught_ears(
    asked: Option<&Path>,
    plan: &Plan,
    learnt: &Learnt,
) -> Result<Ears, Failure> {
    Ok(Ears::taught(speech_model(asked, plan)?, &plan.words, learnt)?)
}

/// The speech model: as asked for, or the plan's, or the one that was fetched.
pub(super) fn speech_model(asked: Option<&Path>, plan: &Plan) -> Result<SpeechModel, Failure> {
    Ok(model(asked, plan.model.as_deref())?)
}

/// The file of settings, in the platform's place.
pub(super) fn settings_file() -> Result<PathBuf, Failure> {
    if let Some(home) = std::env::var_os("HUSHTALLY_HOME").filter(|home| !home.is_empty()) {
        return Ok(PathBuf::from(home).join("config.toml"));
    }
    let places = etcetera::choose_base_strategy()
        .context("your home folder is unknown; set HUSHTALLY_HOME to a folder of your own")?;
    Ok(places.config_dir().join("hushtally").join("config.toml"))
}

/// The settings.
pub(super) fn settings() -> Result<Settings, Failure> {
    Settings::load(&settings_file()?).map_err(|error| Failure::new(Class::Usage, error))
}

/// The folder of plans: as asked for, or as the environment or the settings have it, or the one beside the record.
pub(super) fn plans_folder(asked: Option<&Path>, settings: &Settings) -> Result<PathBuf, Failure> {
    let environment = std::env::var_os("HUSHTALLY_PLANS").filter(|folder| !folder.is_empty());
    match (asked, environment, &settings.plans) {
        (Some(folder), _, _) => Ok(folder.to_owned()),
        (None, Some(folder), _) => Ok(folder.into()),
        (None, None, Some(folder)) => Ok(folder.clone()),
        (None, None, None) => Ok(data_folder()?.join("plans")),
    }
}

/// The session of this key, or the latest.
pub(super) fn session_named(store: &Store, name: &str) -> Result<SessionId, Failure> {
    if name == "latest" {
        let latest = store.sessions(&Filter::latest())?;
        let none = || Failure::new(Class::Failed, anyhow::anyhow!(text("screen.no_session_yet")));
        return latest.first().map(|row| row.id).ok_or_else(none);
    }
    name.parse().map_err(|_| {
        let why = format!("\"{name}\" is not the key of a session; `latest` is the latest one");
        Failure::new(Class::Usage, anyhow::anyhow!(why))
    })
}
