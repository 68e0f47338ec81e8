//! What the committed images of settings and of what is kept are tested with.

use std::fmt::Debug;

use dosewarden::guard::Crc32;

/// Bytes with a CRC that fits.
pub(crate) fn sealed(mut bytes: Vec<u8>) -> Vec<u8> {
    let body = bytes.len() - 4;
    let crc = Crc32::of(&bytes[..body]);
    bytes[body..].copy_from_slice(&crc.to_le_bytes());
    bytes
}

/// With another byte at one place, sealed anew.
pub(crate) fn with(image: &[u8], at: usize, byte: u8) -> Vec<u8> {
    let mut other = image.to_vec();
    other[at] = byte;
    sealed(other)
}

/// With two bytes more, sealed anew.
pub(crate) fn longer(image: &[u8]) -> Vec<u8> {
    sealed([image, &[0, 0]].concat())
}

/// Each flipped bit and each shorter part of an image is `not_whole`, each shorter buffer is `space`.
pub(crate) fn refused_if_damaged<T: Debug + PartialEq, E: Debug + PartialEq>(
    image: &[u8],
    decode: impl Fn(&[u8]) -> Result<T, E>,
    encode: impl Fn(&mut [u8]) -> Result<usize, E>,
    (not_whole, space): (E, E),
) {
    let (not_whole, space) = (Err(not_whole), Err(space));
    for at in 0..image.len() {
        for bit in 0..8 {
            let mut flipped = image.to_vec();
            flipped[at] ^= 1 << bit;
            assert_eq!(decode(&flipped), not_whole, "bit {bit} of byte {at}");
        }
        assert_eq!(decode(&image[..at]), not_whole, "{at} bytes");
        assert_eq!(encode(&mut vec![0; at]), space, "{at} bytes");
    }
    assert_eq!(encode(&mut vec![0; image.len()]), Ok(image.len()));
}
