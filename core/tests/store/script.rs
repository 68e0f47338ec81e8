//! Random lives of a store, compared with a trivial model: the record that was last confirmed, and
//! the last that was attempted.

use proptest::prelude::*;

use dosewarden::store::{Loaded, RecordStore};

use crate::rig::{PAGE, SLOT, SmallFlash, newest, sealed};

/// One thing that happens.
#[derive(Clone, Debug)]
enum Event {
    /// A record is saved, whole.
    Save,
    /// The power goes after this many bytes of a save.
    Cut(usize),
    /// Some steps of a save, which another one replaces.
    Part(usize),
    /// Pages are erased ahead, and the power may go in it.
    Ahead(Option<usize>),
    /// A bit changes while the power is off.
    Rot(usize, u8),
}

fn events(rot: bool) -> impl Strategy<Value = Vec<Event>> {
    let event = prop_oneof![
        4 => Just(Event::Save),
        6 => (0..1200_usize).prop_map(Event::Cut),
        2 => (1..8_usize).prop_map(Event::Part),
        2 => Just(Event::Ahead(None)),
        2 => (0..900_usize).prop_map(|fuel| Event::Ahead(Some(fuel))),
        2 => (any::<usize>(), 0..8_u8).prop_map(move |(at, bit)| {
            if rot { Event::Rot(at, bit) } else { Event::Save }
        }),
    ];
    prop::collection::vec(event, 1..60)
}

#[derive(Default)]
struct Model {
    confirmed: u32,
    /// Sequence of the record that was last attempted, or found.
    attempted: u32,
    /// The highest that can be found.
    most: u32,
    /// Something rotted.
    rotten: bool,
    /// Something rotted since the last record that was confirmed.
    unhealed: bool,
    /// And that in the first slot of its page.
    first_of_page: bool,
    /// And a save or an erase was cut off since.
    cut: bool,
}

impl Model {
    /// What a boot finds: what was confirmed or later. After rot also nothing, never an older one.
    fn boots(&mut self, loaded: &Loaded<1, 1, 2, 2>) -> Result<(), TestCaseError> {
        let found = newest(loaded);
        let held = match found {
            None => self.rotten || self.confirmed == 0,
            Some(found) => (self.confirmed..=self.most).contains(&found),
        };
        prop_assert!(
            held,
            "confirmed {}, most {}, found {found:?}: {:?}",
            self.confirmed,
            self.most,
            loaded.found
        );
        if found.is_none() {
            // The ledger is begun anew, and the sequence with it. (A bit may rot back, and what was
            // confirmed last be whole again.)
            self.confirmed = 0;
        }
        self.attempted = found.unwrap_or(0);
        Ok(())
    }

    fn attempt(&mut self) -> u32 {
        self.attempted += 1;
        self.most = self.most.max(self.attempted);
        self.attempted
    }

    fn confirm(&mut self, sequence: u32) {
        self.confirmed = sequence;
        self.most = sequence;
        (self.unhealed, self.first_of_page, self.cut) = (false, false, false);
    }
}

type Store<'a, const SLOT: usize> = RecordStore<&'a mut SmallFlash, SLOT>;

