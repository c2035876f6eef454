//! Sessions of a simulated animal that learns a chain. As in the [module](super), learning follows the linear operator of
//! Bush & Mosteller (1955), here link by link; that help teaches half as much as a try without it is an assumption.

use rand::RngExt;

use super::Dice;
use crate::at::At;
use crate::chain::{LinkScore, LinkScores};
use crate::interpret::{Details, LinkMarks, Said};
use crate::plan::{Command, Plan};
use crate::session::Input;

/// No animal succeeds always.
const CEILING: f64 = 0.97;
/// Where a link does not come by itself, it comes with help this often.
const HELPS: f64 = 0.8;
/// Between tries, and for each link, in seconds.
const SETTING_UP: f64 = 3.0;
const A_LINK: f64 = 1.5;

/// A simulated animal that learns links.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ChainAnimal {
    /// Chance that each link comes by itself.
    habits: Vec<f64>,
    /// Part of the way up after a try without help.
    up: f64,
}

impl ChainAnimal {
    /// One drawn at random, with this many links to learn.
    pub(super) fn draw(links: usize, dice: &mut Dice) -> Self {
        let habits = (0..links).map(|_| dice.random_range(0.2..0.7)).collect();
        ChainAnimal { habits, up: dice.random_range(0.02..0.06) }
    }

    /// One whose links come by themselves this often.
    pub(super) fn of_habits(habits: Vec<f64>, up: f64) -> Self {
        ChainAnimal { habits, up }
    }

    /// Chance that the link of this number, counted from 1, comes by itself.
    pub(super) fn habit(&self, link: u8) -> f64 {
        self.habits.get(usize::from(link.max(1)) - 1).copied().unwrap_or(0.0)
    }

    fn learn(&mut self, link: u8, score: LinkScore) {
        let Some(habit) = self.habits.get_mut(usize::from(link) - 1) else { return };
        match score {
            LinkScore::Independent => *habit += self.up * (CEILING - *habit),
            LinkScore::Prompted(_) => *habit += self.up / 2.0 * (CEILING - *habit),
            LinkScore::Failed(_) => *habit -= self.up / 4.0 * *habit,
            LinkScore::Untrained | LinkScore::NotReached => {}
        }
    }
}

/// A session of a chain: what the engine hears, and how each link of each try really went.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ChainSession {
    /// Tags in order.
    pub(super) inputs: Vec<(At, Input)>,
    /// The links of each try.
    pub(super) truth: Vec<LinkScores>,
}

/// Runs a session of so many tries at this step, and lets the animal learn from it. A plan that is not a chain has none.
pub(super) fn chain_session(
    animal: &mut ChainAnimal,
    plan: &Plan,
    working: u8,
    tries: usize,
    dice: &mut Dice,
) -> ChainSession {
    let mut session = ChainSession { inputs: Vec::new(), truth: Vec::new() };
    let Some(chain) = &plan.chain else { return session };
    let levels = chain.prompts.as_ref().map_or(0, |prompts| prompts.levels.len() as u8);
    let trained = chain.trained(working);
    let mut now = 0.0;
    let command = |command| Input::said(Said::Command { command }, "");
    session.inputs.push((At::ZERO, command(Command::Begin)));
    session.inputs.push((At::ZERO, command(Command::WorkOn(working))));
    for _ in 0..tries {
        now += SETTING_UP;
        let mut marks = LinkMarks::NONE;
        let mut broke = false;
        let mut scores = Vec::new();
        for link in 1..=chain.len() {
            let score = match () {
                () if broke => LinkScore::NotReached,
                () if !trained.contains(&link) => LinkScore::Untrained,
                () => {
                    now += A_LINK;
                    one_link(animal.habit(link), levels, dice)
                }
            };
            if let LinkScore::Prompted(prompt) | LinkScore::Failed(prompt) = score {
                marks = marks.with(LinkMarks::link(link, prompt));
                broke = matches!(score, LinkScore::Failed(_));
            }
            animal.learn(link, score);
            scores.push(score);
        }
        // What is not trained yet was not reached either, where the chain broke before it: nobody asked for it.
        let untrained = (1..).zip(&mut scores).filter(|(link, _)| !trained.contains(link));
        untrained.for_each(|(_, score)| *score = LinkScore::Untrained);
        let details = Details { links: marks, ..Details::default() };
        let said = if broke { Said::Miss(details) } else { Said::Rep(details) };
        session.inputs.push((At::from_secs_f64(now), Input::said(said, "")));
        session.truth.push(scores.into_iter().collect());
    }
    session
}

fn one_link(habit: f64, levels: u8, dice: &mut Dice) -> LinkScore {
    if dice.random_bool(habit) {
        return LinkScore::Independent;
    }
    let prompt = (levels > 0).then(|| dice.random_range(1..=levels));
    if dice.random_bool(HELPS) { LinkScore::Prompted(prompt) } else { LinkScore::Failed(None) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::LinkDoes;
    use crate::session::Session;
    use crate::sim::dice;

    fn plan(training: &str) -> Plan {
        let links: String = (1..=5).map(|n| format!("[[links]]\nname = \"link {n}\"\n")).collect();
        let text = format!(
            "animal = \"P\"\nspecies = \"s\"\nbehaviour = \"b\"\ntraining = \"{training}\"\n{links}\
             [prompts]\norder = \"most_to_least\"\nlevels = [\"hand\", \"touch\"]\n"
        );
        Plan::parse("p.toml", &text).unwrap()
    }

    fn went_through(plan: &Plan, simulated: &ChainSession) -> Session {
        let mut session = Session::new(plan.clone());
        for (at, input) in &simulated.inputs {
            let _told = session.handle(*at, input.clone());
        }
        session
    }

    #[test]
    fn what_is_recorded_of_every_link_is_what_was_so() {
        for (seed, training) in (0..60).zip(["forwards", "backwards", "whole"].into_iter().cycle())
        {
            let plan = plan(training);
            let mut dice = dice(seed);
            let mut animal = ChainAnimal::draw(5, &mut dice);
            let working = if training == "whole" { 1 } else { 1 + (seed % 5) as u8 };
            let simulated = chain_session(&mut animal, &plan, working, 25, &mut dice);
            let session = went_through(&plan, &simulated);
            let recorded: Vec<LinkScores> = session.reps().iter().map(|rep| rep.links).collect();
            assert_eq!(recorded, simulated.truth, "{training}, seed {seed}");
        }
    }

    #[test]
    fn the_link_that_is_hardest_is_the_one_to_work_on() {
        let plan = plan("whole");
        let found = (0..40).filter(|seed| {
            let hardest = 1 + (seed % 5) as u8;
            let habits = (1..=5).map(|link| if link == hardest { 0.3 } else { 0.95 }).collect();
            let mut animal = ChainAnimal::of_habits(habits, 0.001);
            let simulated = chain_session(&mut animal, &plan, 1, 20, &mut dice(*seed));
            let advice = went_through(&plan, &simulated).decision().link;
            advice
                .is_some_and(|advice| (advice.link, advice.does) == (hardest, LinkDoes::IsWorkedOn))
        });
        let found = found.count();
        assert!(found >= 36, "{found} of 40");
    }
}
