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
/// Memory that decoding may take, bytes: the dots of the largest picture, four bytes each.
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
    let mut limits = Limits::default();
    limits.max_alloc = Some(MOST_MEMORY);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(|_| NotKept::Damaged)?;
    let (width, height) = decoder.dimensions();
    let dots = u64::from(width) * u64::from(height);
    if dots > MOST_DOTS {
        return Err(NotKept::TooManyDots(dots / 1_000_000));
    }
    let orientation = decoder.orientation().unwrap_or(image::metadata::Orientation::NoTransforms);
    let mut picture = DynamicImage::from_decoder(decoder).map_err(|_| NotKept::Damaged)?;
    picture.apply_orientation(orientation);
    let picture = on_white(&fitted(picture, LONGEST_SIDE));
    let (small_width, small_height) = fit(picture.dimensions(), LONGEST_SMALL_SIDE);
    let small = image::imageops::thumbnail(&picture, small_width, small_height);
    Ok(Picture {
        jpeg: encoded(&picture)?,
        small_jpeg: encoded(&small)?,
        width: picture.width(),
        height: picture.height(),
    })
}

fn fitted(picture: DynamicImage, longest: u32) -> DynamicImage {
    if picture.width().max(picture.height()) <= longest {
        return picture;
    }
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
