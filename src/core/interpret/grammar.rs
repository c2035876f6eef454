//! The plan's grammar: which sequences of words are tags.

use std::collections::BTreeMap;

use crate::interpret::{Details, LinkMarks, Said};
use crate::plan::{Command, Role, Words};

/// One thing said, and which of the utterance's words said it.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// What was said.
    pub said: Said,
    /// Index of its first word.
    pub first: usize,
    /// Index after its last word.
    pub end: usize,
}

/// Reads utterances by a plan's words.
#[derive(Debug, Clone)]
pub struct Grammar {
    /// Phrases as words, outside commands.
    tags: BTreeMap<Vec<String>, Role>,
    /// Phrases that may follow the attention word.
    commands: BTreeMap<Vec<String>, Role>,
    longest: usize,
    /// Whether numbers name the links of a chain.
    links: bool,
}

impl Grammar {
    /// The grammar of these words.
    pub fn new(words: &Words) -> Self {
        let mut grammar = Grammar {
            tags: BTreeMap::new(),
            commands: BTreeMap::new(),
            longest: 1,
            links: words.numbers_are_links(),
        };
        for (role, phrase) in words.iter() {
            let phrase: Vec<String> = phrase.split(' ').map(str::to_owned).collect();
            grammar.longest = grammar.longest.max(phrase.len());
            match role {
                role if role.is_called() => grammar.commands.insert(phrase, role.clone()),
                Role::Animal(_) => {
                    grammar.commands.entry(phrase.clone()).or_insert_with(|| role.clone());
                    grammar.tags.insert(phrase, role.clone())
                }
                _ => grammar.tags.insert(phrase, role.clone()),
            };
        }
        for (role, number) in words.iter() {
            let Role::Step(step) = role else { continue };
            for ask in words.work_on() {
                let phrase: Vec<String> =
                    ask.split(' ').chain(number.split(' ')).map(str::to_owned).collect();
                grammar.longest = grammar.longest.max(phrase.len());
                // What the plan itself says of these words comes first.
                let command = Role::Command(Command::WorkOn(*step));
                grammar.commands.entry(phrase).or_insert(command);
            }
        }
        grammar
    }

    /// Every single word that can be said, sorted, each once.
    pub fn vocabulary(&self) -> Vec<&str> {
        let mut words: Vec<&str> =
            self.tags.keys().chain(self.commands.keys()).flatten().map(String::as_str).collect();
        words.sort_unstable();
        words.dedup();
        words
    }

    /// Every tag that can be said by itself, and the attention word.
    pub fn tags(&self) -> Vec<String> {
        self.tags.keys().map(|phrase| phrase.join(" ")).collect()
    }

    /// Tags that often follow each other: a marker or a change with one detail.
    pub fn pairs(&self) -> Vec<String> {
        let of = |wanted: fn(&Role) -> bool| {
            self.tags.iter().filter(move |(_, role)| wanted(role)).map(|(phrase, _)| phrase)
        };
        let details = Role::is_detail;
        of(|role| matches!(role, Role::Marker | Role::Change))
            .flat_map(|opening| {
                of(details).map(move |detail| format!("{} {}", opening.join(" "), detail.join(" ")))
            })
            .collect()
    }

    /// Every command, without the attention word.
    pub fn commands(&self) -> Vec<String> {
        self.commands.keys().map(|phrase| phrase.join(" ")).collect()
    }

    /// Every command after the attention word.
    pub fn called_commands(&self) -> Vec<String> {
        let attention = |role: &Role| *role == Role::Attention;
        self.tags
            .iter()
            .filter(|(_, role)| attention(role))
            .flat_map(|(call, _)| {
                self.commands()
                    .into_iter()
                    .map(move |command| format!("{} {command}", call.join(" ")))
            })
            .collect()
    }

    /// Whether a single word belongs to a tag (or is the attention word).
    pub fn knows(&self, word: &str) -> bool {
        self.tags.keys().flatten().any(|known| known == word)
    }

    /// How many words the attention word takes at the beginning of `words`; 0 when it is not there.
    pub fn called<W: AsRef<str>>(&self, words: &[W]) -> usize {
        let words: Vec<&str> = words.iter().map(AsRef::as_ref).collect();
        match self.next(&self.tags, &words, 0) {
            Some((Role::Attention, end)) => end,
            _ => 0,
        }
    }

    /// What `words` ask for, said without the attention word.
    pub fn command<W: AsRef<str>>(&self, words: &[W]) -> Option<Said> {
        let words: Vec<&str> = words.iter().map(AsRef::as_ref).collect();
        match self.next(&self.commands, &words, 0)? {
            (role, end) if end == words.len() => called(role),
            _ => None,
        }
    }

