//! Which column of a file is which of ours, asked of whoever sits at the terminal.

use std::io::{self, BufRead, IsTerminal};

use minijinja::context;

use crate::cli::Failure;
use crate::store::import::{not_understood, ours_by_name};
use crate::terminal::{say, say_part};
use crate::wording::filled;

/// What ordinary notes have.
const OFTEN: [&str; 8] =
    ["date", "animal", "species", "note", "weight", "person", "place", "behaviour"];
/// An answer that is none of ours is asked for once more.
const TIMES: usize = 2;

/// What was said of the columns, and what is answered about those that are not understood. Without a terminal there is
/// nobody to ask, and the import tells what it does not understand.
pub(super) fn asked(
    heads: &[String],
    said: &[(String, String)],
) -> Result<Vec<(String, String)>, Failure> {
    if !io::stdin().is_terminal() {
        return Ok(said.to_vec());
    }
    let mut failed = None;
    let columns = ask(heads, said, &mut |column| {
        let ours = OFTEN;
        say_part!("{}", filled("screen.column_asked", context! { column, ours }));
        let mut answer = String::new();
        match io::stdin().lock().read_line(&mut answer) {
            Ok(_) => answer,
            Err(error) => {
                failed = Some(error);
                String::new()
            }
        }
    });
    if let Some(error) = failed {
        return Err(anyhow::Error::from(error).into());
    }
    let answered = &columns[said.len()..];
    if !answered.is_empty() {
        let options: Vec<String> =
            answered.iter().map(|(name, ours)| format!("--column \"{name}={ours}\"")).collect();
        say!("{}", filled("screen.columns_next_time", context! { options }));
    }
    Ok(columns)
}

/// Every column that is not understood is asked about; nothing in answer leaves it as it is.
fn ask(
    heads: &[String],
    said: &[(String, String)],
    answer: &mut dyn FnMut(&str) -> String,
) -> Vec<(String, String)> {
    let mut columns = said.to_vec();
    for column in not_understood(heads, said) {
        for _ in 0..TIMES {
            let answered = answer(&column);
            if answered.trim().is_empty() {
                break;
            }
            if let Some(ours) = ours_by_name(&answered) {
                columns.push((column, ours.to_owned()));
                break;
            }
        }
    }
    columns
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::Store;
    use crate::store::import::ImportOptions;

    #[test]
    fn what_is_not_understood_is_asked_and_then_taken_in() {
        let text = "date,tag,seen,whim\n2026-01-02,Pepino,calm,Ada\n";
        let heads: Vec<String> = ["date", "tag", "seen", "whim"].map(str::to_owned).to_vec();
        // A name of ours, a usual one after one that nobody knows, and nothing.
        let mut answers = ["Animal", "what I saw", "notes\n", ""].into_iter();
        let mut asked = Vec::new();
        let columns = ask(&heads, &[], &mut |column| {
            asked.push(column.to_owned());
            answers.next().unwrap_or_default().to_owned()
        });
        assert_eq!(asked, ["tag", "seen", "seen", "whim"]);
        let pair = |from: &str, to: &str| (from.to_owned(), to.to_owned());
        assert_eq!(columns, [pair("tag", "animal"), pair("seen", "note")]);
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("r.db")).unwrap();
        let mut options = ImportOptions {
            zone: jiff::tz::TimeZone::UTC,
            file: "notes.csv".into(),
            made_by: "a test".into(),
            columns,
            dry_run: false,
        };
        let unknown = store.import_csv(&mut text.as_bytes(), &options).unwrap_err().to_string();
        assert!(unknown.contains("whim"), "what was left is told: {unknown}");
        options.columns.push(pair("whim", "person"));
        assert_eq!(store.import_csv(&mut text.as_bytes(), &options).unwrap().entries, 1);
        assert_eq!(ask(&heads[..1], &[], &mut |_| panic!("all is understood")), []);
    }
}
