//! Each rule on the form of a report, with a file that breaks it and no other, and is signed all the same.

use crate::pdf::{
    PdfJudgement, PdfProblem, RECORD_LIMIT, examine,
    fixture::{Draft, RECORD, certificate_of, deflate, force_sign, key, number, stream},
};

/// Signs a changed draft and returns what examining finds, which must be more than nothing.
fn problems(change: impl FnOnce(&mut Draft)) -> Vec<PdfProblem> {
    let mut draft = Draft::new();
    change(&mut draft);
    let found = examine(&draft.force_signed());
    assert_eq!(
        found.judgement,
        PdfJudgement::CannotJudge,
        "{:?}",
        found.problems
    );
    found.problems
}

fn texts(change: impl FnOnce(&mut Draft)) -> Vec<String> {
    problems(change).iter().map(ToString::to_string).collect()
}

#[test]
fn forced_signature_of_the_unchanged_draft_has_no_problem() {
    let found = examine(&Draft::new().force_signed());
    assert_eq!(
        (found.judgement, found.problems),
        (PdfJudgement::Unaltered, vec![])
    );
}

/// Case 60.
#[test]
fn active_content_is_refused_wherever_it_stands() {
    for (object, entries, word) in [
        (
            number::CATALOG,
            "/OpenAction<</S/GoTo/D[3 0 R/Fit]>>",
            "OpenAction",
        ),
        (number::CATALOG, "/URI<</Base(x)>>", "URI"),
        (number::PAGE, "/AA<<>>", "AA"),
        (number::FORM, "/XFA[]", "XFA"),
        (number::INFO, "/X<</S/Launch>>", "Launch"),
        (number::INFO, "/X[[<</S/SubmitForm>>]]", "SubmitForm"),
        (number::INFO, "/X<</J#53(app.alert\\(1\\))>>", "JS"),
        (number::FILE, "/X<</S/GoToR>>", "GoToR"),
        (number::PAGE, "/Trans<</D 1>>", "Trans"),
        (number::PAGE, "/Dur 1", "Dur"),
        (number::PAGE, "/PresSteps<<>>", "PresSteps"),
        (number::FIELD, "/AA<<>>", "AA"),
        (number::SIGNATURE, "/URI(x)", "URI"),
    ] {
        assert_eq!(
            texts(|draft| draft.add(object, entries)),
            [format!("active content: `{word}`")]
        );
    }
    let script = texts(|draft| draft.add(number::INFO, "/X<</S/JavaScript/JS(x)>>"));
    assert_eq!(
        script,
        ["active content: `JS`", "active content: `JavaScript`"]
    );
    let names = texts(|draft| draft.add(number::INFO, "/X<</JavaScript<</Names[]>>>>"));
    assert_eq!(names, ["active content: `JavaScript`"]);
}

/// Case 59: layers.
#[test]
fn hidden_layers_are_refused() {
    let text = |word: &str| vec![format!("content that can be shown or hidden: `{word}`")];
    for (object, entries, word) in [
        (number::CATALOG, "/OCProperties<<>>", "OCProperties"),
        (number::PAGE, "/OC null", "OC"),
        (number::PAGE, "/X<</Type/OCG/Name(hidden)>>", "OCG"),
        (number::PAGE, "/X<</Type/OCMD>>", "OCMD"),
    ] {
        assert_eq!(texts(|draft| draft.add(object, entries)), text(word));
    }
}

#[test]
fn content_from_elsewhere_is_refused() {
    let text = |word: &str| {
        vec![format!(
            "content from outside the file or exchanged for printing: `{word}`"
        )]
    };
    for entries in [
        "/F(http:x)",
        "/FFilter/FlateDecode",
        "/FDecodeParms<<>>",
        "/Ref<<>>",
    ] {
        let word = entries
            .trim_start_matches('/')
            .split(['(', '/', '<'])
            .next()
            .unwrap();
        let content = stream(entries, b"");
        assert_eq!(
            texts(|draft| draft.set_bytes(number::CONTENT, content)),
            text(word)
        );
    }
    for word in ["Alternates", "OPI", "PieceInfo", "Thumb"] {
        let entries = format!("/X<</{word}<<>>>>");
        assert_eq!(texts(|draft| draft.add(number::INFO, &entries)), text(word));
    }
    assert_eq!(
        texts(|draft| draft.add(number::INFO, "/X<</Type/Filespec/F(x)>>")),
        text("Filespec")
    );
}

