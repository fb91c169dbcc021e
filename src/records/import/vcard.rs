//! vCard: RFC 6350 (4.0), and the older 3.0 (RFC 2426) and 2.1 that telephones still write.
//!
//! Only what a customer's record holds is taken: name, first telephone and e-mail, address, note. Pictures and
//! whatever else are left out. A parser of our own, because cards of all three versions come in one file.

use super::encoding;
use super::table::{Row, Table};

/// The columns a card fills, in the order of its cells.
const HEADINGS: [&str; 8] =
    ["Name", "Telephone", "E-mail", "Address", "Note", "Telephone 2", "Telephone 3", "Nickname"];

/// One line of a card: its property, parameters and value.
struct Line {
    name: String,
    parameters: Vec<(String, String)>,
    value: String,
}

/// Reads every card of a file as a row: name, telephone, e-mail, address, note.
///
/// # Errors
/// In words, when the file holds no card or its text is damaged.
pub fn cards(bytes: &[u8]) -> Result<Table, String> {
    let (text, encoding) = encoding::text(bytes)?;
    let mut rows = Vec::new();
    let mut card: Option<(u64, Vec<Line>)> = None;
    for (number, line) in unfolded(&text) {
        let Some(line) = split(&line) else { continue };
        match (line.name.as_str(), line.value.trim().to_ascii_uppercase().as_str()) {
            ("BEGIN", "VCARD") => card = Some((number, Vec::new())),
            ("END", "VCARD") => {
                if let Some((number, lines)) = card.take() {
                    rows.push(Row { line: number, cells: cells(&lines).to_vec() });
                }
            }
            _ => {
                if let Some((_, lines)) = &mut card {
                    if line.decoded().is_none() {
                        let charset = line.charset().unwrap_or("no character set that it names");
                        return Err(format!(
                            "The card's line {number} is written in {charset}, and cannot be read. Save the cards as UTF-8, or as version 4.0."
                        ));
                    }
                    lines.push(line);
                }
            }
        }
        if rows.len() > super::MOST_ROWS {
            return Err(format!("The file has more than {} cards. Bring it in parts.", super::MOST_ROWS));
        }
    }
    if card.is_some() {
        return Err("The last card has no END:VCARD: the file did not arrive whole.".to_owned());
    }
    if rows.is_empty() {
        return Err("There is no card in this file.".to_owned());
    }
    Ok(Table { encoding: encoding.to_owned(), headings: HEADINGS.map(str::to_owned).to_vec(), rows })
}

/// Lines as they were before folding, each with the number of its first line. A blank at the start of a line
/// goes on with the one before (RFC 6350, 3.2); in quoted-printable an equals sign at its end does (RFC 2045).
fn unfolded(text: &str) -> Vec<(u64, String)> {
    let mut lines: Vec<(u64, String)> = Vec::new();
    for (number, line) in (1..).zip(text.split('\n')) {
        let line = line.strip_suffix('\r').unwrap_or(line);
        match (line.strip_prefix([' ', '\t']), lines.last_mut()) {
            (Some(rest), Some((_, last))) => last.push_str(rest),
            (_, Some((_, last))) if is_quoted_printable(last) && last.ends_with('=') => {
                last.pop();
                last.push_str(line);
            }
            _ => lines.push((number, line.to_owned())),
        }
    }
    lines
}

fn is_quoted_printable(line: &str) -> bool {
    line.split(':').next().is_some_and(|head| head.to_ascii_uppercase().contains("QUOTED-PRINTABLE"))
}

