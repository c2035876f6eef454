//! Invented notes: which have words of injury or illness.

use super::Signs;

/// Notes as people dictate and type them, and the words that must be found. None is about a real animal.
const HEALTH: [(&str, &[&str]); 42] = [
    ("some blood on the perch after the session", &["blood"]),
    ("blood and limping", &["blood", "limping"]),
    ("he is limping on the left fore", &["limping"]),
    ("she limped when we came back in", &["limped"]),
    ("a bit lame today, shortened it", &["lame"]),
    ("Lameness again, right hind.", &["lameness"]),
    ("sneezes since this morning", &["sneezes"]),
    ("he sneezed twice and has a runny nose", &["sneezed", "runny nose"]),
    ("coughing after the canter", &["coughing"]),
    ("threw up before breakfast", &["threw up"]),
    ("vomited yellow foam", &["vomited"]),
    ("diarrhea in the crate", &["diarrhea"]),
    ("Diarrhoea, so only three minutes", &["diarrhoea"]),
    ("there is a swelling below the eye", &["swelling"]),
    ("left foot swollen and warm", &["swollen"]),
    ("nail broke and it bled a little", &["bled"]),
    ("broke a nail on the file", &["broke a nail"]),
    ("plucking again around the breast", &["plucking"]),
    ("a bald patch behind the ear", &["bald patch"]),
    ("did not finish, seems unwell", &["unwell"]),
    ("I think she is ill", &["ill"]),
    ("looks sick, fluffed up on the floor", &["sick", "fluffed up"]),
    ("he won't eat since noon", &["won't eat"]),
    ("not eating his pellets", &["not eating"]),
    ("off her food again", &["off her food"]),
    ("has lost weight, I can feel the keel", &["lost weight"]),
    ("stiff when getting up", &["stiff"]),
    ("stiffer on the left than on the right", &["stiffer"]),
    ("sore left fore", &["sore"]),
    ("yelped when I touched the paw", &["yelped"]),
    ("in pain when he lifts the hoof", &["pain"]),
    ("favouring the right foot on the perch", &["favouring the right"]),
    ("a cut on the pad", &["a cut"]),
    ("hurt herself at the fence", &["hurt"]),
    ("an abscess in the hoof", &["abscess"]),
    ("mites in the cage", &["mites"]),
    ("colic last night, vet was here", &["colic"]),
    ("had a seizure at six", &["seizure"]),
    ("wheezing and tail bobbing", &["wheezing", "tail bobbing"]),
    ("lethargic, left it after two", &["lethargic"]),
    ("no blood today", &["no blood"]),
    ("isn\u{2019}t limping any more", &["isn't limping"]),
];

/// What is noted on an ordinary day.
const ORDINARY: [&str; 44] = [
    "he was keen today",
    "the bird was happy today",
    "I'll use smaller treats next time",
    "we'll go on with step three tomorrow",
    "moved the target a bit to the left",
    "short session, the phone rang",
    "cut the session short because of rain",
    "cut the treats smaller",
    "cut the nails of the other bird first",
    "new place, he looked around a lot",
    "first time with the towel",
    "she offered the foot without a cue",
    "the donkey stood still for five seconds",
    "ended on a jackpot",
    "too many misses at step four, went back",
    "the clicker was too loud",
    "dog barking next door",
    "used sunflower hearts instead of millet",
    "forgot the treats in the kitchen",
    "he touched the file by himself",
    "a good one at the end",
    "latency is getting shorter",
    "Ada held the towel, I fed",
    "warm day, we trained in the shade",
    "he fell asleep on the perch afterwards",
    "thinner rewards from tomorrow on",
    "mealworms as jackpot",
    "wound the rope around the post",
    "sick of millet, so we changed the treats",
    "the battery died in the middle",
    "it was dead quiet in the stable",
    "burns energy before the session with a walk",
    "practised for the vet visit, he went into the box",
    "the criterion was too high for the afternoon",
    "the weak point is still the second foot",
    "a stiff brush works better than the soft one",
    "bumped into the chair and went on",
    "still a little shy with strangers",
    "tired at the end, shorter next time",
    "anxious about the new towel, paid for calm",
    "lifted all four hooves in a row",
    "weighed him before breakfast",
    "changed hands and he did not mind",
    "plucked up the courage to step on the scale",
];

#[test]
fn notes_of_injury_and_illness_are_found() {
    let signs = Signs::english();
    for (note, words) in HEALTH {
        assert_eq!(signs.find(note), words, "{note}");
    }
}

#[test]
fn ordinary_notes_are_left_alone() {
    let signs = Signs::english();
    for note in ORDINARY {
        assert!(signs.find(note).is_empty(), "{note}: {:?}", signs.find(note));
    }
}

#[test]
fn each_form_in_the_list_is_found_by_itself_and_every_exception_spares_one() {
    let signs = Signs::english();
    for phrases in [&signs.words, &signs.except] {
        assert!(!phrases.is_empty());
    }
    for phrase in signs.words.values().flatten().map(|words| words.join(" ")) {
        assert_eq!(signs.find(&phrase), [phrase.as_str()]);
        assert_eq!(signs.find(&phrase.to_uppercase()), [phrase.as_str()]);
    }
    for phrase in signs.except.values().flatten().map(|words| words.join(" ")) {
        assert!(signs.find(&phrase).is_empty(), "{phrase}");
    }
}

#[test]
fn a_language_without_a_list_of_its_own_has_the_english_one() {
    assert_eq!(Signs::of("tlh_XX.UTF-8").find("blood"), ["blood"]);
}
