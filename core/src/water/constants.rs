//! Equilibrium constants by temperature and ionic strength, in hundred-thousandths.
//!
//! The same constants as the simulator's chemistry, tabled every 5 C and interpolated on a line: off by 0.002 at
//! most between the rows. The workspace's tests hold each row against the formulas.

use super::number::{Q, add, exp10, lit, mul, root as number_root, sub};

/// Temperature of the first row, and between rows, in hundredths of a degree.
const ROW_CENTI_C: i32 = 500;

/// Figures in a row.
const COLUMNS: usize = 12;

/// A row each 5 C from 0 to 45, each figure times 100,000: pK1 and pK2 of carbonic acid (Plummer and Busenberg 1982), pK of water
/// and of boric acid (phreeqc.dat), pK of HOCl (Morris 1966, from memory), pK of cyanuric acid
/// (O'Brien 1974, from memory; slope Wahman 2018); log K of CaHCO3+ and CaCO3 (Plummer and
/// Busenberg 1982), of NaHCO3 and NaCO3- (phreeqc.dat); Davies's A; log K of the second
/// chlorine on cyanurate (O'Brien 1974, from memory; slope Wahman and Alexander 2019).
pub const TABLE: [[i32; COLUMNS]; 10] = [
    [
        657_856, 1_062_857, 1_493_846, 945_629, 782_507, 741_506, 81_994, 313_433, -18_291, 67_224,
        49_090, 513_255,
    ],
    [
        651_630, 1_055_441, 1_472_958, 940_992, 775_414, 730_035, 90_074, 312_723, -19_729, 80_039,
        49_443, 499_908,
    ],
    [
        646_334, 1_048_788, 1_453_141, 936_519, 769_019, 718_970, 96_794, 313_449, -21_117, 92_401,
        49_819, 487_034,
    ],
    [
        641_880, 1_042_843, 1_434_329, 932_201, 763_284, 708_288, 102_340, 315_418, -22_456,
        104_334, 50_217, 474_606,
    ],
    [
        638_187, 1_037_557, 1_416_459, 928_031, 758_176, 697_971, 106_879, 318_458, -23_750,
        115_861, 50_638, 462_601,
    ],
    [
        635_186, 1_032_885, 1_399_475, 924_000, 753_664, 688_000, 110_566, 322_409, -25_000,
        127_000, 51_081, 451_000,
    ],
    [
        632_815, 1_028_788, 1_383_326, 920_102, 749_719, 678_358, 113_542, 327_127, -26_209,
        137_772, 51_548, 439_781,
    ],
    [
        631_016, 1_025_227, 1_367_963, 916_331, 746_311, 669_029, 115_934, 332_480, -27_379,
        148_194, 52_038, 428_927,
    ],
    [
        629_740, 1_022_169, 1_353_343, 912_680, 743_417, 659_997, 117_858, 338_348, -28_511,
        158_284, 52_552, 418_418,
    ],
    [
        628_941, 1_019_583, 1_339_425, 909_144, 741_011, 651_250, 119_423, 344_619, -29_608,
        168_057, 53_090, 408_241,
    ],
];

/// Constants between concentrations in mmol/L (umol/L for what chlorine does) and the activity of H+,
/// as far as pH does not come into them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Constants {
    pub(super) pk1: Q,
    pub(super) pk2: Q,
    pub(super) pk_water: Q,
    pub(super) pk_boric: Q,
    pub(super) pk_hypochlorous: Q,
    pub(super) pk_cyanuric: Q,
    /// log10 of H+'s activity coefficient.
    pub(super) log_gamma: Q,
    pub(super) ca_hco3: Q,
    pub(super) ca_co3: Q,
    pub(super) na_hco3: Q,
    pub(super) na_co3: Q,
    /// HClCy- over H2Cy- and HOCl, L/umol.
    pub(super) once: Q,
    /// Cl2Cy- over H2Cy- and HOCl squared, (L/umol)^2.
    pub(super) twice: Q,
    /// pK of H2ClCy.
    pub(super) pk_protonated: Q,
    /// pK of HClCy-.
    pub(super) pk_doubly: Q,
}

/// The row at a temperature in hundredths of a degree; outside 0 to 45 C that of the nearer end.
fn row(centi_c: i32) -> [Q; COLUMNS] {
    let within = centi_c.clamp(0, 4499);
    let index = usize::try_from(within.div_euclid(ROW_CENTI_C)).unwrap_or(0);
    let part = i64::from(within.rem_euclid(ROW_CENTI_C));
    let low = TABLE.get(index).copied().unwrap_or_default();
    let high = TABLE.get(index.saturating_add(1)).copied().unwrap_or(low);
    let mut between = [Q::ZERO; COLUMNS];
    for (out, (low, high)) in between.iter_mut().zip(low.into_iter().zip(high)) {
        let (low, high) = (i64::from(low), i64::from(high));
        let rise = high.saturating_sub(low).saturating_mul(part);
        let scaled = low
            .saturating_mul(i64::from(ROW_CENTI_C))
            .saturating_add(rise);
        // Parts of 5e7 as parts of 2^32; 5e7 is 2^7 times 390,625, and the product stays under 2^56.
        *out = Q::from_bits(scaled.saturating_mul(1 << 25).div_euclid(390_625));
    }
    between
}

impl Constants {
    /// At a temperature in hundredths of a degree and an ionic strength in mol/L.
    pub(super) fn at(centi_c: i32, ionic_strength: Q) -> Self {
        let [
            pk1,
            pk2,
            pk_water,
            pk_boric,
            pk_hypochlorous,
            pk_cyanuric,
            ca_hco3,
            ca_co3,
            na_hco3,
            na_co3,
            davies_a,
            second,
        ] = row(centi_c);
        let root = number_root(ionic_strength);
        let bent = super::number::div(root, add(Q::ONE, root));
        let one = mul(davies_a, sub(bent, mul(lit!("0.3"), ionic_strength)));
        let neutral = mul(lit!("0.1"), ionic_strength);
        let three = sum_of(one, 3);
        // As in the simulator: coefficients of what stands on the left over those on the right.
        let acid = add(neutral, one);
        let per_mmol = |log: Q| exp10(sub(log, lit!("3")));
        let first = add(lit!("5.62"), neutral);
        let second = add(second, neutral);
        Self {
            pk1: sub(pk1, acid),
            pk2: sub(pk2, three),
            pk_water: sub(pk_water, one),
            pk_boric: sub(pk_boric, acid),
            pk_hypochlorous: sub(pk_hypochlorous, acid),
            pk_cyanuric: sub(pk_cyanuric, acid),
            log_gamma: sub(Q::ZERO, one),
            ca_hco3: per_mmol(sub(ca_hco3, sum_of(one, 4))),
            ca_co3: per_mmol(sub(sub(ca_co3, sum_of(one, 8)), neutral)),
            na_hco3: per_mmol(sub(sub(na_hco3, sum_of(one, 2)), neutral)),
            na_co3: per_mmol(sub(na_co3, sum_of(one, 4))),
            once: exp10(sub(first, lit!("6"))),
            twice: exp10(sub(add(first, second), lit!("12"))),
            pk_protonated: sub(lit!("5.33"), acid),
            pk_doubly: sub(lit!("10.12"), three),
        }
    }
}

fn sum_of(value: Q, times: u32) -> Q {
    mul(value, super::number::whole(times))
}
