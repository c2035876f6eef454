//! How much an animal may eat: resting and daily energy, the share for treats, change of weight.
//!
//! Allometric formulas are averages over species; a veterinarian's or keeper's number comes first.
//! They suit birds and small mammals and say nothing of use about horses and donkeys, which are
//! budgeted in digestible energy, in proportion to their weight; for what else is large, [`daily_need`] refuses
//! above [`LARGEST_BUDGETED`].

use super::{StatsError, bad, measurable, positive};

/// A body weight that can be.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Weight {
    grams: f64,
}

impl Weight {
    /// From grams: 1 g to 10 t, else it is a slip of the tongue or of the unit.
    ///
    /// # Errors
    /// [`StatsError::Bad`] outside that range, or for what is not a number.
    pub fn grams(grams: f64) -> Result<Self, StatsError> {
        if (1.0..=1e7).contains(&grams) {
            Ok(Weight { grams })
        } else {
            Err(bad("a weight in grams", "from 1 to 10 000 000", grams))
        }
    }

    /// From kilograms.
    ///
    /// # Errors
    /// As [`Self::grams`].
    pub fn kilograms(kg: f64) -> Result<Self, StatsError> {
        Weight::grams(kg * 1000.0)
    }

    /// From avoirdupois ounces.
    ///
    /// # Errors
    /// As [`Self::grams`].
    pub fn ounces(oz: f64) -> Result<Self, StatsError> {
        Weight::grams(oz * 28.349_523_125)
    }

    /// From avoirdupois pounds.
    ///
    /// # Errors
    /// As [`Self::grams`].
    pub fn pounds(lb: f64) -> Result<Self, StatsError> {
        Weight::grams(lb * 453.592_37)
    }

    /// In grams.
    pub fn as_grams(self) -> f64 {
        self.grams
    }

    /// In kilograms.
    pub fn as_kilograms(self) -> f64 {
        self.grams / 1000.0
    }
}

/// Which line of metabolism against weight an animal lies on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Metabolism {
    /// 70 kcal × kg^0.75 (Kleiber; Small Animal Clinical Nutrition, 5th ed., table 5-2).
    Mammal,
    /// 129 kcal × kg^0.75 (Hand-Rearing Birds, 2nd ed., table B.1).
    Songbird,
    /// 78 kcal × kg^0.75, parrots included (the same, table B.2).
    OtherBird,
    /// 33.3 kcal × kg of digestible energy for keeping the weight, not for rest (NRC, Nutrient Requirements of Horses,
    /// 6th ed., 2007: 0.0333 Mcal for each kg, the average of its three levels; from memory).
    Horse,
    /// Three quarters of it (common practice with donkeys, from memory).
    Donkey,
}

impl Metabolism {
    /// kcal a day at 1 kg.
    pub fn constant(self) -> f64 {
        match self {
            Metabolism::Mammal => 70.0,
            Metabolism::Songbird => 129.0,
            Metabolism::OtherBird => 78.0,
            Metabolism::Horse => 33.3,
            Metabolism::Donkey => 0.75 * 33.3,
        }
    }

    /// The power of the weight that it goes with.
    fn power(self) -> f64 {
        match self {
            Metabolism::Horse | Metabolism::Donkey => 1.0,
            _ => 0.75,
        }
    }
}

/// Heaviest animal, in kilograms, whose day is budgeted from these formulas (common practice, no
/// source: the largest dogs are below it).
pub const LARGEST_BUDGETED: f64 = 100.0;

/// Share of the day's energy that treats may be (WSAVA and AAHA, as stated in Veterinary Sciences
/// 2025, 12:282).
pub const TREAT_SHARE: f64 = 0.10;

/// Energy at rest, kcal a day.
pub fn resting(weight: Weight, line: Metabolism) -> f64 {
    line.constant() * weight.as_kilograms().powf(line.power())
}

/// The straight-line form for mammals, 30 × kg + 70, kcal a day; only from 2 to 45 kg (Merck
/// Veterinary Manual, as quoted).
///
/// # Errors
/// [`StatsError::Undefined`] outside that range.
pub fn resting_straight_line(weight: Weight) -> Result<f64, StatsError> {
    let kg = weight.as_kilograms();
    if (2.0..=45.0).contains(&kg) {
        Ok(30.0 * kg + 70.0)
    } else {
        Err(StatsError::Undefined { why: "the straight line holds from 2 to 45 kg only" })
    }
}

/// Energy of a whole day, kcal: rest times an activity factor (1.5 for an active bird, 1.6 for a
/// neutered dog, 1.2 for a neutered cat).
///
/// # Errors
/// [`StatsError::Bad`] unless the factor is from 0.5 to 10; [`StatsError::Undefined`] above
/// [`LARGEST_BUDGETED`].
pub fn daily_need(weight: Weight, line: Metabolism, factor: f64) -> Result<f64, StatsError> {
    if !(0.5..=10.0).contains(&factor) {
        return Err(bad("the activity factor", "from 0.5 to 10", factor));
    }
    if weight.as_kilograms() > LARGEST_BUDGETED && line.power() < 1.0 {
        return Err(StatsError::Undefined {
            why: "so large an animal is not budgeted by weight alone: enter its daily energy",
        });
    }
    Ok(resting(weight, line) * factor)
}

/// The most energy that treats may bring in a day: [`TREAT_SHARE`] of it.
///
/// # Errors
/// [`StatsError::Bad`] unless the daily energy is above zero.
pub fn treat_ceiling(daily: f64) -> Result<f64, StatsError> {
    Ok(positive("the daily energy", daily)? * TREAT_SHARE)
}

/// How many whole pieces fit into a budget; 0.3 holds three pieces of 0.1, rounding or not.
///
/// # Errors
/// [`StatsError::Bad`] for a budget below zero or not finite, or a piece that is not above zero.
pub fn pieces(budget: f64, per_piece: f64) -> Result<u32, StatsError> {
    if !(budget >= 0.0 && measurable(budget)) {
        return Err(bad("the budget", "zero or more", budget));
    }
    let exact = budget / positive("the energy of a piece", per_piece)?;
    Ok((exact * (1.0 + 1e-9)).floor().min(f64::from(u32::MAX)) as u32)
}

/// Change of weight in percent of the baseline.
pub fn weight_change(baseline: Weight, today: Weight) -> f64 {
    100.0 * (today.grams - baseline.grams) / baseline.grams
}

/// Whether a change has reached a limit such as -10 or 5: 405 g of 450 g has, in any unit.
pub fn reaches(change: f64, limit: f64) -> bool {
    // Well below what any scale shows, well above what rounding does.
    const MARGIN: f64 = 1e-9;
    if limit < 0.0 { change <= limit + MARGIN } else { change >= limit - MARGIN }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NRC 2007, Nutrient Requirements of Horses, table 16-3 (from memory): a horse of 500 kg at average maintenance
    /// needs 16.7 Mcal of digestible energy a day.
    #[test]
    fn a_horse_is_reckoned_by_its_weight_and_other_large_animals_are_not() {
        let need = |kg, line| daily_need(Weight::kilograms(kg).unwrap(), line, 1.0);
        assert!((need(500.0, Metabolism::Horse).unwrap() - 16_700.0).abs() < 100.0);
        assert!(need(180.0, Metabolism::Donkey).unwrap() < need(180.0, Metabolism::Horse).unwrap());
        assert!(need(500.0, Metabolism::Mammal).is_err());
    }
}
