//! What somebody with one switch can take where: the answers to the question at hand, and behind them every command.

use std::borrow::Cow;

use super::{Dialogue, DialogueInput, Health, Place, Question};
use crate::interpret::{Details, LinkMarks, Said};
use crate::machine::{Choices, Label, Leads, Offer, in_parts};
use crate::plan::{Command, Mood, RewardValue, Role, Side};

/// What stands in the place of the words of what was taken.
const BY_SWITCH: &str = "by switch";

type Offers = Vec<Offer<DialogueInput>>;

fn said(said: Said) -> DialogueInput {
    DialogueInput::Said { said, words: BY_SWITCH.to_owned(), keyed: true }
}

fn commanded(command: Command) -> DialogueInput {
    said(Said::Command { command })
}

fn marker() -> DialogueInput {
    said(Said::Rep(Details::default()))
}

fn no() -> DialogueInput {
    said(Said::Miss(Details::default()))
}

fn to(line: &'static str, input: DialogueInput) -> Offer<DialogueInput> {
    Offer::to(Label::of(line), input)
}

fn command(command: Command) -> Offer<DialogueInput> {
    // Those with a number are called by it.
    let line = match command.name() {
        Cow::Borrowed(name) => name,
        Cow::Owned(_) => "step",
    };
    to(line, commanded(command))
}

fn group(line: &'static str, offers: Offers) -> Offer<DialogueInput> {
    Offer::group(Label::of(line), offers)
}

fn commands<const N: usize>(all: [Command; N]) -> Offers {
    all.into_iter().map(command).collect()
}

impl Dialogue {
    /// What can be taken now.
    pub(super) fn taken_now(&self) -> Choices<DialogueInput> {
        let training = matches!(self.place, Place::Training(_));
        match (self.place, self.question()) {
            (Place::Over, _) => Choices::none(),
            // In a session every press is the session's, and its questions are dropped by a tag.
            (Place::Training(_), _) if !self.paused => Choices::menu(self.menu()),
            (_, Some(question)) => {
                let mut choices = self.answers(question, training);
                choices.offers.push(group("else", self.menu()));
                choices
            }
            (Place::Lobby, None) if !self.choices.is_empty() => {
                let mut offers = self.plans();
                offers.push(group("else", self.menu()));
                Choices::one_of(offers)
            }
            _ => Choices::menu(self.menu()),
        }
    }

    /// The answers to this question. Each has one that leaves it.
    fn answers(&self, question: &Question, training: bool) -> Choices<DialogueInput> {
        let leave = to("leave", DialogueInput::Leave);
        // Outside a session a press answers at once, in one the command answers.
        let yes_or_no =
            |yes: Offer<DialogueInput>, no: Offer<DialogueInput>, inputs: [DialogueInput; 2]| {
                let [short, long] = inputs.map(|input| (!training).then_some(input));
                let again = Some(commanded(Command::Repeat));
                Choices { short, long, again, ..Choices::one_of(vec![yes, no, leave.clone()]) }
            };
        let once_more = |line, command| {
            Choices::one_of(vec![to(line, commanded(command)), to("leave", DialogueInput::Leave)])
        };
        match question {
            Question::Which { .. } => {
                let mut offers = self.plans();
                offers.push(leave);
                Choices::one_of(offers)
            }
            Question::Next(index) => {
                let (yes, list) = (DialogueInput::Choose(*index), commanded(Command::NextPlan));
                let offers = [to("yes", yes.clone()), to("another", list.clone())];
                let [first, second] = offers;
                yes_or_no(first, second, [yes, list])
            }
            Question::Quit => once_more("end_and_quit", Command::Quit),
            Question::Leave => once_more("end_session", Command::NextPlan),
            // A press alone does not stand for a second word: one of these is to be heard and taken.
            Question::Train(command) => once_more("train", *command),
            Question::Another => once_more("test_another", Command::TestChange),
            Question::Concern if training => once_more("yes", Command::Concern),
            Question::Well if training => once_more("yes", Command::Well),
            Question::WeightIs { .. } if training => once_more("yes", Command::Weight),
            Question::Concern | Question::Well => {
                yes_or_no(to("yes", marker()), to("no", no()), [marker(), no()])
            }
            Question::WeightIs { .. } | Question::ChangeIs(_) => {
                yes_or_no(to("yes", marker()), to("once_more", no()), [marker(), no()])
            }
            Question::Help { .. } if training => once_more("more", Command::Help),
            Question::Help { .. } => {
                yes_or_no(to("more", marker()), to("other_words", no()), [marker(), no()])
            }
            Question::Probe(_) => yes_or_no(to("yes", marker()), to("no", no()), [marker(), no()]),
            Question::Meant(_) => yes_or_no(to("yes", marker()), to("no", no()), [marker(), no()]),
            Question::DraftIs => {
                yes_or_no(to("yes", marker()), to("change_part", no()), [marker(), no()])
            }
            Question::PlanChangeIs { .. } => {
                yes_or_no(to("yes", marker()), to("once_more", no()), [marker(), no()])
            }
            Question::Draft(_) => {
                let mut offers = self.spelling(question);
                offers.push(to("leave_out", marker()));
                offers.push(to("one_before", no()));
                Choices::one_of(offers)
            }
            dictated if dictated.is_dictated_to() => Choices::one_of(self.spelling(question)),
            _ => Choices::one_of(vec![to("yes", marker()), to("no", no()), leave]),
        }
    }