    /// Reads a whole utterance; `None` unless every word of it belongs to a tag or command.
    pub fn parse<W: AsRef<str>>(&self, words: &[W]) -> Option<Vec<Reading>> {
        let words: Vec<&str> = words.iter().map(AsRef::as_ref).collect();
        let mut read: Vec<Reading> = Vec::new();
        let mut place = 0;
        while place < words.len() {
            let (role, end) = self.next(&self.tags, &words, place)?;
            let said = match role {
                Role::Attention => {
                    let (role, after) = self.next(&self.commands, &words, end)?;
                    // A command stands alone: nothing before it, nothing after it.
                    let said = called(role)?;
                    if place > 0 || after < words.len() {
                        return None;
                    }
                    return Some(vec![Reading { said, first: 0, end: after }]);
                }
                Role::Marker => Said::Rep(Details::default()),
                Role::Change => Said::Change(Details::default()),
                Role::Miss => Said::Miss(Details::default()),
                Role::Mood(mood) => Said::State { mood: *mood },
                Role::Cue => Said::Cue,
                Role::HoldStart => Said::HoldStart,
                Role::TakeBack => Said::TakeBack,
                Role::Own(name) => Said::Own { name: name.clone() },
                Role::Animal(name) => Said::Animal { name: name.clone() },
                Role::Command(_) | Role::TakesOver(_) | Role::Behaviour(_) => return None,
                Role::Step(_) | Role::Prompt(_) | Role::Value(_) | Role::Side(_) => {
                    let detail = detail_of(role, self.links)?;
                    extend(&mut read, detail, place, end)?;
                    place = end;
                    continue;
                }
            };
            read.push(Reading { said, first: place, end });
            place = end;
        }
        one_animal_for_all(&mut read);
        // A change with nothing after it changes nothing: it was not all said, so it is not a tag.
        // At the end of the utterance the details may still come.
        let unfinished =
            read.iter().rev().skip(1).any(
                |reading| matches!(&reading.said, Said::Change(details) if details.is_empty()),
            );
        (!read.is_empty() && !unfinished).then_some(read)
    }

    /// The longest phrase at `place`.
    fn next<'a>(
        &self,
        among: &'a BTreeMap<Vec<String>, Role>,
        words: &[&str],
        place: usize,
    ) -> Option<(&'a Role, usize)> {
        let furthest = words.len().min(place + self.longest);
        (place + 1..=furthest).rev().find_map(|end| {
            let phrase: Vec<String> =
                words[place..end].iter().map(|word| (*word).to_owned()).collect();
            among.get(&phrase).map(|role| (role, end))
        })
    }
}

/// What the phrase of this role asks for after the attention word.
fn called(role: &Role) -> Option<Said> {
    match role {
        Role::Command(command) => Some(Said::Command { command: *command }),
        Role::TakesOver(person) => Some(Said::TakesOver { person: person.clone() }),
        Role::Behaviour(name) => Some(Said::Behaviour { name: name.clone() }),
        Role::Animal(name) => Some(Said::Animal { name: name.clone() }),
        _ => None,
    }
}

/// One animal that is named in an utterance is meant with all of it, whether its name comes first or after the marker.
fn one_animal_for_all(read: &mut Vec<Reading>) {
    let is_animal = |reading: &&Reading| matches!(reading.said, Said::Animal { .. });
    let Some(place) = read.iter().position(|reading| is_animal(&reading)) else { return };
    if place > 0 && read.iter().filter(is_animal).count() == 1 {
        let mut animal = read.remove(place);
        animal.first = read[0].first;
        read.insert(0, animal);
    }
}

/// What this role says of a try; `links` tells whether numbers name the links of a chain.
fn detail_of(role: &Role, links: bool) -> Option<Details> {
    let mut details = Details::default();
    match role {
        Role::Step(link) if links => details.links = LinkMarks::link(*link, None),
        Role::Prompt(level) => details.links = LinkMarks::prompt(*level),
        Role::Step(step) => details.step = Some(*step),
        Role::Value(value) => details.value = Some(*value),
        Role::Side(side) => details.side = Some(*side),
        _ => return None,
    }
    Some(details)
}