/// `item1.TEL;TYPE=cell:020` as property, parameters and value; the colon inside a quoted parameter is none.
fn split(line: &str) -> Option<Line> {
    let mut quoted = false;
    let colon = line.char_indices().find_map(|(place, c)| {
        quoted ^= c == '"';
        (c == ':' && !quoted).then_some(place)
    })?;
    let (head, value) = (line.get(..colon)?, line.get(colon + 1..)?);
    let mut parts = head.split(';');
    let name = parts.next()?;
    let name = name.rsplit('.').next().unwrap_or(name).trim().to_ascii_uppercase();
    let parameters = parts
        .map(|part| match part.split_once('=') {
            Some((name, value)) => (name.to_ascii_uppercase(), value.trim_matches('"').to_ascii_uppercase()),
            // 2.1 writes the type alone: TEL;CELL
            None => ("TYPE".to_owned(), part.to_ascii_uppercase()),
        })
        .collect();
    Some(Line { name, parameters, value: value.to_owned() })
}

impl Line {
    /// The value in plain text, still escaped.
    fn text(&self) -> String {
        // what cannot be read was refused when the line came in
        self.decoded().unwrap_or_default()
    }

    /// `None` where the letters are in no character set we know, or not in the one that is named.
    fn decoded(&self) -> Option<String> {
        let is_quoted_printable = self.parameters.iter().any(|(_, value)| value == "QUOTED-PRINTABLE");
        if is_quoted_printable {
            encoding::named(self.charset(), &octets(&self.value))
        } else {
            Some(self.value.clone())
        }
    }

    /// Version 2.1 names the character set of a value; without a name it is UTF-8.
    fn charset(&self) -> Option<&str> {
        self.parameters.iter().find(|(name, _)| name == "CHARSET").map(|(_, label)| label.as_str())
    }

    fn is_preferred(&self) -> bool {
        self.parameters.iter().any(|(name, value)| {
            (name == "PREF" && value == "1") || (name == "TYPE" && value.split(',').any(|kind| kind == "PREF"))
        })
    }
}

/// What quoted-printable stands for (RFC 2045, 6.7).
fn octets(text: &str) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut left = text.bytes();
    while let Some(byte) = left.next() {
        if byte != b'=' {
            bytes.push(byte);
            continue;
        }
        let pair: Vec<u8> = left.by_ref().take(2).collect();
        let hex = std::str::from_utf8(&pair).ok().and_then(|pair| u8::from_str_radix(pair, 16).ok());
        bytes.extend(hex);
    }
    bytes
}

/// RFC 6350, 3.4: `\n`, `\,`, `\;` and `\\`.
fn unescaped(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    let mut left = text.chars();
    while let Some(c) = left.next() {
        match (c, c == '\\') {
            (_, true) => match left.next() {
                Some('n' | 'N') => plain.push('\n'),
                Some(other) => plain.push(other),
                None => {}
            },
            (c, _) => plain.push(c),
        }
    }
    plain
}

/// The parts between semicolons that are not escaped.
fn parts(text: &str) -> Vec<String> {
    let mut parts = vec![String::new()];
    let mut escaped = false;
    for c in text.chars() {
        match c {
            ';' if !escaped => parts.push(String::new()),
            c => {
                if let Some(last) = parts.last_mut() {
                    last.push(c);
                }
            }
        }
        escaped = c == '\\' && !escaped;
    }
    parts
}