#[test]
fn unknown_entries_of_the_catalogue_are_refused() {
    let found = texts(|draft| draft.add(number::CATALOG, "/Collection<<>>"));
    assert_eq!(found, ["catalogue entry that no report has: `Collection`"]);
    for key in ["Threads", "PageLabels", "PageLayout", "Extensions", "DSS"] {
        let found = texts(|draft| draft.add(number::CATALOG, &format!("/{key}[]")));
        assert_eq!(
            found,
            [format!("catalogue entry that no report has: `{key}`")]
        );
    }
}

/// Case 59: a page in waiting.
#[test]
fn objects_that_belong_to_nothing_and_objects_that_are_missing_are_refused() {
    let found = texts(|draft| draft.set(number::NEXT, "<</Type/Page>>"));
    assert_eq!(found, ["object 11 belongs to nothing in the document"]);
    let found = texts(|draft| {
        draft.set(number::NEXT, "<</X 13 0 R>>");
        draft.set(13, "<</X 11 0 R>>");
    });
    assert_eq!(found.len(), 2, "{found:?}");
    let found = texts(|draft| draft.add(number::INFO, "/X 77 0 R"));
    assert_eq!(found, ["object 77 is named, but missing"]);
}

#[test]
fn packed_objects_are_refused() {
    let found = texts(|draft| {
        draft.add(number::INFO, "/X 11 0 R");
        draft
            .objects
            .insert(number::NEXT, stream("/Type/ObjStm/N 0/First 0", b""));
    });
    assert_eq!(found, ["objects packed into stream 11"]);
}

/// Readers disagree about the rarer ways of packing, and about parameters.
#[test]
fn streams_packed_in_other_ways_are_refused() {
    let packed = |entries: &str| {
        let content = stream(entries, b"");
        texts(|draft| draft.set_bytes(number::CONTENT, content))
    };
    let text = ["stream 4 is packed in another way than FlateDecode or DCTDecode"];
    for entries in [
        "/Filter/LZWDecode",
        "/Filter/Crypt",
        "/Filter[/FlateDecode]",
        "/Filter[/ASCII85Decode/FlateDecode]",
        "/Filter null",
        "/Filter 9 0 R",
        "/Filter/FlateDecode/DecodeParms<</Predictor 12>>",
    ] {
        assert_eq!(packed(entries), text, "{entries}");
    }
    for entries in ["/Filter/FlateDecode", "/Filter/DCTDecode", ""] {
        let mut draft = Draft::new();
        draft.set_bytes(number::CONTENT, stream(entries, b""));
        assert_eq!(examine(&draft.force_signed()).problems, [], "{entries}");
    }
}

#[test]
fn annotations_other_than_the_widget_are_refused() {
    let text = ["annotation other than the signature's widget on a page"];
    let found = texts(|draft| {
        draft.replace(
            number::PAGE,
            "[5 0 R]",
            "[5 0 R<</Subtype/Link/Rect[0 0 9 9]>>]",
        );
    });
    assert_eq!(found, text);
    let found = texts(|draft| {
        draft.replace(number::PAGE, "[5 0 R]", "[5 0 R 11 0 R]");
        draft.set(
            number::NEXT,
            "<</Type/Annot/Subtype/FreeText/Rect[0 0 9 9]/DA()/Contents(no cracks)>>",
        );
    });
    assert_eq!(found, text);
    let found = texts(|draft| draft.add(number::INFO, "/X<</Type/Annot/Subtype/Stamp>>"));
    assert_eq!(found, text);
    // What is no list shows nothing to one program and perhaps something to another.
    for entries in [
        "/X<</Annots 9 0 R>>",
        "/X<</Annots<<>>>>",
        "/X<</Annots null>>",
    ] {
        let found = texts(|draft| draft.add(number::INFO, entries));
        assert_eq!(found, text, "{entries}");
    }
}

