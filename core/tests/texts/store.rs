//! What is said of the store, and of images of a board.

use dosewarden::guard::{Authority, RecordError};
use dosewarden::regulate::RegulatorError;
use dosewarden::settings::SettingsError;
use dosewarden::store::{
    BoardError, ImageError, KeepError, KeptError, Over, SaveError, StoreError,
};

use super::says;

#[test]
fn a_flash_that_does_not_fit_is_told_by_its_figures() {
    let most = 120;
    says(
        &StoreError::Range { range: 1 },
        &["range 1", "two or more whole erase pages"],
    );
    says(&StoreError::Overlap, &["the two ranges overlap"]);
    says(
        &StoreError::Slot { bytes: 100 },
        &["slots of 100 bytes", "multiple of 64"],
    );
    says(
        &StoreError::TooLong { bytes: 121, most },
        &["121 bytes", "takes 120"],
    );
    says(&StoreError::NotSealed, &["CRC-32"]);
    says(
        &StoreError::NotWritten { range: 0 },
        &["range 0", "gives back what was written"],
    );
    says(
        &StoreError::NotErased { range: 1 },
        &["page of range 1", "cannot be erased"],
    );
    let store = StoreError::TooLong { bytes: 121, most };
    assert_eq!(KeepError::Store(store).to_string(), store.to_string());
    assert_eq!(SaveError::Store(store).to_string(), store.to_string());
}

#[test]
fn an_image_that_is_refused_says_what_it_is() {
    says(&ImageError::Space, &["too short for the image"]);
    says(&ImageError::Empty, &["no image was ever written"]);
    says(&ImageError::NotWhole, &["no image is whole"]);
    says(
        &ImageError::Version(99),
        &["image of version 99", "right is"],
    );
    says(&ImageError::Shape, &["other numbers of feeders"]);
    says(&ImageError::Meaning, &["a field has no meaning"]);
    let (start, stop) = (7400, 7500);
    let error = RegulatorError::BandReversed { start, stop };
    let regulator = ImageError::Regulator { feeder: 1, error };
    says(&regulator, &["regulator of feeder 1: feed starts at 7400"]);
    let settings = SettingsError::Range {
        field: "on_delay",
        value: 0,
        min: 1,
        max: 9,
    };
    says(
        &ImageError::Settings(settings),
        &["settings: on_delay is 0"],
    );
    assert_eq!(
        SaveError::Image(ImageError::Shape).to_string(),
        ImageError::Shape.to_string()
    );

    says(&KeptError::Space, &["too short for the kept record"]);
    says(&KeptError::Empty, &["no kept record was ever written"]);
    says(&KeptError::NotWhole, &["no kept record is whole"]);
    says(
        &KeptError::Version(98),
        &["kept record of version 98", "right is"],
    );
    says(&KeptError::Shape, &["another number of feeders"]);
    says(&KeptError::Meaning, &["a field has no meaning"]);
    assert_eq!(
        KeepError::Record(KeptError::Shape).to_string(),
        KeptError::Shape.to_string()
    );
}

#[test]
fn a_board_that_does_not_come_over_says_why() {
    says(&BoardError::Space, &["too short for the image of a board"]);
    says(&BoardError::NotWhole, &["make it anew on the old board"]);
    says(&BoardError::Version(7), &["version 7", "right is 1"]);
    says(&BoardError::Shape, &["other numbers of feeders"]);
    says(&BoardError::Meaning, &["out of place"]);
    says(&BoardError::NotGivenAway, &["give it away first"]);
    says(
        &BoardError::Settings(ImageError::Shape),
        &["settings: image for other numbers"],
    );
    says(
        &BoardError::Kept(KeptError::Shape),
        &["another number of feeders"],
    );
    let record = RecordError::NotWhole;
    says(
        &BoardError::Record(record),
        &["the guard's record: ", &record.to_string()],
    );
    let over = |value, allowed| Over {
        feeder: Some(1),
        field: "day_cap",
        value,
        allowed,
    };
    let told = BoardError::Over(over(901, 900));
    says(&told, &["feeder 1: day_cap is 901; this board allows 900"]);
    let told = BoardError::Over(over(0, 0));
    says(
        &told,
        &["feeder 1: day_cap is not what this board has there"],
    );
    let by = Authority::Technician;
    says(
        &BoardError::NeedsAuthority(by),
        &["needs the authority of Technician"],
    );
}