/// One time with power: what was done of the events.
fn powered<const SLOT: usize>(
    store: &mut Store<'_, SLOT>,
    model: &mut Model,
    events: &[Event],
) -> Result<usize, TestCaseError> {
    model.boots(&store.load())?;
    for (index, event) in events.iter().enumerate() {
        match event {
            Event::Save => {
                let next = model.attempt();
                let saved = store.save(&sealed(next));
                prop_assert!(saved.is_ok(), "{saved:?}");
                model.confirm(next);
            }
            Event::Part(steps) => {
                let next = model.attempt();
                store.begin(&sealed(next)).unwrap();
                for _ in 0..*steps {
                    prop_assert!(store.step().is_ok());
                }
                model.cut = true;
                if store.saved().is_some_and(|ticket| ticket.sequence == next) {
                    model.confirm(next);
                }
            }
            Event::Cut(fuel) => {
                let next = model.attempt();
                store.flash_mut().fuel = Some(*fuel);
                model.cut = true;
                if store.save(&sealed(next)).is_ok() {
                    model.confirm(next);
                }
                return Ok(index + 1);
            }
            Event::Ahead(fuel) => {
                store.flash_mut().fuel = *fuel;
                model.cut |= fuel.is_some();
                let mut left = 16;
                while store.erase_due() && store.erase_ahead().is_ok() {
                    left -= 1;
                    assert!(left > 0, "it erases without end");
                }
                if fuel.is_some() {
                    return Ok(index + 1);
                }
            }
            // Replacing a rotten copy that is the first of its page erases the sign that it was there: a cut in
            // that, and rot in the other range as well, is a bound that the docs state.
            Event::Rot(..) if model.unhealed && model.first_of_page && model.cut => {
                return Ok(index + 1);
            }
            Event::Rot(at, bit) => {
                let bytes = &mut store.flash_mut().bytes;
                let at = at % bytes.len();
                bytes[at] ^= 1 << bit;
                // What was cut before this rot left its sign, and is not the cut that is meant.
                model.cut &= model.unhealed;
                model.unhealed = true;
                model.first_of_page |= at % PAGE < SLOT;
                model.rotten = true;
                return Ok(index + 1);
            }
        }
    }
    Ok(events.len())
}

fn live<const SLOT: usize>(pages_a_range: u32, events: &[Event]) -> Result<(), TestCaseError> {
    let half = pages_a_range * PAGE as u32;
    let mut flash = SmallFlash::new(2 * pages_a_range as usize);
    let mut model = Model::default();
    let mut rest = events;
    loop {
        flash.power_up();
        let mut store = Store::<SLOT>::with_slots(&mut flash, [0..half, half..2 * half]).unwrap();
        let done = powered(&mut store, &mut model, rest)?;
        if done == 0 {
            let next = model.attempted + 1;
            prop_assert!(store.save(&sealed(next)).is_ok(), "it goes on");
            return Ok(());
        }
        rest = &rest[done..];
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn what_was_confirmed_is_found_after_any_cuts(events in events(false)) {
        live::<SLOT>(2, &events)?;
    }

    #[test]
    fn with_one_slot_a_page_too(events in events(false), pages in 2..4_u32) {
        live::<PAGE>(pages, &events)?;
    }

    #[test]
    fn with_three_slots_a_page_too(events in events(false), pages in 2..4_u32) {
        live::<{ PAGE / 3 }>(pages, &events)?;
    }

    #[test]
    fn rot_and_cuts_never_bring_an_older_record_back(events in events(true)) {
        live::<SLOT>(2, &events)?;
    }

    #[test]
    fn nor_do_they_with_one_slot_a_page(events in events(true), pages in 2..4_u32) {
        live::<PAGE>(pages, &events)?;
    }
}

/// Found by chance once in some 10,000 lives: a rotten header was erased ahead of any save, the only sign of what had been
/// confirmed, and rot in the other range then brought an older record back.
#[test]
fn a_rotten_header_is_not_erased_ahead_of_a_save() {
    use Event::{Ahead, Cut, Part, Rot, Save};
    let events = [
        Save,
        Save,
        Rot(7492753211656355712, 0),
        Save,
        Save,
        Save,
        Save,
        Save,
        Rot(367896812895968256, 0),
        Save,
        Save,
        Cut(384),
        Save,
        Save,
        Save,
        Cut(0),
        Save,
        Save,
        Save,
        Save,
        Part(1),
        Rot(6841080551277542784, 0),
        Save,
        Save,
        Save,
        Save,
        Rot(38612536005066240, 0),
        Save,
        Ahead(None),
        Rot(9218759992942802688, 0),
        Ahead(None),
        Rot(8608315415293386432, 0),
    ];
    live::<SLOT>(2, &events).expect("no older record");
}
