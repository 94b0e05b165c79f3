//! Objects by their digest.

use std::io;

use tangmark_core::Digest;

use super::{add_blade, record_bytes, refused};
use crate::{ObjectKind, Store};

pub(super) fn objects(store: &dyn Store) {
    let photo = vec![0xff; 300_000];
    let digest = store.put_object(&photo, ObjectKind::Photo).unwrap();
    assert_eq!(digest, Digest::of(&photo));
    assert_eq!(
        store.put_object(&photo, ObjectKind::Document).unwrap(),
        digest
    );
    assert_eq!(store.object(&digest).unwrap(), photo);
    let row = store.object_row(&digest).unwrap().unwrap();
    assert_eq!((row.kind, row.length), (ObjectKind::Photo, 300_000));
    let empty = store.put_object(b"", ObjectKind::Document).unwrap();
    assert_eq!(store.object(&empty).unwrap(), b"");
    let other = Digest::of(b"other");
    refused(
        store.object(&other),
        &format!("object {other} is not kept here"),
    );
    assert_eq!(store.object_row(&other).unwrap(), None);
    for kind in [ObjectKind::Record, ObjectKind::Link] {
        refused(
            store.put_object(b"x", kind),
            &format!("an object of kind `{kind}` cannot be put in by itself"),
        );
    }
}

pub(super) fn object_reader_fails(store: &dyn Store) {
    struct Broken(usize);
    impl io::Read for Broken {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            self.0 += 1;
            match self.0 {
                1 => Err(io::ErrorKind::Interrupted.into()),
                2 => {
                    into[..3].copy_from_slice(b"abc");
                    Ok(3)
                }
                _ => Err(io::Error::other("the card was pulled out")),
            }
        }
    }
    refused(
        store.put_object_from_reader(&mut Broken(0), ObjectKind::Photo),
        "cannot read the input after 3 bytes",
    );
    assert_eq!(store.object_row(&Digest::of(b"abc")).unwrap(), None);
    let report = store.check(&mut |_| {}).unwrap();
    assert!(
        report.is_sound() && report.notices.is_empty() && report.objects == 0,
        "{report:?}"
    );
}

pub(super) fn records_enter_by_one_door(store: &dyn Store) {
    add_blade(store, "b");
    let bytes = record_bytes("b", 1, None, "");
    for kind in [
        ObjectKind::Document,
        ObjectKind::Photo,
        ObjectKind::Disclosures,
    ] {
        refused(
            store.put_object(&bytes, kind),
            "an object of kind `record` cannot be put in by itself: these bytes are one",
        );
    }
    assert_eq!(store.object_row(&Digest::of(&bytes)).unwrap(), None);
    // Other JSON is welcome.
    store
        .put_object(br#"{"disclosures":[]}"#, ObjectKind::Disclosures)
        .unwrap();
}