    /// Text and numbers, letter by letter.
    fn spelling(&self, question: &Question) -> Offers {
        let mut offers = Vec::new();
        let spelled = self.spelled();
        match question {
            _ if !spelled.is_empty() => offers.push(to("that_is_it", DialogueInput::Spelled)),
            // The command alone says it.
            Question::Health(what) if *what != Health::Food => {
                offers.push(to("no_more", DialogueInput::Leave));
            }
            _ => offers.push(to("leave", DialogueInput::Leave)),
        }
        let letter = |letter: char| {
            Offer::to(Label::named("letter", letter.to_string()), DialogueInput::Letter(letter))
        };
        let digits = || ('0'..='9').map(letter).collect::<Offers>();
        if *question == Question::Weight {
            offers.extend([group("digits", digits()), to("point", DialogueInput::Letter('.'))]);
        } else {
            offers.push(group("letters", ('a'..='z').map(letter).collect()));
            offers.push(to("space", DialogueInput::Letter(' ')));
            offers.push(group("digits", digits()));
        }
        if !spelled.is_empty() {
            offers.push(to("erase", DialogueInput::Erase));
        }
        offers
    }

    /// Every plan by its name; with many of them the animals first.
    fn plans(&self) -> Offers {
        let plan = |index: usize| {
            let choice = &self.choices[index];
            let label = Label::named("plan", choice.animal.clone());
            Offer::to(
                Label { with: choice.behaviour.clone(), ..label },
                DialogueInput::Choose(index),
            )
        };
        let mut animals: Vec<&str> = Vec::new();
        for choice in &self.choices {
            if !animals.contains(&choice.animal.as_str()) {
                animals.push(&choice.animal);
            }
        }
        let all = 0..self.choices.len();
        if all.len() <= super::PAGE || animals.len() < 2 {
            return in_parts(all.map(plan).collect());
        }
        let of_animal = |animal: &str| {
            let own: Offers = all
                .clone()
                .filter(|index| self.choices[*index].animal == animal)
                .map(plan)
                .collect();
            match own.len() {
                1 => own.into_iter().next(),
                _ => Some(Offer::group(Label::named("name", animal), own)),
            }
        };
        in_parts(animals.into_iter().filter_map(of_animal).collect())
    }

