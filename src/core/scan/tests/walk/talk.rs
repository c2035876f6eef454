//! Walks before, in and after sessions.

use std::collections::BTreeSet;
use std::time::Duration;

use super::{Walk, World};
use crate::at::At;
use crate::dialogue::{
    Aside, ChangeRead, Choice, Dialogue, DialogueEffect, DialogueInput, DialogueLine, Health,
    Place, Trials, VoiceChange, Weeks,
};
use crate::history::body::{Fact, Noted, read};
use crate::interpret::switch::{Meant, Press, SwitchSettings, Under};
use crate::interpret::{Details, Said};
use crate::machine::{Label, Leads, Machine, Offer};
use crate::plan::{Command, Mood, Plan, PlanChange, Words};
use crate::session::{Derived, Event, Input as ToSession, Output, Session};

/// A session, a journal, and what was reached.
struct Day {
    session: Option<Session>,
    /// Whether a session was cut off before.
    cut_off: bool,
    trials: Trials,
    quit: bool,
    reached: BTreeSet<String>,
}

impl Day {
    fn reach(&mut self, name: &str) {
        self.reached.insert(name.to_owned());
    }

    fn pass_on(&mut self, now: Duration, said: Said, words: String) -> Vec<DialogueInput> {
        let at = At::after(now);
        if std::mem::take(&mut self.cut_off) && self.session.is_none() {
            let mut session = Session::new(Plan::of_default_words());
            let begin = Said::Command { command: Command::Begin };
            let _began =
                session.handle(at, ToSession::Tagged { said: begin, words: "begin".into() });
            if said == (Said::Command { command: Command::GoOn }) {
                self.session = Some(session);
                self.reach("go_on");
                return vec![DialogueInput::Began];
            }
        }
        let session = self.session.get_or_insert_with(|| Session::new(Plan::of_default_words()));
        let (before, paused) = (session.begun(), session.paused());
        let outputs = session.handle(at, ToSession::Tagged { said: said.clone(), words });
        let mut follows = Vec::new();
        if !before && session.begun() {
            follows.push(DialogueInput::Began);
        }
        if paused != session.paused() {
            follows.push(DialogueInput::Paused(session.paused()));
        }
        let events = || {
            outputs.iter().filter_map(|output| match output {
                Output::Append(logged) => Some(&logged.event),
                _ => None,
            })
        };
        // What is only a doubt was not logged as what it was meant for.
        let doubted =
            events().any(|event| matches!(event, Event::Input(ToSession::Doubted { .. })));
        let finished =
            events().any(|event| matches!(event, Event::Derived(Derived::Finished { .. })));
        if !doubted {
            self.reach(&name(&said));
        }
        if finished {
            self.session = None;
            follows.push(DialogueInput::Ended);
        }
        follows
    }
}

/// The function that this is.
fn name(said: &Said) -> String {
    match said {
        Said::Rep(_) => "marker",
        Said::Miss(_) => "miss",
        Said::State { mood: Mood::Keen } => "keen",
        Said::State { mood: Mood::Calm } => "calm",
        Said::State { mood: Mood::Worried } => "worried",
        Said::State { mood: Mood::Tired } => "tired",
        Said::Cue => "cue",
        Said::HoldStart => "hold_start",
        Said::TakeBack => "take_back",
        Said::Own { .. } => "own",
        Said::TakesOver { .. } => "take_over",
        Said::Behaviour { .. } => "behaviour",
        Said::Animal { .. } => "animal",
        Said::Change(Details { value: Some(_), .. }) => "change_value",
        Said::Change(Details { side: Some(_), .. }) => "change_side",
        Said::Change(Details { step: Some(_), .. }) => "change_step",
        Said::Command { command: Command::WorkOn(_) } => "work_on",
        // What only stands in the session's log is reached where it is carried out.
        Said::Command { command } if !is_the_sessions(*command) => "in the log",
        Said::Command { command } => return command.name().into_owned(),
        Said::Change(_) | Said::Detail(_) | Said::PutBack { .. } => "nothing",
    }
    .to_owned()
}

fn is_the_sessions(command: Command) -> bool {
    use Command::{
        Begin, Count, Finish, GoOn, Pause, PlayBreak, Rate, Refilled, Stay, StepBack, StepUp, Time,
        Treats, Why,
    };
    [
        Begin, Count, Finish, GoOn, Pause, PlayBreak, Rate, Refilled, Stay, StepBack, StepUp, Time,
        Treats, Why,
    ]
    .contains(&command)
}

