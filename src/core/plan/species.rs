//! How the need of energy of an animal is reckoned, and which kind a species is of, by its usual English names.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::stats::energy::Metabolism;

const ENGLISH: &str = include_str!("../../../prompts/en/species.toml");

/// Which published equation of energy fits the animal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BodyKind {
    /// 129 kg^0.75 kcal a day at rest: songbirds.
    Passerine,
    /// 78 kg^0.75 kcal a day at rest: all other birds.
    OtherBird,
    /// 70 kg^0.75 kcal a day at rest: small mammals; older plans say so of dogs and cats, too.
    SmallMammal,
    /// 70 kg^0.75 kcal a day at rest.
    Dog,
    /// 70 kg^0.75 kcal a day at rest.
    Cat,
    /// 70 kg^0.75 kcal a day at rest: goats, sheep, pigs and others of up to 100 kg.
    FarmMammal,
    /// 33.3 kcal a day for each kg, of digestible energy, for keeping its weight.
    Horse,
    /// Three quarters of a horse's.
    Donkey,
}

impl BodyKind {
    /// Every kind.
    pub const ALL: [BodyKind; 8] = [
        BodyKind::Passerine,
        BodyKind::OtherBird,
        BodyKind::SmallMammal,
        BodyKind::Dog,
        BodyKind::Cat,
        BodyKind::FarmMammal,
        BodyKind::Horse,
        BodyKind::Donkey,
    ];

    /// Its name in a plan.
    pub fn name(self) -> &'static str {
        match self {
            BodyKind::Passerine => "passerine",
            BodyKind::OtherBird => "other_bird",
            BodyKind::SmallMammal => "small_mammal",
            BodyKind::Dog => "dog",
            BodyKind::Cat => "cat",
            BodyKind::FarmMammal => "farm_mammal",
            BodyKind::Horse => "horse",
            BodyKind::Donkey => "donkey",
        }
    }

    /// The kind that a plan names so.
    pub fn of_name(name: &str) -> Option<BodyKind> {
        BodyKind::ALL.into_iter().find(|kind| kind.name() == name)
    }

    /// The line of metabolism.
    pub fn metabolism(self) -> Metabolism {
        match self {
            BodyKind::Passerine => Metabolism::Songbird,
            BodyKind::OtherBird => Metabolism::OtherBird,
            BodyKind::SmallMammal | BodyKind::Dog | BodyKind::Cat | BodyKind::FarmMammal => {
                Metabolism::Mammal
            }
            BodyKind::Horse => Metabolism::Horse,
            BodyKind::Donkey => Metabolism::Donkey,
        }
    }

    /// What rest is multiplied with unless the plan says otherwise: 1.6 and 1.2 for neutered adult dogs and cats (Small
    /// Animal Clinical Nutrition, 5th ed., from memory), nothing for horses, whose number is for the day; 1.5 else, as
    /// for active birds.
    pub fn usual_activity(self) -> f64 {
        match self {
            BodyKind::Dog => 1.6,
            BodyKind::Cat => 1.2,
            BodyKind::Horse | BodyKind::Donkey => 1.0,
            _ => 1.5,
        }
    }

    /// Where the equation is from.
    pub fn source(self) -> &'static str {
        match self {
            BodyKind::Passerine => "129 kcal × kg^0.75: Hand-Rearing Birds, 2nd ed., table B.1",
            BodyKind::OtherBird => "78 kcal × kg^0.75: Hand-Rearing Birds, 2nd ed., table B.2",
            BodyKind::Dog | BodyKind::Cat => {
                "70 kcal × kg^0.75: Small Animal Clinical Nutrition, 5th ed., table 5-2; the same in the guidelines of WSAVA and AAHA (from memory)"
            }
            BodyKind::SmallMammal | BodyKind::FarmMammal => {
                "70 kcal × kg^0.75: Kleiber's line of mammals (Small Animal Clinical Nutrition, 5th ed., table 5-2)"
            }
            BodyKind::Horse => {
                "33.3 kcal of digestible energy for each kg: NRC, Nutrient Requirements of Horses, 6th ed., 2007 (from memory)"
            }
            BodyKind::Donkey => {
                "three quarters of NRC's number for horses: common practice with donkeys (from memory)"
            }
        }
    }

    /// The kind of a species by its usual English name; `None` where that is not certain.
    ///
    /// ```
    /// use hushtally_core::plan::BodyKind;
    /// assert_eq!(BodyKind::of_species("Grey parrot"), Some(BodyKind::OtherBird));
    /// assert_eq!(BodyKind::of_species("two guinea pigs"), Some(BodyKind::SmallMammal));
    /// assert_eq!(BodyKind::of_species("quokka"), None);
    /// ```
    pub fn of_species(species: &str) -> Option<BodyKind> {
        let names: BTreeMap<BodyKind, Vec<String>> =
            toml::from_str(ENGLISH).expect("a test reads the embedded names");
        let species = species.to_lowercase().replace('\u{2019}', "'");
        let words: Vec<&str> = species
            .split(|c: char| !(c.is_alphanumeric() || c == '\''))
            .filter(|word| !word.is_empty())
            .collect();
        let mut best: Option<(usize, usize, BodyKind)> = None;
        for (kind, name) in names.iter().flat_map(|(kind, names)| names.iter().map(|n| (*kind, n)))
        {
            let name: Vec<&str> = name.split_whitespace().collect();
            let ends = words.windows(name.len()).rposition(|found| fits(found, &name));
            if let Some(place) = ends {
                let found = (name.len(), place, kind);
                if best.is_none_or(|(length, at, _)| (found.0, found.1) > (length, at)) {
                    best = Some(found);
                }
            }
        }
        best.map(|(_, _, kind)| kind)
    }
}

