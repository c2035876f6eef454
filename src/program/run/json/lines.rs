//! Which lines there are, and what each carries. `LINES.md` beside this file has the same table; tests hold both to what is
//! printed, and so does every build but a release.

use serde_json::{Map, Value};

/// A field: its name, and what it says where the name does not.
type Field = (&'static str, &'static str);

/// What lines of a kind carry besides what every line carries.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LineSchema {
    pub(crate) kinds: &'static [&'static str],
    /// What each has.
    pub(crate) always: &'static [Field],
    /// What it has if it is known.
    pub(crate) sometimes: &'static [Field],
}

/// What every line of a session carries: `at_s` and `words` not the last line of a program, `session` from the first
/// event on, the rest what was heard.
pub(crate) const EVERY: [&str; 7] =
    ["at_s", "kind", "words", "session", "end_s", "decided_s", "saved_s"];

const OF_A_TRY: &[Field] = &[
    ("rep", "its number"),
    ("step", "reached"),
    ("working", "step worked on"),
    ("active_s", "since the start, pauses left out"),
];
const IF_KNOWN: &[Field] = &[
    ("side", "`left`, `right`"),
    ("latency_s", "since the cue"),
    ("duration_s", "since the start word"),
    LINKS,
    ("person", "who scored it, once somebody took over"),
];
/// Of a chain; then `step` follows from it.
const LINKS: Field = (
    "links",
    "of a chain, for each link `link`, `score` (`independent`, `prompted`, `failed`, `not_reached`, `untrained`) and, if \
     said, `prompt` (level of help by its place in the plan)",
);
const REWARDED: &[Field] = &[
    OF_A_TRY[0],
    OF_A_TRY[1],
    OF_A_TRY[2],
    OF_A_TRY[3],
    ("value", "`low`, `high`, `jackpot`"),
    ("value_named", "whether it was said, and not left to the plan"),
];
const MISSED: &[Field] = &[("because", "`said`, `hold_ran_out`")];
/// A miss by itself may have been taken back at its own moment.
const OF_A_MISS: &[Field] = &[
    OF_A_TRY[0],
    OF_A_TRY[1],
    OF_A_TRY[2],
    OF_A_TRY[3],
    IF_KNOWN[0],
    IF_KNOWN[1],
    IF_KNOWN[2],
    LINKS,
    IF_KNOWN[4],
];
const AS_IT_IS_NOW: &[Field] =
    &[REWARDED[4], REWARDED[5], MISSED[0], IF_KNOWN[0], IF_KNOWN[1], IF_KNOWN[2], LINKS];

