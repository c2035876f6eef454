//! What is said of an animal's health.

use jiff::civil::date;

use super::*;
use crate::dialogue::{Health, How};
use crate::history::body::{Fact, Noted, read};

/// What every warning ends up at.
const SEE_VET: &str = "see a veterinarian";

#[test]
fn every_line_about_health() {
    let english = Wording::english();
    let day = date(2026, 3, 1);
    let ill = Noted { day, fact: Fact::Ill("sneezes".into()) };
    let concerns = read(&[ill], date(2026, 3, 4)).concerns();
    let choice = Choice {
        marker_begins: false,
        animal: "Pepino".into(),
        behaviour: "rests a foot".into(),
        days_ago: Some(3),
        concerns,
        look_first: false,
        ..Choice::default()
    };
    let plain = Choice { concerns: Vec::new(), look_first: true, ..choice.clone() };
    let (attention, yes) = ("juniper".to_owned(), "yes".to_owned());
    let signs = |how| DialogueLine::SignsNoted {
        words: vec!["blood".into(), "limping".into()],
        how,
        attention: attention.clone(),
        yes: yes.clone(),
    };
    let kept =
        |what, text: &str, training| DialogueLine::HealthKept { what, text: text.into(), training };
    let well = |how| DialogueLine::WellAgain {
        choice: choice.clone(),
        how,
        yes: yes.clone(),
        attention: attention.clone(),
    };
    let hold = |choice: &Choice, what| DialogueLine::Hold {
        choice: choice.clone(),
        attention: attention.clone(),
        what,
    };
    let lines = [
        DialogueLine::Chosen { choice: choice.clone(), attention: attention.clone() },
        DialogueLine::Chosen { choice: plain.clone(), attention: attention.clone() },
        DialogueLine::Concerned { choice: choice.clone() },
        DialogueLine::Next { choice: choice.clone(), yes: yes.clone() },
        hold(&choice, "begin"),
        hold(&choice, "go_on"),
        hold(&plain, "begin"),
        signs(How::Yes),
        signs(How::Command),
        signs(How::Choose),
        kept(Health::Concern, "blood and limping", false),
        kept(Health::Sore, "", true),
        kept(Health::NoConcern, "no blood", false),
        kept(Health::Food, "two carrots", false),
        kept(Health::Well, "", false),
        well(How::Yes),
        well(How::Command),
        DialogueLine::Dictate { what: "food" },
        DialogueLine::Dictate { what: "health" },
        DialogueLine::WeightIs {
            animal: "Pepino".into(),
            grams: 92.5,
            yes: yes.clone(),
            attention: attention.clone(),
            training: true,
        },
    ];
    let said: Vec<String> = lines.iter().map(|line| english.line(line)).collect();
    insta::assert_snapshot!(said.join("\n"), @r"
    Pepino: noted ill on 1 March: sneezes; no training is planned until you say Pepino is well; see a veterinarian. Pepino, rests a foot.
    Pepino, rests a foot. Say juniper, begin.
    Pepino: noted ill on 1 March: sneezes; no training is planned until you say Pepino is well; see a veterinarian.
    Pepino: noted ill on 1 March: sneezes; no training is planned until you say Pepino is well; see a veterinarian. Next: Pepino, rests a foot, last trained 3 days ago. Say yes, or next plan again for the list.
    Pepino: noted ill on 1 March: sneezes; no training is planned until you say Pepino is well; see a veterinarian. If you train all the same, say juniper, begin, once more.
    Pepino: noted ill on 1 March: sneezes; no training is planned until you say Pepino is well; see a veterinarian. If you train all the same, say juniper, carry on, once more.
    Before the first one, look at Pepino: well, sound, and eating? If so, say juniper, begin, once more.
    You noted blood and limping. Log it as a health concern? Say yes, or miss if it is none.
    You noted blood and limping. Log it as a health concern? Say juniper, health concern.
    You noted blood and limping. Choose the animal, and say juniper, health concern, to log it as one.
    Kept as a health concern: blood and limping.
    Kept as sore. Stop when you can, and see a veterinarian.
    Kept as a note.
    Kept: eaten, two carrots.
    Kept: well again.
    Pepino: noted ill on 1 March: sneezes; no training is planned until you say Pepino is well; see a veterinarian. Is Pepino well again? Say yes.
    Pepino: noted ill on 1 March: sneezes; no training is planned until you say Pepino is well; see a veterinarian. Is Pepino well again? Say juniper, well again, once more.
    What, and how much?
    What do you see?
    Pepino, 92.5 grams? Say juniper, weigh in, once more, to keep it.
    ");
}

#[test]
fn every_warning_ends_at_the_veterinarian() {
    let english = Wording::english();
    let on = |month, fact| Noted { day: date(2026, month, 5), fact };
    let words = vec!["blood".to_owned(), "limping".into()];
    let told = |log: &[Noted]| english.warnings("Pepino", &read(log, date(2026, 3, 20)).alarms);
    let log = [
        on(1, Fact::Ill("sneezes".into())),
        on(1, Fact::Concern("blood on the perch".into())),
        on(2, Fact::Sore(String::new())),
        on(2, Fact::Sides("stiffer on the left".into())),
        on(3, Fact::Signs { text: "blood and limping".into(), words }),
    ];
    let told = told(&log);
    for says in &told {
        assert!(says.contains(SEE_VET), "{says}");
    }
    insta::assert_snapshot!(told.join("\n"), @r"
    noted ill on 5 January: sneezes; no training is planned until you say Pepino is well; see a veterinarian
    noted as a health concern on 5 January: blood on the perch; no training is planned until you say Pepino is well; see a veterinarian
    noted sore on 5 February; leave out what uses it until you say Pepino is well; see a veterinarian
    the sides were noted to differ on 5 February: stiffer on the left; leave out what uses the worse one until you say Pepino is well; see a veterinarian
    you noted blood and limping on 5 March, and have not said whether it is a health concern; if it is, see a veterinarian
    ");
}

#[test]
fn every_warning_about_weight_has_its_sentence() {
    use crate::history::body::{Alarm, Train, Warning};
    let reason = || crate::session::Reason {
        detector: "weight".into(),
        because: String::new(),
        inputs: Vec::new(),
        probability: None,
        method: String::new(),
        source: String::new(),
    };
    let alarm = |warning| Alarm { warning, train: Train::Less, reason: reason() };
    let day = date(2026, 3, 5);
    let falls = |held_for_most| Warning::WeightFalls {
        percent: 1.25,
        least: 0.8,
        most: 1.5,
        weighings: 8,
        held_for_most,
    };
    let alarms = [
        Warning::WeightSlip { day, grams: 0.4, units: Some("kilograms_for_grams") },
        Warning::WeightFarDown { percent: 10.9 },
        Warning::WeightStaysDown { percent: 5.2 },
        Warning::WeightDown { percent: 5.2 },
        Warning::WeightUp { percent: 11.0 },
        falls(None),
        falls(Some(1.0)),
        Warning::WeightOutside { grams: 84.0, bound_g: 86.0, below: true },
        Warning::WeightOutside { grams: 104.5, bound_g: 102.0, below: false },
        Warning::Together { signs: vec!["falling_weight", "uneven_sides"] },
    ]
    .map(alarm);
    let english = Wording::english();
    let told = english.warnings("Pepino", &alarms);
    for says in &told {
        assert!(says.contains(SEE_VET), "{says}");
    }
    insta::assert_snapshot!(told.join("\n"), @r"
    the weight of 5 March 2026 (0.4 grams) cannot be compared with the others, perhaps kilograms for grams: weigh again; if it is right, see a veterinarian today
    weight is down by 10.9 %: see a veterinarian today
    weight was down by 5 % or more at three weighings running: see a veterinarian
    weight is down by 5.2 %: weigh again tomorrow; if it stays, see a veterinarian
    weight is up by 11.0 %: count the treats, and see a veterinarian
    weight falls by 1.2 % a week (0.8 to 1.5 %) over the latest 8 weighings: unless it is meant to, see a veterinarian
    weight falls by 1.2 % a week (0.8 to 1.5 %) over the latest 8 weighings, more than the 1 % that is held for the most: unless it is meant to, see a veterinarian
    84 grams is less than the 86 grams of the plan: weigh again; if it is right, see a veterinarian
    104.5 grams is more than the 102 grams of the plan: weigh again; if it is right, see a veterinarian
    a falling weight and uneven sides point the same way: look at Pepino closely, and see a veterinarian
    ");
}
