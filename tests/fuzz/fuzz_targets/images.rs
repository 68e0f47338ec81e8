//! Settings images, kept records and images of a board of any bytes: read or refused, and what is read is written again as it was read.

#![no_main]

use dosewarden::store::{BoardImage, KeptRecord, SettingsImage};
use dosewarden_guard::Crc32;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    of_any(bytes);
    // What is sealed passes the checksum: the rest is judged by its meaning.
    let mut sealed = bytes.to_vec();
    sealed.extend(Crc32::of(bytes).to_le_bytes());
    of_any(&sealed);
});

fn of_any(bytes: &[u8]) {
    let mut out = [0; 4096];
    if let Ok((image, _)) = SettingsImage::<2, 1>::decode(bytes) {
        let length = image.encode(&mut out).expect("it has room and was read");
        let (again, _) = SettingsImage::decode(&out[..length]).expect("it was written");
        assert_eq!(image, again);
    }
    if let Ok(kept) = KeptRecord::<2>::decode(bytes) {
        let length = kept.encode(&mut out).expect("it has room and was read");
        let again = KeptRecord::decode(&out[..length]).expect("it was written");
        assert_eq!(kept, again);
    }
    if let Ok(image) = BoardImage::<2, 1, 7, 25>::decode(bytes) {
        let length = image.encode(&mut out).expect("it has room and was read");
        let again = BoardImage::decode(&out[..length]).expect("it was written");
        assert_eq!(image, again);
    }
}
