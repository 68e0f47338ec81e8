//! The stages of a site with the evidence that each needs, and its proof tests.

use core::fmt;

use dosewarden::proof::Interlock;
use dosewarden::stages::KIT_AGREES;
use serde::Serialize;

use super::Plan;
use super::care::PlannedCare;
use super::site::Site;
use crate::scenario::{POURED_ACID_MOL_L, POURED_CHLORINE_G_L};

/// One stage.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct PlannedStage {
    /// Its name.
    pub name: &'static str,
    /// What has to be there before the unit is moved to it.
    pub needs: Vec<String>,
}

/// The proof test of one interlock.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct PlannedProof {
    /// The interlock.
    pub interlock: String,
    /// What has to be so first.
    pub prepare: &'static str,
    /// What the person then does.
    pub step: &'static str,
    /// Feed has to have stopped within this, s.
    pub within_s: f64,
    /// The first time: before this stage.
    pub before: &'static str,
}

/// The interlocks that a site file tells of.
fn interlocks(site: &Site) -> Vec<(Interlock, String)> {
    let flow = &site.flow;
    let of_site = [
        (true, Interlock::FlowSwitch),
        (flow.flow_meter, Interlock::FlowMeter),
        (flow.pump_contact, Interlock::PumpContact),
        (flow.master, Interlock::MasterContact),
    ];
    let of_site = of_site.into_iter().filter(|(fitted, _)| *fitted);
    let mut all: Vec<(Interlock, String)> = of_site
        .map(|(_, one)| (one, one.name().to_owned()))
        .collect();
    for (number, feeder) in (0..u8::MAX).zip(&site.feeders) {
        let own = [
            (feeder.level_switch, Interlock::LevelSwitch(number)),
            (feeder.feedback, Interlock::Feedback(number)),
            (feeder.cell_switch, Interlock::CellFlow(number)),
        ];
        for (_, one) in own.into_iter().filter(|(fitted, _)| *fitted) {
            all.push((one, format!("{} of {}", one.name(), feeder.name)));
        }
    }
    all
}

/// When a proof test that needs no feed is made first.
pub(crate) const BEFORE_REDUCED: &str = "reduced caps";

/// The proof tests of a site.
pub(super) fn proofs(site: &Site) -> Vec<PlannedProof> {
    let planned = |(one, interlock): (Interlock, String)| PlannedProof {
        interlock,
        prepare: one.prepare(),
        step: one.step(),
        within_s: f64::from(one.stops_within_ms()) / 1000.0,
        before: if one.needs_feed() {
            "full caps"
        } else {
            BEFORE_REDUCED
        },
    };
    interlocks(site).into_iter().map(planned).collect()
}

/// The stages of a site.
pub(super) fn stages(site: &Site) -> Vec<PlannedStage> {
    let care = PlannedCare::of(site);
    let sound = |hours: u16| format!("{hours} h with flow proven and every probe normal");
    let liquids = site.feeders.iter().filter(|one| one.is_liquid());
    let caught = liquids.map(|one| {
        let done = if one.caught.is_some() { " (done)" } else { "" };
        format!("a catch test of {} on record{done}", one.name)
    });
    let mut reduced = vec![sound(care.observe_h)];
    reduced.extend(caught);
    reduced.push("the proof tests below that need no feed".to_owned());
    let full = vec![
        format!("{}, without a lockout", sound(care.reduced_h)),
        format!(
            "a kit's pH within {:.1} of the probe",
            f64::from(KIT_AGREES) / 1000.0
        ),
        "no feeder that the water answers wrongly, or not".to_owned(),
        "all proof tests below".to_owned(),
    ];
    let stage = |name, needs| PlannedStage { name, needs };
    vec![
        stage("observe only", vec![]),
        stage("reduced caps", reduced),
        stage("full caps", full),
    ]
}

/// Writes both, as the sheet shows them.
pub(super) fn write(f: &mut fmt::Formatter<'_>, plan: &Plan) -> fmt::Result {
    let (stages, proofs, care) = (&plan.stages, &plan.proof_tests, &plan.care);
    let every_days = care.proof_every_days;
    writeln!(
        f,
        "Stages, each by a technician; down again at once by an operator"
    )?;
    for (number, stage) in (1..).zip(stages) {
        writeln!(f, "  {number}. {}", stage.name)?;
        if stage.needs.is_empty() {
            writeln!(
                f,
                "     a new unit begins here: it logs what it would feed, and drives nothing; dose by hand"
            )?;
            by_hand(f, plan)?;
        }
        for need in &stage.needs {
            writeln!(f, "     [ ] {need}")?;
        }
    }
    writeln!(f, "Proof test now and every {every_days} days")?;
    for proof in proofs {
        let PlannedProof {
            interlock,
            prepare,
            step,
            within_s,
            before,
        } = proof;
        writeln!(f, "  [ ] {interlock}; first before {before}")?;
        writeln!(f, "      {prepare}")?;
        writeln!(f, "      {step}; feed stops within {within_s:.0} s")?;
    }
    writeln!(f, "  [ ] emergency stop, where one is wired")?;
    writeln!(
        f,
        "      press it in mid-dose: feed stops within 3 s, and only a person releases it"
    )?;
    writeln!(f, "  [ ] loss of power")?;
    writeln!(
        f,
        "      pull the controller's plug in mid-dose: nothing may run, and the dose counts after"
    )?;
    writeln!(
        f,
        "  next: {every_days} days after each; overdue it is an alarm, failed it holds feed"
    )?;
    writeln!(f, "Tests of the water, entered at the unit")?;
    writeln!(
        f,
        "  alkalinity every {} days, cyanuric acid every {}; overdue it is an alarm, and doses of acid are smaller",
        care.alkalinity_every_days, care.cyanurate_every_days
    )?;
    writeln!(f, "  under {:.0} C nothing is fed", care.cold_below_c)
}

/// What is poured meanwhile.
fn by_hand(f: &mut fmt::Formatter<'_>, plan: &Plan) -> fmt::Result {
    let times = plan.by_hand.at.join(", ");
    for (feeder, ml) in plan.figures.feeders.iter().zip(&plan.by_hand.ml) {
        let what = if feeder.cell.is_some() {
            "hypochlorite of 125 g/L"
        } else {
            &feeder.name
        };
        if ml.round() >= 1.0 {
            writeln!(f, "     {what}: {ml:.0} mL at {times}")?;
        }
    }
    writeln!(
        f,
        "     of what stands in its drum; the scenario pours as much of acid of {POURED_ACID_MOL_L} mol/L and hypochlorite of\n     \
         {POURED_CHLORINE_G_L} g/L, so its figures are others\n     \
         test before, and pour only what is missing, acid and hypochlorite far apart; the unit is not told"
    )
}