/// Case 59: a field whose appearance hides the page.
#[test]
fn form_is_exactly_one_plain_signature_field() {
    let one = |what: &str| {
        vec![format!(
            "form is not one signature field with its own widget: {what}"
        )]
    };
    let found = texts(|draft| draft.add(number::FORM, "/NeedAppearances true"));
    assert_eq!(
        found,
        one("the form has other entries than Fields and SigFlags")
    );
    let found = texts(|draft| draft.replace(number::FORM, "SigFlags 3", "SigFlags 1"));
    assert_eq!(found, one("SigFlags is not 3"));
    let found = texts(|draft| draft.replace(number::PAGE, "[5 0 R]", "[5 0 R 5 0 R]"));
    assert_eq!(found, one("the widget is not on exactly one page"));
    let plain = one("the field is no plain signature field");
    for entries in [
        "/A<<>>",
        "/Kids[]",
        "/Lock<<>>",
        "/SV<<>>",
        "/MK<<>>",
        "/AS/On",
        "/AP 1",
        "/AP<<>>",
        "/AP<</N<<>>>>",
        "/AP<</N<</On 4 0 R>>>>",
        "/AP<</N 9 0 R>>",
        "/AP<</N 4 0 R/D 4 0 R>>",
        "/AP<</N 4 0 R/R 4 0 R>>",
    ] {
        let found = texts(|draft| draft.add(number::FIELD, entries));
        assert_eq!(found, plain, "{entries}");
    }
    let mut dressed = Draft::new();
    dressed.add(
        number::FIELD,
        "/AP<</N 4 0 R>>/TU(Signature)/StructParent 1",
    );
    assert_eq!(examine(&dressed.force_signed()).problems, []);
    let found = texts(|draft| draft.replace(number::FIELD, "/FT/Sig", "/FT/Tx"));
    assert_eq!(found, one("the field is no plain signature field"));
    let found = texts(|draft| draft.replace(number::FORM, "[5 0 R]", "[5 0 R<</FT/Tx/T(x)>>]"));
    assert!(
        found.contains(&one("not exactly one field")[0]),
        "{found:?}"
    );
    let found = texts(|draft| draft.replace(number::FIELD, "/V 6 0 R", "/TU 6 0 R"));
    assert_eq!(found, one("the field has no signature"));
}

#[test]
fn second_signature_dictionary_is_refused() {
    let found = texts(|draft| draft.add(number::INFO, "/X<</Type/Sig/Contents<00>>>"));
    assert_eq!(found, ["2 signature dictionaries, 1 allowed"]);
    let found = texts(|draft| draft.add(number::INFO, "/X<</ByteRange[0 1 2 3]>>"));
    assert_eq!(found, ["2 signature dictionaries, 1 allowed"]);
}

#[test]
fn signature_of_another_kind_is_refused() {
    for (old, new) in [
        ("/Filter/Adobe.PPKLite", "/Filter/Other"),
        ("/ETSI.CAdES.detached", "/adbe.pkcs7.detached"),
        ("<</Type/Sig/F", "<</Type/DocTimeStamp/F"),
        ("<</Type/Sig/F", "<</Type/Sig/Reason(flawless)/F"),
        ("<</Type/Sig/F", "<</Type/Sig/Prop_Build<<>>/F"),
        ("<</Type/Sig/F", "<</Type/Sig/Changes[0 0 0]/F"),
    ] {
        let mut draft = Draft::new();
        draft.replace(number::SIGNATURE, old, new);
        let found = examine(&draft.force_signed());
        assert_eq!(found.problems, [PdfProblem::SignatureKind]);
        assert_eq!(found.judgement, PdfJudgement::CannotJudge);
    }
}

