//! The folder of plans, as what can be chosen by voice.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Context;
use jiff::ZonedDateTime;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::{draft, places, report, sound};
use crate::clock::Clock;
use crate::dialogue::{Aside, Choice, Dialogue, Draft};
use crate::hear::personal::Learnt;
use crate::hear::{Ears, SpeechModel};
use crate::known;
use crate::new_file::{self, Existing};
use crate::plan::{
    Command, Described, Fresh, Plan, PlanChange, Role, Words, change_plan, file_name, fresh,
};
use crate::private::create_folder;
use crate::run::{Chosen, Devices, OnStage, Origin, Recorder, Shelf, Unfinished};
use crate::store::{Filter, SessionRow, Source, Store, StoreError};
use crate::wording::text;

/// Numbers after those that every plan has as steps.
const MORE_NUMBERS: [(u8, &str); 3] = [(7, "seven"), (8, "eight"), (9, "nine")];

/// So many plans can be turned to: each is looked up in the record when a session begins.
const MOST_OTHERS: usize = 12;

/// What is the same for every plan.
#[derive(Debug, Clone)]
pub(super) struct Around {
    pub(super) model: Option<PathBuf>,
    pub(super) db: Option<PathBuf>,
    /// Who trains.
    pub(super) whose: places::LearntArgs,
    pub(super) place: Option<String>,
    pub(super) learnt: Learnt,
    pub(super) sound: sound::SoundArgs,
    /// Nothing is to be played.
    pub(super) quiet: bool,
    /// The folder of plans.
    pub(super) plans: PathBuf,
}

/// Plans on disk.
pub(super) struct PlanShelf {
    files: Vec<PathBuf>,
    choices: Vec<Choice>,
    pub(super) words: Words,
    /// Everybody whom the record knows.
    people: BTreeSet<String>,
    pub(super) around: Around,
    pub(super) clock: Clock,
}

impl PlanShelf {
    /// These plan files; one that cannot be used is reported and left out.
    pub(super) fn of_files(
        files: Vec<PathBuf>,
        around: Around,
        clock: Clock,
        store: &Store,
        mut trouble: impl FnMut(String),
    ) -> Result<Self, super::Failure> {
        let sessions = store.sessions(&Filter { begun: true, ..Filter::default() })?;
        let today = ZonedDateTime::new(clock.utc(), TimeZone::system()).date();
        let mut shelf = PlanShelf {
            files: Vec::new(),
            choices: Vec::new(),
            words: Words::english(),
            people: BTreeSet::new(),
            around,
            clock,
        };
        shelf.people.extend(sessions.iter().filter_map(|row| row.person.clone()));
        for file in files {
            let plan = match places::plan(&file) {
                Ok((plan, _)) => plan,
                Err(failure) => {
                    trouble(format!("{}: {:#}", text("screen.left_out"), failure.error));
                    continue;
                }
            };
            if shelf.choices.is_empty() {
                // Someone with words of their own says them here too.
                shelf.words = plan.words.clone();
            }
            shelf.choices.push(choice(&plan, &shelf.people, store, &sessions, today)?);
            shelf.files.push(file);
        }
        Ok(shelf)
    }

    /// The TOML files of a folder, in order of their names.
    pub(super) fn files_in(folder: &PathBuf) -> Vec<PathBuf> {
        let mut files: Vec<PathBuf> = fs::read_dir(folder)
            .into_iter()
            .flatten()
            .filter_map(|entry| Some(entry.ok()?.path()))
            .filter(|path| path.extension().is_some_and(|extension| extension == "toml"))
            .collect();
        files.sort();
        files
    }

    /// The words that are listened for while choosing.
    pub(super) fn words(&self) -> &Words {
        &self.words
    }

    pub(super) fn choices(&self) -> Vec<Choice> {
        self.choices.clone()
    }

    /// Ears for a plan, for everybody whom the record knows, so that hands can change in mid-session, and for what can be
    /// turned to. A name that the model does not know can be typed, or taken by a switch.
    fn ears_for(&self, plan: &Plan, others: &[Plan]) -> anyhow::Result<Ears> {
        let mut model = places::model(self.around.model.as_deref(), plan.model.as_deref())?;
        let mut heard = with_people(&plan.words, &self.people, |word| model.knows(word));
        add_turns(&mut heard, plan, others, |word| model.knows(word));
        Ok(Ears::taught(model, &heard, &self.around.learnt)?)
    }

