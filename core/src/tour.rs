//! From the first build to the pool, in five steps. Nothing is in this module but its page.
//!
//! Read the cautions of the [crate] first: this is no certified safety function, the hard-wired interlock stays, acid and
//! hypochlorite never meet, gloves and goggles.
//!
//! # 1. The first build
//! The crates are not in a registry yet: name a checkout, or the repository with the commit that you looked at.
//! ```toml
//! [dependencies]
//! dosewarden = { path = "../dosewarden/core", features = ["hal", "store"] }
//! ```
//! | feature | what it adds | what comes with it |
//! |---|---|---|
//! | `hal` | pins of drives, series contact and flow switch | `embedded-hal` |
//! | `adc` | a converter for probes | `ads1x1x`, `nb` |
//! | `store` | records and settings on NOR flash | `embedded-storage` |
//! | `water` | acid demand and the like: advice, never a permission | `fixed` |
//! | `defmt`, `serde` | events and settings as both know them | the crates of that name |
//! | `upset` | flips bits of the guard's state, for simulators | nothing |
//!
//! Write the site down as a [`LimitsSpec`](crate::guard::LimitsSpec). [`Limits::try_new`](crate::guard::Limits::try_new)
//! is `const`: put it in a `const`, and a relation that does not hold fails the build with the field's name. There is no
//! default to begin from, on purpose; `dosewarden plan SITE.toml --rust limits.rs` writes one from what was measured at
//! a pool.
//!
//! What proposes doses is a regulator for each feeder ([`regulate`](crate::regulate)): the one that most sites want sizes a
//! dose by how far the water is from its set point, and what a dose moves.
//! ```
//! use dosewarden::guard::units::Dose;
//! use dosewarden::regulate::{Direction, SizedDose, Standard};
//!
//! // Acid lowers pH to 7.400, and asks for nothing within 0.050 of it: 120 mL move this water by 0.100.
//! let acid = SizedDose::try_new(Direction::Lowers, 7400, 50, Dose::from_ml(120), 100)?;
//! // Hypochlorite raises ORP to 720 mV: 60 mL move it by 20 mV.
//! let chlorine = SizedDose::try_new(Direction::Raises, 720, 10, Dose::from_ml(60), 20)?;
//! let regulators: [Standard; 2] = [acid.into(), chlorine.into()];
//! # Ok::<(), dosewarden::regulate::RegulatorError>(())
//! ```
//!
//! # 2. The pins
//! A [`DriveLine`](crate::hal::DriveLine) owns a feeder's pin and is on only through the permit that it is handed, a
//! [`MasterLine`](crate::hal::MasterLine) the series contact. The loop on the [front page](crate) is whole: a board
//! adds a counter of milliseconds, probes and two places in flash. Pull every output down, so that a reset feeds
//! nothing; let a hardware watchdog drop the master; wire a flow switch and the pump's contact in series with the
//! feeders, whatever this software thinks. `examples/firmware/WIRING.md` draws it, and the four boards beside it run in
//! an emulator.
//!
//! # 3. Commissioning
//! Measure: the basin, the flow, what a feeder gives in a minute ([`CatchTest`](crate::commission::CatchTest)), the
//! water. What a device can work out by itself is in [`commission`](crate::commission); the sheet with caps, holds, what
//! they rest on and what is wrong with the site comes from `dosewarden plan`. A new unit feeds nothing until a person
//! initialises it; then it only observes ([`stages`](crate::stages)), and each step up needs a person and its evidence,
//! a proof test of each interlock included ([`proof`](crate::proof)). The hours are those of
//! [`Controller::set_care`](crate::Controller::set_care), `limits::CARE` in a planned file; without that call those of
//! [`CareSettings::USUAL`](crate::CareSettings::USUAL).
//!
//! # 4. Tests on the desk
//! Time and inputs are arguments, so a day takes milliseconds on the host. What nobody set is not known, and unknown is
//! no:
#![cfg_attr(feature = "hal", doc = "```")]
#![cfg_attr(not(feature = "hal"), doc = "```text")]
//! use dosewarden::guard::{Action, Authority, Limits, Reading, Rule, TickClock};
//! use dosewarden::stages::Rung;
//! use dosewarden::{Act, Inputs, Person, PoolController, Settings};
//! use board::{ACID_AND_CHLORINE, ALARMS, Board, CARE, Error, FLOW_DEBOUNCE, Pins, regulators};
//!
//! fn run(board: Board, _: Pins) -> Result<(), Error> {
//!     let (limits, settings) = (Limits::try_new(ACID_AND_CHLORINE)?, Settings::try_new(ALARMS)?);
//!     let (mut pool, _) = PoolController::restore(limits, settings, regulators()?, None, None);
//!     pool.set_care(CARE); // hours of each stage
//!     let mut clock = TickClock::new();
//!     clock.step(0);
//!     let mut inputs = Inputs::UNKNOWN;
//!     inputs.facts = board.probes.facts(); // pH 7.6: acid is wanted
//!     let mut outputs = pool.tick(clock.step(1000), &inputs);
//!     assert!(outputs.permit::<0>().is_none());
//!     // Nobody said that water flows, and a new unit waits for a person.
//!     let refusing = pool.why(0).ok_or("no such feeder")?.rules();
//!     assert!(refusing.has(Rule::FlowProven) && refusing.has(Rule::LedgerTrusted));
//!     // The switch says so now: it has to say so for a minute.
//!     inputs.facts.flow_switch = Reading::now(true);
//!     let _ = pool.tick(clock.step(2000), &inputs);
//!     assert!(pool.phase(0).is_some());
//!     // A technician begins the unit: from now on it observes, whatever it is asked for.
//!     inputs.person = Some(Person { by: Authority::Technician, act: Act::Guard(Action::Initialise) });
//!     let _ = pool.tick(clock.step(3000), &inputs);
//!     assert_eq!(pool.rung(), Rung::ObserveOnly);
//!     Ok(())
//! }
#![cfg_attr(feature = "hal", doc = include_str!("board.md"))]
//! ```
//! Then let the simulator break things: `dosewarden run` lives a pool with your limits, `dosewarden campaign` tries 104
//! faults and their pairs on it, `dosewarden explore` walks the guard through every state of six small sites.
//! `examples/firmware` has a Cortex-M3 in the loop with the simulated pool, over a serial line; a
//! controller that is not ours is judged by its log (`dosewarden audit`).
//!
//! # 5. In the field
//! Show [`Controller::why`](crate::Controller::why) on the display: what stands in the way, what clears it, where to look
//! first. It carries no time: since when something stands is told by the [events](crate::event), which carry their age, so keep
//! them for whoever asks later; of a simulated run `dosewarden why TRACE.csv` says it. On a visit, tests, levels and calibrations are entered
//! ([`upkeep`](crate::upkeep), [`water_tests`](crate::water_tests)), and [`visit`](crate::visit) says what does not fit
//! together: a probe beside a kit, a drum beside the ledger. Test every interlock on its date: one that nobody tests is
//! where people were hurt.