impl World<Dialogue> for Day {
    fn carry_out(&mut self, now: Duration, effects: Vec<DialogueEffect>) -> Vec<DialogueInput> {
        let mut follows = Vec::new();
        for effect in effects {
            match effect {
                DialogueEffect::Pass { said, words } => {
                    follows.extend(self.pass_on(now, said, words))
                }
                DialogueEffect::Close => {
                    drop(self.session.take().map(|mut session| session.close(At::after(now))));
                }
                DialogueEffect::Load(_) => {
                    let open = self.session.take().is_some_and(|session| session.begun());
                    assert!(!open, "a session was left open");
                    self.reach("choose_plan");
                    if self.cut_off {
                        follows.push(DialogueInput::Resumable);
                    }
                }
                DialogueEffect::StartAt(_) => self.reach("start_at"),
                DialogueEffect::Note(_) => self.reach("note"),
                DialogueEffect::Weight { .. } => self.reach("weight"),
                DialogueEffect::Health { what, .. } => self.reach(match what {
                    Health::Ill => "ill",
                    Health::Sore => "sore",
                    Health::Concern => "concern",
                    Health::NoConcern => "no_concern",
                    Health::Well => "well",
                    Health::Food => "food",
                }),
                DialogueEffect::Concern { yes, .. } => {
                    self.reach(if yes { "concern" } else { "no_concern" });
                }
                DialogueEffect::Capture => self.reach("capture"),
                DialogueEffect::Recap { .. } => {
                    self.reach("recap");
                    follows.push(DialogueInput::Recapped);
                }
                DialogueEffect::Weeks(weeks) => self.reach(match weeks {
                    Weeks::Time => "weeks_time",
                    Weeks::Rate => "weeks_rate",
                    Weeks::Count => "weeks_count",
                    Weeks::Treats => "weeks_treats",
                }),
                DialogueEffect::Trials => follows.push(DialogueInput::Trials(self.trials)),
                DialogueEffect::BeginTrial { .. } => self.reach("test_change"),
                DialogueEffect::Repeat => self.reach("repeat"),
                DialogueEffect::Voice(change) => self.reach(match change {
                    VoiceChange::Slower => "slower",
                    VoiceChange::Faster => "faster",
                    VoiceChange::Louder => "louder",
                    VoiceChange::Quieter => "quieter",
                }),
                DialogueEffect::SoundCheck => self.reach("sound_check"),
                DialogueEffect::Quit => {
                    self.reach("quit");
                    self.quit = true;
                }
                DialogueEffect::WhatNext => self.reach("what_next"),
                DialogueEffect::HandOver => self.reach("hand_over"),
                DialogueEffect::Report => self.reach("report"),
                DialogueEffect::Backup => self.reach("backup"),
                DialogueEffect::Probe { .. } => self.reach("probe"),
                DialogueEffect::Aside(aside) => {
                    self.reach(match aside {
                        Aside::Settle => "settle",
                        Aside::Quiz => "quiz",
                        Aside::Lesson => "learn",
                        Aside::SetUp => "set_up",
                    });
                    follows.push(DialogueInput::Back { trouble: None });
                }
                DialogueEffect::MakePlan(new) => {
                    let made = Choice { animal: new.animal, steps: new.steps, ..Choice::default() };
                    follows.push(DialogueInput::PlanMade(Ok(made)));
                }
                DialogueEffect::ReadChange(text) => {
                    let change = PlanChange::Tries { tries: 8 };
                    let described = change.described(&Plan::of_default_words());
                    let read = ChangeRead::Possible { text, change, described };
                    follows.push(DialogueInput::ChangeRead(read));
                }
                DialogueEffect::ChangePlan(_) => {
                    self.reach("change_plan");
                    let animal = "Changed".to_owned();
                    let changed = Choice { animal, ..Choice::default() };
                    follows.push(DialogueInput::PlanChanged(Ok(changed)));
                }
                DialogueEffect::Reload | DialogueEffect::KeepDraft(_) => {}
                DialogueEffect::Say(DialogueLine::Help { .. }) => self.reach("help"),
                DialogueEffect::Say(DialogueLine::Next { .. }) => self.reach("next_plan"),
                DialogueEffect::Dictate => panic!("nobody is there to dictate"),
                DialogueEffect::Say(_)
                | DialogueEffect::Show(_)
                | DialogueEffect::Overheard { .. } => {}
            }
        }
        follows
    }

    fn took(&mut self, called: &Label, effects: &[DialogueEffect]) {
        let passed = effects.iter().any(|effect| matches!(effect, DialogueEffect::Pass { .. }));
        match called.line {
            "train" if passed => self.reach("train_all_the_same"),
            "leave" => self.reach("leave_a_question"),
            _ => {}
        }
    }