    /// The plans that can be turned to in mid-session, those of the same animal first: they are listened for by the same
    /// words. Of another animal they are left out while its health asks for a word of its own before it trains.
    fn others(&self, index: usize, plan: &Plan, store: &Store) -> Vec<(PathBuf, Plan, String)> {
        let today = ZonedDateTime::new(self.clock.utc(), TimeZone::system()).date();
        let mut others: Vec<(PathBuf, Plan, String)> = Vec::new();
        for (_, file) in self.files.iter().enumerate().filter(|(place, _)| *place != index) {
            // What cannot be used was reported when the plans were read.
            let Ok((other, text)) = places::plan(file) else { continue };
            let same =
                |one: &Plan| (&one.animal, &one.behaviour) == (&other.animal, &other.behaviour);
            let is_well = other.animal == plan.animal
                || known::concerns(store, &other, today).is_ok_and(|concerns| concerns.is_empty());
            let is_new = !same(plan) && others.iter().all(|(_, one, _)| !same(one));
            if is_new && is_well && other.model == plan.model && other.words.fit(&plan.words) {
                others.push((file.clone(), other, text));
            }
        }
        others.sort_by_key(|(_, other, _)| other.animal != plan.animal);
        others.truncate(MOST_OTHERS);
        others
    }

    /// The words for attention and for yes.
    pub(super) fn spoken(&self) -> (String, String) {
        let first = |role: &Role| self.words.of(role).first().cloned().unwrap_or_default();
        (first(&Role::Attention), first(&Role::Marker))
    }

    /// Numbers, yes and no, commands, and the names that the model knows.
    fn lobby_words(&self, model: &mut SpeechModel) -> Words {
        let mut words = Words::empty();
        let numbers = (1..=9).map(Role::Step);
        let kept = [Role::Attention, Role::Marker, Role::Miss, Role::TakeBack].into_iter();
        for role in kept.chain(numbers).chain(Command::ALL.map(Role::Command)) {
            words.set(role.clone(), self.words.of(&role).to_vec());
        }
        let english = Words::english();
        for number in (1..=6).map(Role::Step) {
            if words.of(&number).is_empty() {
                words.set(number.clone(), english.of(&number).to_vec());
            }
        }
        for (number, word) in MORE_NUMBERS {
            if words.of(&Role::Step(number)).is_empty() {
                words.set(Role::Step(number), vec![word.to_owned()]);
            }
        }
        for (index, choice) in self.choices.iter().enumerate() {
            let name = choice.animal.to_lowercase();
            let only_one =
                self.choices.iter().filter(|other| other.animal.to_lowercase() == name).count()
                    == 1;
            let parts: Vec<&str> = name.split_whitespace().collect();
            let taken = words.iter().any(|(_, phrase)| phrase == name);
            if only_one && !taken && !parts.is_empty() && parts.iter().all(|part| model.knows(part))
            {
                words.set(Role::Own(Dialogue::choice_tag(index)), vec![parts.join(" ")]);
            }
        }
        words
    }
}

/// Adds what can be turned to in mid-session: the steps of the other plans, and the names whose words are all known.
pub(super) fn add_turns(
    words: &mut Words,
    plan: &Plan,
    others: &[Plan],
    mut knows: impl FnMut(&str) -> bool,
) {
    if others.is_empty() {
        return;
    }
    let plans = || others.iter().chain([plan]);
    let behaviours: BTreeSet<&str> = plans().map(|plan| plan.behaviour.as_str()).collect();
    let animals: BTreeSet<&str> = plans().map(|plan| plan.animal.as_str()).collect();
    others.iter().for_each(|other| words.add_steps(&other.words));
    let mut spoken =
        |name: &str| Some(Words::tidy(name)).filter(|spoken| spoken.split(' ').all(&mut knows));
    for name in behaviours {
        words.add_behaviour(name, &Vec::from_iter(spoken(name)));
    }
    for name in animals.iter().filter(|_| animals.len() > 1) {
        words.add_animal(name, &Vec::from_iter(spoken(name)));
    }
}

/// These words, with those of the people whose names are wholly made of known words.
fn with_people(
    words: &Words,
    people: &BTreeSet<String>,
    mut knows: impl FnMut(&str) -> bool,
) -> Words {
    let mut words = words.clone();
    for name in people {
        let spoken = Words::tidy(name);
        if spoken.split(' ').all(&mut knows) {
            words.add_person(name, &[spoken]);
        }
    }
    words
}

