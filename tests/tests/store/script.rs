//! Random lives of a store, compared with a trivial model: the record that was last confirmed, and
//! the last that was attempted.

use proptest::prelude::*;

use crate::rig::{load, newest, open, save, sealed, small_flash};

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
}

fn events() -> impl Strategy<Value = Vec<Event>> {
    let event = prop_oneof![
        4 => Just(Event::Save),
        6 => (0..1200_usize).prop_map(Event::Cut),
        2 => (1..8_usize).prop_map(Event::Part),
        2 => Just(Event::Ahead(None)),
        2 => (0..900_usize).prop_map(|fuel| Event::Ahead(Some(fuel))),
    ];
    prop::collection::vec(event, 1..60)
}

#[derive(Default)]
struct Model {
    confirmed: u32,
    attempted: u32,
}

fn live(events: &[Event]) -> Result<(), TestCaseError> {
    let mut flash = small_flash();
    let mut model = Model::default();
    let mut index = 0;
    // Each turn of this loop is one time with power.
    while index < events.len() {
        flash.power_up();
        let loaded = load(&mut flash);
        let found = newest(&loaded).unwrap_or(0);
        prop_assert!(
            found >= model.confirmed && found <= model.attempted,
            "confirmed {}, attempted {}, found {found}: {:?}",
            model.confirmed,
            model.attempted,
            loaded.found
        );
        model.attempted = found;
        let mut store = open(&mut flash);
        store.load::<1, 1, 2, 2>();
        for event in &events[index..] {
            index += 1;
            let next = model.attempted + 1;
            match event {
                Event::Save => {
                    model.attempted = next;
                    let saved = store.save(&sealed(next));
                    prop_assert!(saved.is_ok(), "{saved:?}");
                    model.confirmed = next;
                }
                Event::Part(steps) => {
                    model.attempted = next;
                    store.begin(&sealed(next)).unwrap();
                    for _ in 0..*steps {
                        let stepped = store.step();
                        prop_assert!(stepped.is_ok());
                    }
                    if store.saved().is_some_and(|ticket| ticket.sequence == next) {
                        model.confirmed = next;
                    }
                }
                Event::Cut(fuel) => {
                    model.attempted = next;
                    store.flash_mut().fuel = Some(*fuel);
                    if store.save(&sealed(next)).is_ok() {
                        model.confirmed = next;
                    }
                    break;
                }
                Event::Ahead(fuel) => {
                    store.flash_mut().fuel = *fuel;
                    while store.erase_due() && store.erase_ahead().is_ok() {}
                    if fuel.is_some() {
                        break;
                    }
                }
            }
        }
    }
    flash.power_up();
    let found = newest(&load(&mut flash)).unwrap_or(0);
    prop_assert!(found >= model.confirmed && found <= model.attempted);
    prop_assert!(save(&mut flash, found + 1).is_ok(), "it goes on");
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::default()
    })]
    #[test]
    fn what_was_confirmed_is_found_after_any_cuts(events in events()) {
        live(&events)?;
    }
}