fn cells(lines: &[Line]) -> [String; 8] {
    let all = |name: &'static str| lines.iter().filter(move |line| line.name == name);
    let best = |name: &'static str| all(name).find(|line| line.is_preferred()).or_else(|| all(name).next());
    let text =
        |name: &'static str| best(name).map(|line| unescaped(&line.text()).trim().to_owned()).unwrap_or_default();
    let mut name = text("FN");
    if name.is_empty() {
        // N has family, given, additional, prefix, suffix: said given first
        let found = best("N").map(|line| parts(&line.text())).unwrap_or_default();
        let said = [1, 2, 0].iter().filter_map(|place| found.get(*place)).map(|part| unescaped(part).trim().to_owned());
        name = said.filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ");
    }
    if name.is_empty() {
        name = text("ORG").replace(';', " ").trim().to_owned();
    }
    // the preferred number first, the others as they come
    let mut telephones: Vec<&Line> = all("TEL").collect();
    telephones.sort_by_key(|line| !line.is_preferred());
    let mut telephones = telephones.into_iter().map(|line| {
        let said = unescaped(&line.text()).trim().to_owned();
        said.strip_prefix("tel:").unwrap_or(&said).replace(";ext=", " ext. ")
    });
    let mut telephone = || telephones.next().unwrap_or_default();
    let [telephone, second, third] = [telephone(), telephone(), telephone()];
    let address = best("ADR").map(|line| parts(&line.text())).unwrap_or_default();
    let address: Vec<String> =
        address.iter().map(|part| unescaped(part).trim().to_owned()).filter(|part| !part.is_empty()).collect();
    let email = text("EMAIL");
    let email = email.strip_prefix("mailto:").unwrap_or(&email).to_owned();
    [name, telephone, email, address.join("\n"), text("NOTE"), second, third, text("NICKNAME")]
}

#[cfg(test)]
mod tests {
    use super::cards;

    fn card(lines: &str) -> Vec<String> {
        let text = format!("BEGIN:VCARD\r\n{}\r\nEND:VCARD\r\n", lines.replace('\n', "\r\n"));
        cards(text.as_bytes()).unwrap_or_else(|why| panic!("{why}")).rows.remove(0).cells
    }

    // RFC 6350, section 8, the example of an author's card (shortened), and 3.2 on folding
    #[test]
    fn the_rfcs_own_card_is_read() {
        let read = card(
            "VERSION:4.0\nFN:Simon Perreault\nN:Perreault;Simon;;;ing. jr,M.Sc.\nBDAY:--0203\nGENDER:M\nLANG;PREF=1:fr\n\
             ORG;TYPE=work:Viagenie\nADR;TYPE=work:;Suite D2-630;2875 Laurier;\n Quebec;QC;G1V 2M2;Canada\n\
             TEL;VALUE=uri;TYPE=\"work,voice\";PREF=1:tel:+1-418-656-9254;ext=102\n\
             TEL;VALUE=uri;TYPE=\"work,cell,voice,video,text\":tel:+1-418-262-6501\n\
             EMAIL;TYPE=work:simon.perreault@viagenie.ca\nTZ:-0500",
        );
        assert_eq!(read[0], "Simon Perreault");
        assert_eq!(read[1], "+1-418-656-9254 ext. 102");
        assert_eq!(read[2], "simon.perreault@viagenie.ca");
        assert_eq!(read[3], "Suite D2-630\n2875 Laurier\nQuebec\nQC\nG1V 2M2\nCanada");
    }

    // RFC 6350, 3.4 and 6.7.2: escapes in text
    #[test]
    fn escapes_mean_what_the_rfc_says() {
        let read = card("VERSION:4.0\nFN:Ana \\, Żak\nNOTE:line one\\nline \n  two\\; \\\\ and, more");
        assert_eq!(read[0], "Ana , Żak");
        assert_eq!(read[4], "line one\nline  two; \\ and, more");
    }

    // RFC 2426 (3.0), section 7; grouped properties as address books write them
    #[test]
    fn a_card_of_the_older_version_is_read() {
        let read = card(
            "VERSION:3.0\nN:Oakhollow;Maren;;;\nitem1.TEL;type=CELL;type=pref:07700 900101\nTEL;TYPE=HOME:01632 960101\n\
             item2.EMAIL;type=INTERNET:maren@oakhollow.example\nPHOTO;ENCODING=b;TYPE=JPEG:AAAA",
        );
        assert_eq!(read[0], "Maren Oakhollow");
        assert_eq!((read[1].as_str(), read[2].as_str()), ("07700 900101", "maren@oakhollow.example"));
    }