/// What can be chosen by this plan, by the record as it is.
fn choice(
    plan: &Plan,
    people: &BTreeSet<String>,
    store: &Store,
    sessions: &[SessionRow],
    today: Date,
) -> Result<Choice, StoreError> {
    let of_plan = |row: &&SessionRow| row.animal == plan.animal && row.behaviour == plan.behaviour;
    let latest = sessions.iter().filter(of_plan).map(|row| row.day).max();
    let own = plan.words.iter().filter_map(|(role, _)| match role {
        Role::Own(name) => Some(name.clone()),
        _ => None,
    });
    let mut own: Vec<String> = own.collect();
    own.dedup();
    let words = with_people(&plan.words, people, |_| true);
    let mut people: Vec<String> = words
        .iter()
        .filter_map(|(role, _)| match role {
            Role::TakesOver(name) => Some(name.clone()),
            _ => None,
        })
        .collect();
    people.dedup();
    Ok(Choice {
        animal: plan.animal.clone(),
        behaviour: plan.behaviour.clone(),
        days_ago: latest.map(|day| i64::from((today - day).get_days())),
        concerns: known::concerns(store, plan, today)?,
        look_first: plan.look_first,
        marker_begins: plan.words.marker_begins(),
        steps: plan.steps.iter().map(|step| step.name.clone()).collect(),
        links: plan
            .chain
            .iter()
            .flat_map(|chain| &chain.links)
            .map(|link| link.name.clone())
            .collect(),
        prompts: plan
            .chain
            .iter()
            .filter_map(|chain| chain.prompts.as_ref())
            .flat_map(|prompts| prompts.levels.clone())
            .collect(),
        own,
        people,
    })
}

/// A file in this folder that is not there yet: the animal's name, with a number where that is taken.
fn free_file(folder: &Path, animal: &str) -> PathBuf {
    let name = file_name(animal);
    let stem = name.trim_end_matches(".toml").to_owned();
    let numbered = (2..100).map(|number| format!("{stem}-{number}.toml"));
    let mut files = std::iter::once(name).chain(numbered).map(|name| folder.join(name));
    files.find(|file| !file.exists()).unwrap_or_else(|| folder.join(format!("{stem}-100.toml")))
}

impl PlanShelf {
    pub(super) fn file(&self, index: usize) -> anyhow::Result<&PathBuf> {
        self.files.get(index).context("there is no such plan")
    }

    /// What can be chosen by this plan now.
    fn choice_now(&self, plan: &Plan) -> anyhow::Result<Choice> {
        let store = places::record(self.around.db.as_deref()).map_err(|failure| failure.error)?;
        let sessions = store.sessions(&Filter { begun: true, ..Filter::default() })?;
        let today = ZonedDateTime::new(self.clock.utc(), TimeZone::system()).date();
        Ok(choice(plan, &self.people, &store, &sessions, today)?)
    }

    /// The plan with this index as it is and as it would be: its text before, its text after.
    fn changed(&self, index: usize, change: &PlanChange) -> anyhow::Result<(Plan, String, String)> {
        let file = self.file(index)?;
        let (plan, text) = places::plan(file).map_err(|failure| failure.error)?;
        let changed = change_plan(&file.to_string_lossy(), &text, change)?;
        Ok((plan, text, changed))
    }

    /// The name of a new file beside the record, in a folder of its own, with the time in it.
    fn dated(&self, folder: &str, what: &str, ending: &str) -> anyhow::Result<PathBuf> {
        let record = places::record_path(self.around.db.as_deref()).map_err(|f| f.error)?;
        let folder = record.parent().unwrap_or(Path::new("")).join(folder);
        create_folder(&folder)?;
        let now = ZonedDateTime::new(self.clock.utc(), TimeZone::system());
        Ok(folder.join(format!("{what}-{}.{ending}", now.strftime("%Y-%m-%d-%H%M%S"))))
    }
}

impl Shelf for PlanShelf {
    fn lobby_ears(&mut self) -> anyhow::Result<Ears> {
        let mut model = places::model(self.around.model.as_deref(), None)?;
        let words = self.lobby_words(&mut model);
        Ok(Ears::taught(model, &words, &self.around.learnt)?)
    }

