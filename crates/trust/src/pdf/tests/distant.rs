//! What a rule asks for stands in the dictionary itself: written elsewhere it is one thing to a program that looks it up
//! and another to one that does not. And the flags of the widget, which decide where it is shown at all.

use crate::pdf::{
    PdfJudgement, examine,
    fixture::{Draft, number, stream},
};

fn texts(change: impl FnOnce(&mut Draft)) -> Vec<String> {
    let mut draft = Draft::new();
    change(&mut draft);
    let found = examine(&draft.force_signed());
    assert_eq!(found.judgement, PdfJudgement::CannotJudge);
    found.problems.iter().map(ToString::to_string).collect()
}

fn field(what: &str) -> Vec<String> {
    vec![format!(
        "form is not one signature field with its own widget: {what}"
    )]
}

/// Case 60: `S` of an action, and kinds of annotations, hidden in objects of their own.
#[test]
fn names_of_actions_and_annotations_are_no_references() {
    for (key, value) in [
        ("S", "/Launch"),
        ("S", "/GoTo"),
        ("Type", "/Annot"),
        ("Type", "/Catalog"),
        ("Subtype", "/Widget"),
        ("Subtype", "/XML"),
    ] {
        let text = [format!(
            "`{key}` of a dictionary is not written in it, but in another object"
        )];
        for entries in [
            format!("/A<</{key} 11 0 R>>"),
            format!("/X[[<</Y<</{key} 11 0 R>>>>]]"),
        ] {
            let found = texts(|draft| {
                draft.add(number::INFO, &entries);
                draft.set(number::NEXT, value);
            });
            assert_eq!(found, text, "{entries} {value}");
        }
        let found = texts(|draft| {
            let content = stream(&format!("/{key} 11 0 R"), b"");
            draft.set_bytes(number::CONTENT, content);
            draft.set(number::NEXT, value);
        });
        assert_eq!(found, text, "stream: {key} {value}");
    }
}

/// An object in the trailer is none of those that the rules on objects look at.
#[test]
fn catalogue_and_information_are_objects_of_the_table() {
    for (catalog, info) in [(true, false), (false, true), (true, true)] {
        let mut draft = Draft::new();
        let catalogue = draft
            .text(number::CATALOG)
            .replace("/Type/Catalog", "/Type/Catalog/OpenAction<</S/Launch>>");
        let root = if catalog { catalogue.as_str() } else { "1 0 R" };
        let about = if info { "<</X<</S/Launch>>>>" } else { "9 0 R" };
        draft.trailer = format!("/Root {root}/Info {about}/ID[<00><00>]");
        if catalog {
            draft.objects.remove(&number::CATALOG);
        }
        let found = examine(&draft.force_signed());
        assert_eq!(found.judgement, PdfJudgement::CannotJudge);
        let [problem] = found.problems.as_slice() else {
            panic!("{:?}", found.problems);
        };
        assert!(
            problem
                .to_string()
                .ends_with("the trailer's Root or Info is not a reference"),
            "{problem}"
        );
    }
    let mut draft = Draft::new();
    draft.trailer = "/Root 1 0 R".to_owned();
    draft.objects.remove(&number::INFO);
    assert_eq!(examine(&draft.force_signed()).problems, []);
}

/// Case 59: a widget that is shown on screen and not on paper, or the other way round.
#[test]
fn the_widget_is_shown_on_screen_as_on_paper() {
    let plain = field("the field is no plain signature field");
    for flags in [
        "",
        "/F 0",
        "/F 4",
        "/F 128",
        "/F 134",
        "/F 164",
        "/F 132.0",
        "/F null",
        "/F 11 0 R",
    ] {
        let found = texts(|draft| {
            draft.replace(
                number::FIELD,
                "/Rect[0 0 0 0]/F 132",
                &format!("/Rect[0 0 200 200]{flags}/AP<</N 12 0 R>>"),
            );
            if flags.ends_with('R') {
                draft.set(number::NEXT, "132");
            }
            draft.set_bytes(12, stream("/Subtype/Form", b"1 1 1 rg 0 0 200 200 re f"));
        });
        assert_eq!(found, plain, "{flags}");
    }
}

#[test]
fn arrays_and_numbers_stand_in_their_dictionaries() {
    let moved = |object: u32, key: &str, value: &'static str| {
        texts(|draft| {
            draft.replace(object, &format!("/{key}{value}"), &format!("/{key} 11 0 R"));
            draft.set(number::NEXT, value);
        })
    };
    let none = vec!["no embedded `record.json`: not listed once as associated file".to_owned()];
    let level = vec![
        "document is not certified as final: the signature does not state DocMDP with P = 1"
            .to_owned(),
    ];
    assert_eq!(
        moved(number::FORM, "Fields", "[5 0 R]"),
        field("Fields is no array in the form itself")
    );
    assert_eq!(
        moved(number::FORM, "SigFlags", " 3"),
        field("SigFlags is not 3")
    );
    assert_eq!(moved(number::CATALOG, "AF", "[7 0 R]"), none);
    assert_eq!(
        moved(number::CATALOG, "Names", "[(record.json)7 0 R]"),
        none
    );
    assert_eq!(moved(number::SIGNATURE, "P", " 1"), level);
    let reference = "[<</Type/SigRef/TransformMethod/DocMDP/TransformParams<</Type/TransformParams/P 1/V/1.2>>>>]";
    assert_eq!(moved(number::SIGNATURE, "Reference", reference), level);
    // The annotations of a page, and dictionaries, may be references.
    let mut draft = Draft::new();
    draft.replace(number::PAGE, "[5 0 R]", " 11 0 R");
    draft.set(number::NEXT, "[5 0 R]");
    draft.replace(number::CATALOG, "<</DocMDP 6 0 R>>", " 12 0 R");
    draft.set(12, "<</DocMDP 6 0 R>>");
    assert_eq!(examine(&draft.force_signed()).problems, []);
}

/// The time is a string of either spelling in the signature dictionary.
#[test]
fn the_time_of_signing_stands_in_the_signature_dictionary() {
    let stated = |text: &str| {
        let mut draft = Draft::new();
        draft.replace(
            number::SIGNATURE,
            "/M(D:20260102030405Z)",
            &format!("/M{text}"),
        );
        if text.ends_with('R') {
            draft.set(number::NEXT, "(D:20260102030405Z)");
        }
        examine(&draft.force_signed()).stated_time
    };
    let time = Some("D:20260102030405Z".to_owned());
    assert_eq!(stated("(D:20260102030405Z)"), time);
    assert_eq!(stated("<443A32303236303130323033303430355A>"), time);
    assert_eq!(stated(" 11 0 R"), None);
}