/// Whether these words are the name, its last one perhaps in the plural.
fn fits(words: &[&str], name: &[&str]) -> bool {
    let plural = |word: &str, name: &str| {
        let ending = |of: &str| word.strip_prefix(name).is_some_and(|rest| rest == of);
        let other = match name.strip_suffix('y') {
            Some(stem) => format!("{stem}ies"),
            None => match name {
                "mouse" => "mice".to_owned(),
                "goose" => "geese".to_owned(),
                "calf" => "calves".to_owned(),
                "ox" => "oxen".to_owned(),
                _ => format!("{name}s"),
            },
        };
        word == name || ending("s") || ending("es") || word == other
    };
    match (words.split_last(), name.split_last()) {
        (Some((last, words)), Some((end, name))) => words == name && plural(last, end),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sixty names as people write them.
    const KNOWN: [(&str, BodyKind); 60] = [
        ("cockatiel", BodyKind::OtherBird),
        ("grey parrot", BodyKind::OtherBird),
        ("African grey", BodyKind::OtherBird),
        ("African Grey Parrot", BodyKind::OtherBird),
        ("budgie", BodyKind::OtherBird),
        ("budgerigars", BodyKind::OtherBird),
        ("blue-and-gold macaw", BodyKind::OtherBird),
        ("sun conure", BodyKind::OtherBird),
        ("lovebird", BodyKind::OtherBird),
        ("umbrella cockatoo", BodyKind::OtherBird),
        ("hen", BodyKind::OtherBird),
        ("chickens", BodyKind::OtherBird),
        ("duck", BodyKind::OtherBird),
        ("geese", BodyKind::OtherBird),
        ("homing pigeon", BodyKind::OtherBird),
        ("barn owl", BodyKind::OtherBird),
        ("Harris's hawk", BodyKind::OtherBird),
        ("turkey", BodyKind::OtherBird),
        ("canary", BodyKind::Passerine),
        ("canaries", BodyKind::Passerine),
        ("zebra finch", BodyKind::Passerine),
        ("zebra finches", BodyKind::Passerine),
        ("parrot finch", BodyKind::Passerine),
        ("raven", BodyKind::Passerine),
        ("carrion crow", BodyKind::Passerine),
        ("hill mynah", BodyKind::Passerine),
        ("starling", BodyKind::Passerine),
        ("dog", BodyKind::Dog),
        ("dogs", BodyKind::Dog),
        ("border collie", BodyKind::Dog),
        ("Labrador Retriever", BodyKind::Dog),
        ("dog (mixed breed)", BodyKind::Dog),
        ("German shepherd", BodyKind::Dog),
        ("puppies", BodyKind::Dog),
        ("cat", BodyKind::Cat),
        ("Maine Coon", BodyKind::Cat),
        ("house cat", BodyKind::Cat),
        ("rabbit", BodyKind::SmallMammal),
        ("guinea pig", BodyKind::SmallMammal),
        ("guinea pigs", BodyKind::SmallMammal),
        ("rat", BodyKind::SmallMammal),
        ("mice", BodyKind::SmallMammal),
        ("golden hamster", BodyKind::SmallMammal),
        ("ferret", BodyKind::SmallMammal),
        ("chinchilla", BodyKind::SmallMammal),
        ("horse", BodyKind::Horse),
        ("Shetland pony", BodyKind::Horse),
        ("Icelandic horse", BodyKind::Horse),
        ("ponies", BodyKind::Horse),
        ("donkey", BodyKind::Donkey),
        ("small donkey", BodyKind::Donkey),
        ("mule", BodyKind::Donkey),
        ("pygmy goat", BodyKind::FarmMammal),
        ("goats", BodyKind::FarmMammal),
        ("sheep", BodyKind::FarmMammal),
        ("pot-bellied pig", BodyKind::FarmMammal),
        ("pig", BodyKind::FarmMammal),
        ("cow", BodyKind::FarmMammal),
        ("alpaca", BodyKind::FarmMammal),
        ("llama", BodyKind::FarmMammal),
    ];

    #[test]
    fn the_usual_animals_are_known_by_their_usual_names() {
        for (species, kind) in KNOWN {
            assert_eq!(BodyKind::of_species(species), Some(kind), "{species}");
        }
    }

    #[test]
    fn what_is_not_certain_is_not_guessed() {
        // "Cat" in catfish and "rat" in Cratinus are neither cat nor rat.
        for species in [
            "",
            "quokka",
            "catfish",
            "axolotl",
            "bearded dragon",
            "tortoise",
            "Cratinus",
            "bird?!x",
            "animal",
        ] {
            assert_eq!(BodyKind::of_species(species), None, "{species}");
        }
    }

    #[test]
    fn a_kind_has_one_name_and_a_source() {
        for kind in BodyKind::ALL {
            assert_eq!(BodyKind::of_name(kind.name()), Some(kind));
            let name = serde_json::to_value(kind).unwrap();
            assert_eq!(name.as_str(), Some(kind.name()));
            assert!(!kind.source().is_empty());
        }
    }
}
