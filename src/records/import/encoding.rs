//! In which letters a file was written: UTF-8 where it can be, UTF-16 where it says so, else Windows-1252.

use encoding_rs::{Encoding, UTF_8, WINDOWS_1252};

/// The text of a file, and the name of the encoding it was read in.
///
/// # Errors
/// In words with the line, when the file is UTF-8 with damage in it: read in another encoding it would come in
/// garbled.
pub(super) fn text(bytes: &[u8]) -> Result<(String, &'static str), String> {
    if let Some((marked, length)) = Encoding::for_bom(bytes) {
        let (text, broken) = marked.decode_without_bom_handling(bytes.get(length..).unwrap_or_default());
        return match broken {
            false => Ok((text.into_owned(), marked.name())),
            true => Err(format!("The file says that it is {}, and is not. Save it as UTF-8.", marked.name())),
        };
    }
    let Err(cause) = std::str::from_utf8(bytes) else {
        return Ok((String::from_utf8_lossy(bytes).into_owned(), UTF_8.name()));
    };
    // a letter beyond ASCII that is whole UTF-8 hardly ever comes about by chance
    let has_utf8 = String::from_utf8_lossy(bytes).chars().any(|c| !c.is_ascii() && c != char::REPLACEMENT_CHARACTER);
    if has_utf8 {
        let line = bytes.iter().take(cause.valid_up_to()).filter(|byte| **byte == b'\n').count() + 1;
        return Err(format!("Line {line} is not UTF-8 text. Save the file as “CSV UTF-8” and bring it again."));
    }
    Ok((WINDOWS_1252.decode_without_bom_handling(bytes).0.into_owned(), WINDOWS_1252.name()))
}

/// The text of bytes in an encoding that a file names (`ISO-8859-1`); UTF-8 where it names none. `None` where the
/// name is unknown, or the bytes are not what it says.
pub(super) fn named(label: Option<&str>, bytes: &[u8]) -> Option<String> {
    let encoding = match label {
        Some(label) => Encoding::for_label(label.as_bytes())?,
        None => UTF_8,
    };
    encoding.decode_without_bom_handling_and_without_replacement(bytes).map(std::borrow::Cow::into_owned)
}
