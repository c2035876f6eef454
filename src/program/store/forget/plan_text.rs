//! A name taken out of a stored plan: out of what people wrote in it (texts, comments, names of tags of their own),
//! never out of its keys, numbers or fixed words, so that the plan stays the plan that the session was trained by.

use std::ops::Range;

use toml_edit::{Document, Item, Key, TableLike, Value};

use super::name::Name;

/// What goes out, and what takes its place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rule<'a> {
    pub(super) name: &'a Name,
    /// In the place of a name in free text.
    pub(super) gone: &'a str,
    /// In the place of a name in what plans are told apart by: behaviours, steps, words.
    pub(super) token: &'a str,
    /// Whether animal and species stay, being an animal's.
    pub(super) animals_stay: bool,
}

/// The plan without the name; `None` when it holds it nowhere. Everything else stays as it was, byte for byte.
///
/// # Errors
/// The text is not TOML.
pub(super) fn without(text: &str, rule: Rule<'_>) -> Result<Option<String>, toml_edit::TomlError> {
    let document = Document::parse(text)?;
    let mut walk = Walk { rule, seen: Vec::new(), changes: Vec::new() };
    walk.table(&mut Vec::new(), document.as_table());
    walk.comments(text);
    if walk.changes.is_empty() {
        return Ok(None);
    }
    walk.changes.sort_by_key(|(range, _)| range.start);
    let mut clean = String::with_capacity(text.len());
    let mut from = 0;
    for (range, new) in walk.changes {
        clean.push_str(&text[from..range.start]);
        clean.push_str(&new);
        from = range.end;
    }
    Ok(Some(clean + &text[from..]))
}

struct Walk<'a> {
    rule: Rule<'a>,
    /// Keys and values: what lies between them is white space, signs and comments.
    seen: Vec<Range<usize>>,
    changes: Vec<(Range<usize>, String)>,
}

