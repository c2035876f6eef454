//! Names, times and weights as they come from people.

use super::Desk;

fn notes(rows: &str) -> String {
    format!("animal,species,behaviour,began,session,outcome,at_s,weight\n{rows}")
}

#[test]
fn an_empty_record_is_said_plainly() {
    let desk = Desk::new();
    for arguments in
        [&["animals"][..], &["progress", "Pepino"], &["session", "last"], &["export", "reps"]]
    {
        let (code, _, complaint) = desk.run(arguments);
        assert_eq!(code, 2, "{arguments:?}");
        assert!(complaint.contains("there is no record yet"), "{complaint}");
    }
    assert!(!desk.path("record.db").exists(), "a view must not make a record");
}

#[test]
fn two_animals_of_one_name_are_asked_about_and_a_new_name_keeps_the_old() {
    let desk = Desk::new();
    desk.write(
        "n.csv",
        &notes(
            "Pip,cockatiel,turns,2026-01-02 17:00:00,1,high,3,\n\
             Pip,donkey,turns,2026-01-02 18:00:00,2,missed,3,\n",
        ),
    );
    desk.ok(&["import", "n.csv", "--zone", "UTC"]);
    let (code, _, complaint) = desk.run(&["progress", "Pip"]);
    assert_eq!(code, 2);
    assert!(complaint.contains("cockatiel") && complaint.contains("donkey"), "{complaint}");
    assert_eq!(desk.json(&["progress", "Pip", "--species", "donkey"])["sessions"], 1);
    desk.ok(&["animals", "--rename", "Pip", "Brindle", "--species", "donkey"]);
    assert_eq!(desk.json(&["progress", "Brindle"])["animal"], "Brindle");
    // Now only one is called Pip; the other was.
    assert_eq!(desk.json(&["handover", "Pip"])["animal"], "Pip");
    let animals = desk.json(&["animals"]);
    let id = animals[0]["id"].as_str().unwrap();
    assert_eq!(animals[0]["names"], serde_json::json!(["Pip", "Brindle"]));
    assert_eq!(desk.json(&["progress", id])["animal"], "Brindle");
}

#[test]
fn weights_in_any_unit_are_compared_and_impossible_ones_refused() {
    let desk = Desk::new();
    let rows: String = (1..=5)
        .map(|day| {
            format!(
                "Pip,cockatiel,,2026-01-0{day} 08:00:00,,,,{}\n",
                ["92 g", "0.092 kg", "3.25 oz", "92.5 g", "0.2 lb"][day - 1]
            )
        })
        .collect();
    desk.write("n.csv", &notes(&rows));
    desk.ok(&["import", "n.csv", "--zone", "UTC"]);
    let body = desk.json(&["body", "Pip"]);
    assert_eq!(body["alarms"], serde_json::json!([]));
    assert_eq!(body["baseline_g"]["known"], 92.0);
    for weight in [&["heavy"][..], &["-5", "g"], &["0", "g"], &["5", "stone"], &["99999", "kg"]] {
        let (code, _, _) = desk.run(&[&["body", "Pip", "weight"], weight].concat());
        assert_eq!(code, 2, "{weight:?}");
    }
    let told = desk.ok(&["body", "Pip", "weight", "2.8 oz"]);
    assert!(
        told.contains("see a veterinarian today") && told.contains("Do not train today"),
        "{told}"
    );
    let told = desk.ok(&["plan", "next", "Pip", "--plan", desk.write("p.toml", "animal = \"Pip\"\nspecies = \"cockatiel\"\nbehaviour = \"turns\"\n[[step]]\nname = \"looks\"\n").to_str().unwrap()]);
    assert!(told.contains("Do not train today") && !told.contains("Lay out"), "{told}");
    let told = desk.ok(&["body", "Pip", "ill", "sneezes"]);
    assert!(told.contains("noted ill today: sneezes"), "{told}");
}

#[test]
fn sessions_keep_the_date_of_the_place_where_they_began() {
    let desk = Desk::new();
    desk.write(
        "n.csv",
        &notes(
            "Pip,cockatiel,turns,2026-03-28T23:59:00+01:00,1,high,3,\n\
             Pip,cockatiel,turns,2026-03-28T23:59:00+01:00,1,high,150,\n\
             Pip,cockatiel,turns,2026-03-29T03:10:00+02:00,2,high,3,\n\
             Pip,cockatiel,turns,2026-03-28T20:30:00-04:00,3,high,3,\n",
        ),
    );
    desk.ok(&["import", "n.csv", "--zone", "Europe/Berlin"]);
    let sessions = desk.json(&["sessions", "--latest", "9"]);
    let days: Vec<&str> =
        sessions.as_array().unwrap().iter().map(|s| s["day"].as_str().unwrap()).collect();
    assert_eq!(days, ["2026-03-28", "2026-03-28", "2026-03-29"]);
    let calendar = desk.ok(&["sessions", "--calendar"]);
    assert!(calendar.contains("2026-03-23   .  .  .  .  .  2  1"), "{calendar}");
}

#[test]
fn a_faulty_import_takes_nothing_in_and_names_the_line() {
    let desk = Desk::new();
    desk.write("n.csv", &notes("Pip,cockatiel,turns,2026-01-02 17:00:00,1,high,3,\nPip,cockatiel,turns,yesterday,1,high,3,\n"));
    let (code, _, complaint) = desk.run(&["import", "n.csv"]);
    assert_eq!(code, 2, "{complaint}");
    assert!(
        complaint.contains("line 3") && complaint.contains("nothing was taken in"),
        "{complaint}"
    );
    let (code, _, _) = desk.run(&["import", "n.csv", "--zone", "Atlantis/Center"]);
    assert_eq!(code, 2);
}