#[test]
fn document_not_certified_as_final_is_refused() {
    let perms = "document is not certified as final: the catalogue does not name this signature, and it alone, in Perms";
    let found = texts(|draft| draft.replace(number::CATALOG, "/Perms<</DocMDP 6 0 R>>", ""));
    assert_eq!(found, [perms]);
    let found = texts(|draft| draft.replace(number::CATALOG, "/DocMDP 6 0 R", "/DocMDP 5 0 R"));
    assert_eq!(found, [perms]);
    let found =
        texts(|draft| draft.replace(number::CATALOG, "/DocMDP 6 0 R", "/DocMDP 6 0 R/UR3 6 0 R"));
    assert_eq!(found, [perms]);
    let level =
        "document is not certified as final: the signature does not state DocMDP with P = 1";
    for (old, new) in [
        ("/P 1", "/P 2"),
        ("/P 1", ""),
        ("/TransformMethod/DocMDP", "/TransformMethod/UR3"),
    ] {
        let found = texts(|draft| draft.replace(number::SIGNATURE, old, new));
        assert_eq!(found, [level]);
    }
}

#[test]
fn record_is_the_one_attachment() {
    let none = |what: &str| vec![format!("no embedded `record.json`: {what}")];
    let other =
        ["embedded file other than `record.json`, `disclosures.json` and `key-history.json`"];
    let catalog = |old: &'static str, new: &'static str| {
        texts(move |draft| draft.replace(number::CATALOG, old, new))
    };
    assert_eq!(
        catalog("/AF[7 0 R]", ""),
        none("not listed once as associated file")
    );
    assert_eq!(
        catalog("(record.json)", "(notes.json)"),
        none("the embedded file has another name")
    );
    assert_eq!(
        catalog("(record.json)7 0 R", "(record.json)7 0 R(x)7 0 R"),
        other
    );
    assert_eq!(catalog("/AF[7 0 R]", "/AF[7 0 R 7 0 R]"), other);
    assert_eq!(
        catalog(
            "/Names[(record.json)7 0 R]",
            "/Names[(record.json)7 0 R]/Kids[]"
        ),
        other
    );
    assert_eq!(
        catalog("/AF[7 0 R]", "/AF[9 0 R]"),
        none("the associated file is another one than the embedded file")
    );
    let found = texts(|draft| draft.replace(number::FILE, "/F(record.json)", "/F(record.jsom)"));
    assert_eq!(found, none("the embedded file has another name"));
    let found = texts(|draft| {
        draft.replace(number::FILE, "/UF 8 0 R", "/UF 11 0 R");
        draft
            .objects
            .insert(number::NEXT, stream("/Type/EmbeddedFile", b"{}"));
    });
    assert_eq!(found, other);
    let found = texts(|draft| {
        draft.add(number::INFO, "/X<</Type/Filespec/F(x)/EF<</F 11 0 R>>>>");
        draft
            .objects
            .insert(number::NEXT, stream("/Type/EmbeddedFile", b"{}"));
    });
    assert_eq!(found, other);
}

#[test]
fn record_is_unpacked_within_limits() {
    let with = |entries: &str, bytes: &[u8]| {
        let record = stream(entries, bytes);
        problems(|draft| draft.set_bytes(number::RECORD, record))
    };
    let unreadable = PdfProblem::EmbeddedUnreadable {
        name: "record.json",
    };
    let flate = "/Filter/FlateDecode";
    let packed = deflate(RECORD);
    assert_eq!(
        with(flate, &packed[..packed.len() - 3]),
        std::slice::from_ref(&unreadable)
    );
    assert_eq!(
        with(flate, &[packed.as_slice(), b"{}"].concat()),
        std::slice::from_ref(&unreadable)
    );
    assert_eq!(with(flate, b"no zlib"), std::slice::from_ref(&unreadable));
    // What readers unpack in ways of their own is refused in every stream.
    let refused = [PdfProblem::Packing(number::RECORD), unreadable.clone()];
    assert_eq!(with("/Filter/LZWDecode", b""), refused);
    assert_eq!(with("/Filter[/FlateDecode]", &packed), refused);
    assert_eq!(
        with("/Filter[/FlateDecode/FlateDecode]", &deflate(&packed)),
        refused
    );
    assert_eq!(
        with("/Filter/FlateDecode/DecodeParms<<>>", &packed)[..1],
        refused[..1]
    );
    assert_eq!(with("/Filter/DCTDecode", RECORD), [unreadable]);
    let bomb = deflate(&vec![b' '; RECORD_LIMIT + 1]);
    assert!(bomb.len() < 20_000);
    let found = with(flate, &bomb);
    assert_eq!(
        found,
        [PdfProblem::EmbeddedTooLarge {
            name: "record.json"
        }]
    );
    assert_eq!(
        found[0].to_string(),
        "embedded `record.json`: more than 16777216 bytes, which is the most allowed"
    );
}

