//! Where things are: the model, the record, the plan that the user named.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Context;
use etcetera::BaseStrategy;

use super::{Class, Failure};
use crate::plan::Plan;

/// The folder that `models/fetch` fills and where the record lives.
pub(super) fn data_folder() -> Result<PathBuf, Failure> {
    if let Some(home) = std::env::var_os("HUSHTALLY_HOME").filter(|home| !home.is_empty()) {
        return Ok(home.into());
    }
    let places = etcetera::choose_base_strategy()
        .context("your home folder is unknown; set HUSHTALLY_HOME to a folder of your own")?;
    Ok(places.data_dir().join("hushtally"))
}

/// The folder of the speech model: as asked for, or as the plan says, or the one that was fetched.
/// A name without a slash is a folder among the fetched models.
pub(super) fn model_folder(asked: Option<&Path>, plan: &Plan) -> Result<PathBuf, Failure> {
    let models = data_folder()?.join("models");
    Ok(match (asked, &plan.model) {
        (Some(folder), _) if folder.exists() => folder.to_owned(),
        (Some(folder), _) => models.join(folder),
        (None, Some(name)) => models.join(name),
        (None, None) => models.join("en-us-small"),
    })
}

/// Reads the plan file.
pub(super) fn plan(path: &Path) -> Result<Plan, Failure> {
    let text = fs::read_to_string(path)
        .with_context(|| format!("the plan {} cannot be read", path.display()))
        .map_err(|error| Failure::new(Class::Usage, error))?;
    Ok(Plan::parse(&path.to_string_lossy(), &text)?)
}
