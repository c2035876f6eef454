//! Columns of ordinary notes by the names that people give them.

use super::line::COLUMNS;
use crate::plan::BodyKind;

/// Other names of columns of ours.
const OTHER_NAMES: [(&str, &[&str]); 6] = [
    ("began", &["date", "when", "datetime", "date_time", "started"]),
    ("animal", &["name", "animal_name", "pet"]),
    ("note", &["notes", "comment", "comments", "remark", "remarks", "observation", "observations"]),
    ("person", &["trainer", "handler", "by", "who", "observer"]),
    ("place", &["location", "where"]),
    ("behaviour", &["behavior", "exercise"]),
];

/// A header as it is compared: without the mark of the byte order that some programs put before the first.
pub(super) fn tidy(header: &str) -> String {
    header.trim_start_matches('\u{feff}').trim().to_ascii_lowercase()
}

/// Whether a header is called after a species, so that animals of it stand below.
pub(super) fn names_animals(header: &str) -> bool {
    BodyKind::of_species(header).is_some()
}

/// Which column of ours each header is taken for that has another name: what was said of it, or what is usual. A column
/// that is there under its own name is never taken twice, nor is one that two headers could be.
pub fn taken_for(headers: &[String], said: &[(String, String)]) -> Vec<(String, &'static str)> {
    let headers: Vec<String> = headers.iter().map(|header| tidy(header)).collect();
    let ours = |name: &str| COLUMNS.into_iter().find(|column| *column == name);
    let of_said = |header: &str| {
        let to = said.iter().find(|(from, _)| tidy(from) == header)?;
        ours(&to.1)
    };
    let usual = |header: &str| {
        let named = OTHER_NAMES.iter().find(|(_, others)| others.contains(&header));
        // A column that is called after a species names animals of it.
        named.map(|(column, _)| *column).or_else(|| names_animals(header).then_some("animal"))
    };
    let guess = |header: &String| {
        if ours(header).is_some() && of_said(header).is_none() {
            return None;
        }
        of_said(header).or_else(|| {
            let column = usual(header)?;
            let others = headers.iter().filter(|other| {
                other.as_str() == column
                    || *other != header
                        && (of_said(other) == Some(column) || usual(other) == Some(column))
            });
            (others.count() == 0).then_some(column)
        })
    };
    headers.iter().filter_map(|header| Some((header.clone(), guess(header)?))).collect()
}

/// The headers that name none of our columns, by its own name or another.
pub fn not_understood(headers: &[String], said: &[(String, String)]) -> Vec<String> {
    let taken = taken_for(headers, said);
    let known = |header: &String| {
        COLUMNS.contains(&header.as_str()) || taken.iter().any(|(name, _)| name == header)
    };
    headers.iter().map(|header| tidy(header)).filter(|header| !known(header)).collect()
}

/// The column of ours that has this name, or this usual other one.
pub fn ours_by_name(name: &str) -> Option<&'static str> {
    let name = tidy(name);
    let own = COLUMNS.into_iter().find(|column| *column == name);
    own.or_else(|| taken_for(&[name], &[]).pop().map(|(_, ours)| ours))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taken(headers: &str, said: &[(&str, &str)]) -> Vec<(String, &'static str)> {
        let headers: Vec<String> = headers.split(',').map(str::to_owned).collect();
        let said: Vec<(String, String)> =
            said.iter().map(|(from, to)| ((*from).to_owned(), (*to).to_owned())).collect();
        taken_for(&headers, &said)
    }

    #[test]
    fn ordinary_notes_are_understood_and_nothing_is_taken_twice() {
        let of = |from: &str, to| (from.to_owned(), to);
        assert_eq!(
            taken("Date,Dog,Notes", &[]),
            [of("date", "began"), of("dog", "animal"), of("notes", "note")]
        );
        assert_eq!(taken("animal,began,note,name", &[]), [], "its own name goes first");
        assert_eq!(taken("when,date,animal,note", &[]), [], "two could be the time");
        assert_eq!(
            taken("tag,when,date,note", &[("tag", "animal"), ("when", "began")]),
            [of("tag", "animal"), of("when", "began")]
        );
    }
}