    fn press(&self, dialogue: &Dialogue, press: Press) -> Vec<DialogueInput> {
        match SwitchSettings::default().action(press).meant(self.under(dialogue)) {
            Meant::Said(said) => {
                vec![DialogueInput::Said { said, words: "a press".into(), keyed: true }]
            }
            Meant::Menu | Meant::Nothing => Vec::new(),
        }
    }

    fn opens_menu(&self, dialogue: &Dialogue, press: Press) -> bool {
        SwitchSettings::default().action(press).meant(self.under(dialogue)) == Meant::Menu
    }

    fn is_over(&self, _: &Dialogue) -> bool {
        self.quit
    }
}

impl Day {
    fn under(&self, dialogue: &Dialogue) -> Under {
        match dialogue.place() {
            Place::Training(_) if self.session.as_ref().is_some_and(Session::paused) => {
                Under::Pause
            }
            Place::Training(_) => Under::Way,
            _ => Under::None,
        }
    }
}

/// Invented animals: the second one has a concern open, the last one a note with a sign that nobody answered.
fn plans(count: usize) -> Vec<Choice> {
    let steps = || vec!["looks at it".to_owned(), "touches it".to_owned()];
    let day = jiff::civil::date(2026, 3, 1);
    let open = |fact: Fact| read(&[Noted { day, fact }], day).concerns();
    let noted =
        |text: &str, words: &str| Fact::Signs { text: text.into(), words: vec![words.into()] };
    (0..count)
        .map(|index| Choice {
            animal: format!("Animal {}", index / 2),
            behaviour: format!("behaviour {index}"),
            concerns: match index {
                2 => open(Fact::Ill("sneezes".into())),
                4 => open(noted("a little blood on the perch", "blood")),
                _ => Vec::new(),
            },
            look_first: index == 1,
            steps: steps(),
            own: vec!["sneeze".to_owned()],
            people: vec!["Ada".to_owned(), "Ben".to_owned()],
            ..Choice::default()
        })
        .collect()
}

pub(super) fn day(seed: u64) -> BTreeSet<String> {
    let count = [1, 2, 3, 8, 5, 3, 6, 0, 40][seed as usize % 9];
    let (mut dialogue, mut effects) = Dialogue::open(plans(count), "juniper", "yes");
    let (plan, mut words) = (Plan::of_default_words(), Words::english());
    words.add_behaviour(&plan.behaviour, &["wave".to_owned()]);
    words.add_animal(&plan.animal, &["pip".to_owned()]);
    dialogue.listen_for(&words);
    // Nobody has pressed yet, and without a plan the first question listens.
    effects.retain(|effect| *effect != DialogueEffect::Dictate);
    let trials = [Trials::None, Trials::Over, Trials::GoOn][seed as usize % 3];
    let day = Day {
        session: None,
        cut_off: seed.is_multiple_of(5),
        trials,
        quit: false,
        reached: BTreeSet::new(),
    };
    let mut walk = Walk::begin(dialogue, effects, day, seed);
    walk.go(120);
    let mut reached = walk.world.reached;
    // Nobody spells a whole plan by chance.
    if seed == 0 && makes_a_plan() {
        reached.insert("new_plan".to_owned());
    }
    reached
}

/// Whether a plan can be made by nothing but what one switch is offered.
fn makes_a_plan() -> bool {
    fn offered(offers: &[Offer<DialogueInput>], line: &str) -> Option<Vec<DialogueInput>> {
        offers.iter().find_map(|offer| match &offer.leads {
            Leads::To(inputs) if offer.label.line == line => Some(inputs.clone()),
            Leads::Into(inner) => offered(inner, line),
            _ => None,
        })
    }
    let (mut dialogue, _asked) = Dialogue::open(Vec::new(), "juniper", "yes");
    let spelled = ["letter", "letter", "that_is_it"].into_iter().cycle().take(3 * 4);
    let left_out = ["leave_out"; 4];
    let mut now = Duration::ZERO;
    let mut effects = Vec::new();
    for line in spelled.chain(left_out).chain(["yes"]) {
        now += Duration::from_secs(5);
        dialogue.choosing(now);
        let Some(inputs) = offered(&Machine::choices(&dialogue).offers, line) else { return false };
        effects = inputs.into_iter().flat_map(|input| dialogue.handle(now, input)).collect();
    }
    matches!(&effects[..], [DialogueEffect::MakePlan(plan)] if plan.steps.len() == 1)
}
