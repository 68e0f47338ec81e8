//! What is chosen at the converter, on the bus.

use ads1x1x::{FullScaleRange, TargetAddr};
use embedded_hal_mock::eh1::i2c::{Mock as Bus, Transaction};

use super::super::*;
use super::script::{ADDRESS, IDLE};

#[test]
fn each_full_scale_and_each_input_is_the_one_on_the_bus() {
    // By the chip's data sheet: the input in bits 14 to 12, the full scale in bits 11 to 9.
    let ranges = [
        (FullScaleRange::Within6_144V, 0b000, 6144),
        (FullScaleRange::Within4_096V, 0b001, 4096),
        (FullScaleRange::Within2_048V, 0b010, 2048),
        (FullScaleRange::Within1_024V, 0b011, 1024),
        (FullScaleRange::Within0_512V, 0b100, 512),
        (FullScaleRange::Within0_256V, 0b101, 256),
    ];
    for (range, code, full_scale_mv) in ranges {
        for (input, channel) in [
            (Input::A0, 4),
            (Input::A1, 5),
            (Input::A2, 6),
            (Input::A3, 7),
        ] {
            let start = [1, 0x81 | channel << 4 | code << 1, 0x03];
            let mut bus = Bus::new(&at_start(start));
            let chip = Chip::new_ads1115(bus.clone(), TargetAddr::Gnd);
            let mut ads = Ads::new(chip, input, range);
            assert_eq!(ads.full_scale_mv(), full_scale_mv);
            assert!(matches!(ads.start(), Ok(true)), "{input:?} {range:?}");
            bus.done();
        }
    }
    let told = FrontError::FullScale {
        stated_mv: 2048,
        set_mv: 4096,
    };
    let text = std::string::ToString::to_string(&told);
    assert_eq!(
        text,
        "full_scale_mv is 2048, and the converter is set to 4096"
    );
}

/// What a chip that comes from its reset is told: its full scale, its rate, and to begin.
fn at_start(start: [u8; 3]) -> [Transaction; 4] {
    let set = start[1] & 0x0E | 0x81;
    [
        Transaction::write(ADDRESS, std::vec![1, set, 0x83]),
        Transaction::write(ADDRESS, std::vec![1, set, 0x03]),
        Transaction::write_read(ADDRESS, std::vec![1], std::vec![IDLE, 0x03]),
        Transaction::write(ADDRESS, start.to_vec()),
    ]
}
