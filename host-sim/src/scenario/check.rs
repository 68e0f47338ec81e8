//! `[feeder.check]`, where a site has one: how the feeder's real rate is checked against the one that
//! was entered. And `[feeder.regulator.cure]`: the daily allowance of new plaster.

use dosewarden::guard::units::Dose;
use dosewarden::guard::{Fitted, Product};
use dosewarden::regulate::{Allowance, CureSchedule, SizedDose, Standard};
use dosewarden::response::{BufferingWater, ExpectedResponse};

use super::error::InputError;
use super::limits::Amounts;
use super::quantity::Kind;
use super::table::Table;
use crate::plant::MAX_FEEDERS;

type Read<T> = Result<T, InputError>;

/// How the rates of a site are checked.
pub(super) struct Checks {
    pub(super) level_errors: [Fitted<Dose>; MAX_FEEDERS],
    pub(super) response: Fitted<ExpectedResponse>,
}

impl Checks {
    pub(super) const NONE: Self = Self {
        level_errors: [Fitted::NotFitted; MAX_FEEDERS],
        response: Fitted::NotFitted,
    };
}

/// Reads `[feeder.check]` of the feeder of this number and product, if it is there.
pub(super) fn read(
    feeder: &Table<'_, '_>,
    number: usize,
    product: Product,
    checks: &mut Checks,
) -> Read<()> {
    let Some(t) = feeder.find_table("check")? else {
        return Ok(());
    };
    if product == Product::GeneratedChlorine {
        return Err(t.error(
            "a generator has no drum, and ORP steps cannot judge it; leave [feeder.check] out",
        ));
    }
    let litres = t.quantity("level_error", Kind::Volume, "0 L", "4000 L")?;
    if let Some(level_error) = checks.level_errors.get_mut(number) {
        *level_error = Fitted::Fitted(Dose((litres * 1e6).round() as u32));
    }
    match t.find_table("response")? {
        None => {}
        Some(t) if product.is_oxidiser() => {
            return Err(t.error(
                "ORP steps cannot judge chlorine (an hour of feed can be 4 mV); leave this out",
            ));
        }
        Some(t) if checks.response.is_fitted() => {
            return Err(t.error(
                "another feeder has a [feeder.check.response]; the answers to one can be followed",
            ));
        }
        Some(t) => checks.response = Fitted::Fitted(expected(t, number, product)?),
    }
    t.close()
}

fn expected(t: Table<'_, '_>, number: usize, product: Product) -> Read<ExpectedResponse> {
    let percent = |key, min, max| {
        let share = t.quantity(key, Kind::Share, min, max);
        share.map(|share| (share * 100.0).round() as u8)
    };
    let ph = |key, min, max| {
        let ph = t.quantity(key, Kind::Ph, min, max);
        ph.map(|ph| (ph * 1000.0).round() as u16)
    };
    let dose = Amounts::of(product).dose_at(&t, "dose")?;
    if dose.0 == 0 {
        return Err(t.error_at("dose", "`dose` is 0; it has to be over 0".to_owned()));
    }
    let (other_dose, other_raises) = match t.find_table("hypochlorite")? {
        None => (Dose(1), 0),
        Some(t) => {
            let litres = t.quantity("dose", Kind::Volume, "1 mL", "4000 L")?;
            let raises = t.quantity("raises", Kind::Ph, "pH 0.001", "pH 2")?;
            t.close()?;
            (
                Dose((litres * 1e6).round() as u32),
                (raises * 1000.0).round() as u16,
            )
        }
    };
    let water = match t.find_table("water")? {
        None => Fitted::NotFitted,
        Some(t) => Fitted::Fitted(water(t)?),
    };
    let expected = ExpectedResponse {
        // There are at most a handful.
        feeder: number as u8,
        dose,
        moves: ph("moves", "pH 0.001", "pH 2")?,
        at: ph("at", "pH 6.1", "pH 8.9")?,
        more_per_tenth_percent: percent("more_per_tenth", "0 %", "25 %")?,
        error_percent: percent("error", "5 %", "40 %")?,
        settle_s: t.quantity("settle", Kind::Time, "1 min", "2 h")?.round() as u16,
        other_dose,
        other_raises,
        learns: t.need("learns", "true")?.yes_or_no()?,
        water,
    };
    t.close()?;
    Ok(expected)
}

