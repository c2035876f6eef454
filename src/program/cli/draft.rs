//! A plan that was half made by voice, in a file beside the plans: it is there the next time.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use anyhow::Context;
use minijinja::context;

use crate::dialogue::Draft;
use crate::given;
use crate::new_file::{self, Existing};
use crate::private::create_folder;
use crate::wording::filled;

/// Bytes of the largest.
const LARGEST: u64 = 1 << 16;

/// Where it is, beside the plans.
pub(super) fn file(plans: &Path) -> PathBuf {
    plans.join("half-made.json")
}

/// What is kept of one; what cannot be read is told, and stays where it is.
pub(super) fn kept(plans: &Path, mut trouble: impl FnMut(String)) -> Option<Draft> {
    let file = file(plans);
    if !file.exists() {
        return None;
    }
    let read = given::text(&file, LARGEST)
        .map_err(anyhow::Error::from)
        .and_then(|text| Ok(serde_json::from_str(&text)?));
    read.map_err(|error| {
        let (file, error) = (file.display().to_string(), format!("{error:#}"));
        trouble(filled("screen.draft_unreadable", context! { file, error }));
    })
    .ok()
}

/// Keeps this, or nothing any more.
///
/// # Errors
/// The disk refuses it.
pub(super) fn keep(plans: &Path, draft: Option<&Draft>) -> anyhow::Result<()> {
    let file = file(plans);
    let Some(draft) = draft else {
        return match fs::remove_file(&file) {
            Err(error) if error.kind() != ErrorKind::NotFound => {
                Err(error).with_context(|| format!("{} cannot be taken away", file.display()))
            }
            _ => Ok(()),
        };
    };
    create_folder(plans)
        .with_context(|| format!("the folder of plans {} cannot be made", plans.display()))?;
    let text = serde_json::to_string_pretty(draft)?;
    Ok(new_file::write(&file, text.as_bytes(), Existing::Replaced, None)?)
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;
    use crate::dialogue::{Dialogue, DialogueEffect, DialogueInput, DialogueLine, Part};
    use crate::machine::Machine;

    #[test]
    fn what_was_said_of_a_plan_is_there_when_the_program_starts_again_until_the_plan_is_made() {
        let folder = tempfile::tempdir().unwrap();
        let plans = folder.path().join("plans");
        let none = |trouble| panic!("{trouble}");
        assert_eq!(kept(&plans, none), None);
        let (mut dialogue, _) = Dialogue::open(Vec::new(), "juniper", "yes");
        for text in ["sandy", "a small dog"] {
            let said = DialogueInput::Dictated { text: text.into() };
            for effect in dialogue.handle(Duration::from_secs(1), said) {
                if let DialogueEffect::KeepDraft(draft) = effect {
                    keep(&plans, draft.as_ref()).unwrap();
                }
            }
        }
        let draft = kept(&plans, none);
        let (_, effects) = Dialogue::open_again(Vec::new(), draft.clone(), "juniper", "yes");
        let [DialogueEffect::Say(DialogueLine::DraftThere { said, attention: None }), asks, ..] =
            &effects[..]
        else {
            panic!("{effects:?}")
        };
        assert_eq!(said, &["Sandy", "small dog"]);
        let goes_on = matches!(
            asks,
            DialogueEffect::Say(DialogueLine::DraftAsk { part: Part::Behaviour, first: false, .. })
        );
        assert!(goes_on, "{asks:?}");
        keep(&plans, None).unwrap();
        keep(&plans, None).unwrap();
        assert_eq!(kept(&plans, none), None);
        fs::write(file(&plans), "{\"animal\": 3}").unwrap();
        let mut told = Vec::new();
        assert_eq!(kept(&plans, |trouble| told.push(trouble)), None);
        assert!(told.len() == 1 && file(&plans).exists(), "{told:?}");
    }
}