    /// Every command of this place, in groups.
    fn menu(&self) -> Offers {
        let log = [
            Command::Note,
            Command::Weight,
            Command::Food,
            Command::Concern,
            Command::Ill,
            Command::Sore,
            Command::Well,
        ];
        let mut voice = commands([Command::Help, Command::Repeat, Command::SoundCheck]);
        let speaks = [Command::Slower, Command::Faster, Command::Louder, Command::Quieter];
        voice.push(group("how_it_speaks", commands(speaks)));
        let pace = [("more_time", true), ("less_time", false)].map(|(line, longer)| {
            let leads = Leads::Pace { longer };
            Offer { label: Label::of(line), leads }
        });
        voice.push(group("pace", pace.to_vec()));
        if !matches!(self.place, Place::Training(_)) {
            let learn = [Command::SetUp, Command::Learn, Command::Quiz];
            voice.push(group("learn_and_set_up", commands(learn)));
        }
        let tested = [Command::Capture, Command::TestChange, Command::Probe];
        let asks = [Command::Time, Command::Rate, Command::Count, Command::Treats];
        let hand_on = commands([Command::HandOver, Command::Report, Command::Backup]);
        match self.place {
            Place::Lobby => vec![
                group("log", commands(log)),
                group("captured_or_tested", commands(tested)),
                command(Command::Recap),
                command(Command::Settle),
                command(Command::NewPlan),
                group("hand_on", hand_on),
                group("voice", voice),
                command(Command::Quit),
            ],
            Place::Ready(index) => {
                let mut offers = Vec::new();
                if self.resumable {
                    offers.push(command(Command::GoOn));
                }
                let plans = commands([Command::NextPlan]).into_iter().chain(self.plans());
                let plans =
                    plans.chain(commands([Command::NewPlan, Command::ChangePlan])).collect();
                let mut weeks = commands(asks);
                weeks.insert(0, command(Command::Recap));
                weeks.extend(commands([Command::Settle, Command::WhatNext]));
                weeks.push(group("hand_on", hand_on));
                offers.extend([
                    command(Command::Begin),
                    group("plans", plans),
                    group("steps", self.steps(index)),
                    group("weeks", weeks),
                    group("log", commands(log)),
                    group("captured_or_tested", commands(tested)),
                    group("voice", voice),
                    command(Command::Quit),
                ]);
                offers
            }
            Place::Training(index) => {
                let mut steps = commands([Command::StepUp, Command::Stay, Command::StepBack]);
                steps.extend(self.steps(index));
                let mut asks = commands(asks);
                asks.extend(commands([Command::Why, Command::Recap]));
                let mut ends = commands([Command::Finish, Command::NextPlan, Command::Quit]);
                let people = self.people(index);
                if !people.is_empty() {
                    ends.push(group("takes_over", people));
                }
                let first = if self.paused { Command::GoOn } else { Command::Pause };
                let turn = self.turn_to();
                let turn = (!turn.is_empty()).then(|| group("turn_to", turn));
                let offers = vec![
                    command(first),
                    group("tags", self.tags(index)),
                    group("last_try", self.last_try(index)),
                    group("steps", steps),
                    group("asks", asks),
                    group("log", commands(log)),
                    group("voice", voice),
                    group("ends", ends),
                ];
                offers.into_iter().chain(turn).collect()
            }
            Place::Over => Vec::new(),
        }
    }

    fn steps(&self, index: usize) -> Offers {
        let steps = self.choices[index].steps.iter().zip(1u8..);
        let step = |(name, number): (&String, u8)| {
            let label = Label { number: usize::from(number), ..Label::named("step", name) };
            Offer::to(label, commanded(Command::WorkOn(number)))
        };
        steps.map(step).collect()
    }

    /// A tag counts from the press that takes it; what was paused for the choice goes on.
    fn tag_of(&self, label: Label, tag: Said) -> Offer<DialogueInput> {
        let mut inputs = Vec::new();
        if self.paused {
            inputs.push(commanded(Command::GoOn));
        }
        inputs.push(said(tag));
        Offer { label, leads: Leads::To(inputs) }
    }

