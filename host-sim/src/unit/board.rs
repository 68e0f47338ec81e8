//! The unit's board is changed: an image of the old one, taken up by the new one in the order that the
//! crate asks for.

use dosewarden::guard::units::{ClockSeconds, Fitted};
use dosewarden::guard::{Authority, Record};
use dosewarden::store::{
    Arrival, BoardError, BoardImage, Ceilings, DayUsed, Holding, KeptRecord, RegulatorSpec,
    SettingsImage, Unreadable,
};
use dosewarden::water_tests::TestedValue;
use dosewarden::{Act, Person};

use super::kept::KeptFlash;
use super::ours::{DAY, HOUR, OurUnit};

pub(super) type Brought<const N: usize, const B: usize> = Arrival<N, B, HOUR, DAY>;
type Image<const N: usize, const B: usize> = BoardImage<N, B, HOUR, DAY>;

/// An image of the most feeders takes less.
const BYTES_MAX: usize = 8192;

impl<const N: usize, const B: usize> OurUnit<N, B> {
    pub(super) fn hand_over(&mut self, by: Authority, back: bool) {
        let act = if back { Act::TakeBack } else { Act::GiveAway };
        self.persons.push_back(Person { by, act });
    }

    pub(super) fn image(&self) -> SettingsImage<N, B> {
        let plan = self.care.plan();
        SettingsImage {
            limits: self.limits.clone(),
            settings: self.settings,
            regulators: [RegulatorSpec::Never; N],
            care: self.care.settings(),
            proof: plan.map_or(Fitted::NotFitted, |plan| Fitted::Fitted(plan.proof)),
            tests: plan.map_or(TestedValue::USUAL, |plan| {
                TestedValue::ALL.map(|value| plan.rule(value))
            }),
        }
    }

    pub(super) fn export(&mut self) -> Result<Vec<u8>, BoardError> {
        let settings = self.image();
        let (upkeep, proofs) = (self.wiring.probes.upkeep(), self.care.tests());
        let Some(controller) = &mut self.controller else {
            return Err(BoardError::NotGivenAway);
        };
        let mut out = vec![0; BYTES_MAX];
        let all = (&settings, upkeep, proofs);
        let (length, _) = Image::export(controller, all, &mut self.record, &mut out)?;
        self.store.want(&self.record);
        out.truncate(length);
        Ok(out)
    }

    pub(super) fn take_up(
        &mut self,
        image: &[u8],
        by: Authority,
        now: Option<ClockSeconds>,
    ) -> Result<Option<DayUsed>, BoardError> {
        let image = Image::<N, B>::decode(image)?;
        let own = self.store.copies();
        let whole = own.map(|copy| copy.and_then(|bytes| Record::decode(bytes).ok()));
        let later = whole.iter().flatten().max_by_key(|one| one.sequence);
        let was_written = own.iter().any(Option::is_some);
        let kept = KeptRecord::to_start(self.kept.load(), !was_written);
        let holds = Holding {
            record: match later {
                None if was_written => Err(Unreadable),
                later => Ok(later),
            },
            kept: Some(&kept),
        };
        // What this board's firmware was built for.
        let ceilings = Ceilings::of(&self.fitted_limits);
        let arrival = image.take_up(by, &ceilings, now, holds)?;
        self.kept = KeptFlash::fitted(arrival.between());
        self.limits = arrival.settings.limits.clone();
        self.settings = arrival.settings.settings;
        self.care.bring(&arrival.settings);
        arrival
            .record
            .encode(&mut self.record)
            .map_err(BoardError::Record)?;
        for place in 0..2 {
            let record = Some(self.record.clone());
            self.store.flash_mut().put(place, record);
        }
        self.kept = KeptFlash::fitted(arrival.kept.clone());
        let day_used = arrival.day_used;
        self.brought = Some(Box::new(arrival));
        Ok(day_used)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::unit::DosewardenUnit;
    use crate::{Scenario, SimPool};
    use std::sync::LazyLock;

    static WITH_CARE: LazyLock<String> =
        LazyLock::new(|| crate::examples::text("scenarios/winter.toml"));
    const BY: Authority = Authority::Technician;

    /// The image of a unit that gives its pool away after a few minutes.
    fn image(scenario: &Scenario, unit: DosewardenUnit) -> Vec<u8> {
        let mut pool = SimPool::attach(scenario, unit).expect("a sound plant");
        pool.run_for_ms(120_000);
        pool.unit_mut().hand_over(BY, false);
        pool.run_for_ms(15_000);
        pool.unit_mut().export().expect("given away")
    }

    fn read(bytes: &[u8]) -> Image<2, 1> {
        Image::decode(bytes).expect("whole")
    }

    #[test]
    fn a_board_goes_on_with_the_care_of_the_one_before_it() {
        let mut scenario = Scenario::parse("winter.toml", &WITH_CARE).expect("sound");
        let old = image(&scenario, DosewardenUnit::for_scenario(&scenario));
        let before = read(&old).settings;
        // The new board's firmware was set otherwise.
        let care = scenario.care.as_mut().expect("[care]");
        care.alkalinity.every_days += 9;
        care.settings.cold_below = Fitted::NotFitted;
        let blank = DosewardenUnit::for_scenario(&scenario);
        let own = read(&image(&scenario, blank)).settings;
        assert!(own.tests != before.tests && own.care != before.care);
        let mut new = DosewardenUnit::for_scenario(&scenario);
        new.take_up(&old, BY, None).expect("taken up");
        let after = read(&image(&scenario, new)).settings;
        assert_eq!(after.tests, before.tests);
        assert_eq!((after.care, after.proof), (before.care, before.proof));
        // A board that had none of it leaves what the firmware has.
        let with = scenario.care.take();
        let old = image(&scenario, DosewardenUnit::for_scenario(&scenario));
        scenario.care = with;
        let mut new = DosewardenUnit::for_scenario(&scenario);
        new.take_up(&old, BY, None).expect("taken up");
        assert_eq!(read(&image(&scenario, new)).settings.tests, own.tests);
    }
}