/// Adds a detail to the rep, miss, change or detail before it. Two of the same kind contradict: `None`. A miss is paid
/// nothing: a value after it stands alone, and has nothing to go to.
fn extend(read: &mut Vec<Reading>, detail: Details, place: usize, end: usize) -> Option<()> {
    let last = read
        .last_mut()
        .filter(|last| !(matches!(last.said, Said::Miss(_)) && detail.of_a_miss() != detail));
    if let Some(Reading {
        said: Said::Rep(held) | Said::Miss(held) | Said::Change(held) | Said::Detail(held),
        end: last,
        ..
    }) = last
    {
        let twice = (held.step.is_some() && detail.step.is_some())
            || (held.value.is_some() && detail.value.is_some())
            || (held.side.is_some() && detail.side.is_some())
            || held.links.contradicts(detail.links);
        if twice {
            return None;
        }
        *held = held.with(detail);
        *last = end;
        return Some(());
    }
    read.push(Reading { said: Said::Detail(detail), first: place, end });
    Some(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{Mood, RewardValue, Side};

    fn said(text: &str) -> Option<Vec<Said>> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let read = Grammar::new(&Words::english()).parse(&words)?;
        Some(read.into_iter().map(|reading| reading.said).collect())
    }

    #[test]
    fn a_marker_takes_details_in_any_order() {
        let details = Details {
            step: Some(3),
            side: Some(Side::Left),
            value: Some(RewardValue::High),
            ..Details::default()
        };
        for text in ["yes three left bonus", "yes bonus three left", "yes left bonus three"] {
            assert_eq!(said(text), Some(vec![Said::Rep(details)]));
        }
    }

    #[test]
    fn what_is_said_with_a_miss_belongs_to_it() {
        let left = Details { side: Some(Side::Left), ..Details::default() };
        let both = Details { step: Some(2), ..left };
        assert_eq!(said("miss left"), Some(vec![Said::Miss(left)]));
        assert_eq!(said("miss two left"), Some(vec![Said::Miss(both)]));
        let yes = Said::Rep(Details::default());
        assert_eq!(said("yes miss left"), Some(vec![yes, Said::Miss(left)]));
        // A miss is paid nothing.
        let bonus = Details { value: Some(RewardValue::High), ..Details::default() };
        assert_eq!(
            said("miss bonus"),
            Some(vec![Said::Miss(Details::default()), Said::Detail(bonus)])
        );
        assert_eq!(said("miss left right"), None);
    }

    #[test]
    fn several_tags_in_one_breath() {
        let words = "miss anxious";
        assert_eq!(
            said(words),
            Some(vec![Said::Miss(Details::default()), Said::State { mood: Mood::Worried }])
        );
    }

    #[test]
    fn a_change_may_wait_for_its_details() {
        assert_eq!(said("correction"), Some(vec![Said::Change(Details::default())]));
        let details = Details { step: Some(2), ..Details::default() };
        assert_eq!(said("correction two"), Some(vec![Said::Change(details)]));
    }

    #[test]
    fn a_command_stands_alone() {
        let step_up = Said::Command { command: Command::StepUp };
        assert_eq!(said("juniper step up"), Some(vec![step_up]));
        let step_two = Said::Command { command: Command::WorkOn(2) };
        assert_eq!(said("juniper step two"), Some(vec![step_two]));
        for text in ["juniper step", "step two", "juniper step two three", "juniper step step"] {
            assert_eq!(said(text), None, "{text}");
        }
        for text in ["juniper", "step up", "yes juniper finish", "juniper finish yes"] {
            assert_eq!(said(text), None, "{text}");
        }
    }

    #[test]
    fn somebody_takes_over_by_name_after_the_attention_word() {
        let mut words = Words::english();
        words.add_person("Ada Lund", &["ada".to_owned()]);
        let grammar = Grammar::new(&words);
        let said = |text: &str| {
            let words: Vec<&str> = text.split(' ').collect();
            Some(grammar.parse(&words)?.remove(0).said)
        };
        let taken = Said::TakesOver { person: "Ada Lund".to_owned() };
        assert_eq!(said("juniper ada takes over"), Some(taken.clone()));
        assert_eq!(grammar.command(&["ada", "takes", "over"]), Some(taken));
        for text in ["ada takes over", "juniper ada", "juniper takes over", "yes ada"] {
            assert_eq!(said(text), None, "{text}");
        }
        // What already means something goes on to mean that.
        words.set(Role::Command(Command::StepUp), vec!["zoe takes over".to_owned()]);
        words.add_person("Zoe", &["zoe".to_owned()]);
        assert!(words.of(&Role::TakesOver("Zoe".to_owned())).is_empty());
    }

    #[test]
    fn numbers_name_the_links_of_a_chain_and_help_belongs_to_the_number_before_it() {
        let mut words = Words::english();
        words.set_numbers_are_links(true);
        words.set(Role::Prompt(1), vec!["point".to_owned()]);
        words.set(Role::Prompt(2), vec!["hand".to_owned()]);
        let grammar = Grammar::new(&words);
        let said = |text: &str| {
            let words: Vec<&str> = text.split(' ').collect();
            Some(grammar.parse(&words)?.remove(0).said)
        };
        let links = |links: LinkMarks| Details { links, ..Details::default() };
        let (two, four) = (LinkMarks::link(2, Some(1)), LinkMarks::link(4, None));
        assert_eq!(said("yes two point four"), Some(Said::Rep(links(two.with(four)))));
        assert_eq!(said("miss four"), Some(Said::Miss(links(four))));
        assert_eq!(said("yes hand"), Some(Said::Rep(links(LinkMarks::prompt(2)))));
        assert_eq!(said("four"), Some(Said::Detail(links(four))));
        let bonus = Details { value: Some(RewardValue::High), ..links(two) };
        assert_eq!(said("yes two point bonus"), Some(Said::Rep(bonus)));
        for text in ["yes two two", "yes two point hand", "point four hand hand"] {
            assert_eq!(said(text), None, "{text}");
        }
        let step_two = Said::Command { command: Command::WorkOn(2) };
        assert_eq!(said("juniper step two"), Some(step_two));
        assert!(grammar.pairs().contains(&"yes point".to_owned()));
    }

    #[test]
    fn contradictions_and_talk_are_not_tags() {
        for text in
            ["", "yes two three", "yes bonus ordinary", "correction yes", "yes [unk]", "well yes"]
        {
            assert_eq!(said(text), None, "{text}");
        }
    }
}
