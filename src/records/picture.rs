//! A picture as it is kept: whatever came from a tablet or telephone is decoded, turned upright, made no
//! larger than is useful, and encoded again, so that nothing of the original file but its dots remains: no
//! place, no time, no camera, no second picture inside.

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::imageops::FilterType;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits, RgbImage};

/// The largest file taken, bytes.
pub const LARGEST_FILE: usize = 24 * 1024 * 1024;
/// The most dots a picture may unfold to: a small file can hold a picture that fills the memory.
const MOST_DOTS: u64 = 64_000_000;
/// Memory that a picture may unfold to, bytes: the dots of the largest one, four bytes each.
const MOST_MEMORY: u64 = 4 * MOST_DOTS;
/// Longest side as kept, and as shown in a row, dots.
const LONGEST_SIDE: u32 = 2400;
const LONGEST_SMALL_SIDE: u32 = 480;
/// Of a hundred: marks on a finish stay visible, files stay small.
const QUALITY: u8 = 85;

/// Why a file is not kept, for the person who sent it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotKept {
    /// No picture, or none of the three kinds.
    #[error("This is no JPEG, PNG or WebP picture, whatever its name says. Photograph it again, or save it as JPEG.")]
    Kind,
    /// Too many bytes.
    #[error("This file is larger than 24 MB. Photograph it at a lower resolution.")]
    TooLarge,
    /// Too many dots.
    #[error(
        "This picture unfolds to {0} million dots; at most 64 million are taken. Photograph it at a lower resolution."
    )]
    TooManyDots(u64),
    /// Too many bytes for each dot.
    #[error(
        "This picture holds more than a photograph does: it unfolds to over 256 MB. Save it as JPEG, and send that."
    )]
    TooDeep,
    /// Broken off.
    #[error("This picture is damaged or did not arrive whole. Send it again.")]
    Damaged,
}

/// A picture ready to be stored: JPEG, upright, without a word beside the dots.
#[derive(Debug, Clone)]
pub struct Picture {
    /// The picture.
    pub jpeg: Vec<u8>,
    /// Its small version.
    pub small_jpeg: Vec<u8>,
    /// Dots across.
    pub width: u32,
    /// Dots down.
    pub height: u32,
}

/// Makes a picture out of a file as it was sent. Takes up to a second of one core: call it beside the
/// requests, a few at a time.
///
/// # Errors
/// In words for the person who sent it.
pub fn prepare(file: &[u8]) -> Result<Picture, NotKept> {
    if file.len() > LARGEST_FILE {
        return Err(NotKept::TooLarge);
    }
    // the kind is read from the file itself: its name proves nothing
    let mut reader = ImageReader::new(Cursor::new(file)).with_guessed_format().map_err(|_| NotKept::Kind)?;
    if !matches!(reader.format(), Some(ImageFormat::Jpeg | ImageFormat::Png | ImageFormat::WebP)) {
        return Err(NotKept::Kind);
    }
    if reader.format() == Some(ImageFormat::Jpeg) && !ends(file) {
        return Err(NotKept::Damaged);
    }
    let mut limits = Limits::default();
    limits.max_alloc = Some(MOST_MEMORY);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(|_| NotKept::Damaged)?;
    let (width, height) = decoder.dimensions();
    let dots = u64::from(width) * u64::from(height);
    if dots > MOST_DOTS {
        return Err(NotKept::TooManyDots(dots / 1_000_000));
    }
    if decoder.total_bytes() > MOST_MEMORY {
        return Err(NotKept::TooDeep);
    }
    let orientation = decoder.orientation().unwrap_or(image::metadata::Orientation::NoTransforms);
    let picture = DynamicImage::from_decoder(decoder).map_err(|_| NotKept::Damaged)?;
    // made smaller first: turned at its full size it would stand in memory twice
    let mut picture = fitted(picture, LONGEST_SIDE);
    picture.apply_orientation(orientation);
    let picture = on_white(&picture);
    let (small_width, small_height) = fit(picture.dimensions(), LONGEST_SMALL_SIDE);
    let small = image::imageops::thumbnail(&picture, small_width, small_height);
    Ok(Picture {
        jpeg: encoded(&picture)?,
        small_jpeg: encoded(&small)?,
        width: picture.width(),
        height: picture.height(),
    })
}