    // vCard 2.1 as telephones write it: bare types, quoted-printable with a soft line break (RFC 2045, 6.7)
    #[test]
    fn quoted_printable_is_read() {
        let read = card(
            "VERSION:2.1\nFN;CHARSET=UTF-8;ENCODING=QUOTED-PRINTABLE:=C5=BBaneta =\nWierzb=C3=B3wka\nTEL;CELL:07700 900103",
        );
        assert_eq!((read[0].as_str(), read[1].as_str()), ("Żaneta Wierzbówka", "07700 900103"));
    }

    // RFC 6350, 3.3: names of properties and parameters in any case; 6.2.2: N has five parts; 6.3.1: ADR has seven,
    // each a list; 6.7.2: several notes are possible, the first is taken
    #[test]
    fn names_of_properties_are_read_in_any_case_and_parts_in_their_order() {
        let read = card(
            "version:4.0\nn:Stevenson;John;Philip,Paul;Dr.;Jr.,M.D.\ntel;Value=URI;type=Cell:tel:+44-20-7946-0018\n\
             adr;type=home:PO 7;Loft;3 Sluice Lane\\, rear;Netherford;Weirshire;NF1 2AB;United Kingdom\nNote:one\nnote:two",
        );
        assert_eq!(read[0], "John Philip,Paul Stevenson");
        assert_eq!(read[1], "+44-20-7946-0018");
        assert_eq!(read[3], "PO 7\nLoft\n3 Sluice Lane, rear\nNetherford\nWeirshire\nNF1 2AB\nUnited Kingdom");
        assert_eq!(read[4], "one");
    }

    // RFC 6350, 3.2: folded anywhere, also within a word; 5.1: a colon within a quoted parameter is no colon
    #[test]
    fn folded_lines_and_quoted_parameters_are_put_together() {
        let read =
            card("VERSION:4.0\nFN:Żan\n eta\nTEL;X-NOTE=\"a:b;c\";TYPE=cell:0770\n\t0 900103\nEMAIL:a@b.example");
        assert_eq!((read[0].as_str(), read[1].as_str(), read[2].as_str()), ("Żaneta", "07700 900103", "a@b.example"));
    }

    // the same in ISO 8859-1, which the card names: 0xFC is ü
    #[test]
    fn quoted_printable_is_read_in_the_letters_the_card_names() {
        let read =
            card("VERSION:2.1\nN;CHARSET=ISO-8859-1;ENCODING=QUOTED-PRINTABLE:M=FChlrad;J=F6rg\nTEL;CELL:07700 900104");
        assert_eq!(read[0], "Jörg Mühlrad");
    }

    #[test]
    fn letters_in_a_set_nobody_knows_are_refused_by_name_not_spoiled() {
        for (parameters, value, named) in [
            (";CHARSET=X-MILLRACE;ENCODING=QUOTED-PRINTABLE", "=93=FA", "X-MILLRACE"),
            (";ENCODING=QUOTED-PRINTABLE", "M=FCller", "no character set"),
        ] {
            let text = format!("BEGIN:VCARD\r\nVERSION:2.1\r\nFN{parameters}:{value}\r\nEND:VCARD\r\n");
            let why = cards(text.as_bytes()).expect_err(named);
            assert!(why.contains(named) && why.contains("line 3") && why.contains("UTF-8"), "{why}");
        }
    }

    #[test]
    fn many_cards_stand_in_one_file_and_half_a_card_is_refused() {
        let two = "BEGIN:VCARD\nVERSION:4.0\nFN:A\nEND:VCARD\nBEGIN:VCARD\nVERSION:4.0\nFN:B\nEND:VCARD\n";
        let table = cards(two.as_bytes()).unwrap_or_else(|why| panic!("{why}"));
        assert_eq!(table.rows.iter().map(|row| row.line).collect::<Vec<_>>(), [1, 5]);
        assert!(cards(b"BEGIN:VCARD\nFN:A\n").is_err());
        assert!(cards(b"nothing here").is_err());
    }
}
