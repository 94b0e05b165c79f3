//! Fixtures made from bytes.

use lopdf::{Dictionary, Stream};

use super::{Break, Fixture, gap, places};

fn replace(bytes: &mut Vec<u8>, from: &[u8], to: &[u8]) {
    let at = *places(bytes, from).first().expect("these bytes");
    bytes.splice(at..at + from.len(), to.iter().copied());
}

fn digit_in_padding(bytes: &mut [u8]) {
    let (_, close) = gap(bytes).unwrap();
    bytes[close - 2] = b'1';
}

pub(super) const FIXTURES: &[Fixture] = &[
    Fixture {
        rule: "F1",
        what: "cut off behind its first line",
        how: Break::Raw(|bytes| bytes.truncate(9)),
    },
    Fixture {
        rule: "F2",
        what: "another version",
        how: Break::Raw(|bytes| bytes[7] = b'9'),
    },
    Fixture {
        rule: "F3",
        what: "letters in the comment",
        how: Break::Raw(|bytes| bytes[11] = b'x'),
    },
    Fixture {
        rule: "F4",
        what: "a remark at the end",
        how: Break::Bytes(|bytes| bytes.extend(b"\n% a remark\n")),
    },
    Fixture {
        rule: "F4",
        what: "two line ends",
        how: Break::Bytes(|bytes| bytes.extend(b"\n\n")),
    },
    Fixture {
        rule: "F6",
        what: "encryption named",
        how: Break::Bytes(|bytes| {
            let at = places(bytes, b"trailer\n<<").pop().unwrap() + 10;
            bytes.splice(at..at, b"/Encrypt null".iter().copied());
        }),
    },
    Fixture {
        rule: "F7",
        what: "an entry that points elsewhere",
        how: Break::Raw(|bytes| {
            let row = places(bytes, b" 00000 n ").pop().unwrap();
            let place: usize = std::str::from_utf8(&bytes[row - 10..row])
                .unwrap()
                .parse()
                .unwrap();
            bytes[row - 10..row].copy_from_slice(format!("{:010}", place - 1).as_bytes());
        }),
    },
    Fixture {
        rule: "F8",
        what: "the words of a second revision",
        how: Break::Bytes(|bytes| {
            replace(bytes, b"/Marked true", b"/Marked true/Extra (%%EOF)");
        }),
    },
    Fixture {
        rule: "F9",
        what: "a space where a line ends",
        how: Break::Raw(|bytes| replace(bytes, b" 0 obj\n<<", b" 0 obj <<")),
    },
    Fixture {
        rule: "F10",
        what: "a byte more than it says",
        how: Break::Both(
            |document| {
                let stream = Stream::new(Dictionary::new(), b"twelve bytes".to_vec());
                let id = document.add_object(stream);
                document.catalog_mut().unwrap().set("Extra", id);
            },
            |bytes| replace(bytes, b"twelve bytes\nendstream", b"twelve bytes!endstream"),
        ),
    },
    Fixture {
        rule: "F13",
        what: "an odd digit",
        how: Break::Bytes(|bytes| {
            replace(bytes, b"/Marked true", b"/Marked true/Extra <0>");
        }),
    },
    Fixture {
        rule: "G2",
        what: "a byte not covered",
        how: Break::Raw(|bytes| {
            bytes.push(b'\n');
        }),
    },
    Fixture {
        rule: "G3",
        what: "a digit behind the value",
        how: Break::Raw(|bytes| digit_in_padding(bytes)),
    },
];
