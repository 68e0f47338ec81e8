//! The stages of a site with the evidence that each needs, and its proof tests.

use core::fmt;

use dosewarden::proof::Interlock;
use dosewarden::stages::KIT_AGREES;
use serde::Serialize;

use super::site::Site;

/// One stage.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlannedStage {
    /// Its name.
    pub name: &'static str,
    /// What has to be there before the unit is moved to it.
    pub needs: Vec<String>,
}

/// The proof test of one interlock.
#[derive(Clone, Debug, PartialEq, Serialize)]
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

/// Hours of sound flow and probes before feeding: a day of the pump. Our choice: a day shows morning
/// and evening, sun and bathers.
pub(super) fn observe_hours(site: &Site) -> u16 {
    site.pump_h().ceil().clamp(1.0, 24.0) as u16
}

/// And before full caps: three such days. Our choice: some ten doses of acid.
pub(super) fn reduced_hours(site: &Site) -> u16 {
    3 * observe_hours(site)
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
            "reduced caps"
        },
    };
    interlocks(site).into_iter().map(planned).collect()
}

/// The stages of a site.
pub(super) fn stages(site: &Site) -> Vec<PlannedStage> {
    let sound = |hours: u16| format!("{hours} h with flow proven and every probe normal");
    let liquids = site.feeders.iter().filter(|one| one.is_liquid());
    let caught = liquids.map(|one| {
        let done = if one.caught.is_some() { " (done)" } else { "" };
        format!("a catch test of {} on record{done}", one.name)
    });
    let mut reduced = vec![sound(observe_hours(site))];
    reduced.extend(caught);
    reduced.push("the proof tests below that need no feed".to_owned());
    let full = vec![
        format!("{}, without a lockout", sound(reduced_hours(site))),
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
pub(super) fn write(
    f: &mut fmt::Formatter<'_>,
    stages: &[PlannedStage],
    proofs: &[PlannedProof],
    every_days: u32,
) -> fmt::Result {
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
    )
}