    /// Everybody who may take over.
    fn people(&self, index: usize) -> Offers {
        let takes_over = |person: &String| {
            let tag = Said::TakesOver { person: person.clone() };
            self.tag_of(Label::named("name", person.clone()), tag)
        };
        in_parts(self.choices[index].people.iter().map(takes_over).collect())
    }

    /// What else can be worked on in this sitting.
    fn turn_to(&self) -> Offers {
        let mut names: Vec<(String, Said)> = Vec::new();
        for (role, _) in self.words.iter() {
            let (name, tag) = match role {
                Role::Behaviour(name) => (name, Said::Behaviour { name: name.clone() }),
                Role::Animal(name) => (name, Said::Animal { name: name.clone() }),
                _ => continue,
            };
            if names.iter().all(|(_, known)| *known != tag) {
                names.push((name.clone(), tag));
            }
        }
        names.into_iter().map(|(name, tag)| self.tag_of(Label::named("name", name), tag)).collect()
    }

    fn tags(&self, index: usize) -> Offers {
        let tags = [
            ("miss", Said::Miss(Details::default())),
            ("marker", Said::Rep(Details::default())),
            ("cue", Said::Cue),
            ("hold_start", Said::HoldStart),
            ("keen", Said::State { mood: Mood::Keen }),
            ("calm", Said::State { mood: Mood::Calm }),
            ("worried", Said::State { mood: Mood::Worried }),
            ("tired", Said::State { mood: Mood::Tired }),
        ];
        let own = self.choices[index].own.iter().map(|name| {
            self.tag_of(Label::named("name", name.clone()), Said::Own { name: name.clone() })
        });
        let tags = tags.into_iter().map(|(line, tag)| self.tag_of(Label::of(line), tag));
        // The first ones are the likeliest, so they are not read in parts.
        let (mut first, rest): (Offers, Offers) = {
            let mut all: Offers = tags.collect();
            let moods = all.split_off(4);
            (all, moods)
        };
        first.push(command(Command::Refilled));
        first.push(group("moods", rest));
        let own: Offers = own.collect();
        if !own.is_empty() {
            first.push(group("own", own));
        }
        first.push(command(Command::PlayBreak));
        first
    }

    /// What the latest try was, when it was something else.
    fn last_try(&self, index: usize) -> Offers {
        let of = |details: Details| Said::Change(details);
        let value = |value| Details { value: Some(value), ..Details::default() };
        let side = |side| Details { side: Some(side), ..Details::default() };
        let mut offers = vec![
            self.tag_of(Label::of("take_back"), Said::TakeBack),
            self.tag_of(Label::of("low"), of(value(RewardValue::Low))),
            self.tag_of(Label::of("high"), of(value(RewardValue::High))),
            self.tag_of(Label::of("jackpot"), of(value(RewardValue::Jackpot))),
            self.tag_of(Label::of("left_side"), of(side(Side::Left))),
            self.tag_of(Label::of("right_side"), of(side(Side::Right))),
        ];
        // In a chain a number says which link needed help or broke.
        let choice = &self.choices[index];
        let (line, one, names) = match choice.links.is_empty() {
            true => ("reached", "step", &choice.steps),
            false => ("helped", "link", &choice.links),
        };
        let reached = names.iter().zip(1u8..).map(|(name, number)| {
            let label = Label { number: usize::from(number), ..Label::named(one, name) };
            self.tag_of(label, of(Details { step: Some(number), ..Details::default() }))
        });
        offers.push(group(line, reached.collect()));
        if !choice.prompts.is_empty() {
            let help = choice.prompts.iter().zip(1u8..).map(|(word, level)| {
                let links = LinkMarks::prompt(level);
                self.tag_of(Label::named("name", word), of(Details { links, ..Details::default() }))
            });
            offers.push(group("prompts", help.collect()));
        }
        offers
    }
}
