//! One-point trim by a kit.

use dosewarden::guard::Authority;
use dosewarden::guard::units::{MilliPh, Millis};
use dosewarden::probe::{
    Age, ConditionSpec, Conditioned, Finding, KitTest, MicrogramsPerL, PhProbe, ProbeLog,
    ProbeRefused, Trim, TrimRefused,
};

use crate::rig::{Circuit, NO_TRIM, Wires, input, nernst_uv, perfect, ph_setup};

fn kit(ph: i32) -> KitTest {
    KitTest {
        ph: MilliPh(ph),
        chlorine: Some(MicrogramsPerL::from_mg_l(2)),
    }
}

/// A pH probe in water of 7.5.
struct Bench {
    probe: PhProbe,
    circuit: Circuit,
    log: ProbeLog,
    noise: i32,
}

impl Bench {
    fn new(trim: Trim) -> Self {
        Self {
            probe: PhProbe::new(Some(perfect()), trim),
            circuit: Circuit::new(true, 1000),
            log: ProbeLog::new(),
            noise: 0,
        }
    }

    fn tick(&mut self, elapsed: Millis) -> Conditioned<MilliPh> {
        self.noise = -self.noise.signum() * 300 + 300 * i32::from(self.noise == 0);
        let uv = -0.5 * nernst_uv(25.0) + f64::from(self.noise);
        let seen = self.circuit.seen(1000, &Wires::default(), uv, false);
        let setup = ph_setup(ConditionSpec::PH);
        self.probe.tick(&setup, elapsed, &input(seen, 25.0, true))
    }

    fn trim(&mut self, kit: KitTest) -> Result<i32, ProbeRefused<TrimRefused>> {
        let shown = self.tick(Millis(1000));
        let setup = ph_setup(ConditionSpec::PH);
        let trimmed = self
            .probe
            .trim(Authority::Operator, kit, &shown, &setup, &mut self.log);
        trimmed.map(|trim| trim.by().0)
    }

    fn shows(&mut self) -> i32 {
        (0..50)
            .map(|_| self.tick(Millis(1000)).reading.value.0)
            .sum::<i32>()
            / 50
    }
}

#[test]
fn trims_add_up_to_0_2_and_no_further() {
    let mut bench = Bench::new(NO_TRIM);
    assert!((bench.shows() - 7500).abs() <= 2);
    let by = bench.trim(kit(7650)).expect("0.15");
    assert!((by - 150).abs() <= 5, "{by}");
    assert!((bench.shows() - 7650).abs() <= 5);
    // 0.1 more by a second trim is 0.25 in all.
    let refused = bench.trim(kit(7750)).expect_err("too far");
    assert!(matches!(
        refused,
        ProbeRefused::Because(TrimRefused::TooFar { total }) if (total.0 - 250).abs() <= 5
    ));
    assert!((bench.shows() - 7650).abs() <= 5, "all is as before");
    assert!(bench.trim(kit(7330)).is_ok_and(|by| (by + 170).abs() <= 5));
    let kept = |by| Trim::restore(MilliPh(by), Age::NEW).is_ok();
    assert!(kept(200) && kept(-200) && !kept(201) && !kept(-201) && !kept(i32::MIN));
}

#[test]
fn refused_when_the_kit_cannot_be_right() {
    let mut bench = Bench::new(NO_TRIM);
    let mut because = |ph, chlorine| {
        let kit = KitTest {
            ph: MilliPh(ph),
            chlorine,
        };
        match bench.trim(kit) {
            Err(ProbeRefused::Because(why)) => Some(why),
            _ => None,
        }
    };
    let mg = |ug| Some(MicrogramsPerL(ug));
    assert_eq!(because(7600, None), Some(TrimRefused::ChlorineUnknown));
    let high = TrimRefused::ChlorineTooHigh(MicrogramsPerL(5001));
    assert_eq!(because(7600, mg(5001)), Some(high));
    assert_eq!(because(7600, mg(5000)), None);
    let off = |ph| Some(TrimRefused::OffKitScale(MilliPh(ph)));
    assert_eq!(because(6800, mg(2000)), off(6800));
    assert_eq!(because(8200, mg(2000)), off(8200));
}

#[test]
fn a_trim_expires_counts_no_more_and_says_so() {
    let trim = Trim::restore(MilliPh(100), Age::from_days(30)).expect("in bounds");
    let mut bench = Bench::new(trim);
    let shown = bench.tick(Millis(0));
    assert_eq!(shown.finding, Finding::Fine);
    assert!((shown.reading.value.0 - 7600).abs() <= 6, "{shown:?}");
    let shown = bench.tick(Millis(1000));
    assert_eq!(shown.finding, Finding::TrimExpired);
    assert!((shown.reading.value.0 - 7500).abs() <= 6, "{shown:?}");
    // Trimmed again: from the value without any.
    assert!(bench.trim(kit(7600)).is_ok_and(|by| (by - 100).abs() <= 6));
    assert_eq!(bench.tick(Millis(1000)).finding, Finding::Fine);
}

#[test]
fn only_a_probe_in_order_is_trimmed_and_only_by_whom_it_may() {
    let mut bench = Bench::new(NO_TRIM);
    bench.probe = PhProbe::new(None, NO_TRIM);
    let refused = ProbeRefused::Because(TrimRefused::ProbeNotTrusted);
    assert_eq!(bench.trim(kit(7600)), Err(refused));
    let setup = ph_setup(ConditionSpec::PH);
    let mut bench = Bench::new(NO_TRIM);
    let shown = bench.tick(Millis(1000));
    let by_owner = bench
        .probe
        .trim(Authority::Owner, kit(7600), &shown, &setup, &mut bench.log);
    let needs = ProbeRefused::NeedsAuthority(Authority::Operator);
    assert_eq!(by_owner, Err(needs));
    let logged = bench.log.take().expect("logged");
    assert!(!logged.done && logged.by == Authority::Owner);
}