#[test]
fn file_that_is_not_of_the_plain_form_is_not_read() {
    let unreadable = |change: &dyn Fn(&mut Vec<u8>)| {
        let mut bytes = Draft::new().write();
        change(&mut bytes);
        let found = examine(&force_sign(bytes, &key(), &certificate_of(&key())));
        assert_eq!(found.judgement, PdfJudgement::CannotJudge);
        match found.problems.as_slice() {
            [PdfProblem::Unreadable { what, .. }] => *what,
            other => panic!("{other:?}"),
        }
    };
    let replace = |old: &'static str, new: &'static str| {
        move |bytes: &mut Vec<u8>| {
            let place = crate::pdf::fixture::find(bytes, old.as_bytes());
            bytes.splice(place..place + old.len(), new.bytes());
        }
    };
    // The same length, so that the offsets in the table stay right.
    for (old, new, what) in [
        (
            "%PDF-1.7",
            "%PDF-2.0",
            "the file does not begin with the line `%PDF-1.7`",
        ),
        (
            "%PDF-1.7\n%",
            "%PDF-1.7\nx",
            "bytes that belong to no object of the cross-reference table",
        ),
        (
            "\nendobj\n4 0 obj",
            " endobj\n4 0 Obj",
            "the object's number or generation differs from the cross-reference table",
        ),
        (
            "\nendobj\n5 0 obj",
            "\nendobj\n6 0 obj",
            "the object's number or generation differs from the cross-reference table",
        ),
        (
            "/Size 11",
            "/Size 10",
            "the trailer's Size is not above every object number",
        ),
        (
            "/Info 9 0 R",
            "/Prev 9 0 R",
            "the trailer names an earlier revision",
        ),
        (
            "/Info 9 0 R",
            "/XRefStm 900",
            "the trailer has other keys than Size, Root, Info and ID",
        ),
        (
            "/Length 31",
            "/Length 30",
            "a stream does not end where its Length says",
        ),
        (
            "/Length 31",
            "/Length 99",
            "a stream does not end where its Length says",
        ),
        (
            "/Length 31",
            "/Lengtx 31",
            "a stream whose Length is not written in its dictionary",
        ),
        (
            "/Title(Report)",
            "/T 1/T(Report)",
            "the same key twice in a dictionary",
        ),
        (
            "0000000000 65535 f",
            "0000000000 65535 n",
            "cross-reference entry of another form than `offset 00000 n`, or one for a deleted object",
        ),
        (
            "xref\n0 11",
            "xref\n1 10",
            "cross-reference sections out of order or malformed",
        ),
        (
            "trailer\n",
            "trailex\n",
            "`trailer` was expected after the cross-reference table",
        ),
        ("%%EOF", "%%EOX", "the file does not end with `%%EOF`"),
        ("%%EOF", "%%EOF\n\n", "the file does not end with `%%EOF`"),
    ] {
        if old == "/Length 31" {
            assert!(Draft::new().text(number::CONTENT).contains(old));
        }
        assert_eq!(unreadable(&replace(old, new)), what, "{old} -> {new}");
    }
    let hidden = |bytes: &mut Vec<u8>| {
        let table = crate::pdf::fixture::find(bytes, b"xref\n0 ");
        let text = String::from_utf8_lossy(&bytes[table..]).replace(
            &format!("startxref\n{table}"),
            &format!("startxref\n{}", table + 12),
        );
        bytes.truncate(table);
        bytes.extend(b"%hidden 1 2\n");
        bytes.extend(text.bytes());
    };
    assert_eq!(
        unreadable(&hidden),
        "bytes that belong to no object of the cross-reference table"
    );
}