/// Whether the picture of a JPEG has its end. Decoders fill with grey what is missing, so a file that broke off
/// looks whole to them. Markers as in ITU-T T.81, annex B: segments say their length up to the start of the first
/// scan, and in the scan `FF D9` can only be the end. What is built otherwise is left to the decoder.
fn ends(file: &[u8]) -> bool {
    const START_OF_SCAN: u8 = 0xDA;
    let mut at = 2;
    while let Some([0xFF, marker]) = file.get(at..at + 2) {
        match *marker {
            START_OF_SCAN => {
                return file.get(at..).is_some_and(|scan| scan.windows(2).any(|pair| pair == [0xFF, 0xD9]));
            }
            // a fill byte, and markers without a segment
            0xFF => at += 1,
            0x01 | 0xD0..=0xD8 => at += 2,
            _ => match file.get(at + 2..at + 4) {
                Some([high, low]) => at += 2 + usize::from(u16::from_be_bytes([*high, *low])).max(2),
                _ => return false,
            },
        }
    }
    at < file.len()
}

fn fitted(picture: DynamicImage, longest: u32) -> DynamicImage {
    if picture.width().max(picture.height()) <= longest {
        return picture;
    }
    // of a very large picture whole dots are put together first: the finer filter takes sixteen bytes for each dot
    let rough = 2 * longest;
    let picture = if picture.width().max(picture.height()) > rough { picture.thumbnail(rough, rough) } else { picture };
    picture.resize(longest, longest, FilterType::Triangle)
}

/// The size within `longest`, in proportion; at least one dot each way.
fn fit((width, height): (u32, u32), longest: u32) -> (u32, u32) {
    let side = width.max(height).max(1);
    if side <= longest {
        return (width, height);
    }
    let scaled =
        |length: u32| u32::try_from(u64::from(length) * u64::from(longest) / u64::from(side)).unwrap_or(longest).max(1);
    (scaled(width), scaled(height))
}

/// What is clear becomes paper.
fn on_white(picture: &DynamicImage) -> RgbImage {
    if !picture.color().has_alpha() {
        return picture.to_rgb8();
    }
    let clear = picture.to_rgba8();
    let mut solid = RgbImage::new(clear.width(), clear.height());
    for (to, from) in solid.pixels_mut().zip(clear.pixels()) {
        let [red, green, blue, alpha] = from.0;
        let over = |colour: u8| {
            let mixed = u16::from(colour) * u16::from(alpha) + 255 * (255 - u16::from(alpha));
            u8::try_from(mixed / 255).unwrap_or(255)
        };
        to.0 = [over(red), over(green), over(blue)];
    }
    solid
}

fn encoded(picture: &RgbImage) -> Result<Vec<u8>, NotKept> {
    let mut jpeg = Vec::new();
    JpegEncoder::new_with_quality(&mut jpeg, QUALITY).encode_image(picture).map_err(|_| NotKept::Damaged)?;
    Ok(jpeg)
}

#[cfg(test)]
mod tests {
    use image::codecs::jpeg::JpegEncoder;
    use image::codecs::png::PngEncoder;
    use image::codecs::webp::WebPEncoder;
    use image::{ExtendedColorType, ImageEncoder, Rgb, RgbImage};

    use super::{NotKept, prepare};

    fn picture() -> RgbImage {
        RgbImage::from_fn(48, 32, |x, y| {
            let mixed = (x * 37 + y * 91) % 251;
            Rgb([u8::try_from(mixed).unwrap(), u8::try_from(x * 5).unwrap(), u8::try_from(y * 7).unwrap()])
        })
    }

