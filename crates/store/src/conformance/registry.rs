//! Blades, photos, approvals, settings, keys.

use tangmark_core::Digest;

use super::{TIME, add_blade, key, photo, refused};
use crate::{BladeRow, KeyRow, ObjectKind, PhotoRow, PluginApproval, Store};

pub(super) fn blades(store: &dyn Store) {
    add_blade(store, "yari-2");
    add_blade(store, "katana-1");
    let ids: Vec<String> = store
        .blades()
        .unwrap()
        .into_iter()
        .map(|blade| blade.id)
        .collect();
    assert_eq!(ids, ["katana-1", "yari-2"]);
    assert_eq!(store.blade("yari-2").unwrap().title, "Blade yari-2");
    let again = BladeRow {
        id: "yari-2".to_owned(),
        title: "Other".to_owned(),
        created_at: TIME.to_owned(),
    };
    refused(
        store.add_blade(&again),
        "blade `yari-2` is already in this workshop",
    );
    assert_eq!(store.blade("yari-2").unwrap().title, "Blade yari-2");
    refused(
        store.blade("tanto"),
        "blade `tanto` is not in this workshop",
    );
    refused(
        store.add_blade(&BladeRow {
            id: "A b".to_owned(),
            ..again.clone()
        }),
        "`A b` is not a blade id: 1 to 40 lower-case letters, digits and hyphens are allowed, a letter or digit first",
    );
    refused(
        store.add_blade(&BladeRow {
            id: "c".to_owned(),
            created_at: "today".to_owned(),
            ..again.clone()
        }),
        "created_at is `today`: a UTC time like 2026-11-25T09:30:00Z is allowed",
    );
    refused(
        store.add_blade(&BladeRow {
            id: "c".to_owned(),
            title: String::new(),
            ..again
        }),
        "title `` is empty",
    );
    assert_eq!(store.blades().unwrap().len(), 2);
}

pub(super) fn photos(store: &dyn Store) {
    add_blade(store, "b");
    let mut digests = Vec::new();
    for bytes in [b"photo 2", b"photo 1"] {
        let digest = store.put_object(bytes, ObjectKind::Photo).unwrap();
        digests.push(digest);
        store.add_photo(&photo("b", digest)).unwrap();
    }
    let changed = PhotoRow {
        shows: "point, ura".to_owned(),
        taken_at: None,
        ..photo("b", digests[0])
    };
    store.add_photo(&changed).unwrap();
    assert_eq!(
        store.photos("b").unwrap(),
        [changed.clone(), photo("b", digests[1])]
    );
    refused(
        store.add_photo(&PhotoRow {
            length: 9,
            ..changed.clone()
        }),
        &format!("photo {} is 7 bytes long, not 9", digests[0]),
    );
    let none = Digest::of(b"none");
    refused(
        store.add_photo(&photo("b", none)),
        &format!("object {none} is not kept here"),
    );
    refused(
        store.add_photo(&photo("x", digests[0])),
        "blade `x` is not in this workshop",
    );
    refused(
        store.add_photo(&PhotoRow {
            taken_at: Some("2026".to_owned()),
            ..changed.clone()
        }),
        "taken_at is `2026`: a UTC time like 2026-11-25T09:30:00Z is allowed",
    );
    // Any caption that a record may hold: 400 characters, whichever.
    for shows in [
        "刃".repeat(400),
        "\u{2000b}".repeat(400),
        "a\tb\u{7}".to_owned(),
    ] {
        let row = PhotoRow {
            shows,
            ..changed.clone()
        };
        store.add_photo(&row).unwrap();
        assert_eq!(store.photos("b").unwrap()[0], row);
    }
}

pub(super) fn approvals_and_settings(store: &dyn Store) {
    let approval = |name: &str, bytes: &[u8]| PluginApproval {
        name: name.to_owned(),
        digest: Digest::of(bytes),
        approved_at: TIME.to_owned(),
    };
    store.approve_plugin(&approval("triage", b"2")).unwrap();
    store.approve_plugin(&approval("dimensions", b"1")).unwrap();
    let later = PluginApproval {
        approved_at: "2027-01-01T00:00:00Z".to_owned(),
        ..approval("triage", b"2")
    };
    store.approve_plugin(&later).unwrap();
    assert_eq!(
        store.plugin_approvals().unwrap(),
        [approval("dimensions", b"1"), approval("triage", b"2")]
    );
    assert!(
        store
            .withdraw_approval("triage", &Digest::of(b"2"))
            .unwrap()
    );
    assert!(
        !store
            .withdraw_approval("triage", &Digest::of(b"2"))
            .unwrap()
    );
    assert_eq!(store.plugin_approvals().unwrap().len(), 1);

    assert_eq!(store.setting("name").unwrap(), None);
    store
        .set_setting("name", Some("Invented workshop"))
        .unwrap();
    store.set_setting("name", Some("Other")).unwrap();
    assert_eq!(store.setting("name").unwrap().as_deref(), Some("Other"));
    store.set_setting("name", None).unwrap();
    assert_eq!(store.setting("name").unwrap(), None);
    refused(store.set_setting("", Some("x")), "setting `` is empty");
}

pub(super) fn keys(store: &dyn Store) {
    let first = key("did:key:zFirst", "workshop.pem");
    let later = KeyRow {
        created_at: "2026-12-01T00:00:00Z".to_owned(),
        ..key("did:key:zA", "a.pem")
    };
    store.add_key(&first, b"encrypted").unwrap();
    store.add_key(&first, b"encrypted").unwrap();
    store.add_key(&later, b"other").unwrap();
    assert_eq!(store.keys().unwrap(), [first.clone(), later]);
    assert_eq!(store.key_bytes("did:key:zFirst").unwrap(), b"encrypted");
    refused(
        store.key_bytes("did:key:zNone"),
        "key `did:key:zNone` is not in this workshop",
    );
    refused(
        store.add_key(&key("did:key:zB", "workshop.pem"), b"encrypted"),
        "key file name `workshop.pem` belongs to another key already",
    );
    refused(
        store.add_key(&key("did:key:zA", "b.pem"), b"other"),
        "did `did:key:zA` belongs to another key already",
    );
    refused(
        store.add_key(&first, b"changed"),
        "key file name `workshop.pem` belongs to another key already",
    );
    refused(
        store.add_key(&key("did:key:zC", "../c.pem"), b"c"),
        "`../c.pem` is not a key file name: 1 to 80 letters, digits, `-`, `_` and `.` are allowed, a letter or digit first",
    );
    assert_eq!(store.key_bytes("did:key:zFirst").unwrap(), b"encrypted");
    assert_eq!(store.keys().unwrap().len(), 2);
}