/// The water of which that is true.
fn water(t: Table<'_, '_>) -> Read<BufferingWater> {
    let mg_l = |key, min, max| {
        let found = t.quantity(key, Kind::Concentration, min, max);
        found.map(|mg_l| mg_l.round() as u16)
    };
    let celsius = t.quantity("temperature", Kind::Temperature, "1 C", "45 C")?;
    let water = BufferingWater {
        alkalinity_mg_l: mg_l("alkalinity", "10 mg/L", "500 mg/L")?,
        cyanuric_acid_mg_l: mg_l("cyanuric_acid", "0 mg/L", "300 mg/L")?,
        borate_mg_l: mg_l("borate", "0 mg/L", "100 mg/L")?,
        tds_mg_l: mg_l("dissolved", "0 mg/L", "10000 mg/L")?,
        temperature_c: celsius.round() as u8,
    };
    t.close()?;
    Ok(water)
}

/// Reads `[feeder.regulator.cure]`, if it is there, around a regulator of sized doses.
pub(super) fn cure(
    regulator: &Table<'_, '_>,
    product: Product,
    ceiling: Dose,
    sized: SizedDose,
) -> Read<Standard> {
    let Some(t) = regulator.find_table("cure")? else {
        return Ok(sized.into());
    };
    let amounts = Amounts::of(product);
    let (usual, first_day) = (
        amounts.dose_at(&t, "usual")?,
        amounts.dose_at(&t, "first_day")?,
    );
    let days = t.whole("days", 1, 28)?;
    let age = t.whole("age_days", 0, 3650)?;
    let allowance = Allowance {
        usual,
        first_day,
        ceiling,
        days: u16::try_from(days).unwrap_or(1),
    };
    let made = CureSchedule::try_new(sized, allowance, u16::try_from(age).unwrap_or(0));
    let made = made.map_err(|error| {
        let words = error.to_string();
        let key = if words.starts_with("usual") {
            "usual"
        } else {
            "first_day"
        };
        t.error_at(key, words)
    })?;
    t.close()?;
    Ok(made.into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::{FIRST_POOL, Scenario};

    /// The first pool with the lines of its regulator and check that stand as comments.
    fn with_check() -> String {
        let from = FIRST_POOL
            .find("# [feeder.regulator.cure]")
            .expect("it is shown");
        let (before, rest) = FIRST_POOL.split_at(from);
        let to = rest.find("\n\n").expect("it ends");
        let (shown, after) = rest.split_at(to);
        let lines: Vec<&str> = shown
            .lines()
            .map(|line| line.trim_start_matches("# "))
            .collect();
        format!("{before}{}{after}", lines.join("\n"))
    }

    #[test]
    fn a_check_and_a_cure_are_read_as_they_are_shown() {
        let scenario = Scenario::parse("my.toml", &with_check()).expect("sound");
        let settings = scenario.settings.spec();
        assert_eq!(settings.level_errors[0].get(), Some(Dose::from_ml(300)));
        assert!(!settings.level_errors[1].is_fitted());
        let expected = settings.response.get().expect("fitted");
        assert_eq!((expected.feeder, expected.dose.0), (0, 357_000));
        assert_eq!((expected.moves, expected.at), (100, 7400));
        assert_eq!((expected.error_percent, expected.settle_s), (20, 600));
        let water = expected.water.get().expect("fitted");
        assert_eq!((water.alkalinity_mg_l, water.cyanuric_acid_mg_l), (100, 25));
        assert_eq!(
            (expected.other_dose.0, expected.other_raises),
            (1_000_000, 46)
        );
        assert!(expected.learns);
        let Standard::CureSchedule(cure) = scenario.feeders[0].regulator else {
            panic!("no cure schedule");
        };
        assert_eq!(cure.today().0, 900_000);
        let without = Scenario::first_pool();
        let without = without.settings.spec();
        assert!(!without.level_errors[0].is_fitted() && !without.response.is_fitted());
    }

    #[test]
    fn a_wrong_check_is_told_at_its_line() {
        let refused = |from: &str, to: &str| {
            let text = with_check().replacen(from, to, 1);
            Scenario::parse("my.toml", &text)
                .expect_err("wrong")
                .to_string()
        };
        let told = refused("first_day = \"900 mL\"", "first_day = \"901 mL\"");
        assert!(
            told.contains("first_day is 901000; right is 500000 to 900000"),
            "{told}"
        );
        let told = refused("error = \"20 %\"", "error = \"60 %\"");
        assert!(told.contains("`error` is \"60 %\""), "{told}");
        let chlorine = "[feeder.limits.cutoff]\norp";
        let check =
            "[feeder.check]\nlevel_error = \"1 L\"\n[feeder.check.response]\ndose = \"1 L\"\n";
        let told = refused(chlorine, &format!("{check}{chlorine}"));
        assert!(told.contains("ORP steps cannot judge chlorine"), "{told}");
    }
}