/// Every kind of line.
pub(crate) const LINES: &[LineSchema] = &[
    line(
        &["began"],
        &[("step", "worked on")],
        &[("animal", "where there may be several sessions"), ("behaviour", "the same")],
    ),
    line(&["rep"], REWARDED, IF_KNOWN),
    line(&["miss"], MISSED, OF_A_MISS),
    line(&["detail", "change"], OF_A_TRY, AS_IT_IS_NOW),
    line(&["take_back", "cue", "hold_start"], &[], &[]),
    line(
        &["put_back"],
        &[("said_at_s", "what sounded like a take-back then was talk: what it took stands again")],
        &[],
    ),
    line(&["state"], &[("mood", "`keen`, `calm`, `worried`, `tired`")], &[]),
    line(&["takes_over"], &[("person", "who trains from here on")], &[]),
    line(&["own"], &[("name", "a tag of the plan's own")], &[]),
    line(&["behaviour", "animal"], &[("name", "what is worked on from here on")], &[]),
    line(
        &["elsewhere"],
        &[("elsewhere", "what the animal did in its other sessions meanwhile")],
        &[],
    ),
    line(
        &["command"],
        &[("command", "")],
        &[("step", "worked on from here, of a command about steps")],
    ),
    line(&["unsure"], &[("other", "the second reading")], &[]),
    line(
        &["nudge"],
        &[
            ("nudge", ""),
            (
                "reason",
                "an object: `detector`, `because`, `inputs`, `method`, `source`, `probability`",
            ),
        ],
        &[("family", "what to do; none for a receipt")],
    ),
    line(&["gap"], &[("lasted_s", ""), ("why", "")], &[]),
    line(&["trouble"], &[("why", "what is wrong with Hushtally itself from now on")], &[]),
    line(&["note"], &[("text", "")], &[]),
    line(&["finished"], &[("why", "`said`, `sound_ended`")], &[]),
    line(&["said"], &[("text", "what was read to the trainer")], &[]),
    // The last line of a program; what was not found is null.
    line(
        &["soundcheck"],
        &[
            ("mic", ""),
            ("noise_dbfs", ""),
            ("speech_dbfs", ""),
            ("above_db", ""),
            ("clipped", ""),
            ("ear", ""),
            ("ear_kind", ""),
            ("words", "each with `phrase`, `taken_for`, `result`, `tries`"),
            ("heard", ""),
            ("asked", ""),
            ("advice", ""),
            ("voice_confirmed", ""),
            ("voice", "another that was chosen"),
            ("words_a_minute", ""),
            ("voice_dbfs", ""),
            ("nudge_db", ""),
            ("saved", ""),
            ("took_s", ""),
        ],
        &[],
    ),
    line(
        &["settled"],
        &[
            ("session", "its key"),
            ("reps", "what its unsure tags came to"),
            ("misses", ""),
            ("nothing", ""),
            ("left", "those that still wait"),
        ],
        &[],
    ),
    line(
        &["quiz"],
        &[("right", "known at once"), ("asked", ""), ("missed", "families never known")],
        &[],
    ),
];

const fn line(
    kinds: &'static [&'static str],
    always: &'static [Field],
    sometimes: &'static [Field],
) -> LineSchema {
    LineSchema { kinds, always, sometimes }
}

/// What is wrong with a printed object, by this table.
pub(crate) fn wrong_with(object: &Map<String, Value>) -> Option<String> {
    let kind = object.get("kind").and_then(Value::as_str).unwrap_or_default();
    let Some(line) = LINES.iter().find(|line| line.kinds.contains(&kind)) else {
        return Some(format!("no line tells of the kind {kind:?}"));
    };
    let has = |fields: &[Field], name: &str| fields.iter().any(|(field, _)| *field == name);
    let missing = line.always.iter().find(|(name, _)| !object.contains_key(*name));
    let strange = object.keys().find(|name| {
        !EVERY.contains(&name.as_str()) && !has(line.always, name) && !has(line.sometimes, name)
    });
    match (missing, strange) {
        (Some((name, _)), _) => Some(format!("{kind} lacks {name}")),
        (_, Some(name)) => Some(format!("{kind} has {name}, which no line tells of")),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A row of the table in `LINES.md`.
    fn row(line: &LineSchema) -> String {
        let told = |fields: &[Field]| {
            let field = |(name, what): &Field| match *what {
                "" => format!("`{name}`"),
                what => format!("`{name}` ({what})"),
            };
            fields.iter().map(field).collect::<Vec<_>>().join(", ")
        };
        let kinds: Vec<String> = line.kinds.iter().map(|kind| format!("`{kind}`")).collect();
        let carries = match (line.always, line.sometimes) {
            ([], []) => "nothing more".to_owned(),
            (always, []) => told(always),
            (always, sometimes) => format!("{}; if known {}", told(always), told(sometimes)),
        };
        format!("| {} | {carries} |", kinds.join(", "))
    }

    #[test]
    fn the_page_has_the_same_table() {
        let section = include_str!("LINES.md");
        let table =
            section.split("\n\n").find(|part| part.trim().starts_with("| kind | carries |"));
        let printed: Vec<&str> = table.unwrap().trim().lines().skip(2).collect();
        let expected: Vec<String> = LINES.iter().map(row).collect();
        assert_eq!(printed, expected, "the table is to read\n{}", expected.join("\n"));
    }
}