    fn files() -> [(&'static str, Vec<u8>); 3] {
        let (picture, rgb) = (picture(), ExtendedColorType::Rgb8);
        let (mut jpeg, mut png, mut webp) = (Vec::new(), Vec::new(), Vec::new());
        JpegEncoder::new_with_quality(&mut jpeg, 90).encode_image(&picture).unwrap();
        PngEncoder::new(&mut png).write_image(&picture, 48, 32, rgb).unwrap();
        WebPEncoder::new_lossless(&mut webp).write_image(&picture, 48, 32, rgb).unwrap();
        [("JPEG", jpeg), ("PNG", png), ("WebP", webp)]
    }

    /// A chunk as the PNG specification (ISO/IEC 15948) has it, with the CRC of its annex D.
    fn chunk(kind: &[u8; 4], data: &[u8]) -> Vec<u8> {
        let mut crc = u32::MAX;
        for byte in kind.iter().chain(data) {
            crc ^= u32::from(*byte);
            for _ in 0..8 {
                crc = if crc & 1 == 1 { 0xEDB8_8320 ^ (crc >> 1) } else { crc >> 1 };
            }
        }
        let mut chunk = u32::try_from(data.len()).unwrap().to_be_bytes().to_vec();
        chunk.extend(kind);
        chunk.extend(data);
        chunk.extend((!crc).to_be_bytes());
        chunk
    }

    /// A PNG of 57 bytes that says it is so large.
    fn claims(width: u32, height: u32, bits: u8) -> Vec<u8> {
        let mut header = [width.to_be_bytes(), height.to_be_bytes()].concat();
        header.extend([bits, 0, 0, 0, 0]);
        let mut png = b"\x89PNG\r\n\x1a\n".to_vec();
        png.extend(chunk(b"IHDR", &header));
        png.extend(chunk(b"IDAT", &[]));
        png.extend(chunk(b"IEND", &[]));
        png
    }

    // decompression bombs: CWE-409
    #[test]
    fn a_picture_that_would_fill_the_memory_is_refused_before_it_is_unfolded() {
        for (width, height, bits) in [(30_000, 30_000, 1), (11_000, 11_000, 8), (0x7FFF_FFFF, 0x7FFF_FFFF, 8)] {
            let png = claims(width, height, bits);
            assert_eq!(png.len(), 57);
            let refused = prepare(&png).expect_err("refused");
            assert!(matches!(refused, NotKept::TooManyDots(_) | NotKept::Damaged), "{width}: {refused}");
        }
        assert_eq!(prepare(&claims(30_000, 30_000, 1)).expect_err("refused"), NotKept::TooManyDots(900));
    }

    // OWASP File Upload Cheat Sheet: the kind is read from the content; what was hidden in a file does not stay
    #[test]
    fn a_script_behind_a_picture_does_not_stay_and_a_drawing_is_no_photograph() {
        let hidden = b"<script>alert(document.cookie)</script>";
        for (kind, file) in files() {
            let kept = prepare(&[file.as_slice(), hidden].concat()).unwrap();
            for stored in [kept.jpeg, kept.small_jpeg] {
                assert!(!stored.windows(8).any(|window| window == b"<script>"), "{kind}");
                assert!(stored.starts_with(&[0xFF, 0xD8]) && stored.ends_with(&[0xFF, 0xD9]), "{kind}");
            }
        }
        for text in [
            "<svg xmlns=\"http://www.w3.org/2000/svg\"><script>alert(1)</script></svg>",
            "<?xml version=\"1.0\"?><svg/>",
            "<!doctype html><script>alert(1)</script>",
            "GIF89a",
            "BM",
            "",
        ] {
            assert_eq!(prepare(text.as_bytes()).expect_err("refused"), NotKept::Kind, "{text}");
        }
    }

    // ITU-T T.81, annex B: a picture ends with EOI. Decoders take a JPEG without its end and fill up with grey
    #[test]
    fn a_file_that_broke_off_is_refused_unless_nothing_of_the_picture_is_missing() {
        for (kind, file) in files() {
            let whole = prepare(&file).unwrap();
            let mut refused = 0;
            for length in 0..file.len() {
                match prepare(&file[..length]) {
                    Ok(cut) => assert!(cut.jpeg == whole.jpeg, "{kind} cut at {length} of {} lost dots", file.len()),
                    Err(_) => refused += 1,
                }
            }
            // at most the closing chunk of a PNG can be missed
            assert!(refused >= file.len() - 16, "{kind}: {refused} of {}", file.len());
        }
    }
}
