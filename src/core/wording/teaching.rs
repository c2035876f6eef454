//! What is said in a lesson of sounds.

use serde::Serialize;

/// What is said while sounds are learnt; the sentences are in `prompts/`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "line", rename_all = "snake_case")]
#[expect(missing_docs, reason = "the sentences tell what each is")]
pub enum Teaching {
    Begin { phrases: usize, times: usize },
    Say { phrase: String },
    Unfit { phrase: String },
    Unlike { phrase: String },
    Anew { phrase: String },
    LeftOut { phrase: String },
    Talk,
    Gone,
    Done { learnt: usize, unsteady: String },
}