impl Walk<'_> {
    fn table<'t>(&mut self, path: &mut Vec<&'t str>, table: &'t dyn TableLike) {
        for (name, item) in table.iter() {
            if let Some(span) = table.key(name).and_then(Key::span) {
                self.seen.push(span.clone());
                // The only keys that people choose.
                if path[..] == ["words", "own"]
                    && let Some(clean) = self.rule.name.without(name, self.rule.token)
                {
                    self.changes.push((span, Key::new(clean).display_repr().into_owned()));
                }
            }
            path.push(name);
            match item {
                Item::Value(value) => self.value(path, value),
                Item::Table(table) => self.table(path, table),
                Item::ArrayOfTables(tables) => {
                    tables.iter().for_each(|table| self.table(path, table));
                }
                Item::None => {}
            }
            path.pop();
        }
    }

    fn value<'t>(&mut self, path: &mut Vec<&'t str>, value: &'t Value) {
        match value {
            Value::Array(values) => {
                values.iter().for_each(|value| self.value(path, value));
                return;
            }
            Value::InlineTable(table) => return self.table(path, table),
            _ => {}
        }
        let Some(span) = value.span() else { return };
        self.seen.push(span.clone());
        if let (Some(text), Some(gone)) = (value.as_str(), self.in_its_place(path))
            && let Some(clean) = self.rule.name.without(text, gone)
        {
            self.changes.push((span, Value::from(clean).to_string()));
        }
    }

    /// What takes the place of a name in the text at this path; `None` where the words are not people's own.
    fn in_its_place(&self, path: &[&str]) -> Option<&str> {
        match path {
            ["step", .., "dimension" | "earns"] | ["body", "kind"] | ["words", "marker_sounds"] => {
                None
            }
            ["animal" | "species"] if self.rule.animals_stay => None,
            ["animal" | "species" | "behaviour"] | ["step" | "words", ..] => Some(self.rule.token),
            _ => Some(self.rule.gone),
        }
    }

    /// A comment is what follows a `#` between keys and values, up to the end of its line.
    fn comments(&mut self, text: &str) {
        self.seen.sort_by_key(|span| span.start);
        let ends = self.seen.iter().map(|span| span.end);
        let begins = self.seen.iter().map(|span| span.start).chain([text.len()]);
        let gaps: Vec<(usize, usize)> = std::iter::once(0).chain(ends).zip(begins).collect();
        for (from, to) in gaps {
            let Some(gap) = text.get(from..to) else { continue };
            let mut line_from = from;
            for line in gap.split_inclusive('\n') {
                if let Some(sign) = line.find('#')
                    && let Some(clean) = self.rule.name.without(&line[sign..], self.rule.gone)
                {
                    self.changes.push((line_from + sign..line_from + line.len(), clean));
                }
                line_from += line.len();
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::Plan;
    use crate::store::forget::name::GONE;

    const PLAN: &str = r##"# S wrote this, with "Min" and Low
animal = "Pepino" # for S
species = "cockatiel"
behaviour = "waves to S, to Min and to Low"
note = '''
S says: # no comment, Low'''
step = [
  { name = "looks at S", dimension = "form", was = ["Low", "S # Min"] }, # S again
  { name = "Min", dimension = "duration", goal = 4.0, earns = "low" },
]
[rewards.low]
what = "a seed from S"
[limits]
planned_minutes = 3.0
[body]
weight_g = 92.0
kind = "other_bird"
[words]
low = "low seed"
own.S = "brr" # Low
own."Min #1" = ["ding", "min"]
"##;

    fn forget(text: &str, name: &str) -> String {
        let name = Name::new(name).unwrap();
        let rule = Rule { name: &name, gone: GONE, token: "(forgotten 2)", animals_stay: true };
        without(text, rule).unwrap().unwrap()
    }

    #[test]
    fn values_and_comments_lose_the_name_and_the_plan_stays_a_plan() {
        let clean =
            ["S", "Min", "Low", "bird", "kind"].iter().fold(PLAN.to_owned(), |text, name| {
                let name = Name::new(name).unwrap();
                let rule =
                    Rule { name: &name, gone: GONE, token: "(forgotten 2)", animals_stay: true };
                let clean = without(&text, rule).unwrap();
                clean.unwrap_or(text)
            });
        insta::assert_snapshot!(clean, @r##"
        # (forgotten) wrote this, with "(forgotten)" and (forgotten)
        animal = "Pepino" # for (forgotten)
        species = "cockatiel"
        behaviour = "waves to (forgotten 2), to (forgotten 2) and to (forgotten 2)"
        note = "(forgotten) says: # no comment, (forgotten)"
        step = [
          { name = "looks at (forgotten 2)", dimension = "form", was = ["(forgotten 2)", "(forgotten 2) # (forgotten 2)"] }, # (forgotten) again
          { name = "(forgotten 2)", dimension = "duration", goal = 4.0, earns = "low" },
        ]
        [rewards.low]
        what = "a seed from (forgotten)"
        [limits]
        planned_minutes = 3.0
        [body]
        weight_g = 92.0
        kind = "other_bird"
        [words]
        low = "(forgotten 2) seed"
        own."(forgotten 2)" = "brr" # (forgotten)
        own."(forgotten 2) #1" = ["ding", "(forgotten 2)"]
        "##);
        let (before, after) = (Plan::parse("p", PLAN).unwrap(), Plan::parse("p", &clean).unwrap());
        assert_eq!((before.steps.len(), before.limits), (after.steps.len(), after.limits));
        assert_eq!(before.body, after.body);
    }

    #[test]
    fn no_key_number_or_fixed_word_is_ever_a_name() {
        let name = |name| Name::new(name).unwrap();
        for word in
            ["animal", "step", "form", "other_bird", "planned_minutes", "92", "own", "words"]
        {
            let name = name(word);
            let rule = Rule { name: &name, gone: GONE, token: "x", animals_stay: true };
            assert_eq!(without(PLAN, rule).unwrap(), None, "{word}");
        }
        let cockatiel = name("Cockatiel");
        let rule = Rule { name: &cockatiel, gone: GONE, token: "x", animals_stay: false };
        assert!(without(PLAN, rule).unwrap().unwrap().contains("species = \"x\""));
        assert!(forget("animal = 'Ada'\nnote = 'Bo'", "bo").contains(GONE));
    }
}