    fn load(&mut self, index: usize, hears: bool) -> anyhow::Result<Chosen> {
        let file = self.files.get(index).context("there is no such plan")?.clone();
        let (plan, plan_text) = places::plan(&file).map_err(|failure| failure.error)?;
        let store = places::record(self.around.db.as_deref()).map_err(|failure| failure.error)?;
        let others = self.others(index, &plan, &store);
        let plans: Vec<Plan> = others.iter().map(|(_, plan, _)| plan.clone()).collect();
        let ears = hears.then(|| self.ears_for(&plan, &plans)).transpose()?;
        let unfinished = Unfinished::find(&store, &plan, self.clock.utc())?.and(&store, &plans)?;
        let origin = |file: &Path, plan: Plan, plan_text: String| Origin {
            plan,
            plan_file: file.to_string_lossy().into_owned(),
            plan_text,
            source: Source::Live,
            source_name: None,
            person: self.around.whose.person.clone(),
            place: self.around.place.clone(),
        };
        let first = origin(&file, plan.clone(), plan_text);
        let lanes = others.into_iter().map(|(file, plan, text)| origin(&file, plan, text));
        let recorder = Some(Recorder::new(store, self.clock.clone(), first).and(lanes));
        let plan = Plan { words: self.words_with_names(&plan, &plans), ..plan };
        Ok(Chosen { plan, others: plans, ears, recorder, unfinished })
    }

    fn ears(&mut self, plan: &Plan) -> anyhow::Result<Ears> {
        self.ears_for(plan, &[])
    }

    fn words_with_names(&self, plan: &Plan, others: &[Plan]) -> Words {
        let mut words = with_people(&plan.words, &self.people, |_| true);
        add_turns(&mut words, plan, others, |_| true);
        words
    }

    fn keep_draft(&mut self, draft: Option<&Draft>) -> anyhow::Result<()> {
        draft::keep(&self.around.plans, draft)
    }

    fn make(&mut self, new: &Fresh) -> anyhow::Result<Choice> {
        let folder = self.around.plans.clone();
        let file = free_file(&folder, &new.animal);
        let text = fresh(new);
        let plan = Plan::parse(&file.to_string_lossy(), &text)?;
        let choice = self.choice_now(&plan)?;
        create_folder(&folder)
            .with_context(|| format!("the folder of plans {} cannot be made", folder.display()))?;
        let record = places::record_path(self.around.db.as_deref()).ok();
        new_file::write(&file, text.as_bytes(), Existing::Kept, record.as_deref())?;
        self.files.push(file);
        self.choices.push(choice.clone());
        Ok(choice)
    }

    fn try_change(&mut self, index: usize, change: &PlanChange) -> anyhow::Result<Described> {
        let (plan, ..) = self.changed(index, change)?;
        Ok(change.described(&plan))
    }

    fn change(&mut self, index: usize, change: &PlanChange) -> anyhow::Result<Choice> {
        let (_, text, changed) = self.changed(index, change)?;
        let file = self.file(index)?;
        new_file::change(file, text.as_bytes(), changed.as_bytes())?;
        let choice = self.choice_now(&Plan::parse(&file.to_string_lossy(), &changed)?)?;
        self.choices[index] = choice.clone();
        Ok(choice)
    }

    fn report(&mut self, index: usize) -> anyhow::Result<String> {
        let plan = places::plan(self.file(index)?).map_err(|failure| failure.error)?.0;
        let store = places::record(self.around.db.as_deref()).map_err(|failure| failure.error)?;
        let page = report::animal_page(&store, &plan.animal, &plan.behaviour)
            .map_err(|failure| failure.error)?;
        let name = file_name(&plan.animal);
        let file = self.dated("reports", name.trim_end_matches(".toml"), "html")?;
        new_file::write(&file, page.as_bytes(), Existing::Kept, Some(store.path()))?;
        Ok(file.display().to_string())
    }

    fn backup(&mut self) -> anyhow::Result<String> {
        let store = places::record(self.around.db.as_deref()).map_err(|failure| failure.error)?;
        let file = self.dated("copies", "record", "db")?;
        store.backup(&file)?;
        Ok(file.display().to_string())
    }

    fn aside(&mut self, aside: Aside, index: Option<usize>) -> anyhow::Result<OnStage> {
        self.on_stage(aside, index).map_err(|failure| failure.error)
    }

    fn after_aside(&mut self, saved: bool) -> anyhow::Result<Devices> {
        self.devices_now(saved).map_err(|failure| failure.error)
    }
}
