//! The second body of water on the pump: its own tests against its own volume and what is wanted of it.
//!
//! Invariant: only rows that name this body count, and amounts come from tests of this visit. What feeders gave went to
//! both bodies, so no balance of it is made here.

use serde::Serialize;

use super::causes::{Cause, Seen};
use super::due::{Due, Dues};
use super::log::Log;
use super::probe::{self, ProbeFound};
use super::questions::{self, Question};
use super::today::{self, Today};
use crate::plan::{Plan, SecondBody};

/// What the log says of the second body.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct OtherBody {
    /// Its name.
    pub body: String,
    /// When its last row was entered; `None`: no row names it.
    pub time: Option<String>,
    /// Days since then; 0: on this visit.
    pub days_ago: Option<u32>,
    /// Figures that contradict each other.
    pub questions: Vec<Question>,
    /// What the figures point at, the gravest first.
    pub causes: Vec<Cause>,
    /// The pH probe beside the kit, while the valves selected this body.
    pub probe: Option<ProbeFound>,
    /// What to do by hand today.
    pub today: Today,
    /// Tests of its water that are due.
    pub due: Vec<Due>,
    /// What the figures of the first body count as if it were alone.
    pub shared: &'static str,
}

/// What is fed is booked for the site, not for a body.
const SHARED: &str = "what the feeders gave went to both bodies: the balances of alkalinity and chlorine above count all \
                      of it for the pool";

impl OtherBody {
    /// What the rows of this body come to, against its plan.
    pub(super) fn of(log: &Log, body: &SecondBody, plan: &Plan) -> Self {
        let (site, own) = (&*body.site, log.rows_of(1));
        let last = own
            .visits
            .iter()
            .rev()
            .find(|visit| !visit.entries.is_empty());
        let days_ago = last.map(|visit| (own.now().day() - visit.day()).round() as u32);
        let questions = questions::all(&own, site, plan, &[], None);
        let probe = probe::found(&own);
        let seen = Seen {
            log: &own,
            site,
            rates: &[],
            probe: probe.as_ref(),
            alkalinity: None,
            chlorine: None,
            questions: &questions,
        };
        let causes = seen.causes();
        let is_here = !own.now().entries.is_empty();
        let today = if is_here {
            today::today(&own, site, &questions, probe.as_ref())
        } else {
            let name = &body.name;
            Today {
                steps: Vec::new(),
                withheld: vec![format!(
                    "anything by hand: no row of this visit names the {name}; test its water first"
                )],
            }
        };
        let dues = Dues {
            log: &own,
            site,
            plan,
        };
        Self {
            body: body.name.clone(),
            time: last.map(|visit| visit.time.clone()),
            days_ago,
            questions,
            causes,
            probe,
            today,
            due: dues.tests(),
            shared: SHARED,
        }
    }

    /// What is asked and pointed at, with the name of the body.
    pub(super) fn why(&self) -> impl Iterator<Item = String> {
        let questions = self.questions.iter().map(|one| format!("{}?", one.name));
        let causes = self.causes.iter().map(|one| one.name.to_owned());
        let all = questions.chain(causes);
        all.map(|one| format!("{}: {one}", self.body))
    }
}
