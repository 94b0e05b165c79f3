#![allow(clippy::unwrap_used, clippy::expect_used)]

use serde_json::json;
use tangmark_core::json::canonical_bytes;

use super::*;

const RULES: &[WithholdRule] = &[
    WithholdRule {
        object: "",
        properties: &["valuation"],
    },
    WithholdRule {
        object: "/custody/*",
        properties: &["price", "number"],
    },
    WithholdRule {
        object: "/custody/*/from",
        properties: &["address", "contact", "name"],
    },
    WithholdRule {
        object: "/valuation/by",
        properties: &["name"],
    },
];

/// Bytes that never repeat; in real life they come from the system.
fn counter() -> impl FnMut(&mut [u8]) {
    let mut count = 0_u64;
    move |bytes| {
        for chunk in bytes.chunks_mut(32) {
            count += 1;
            chunk.copy_from_slice(&Sha256::digest(count.to_be_bytes())[..chunk.len()]);
        }
    }
}

fn record() -> Value {
    json!({
        "blade": {"kind": "tanto"},
        "custody": [
            {"kind": "received", "from": {"role": "owner", "name": "Anna Kettle", "address": "1 Mill Lane"}},
            {"kind": "sold", "price": {"amount": "1200.00", "currency": "EUR"}, "number": "A 17", "from": {"role": "seller"}},
        ],
        "valuation": {"amount": "1500.00", "by": {"name": "Bertil Rasp", "role": "appraiser"}},
    })
}

fn withheld() -> (Value, Vec<Disclosure>) {
    withhold(&record(), RULES, counter()).unwrap()
}

fn refused(public: &Value, disclosures: &[Disclosure]) -> String {
    reveal(public, disclosures, RULES).unwrap_err().to_string()
}

/// A disclosure of any content.
fn disclosure(path: &str, content: &str) -> Disclosure {
    Disclosure {
        path: path.to_owned(),
        disclosure: URL_SAFE_NO_PAD.encode(content),
    }
}

/// Puts the digest of a disclosure in place of a decoy, as only a dishonest issuer does.
fn plant(public: &mut Value, object: &str, disclosure: &Disclosure, known: &[Disclosure]) {
    let digests = public.pointer_mut(object).unwrap()[DIGESTS]
        .as_array_mut()
        .unwrap();
    let decoy = digests
        .iter()
        .position(|digest| known.iter().all(|known| *digest != known.digest()))
        .unwrap();
    digests[decoy] = json!(disclosure.digest());
    digests.sort_by(|left, right| left.as_str().cmp(&right.as_str()));
}

const SALT: &str = "AQEBAQEBAQEBAQEBAQEBAQ";

#[test]
fn published_digest_is_reproduced() {
    // RFC 9901, 4.2.1 and 4.2.3 (both texts from memory; the digest agrees with the disclosure).
    let published = Disclosure {
        path: "/family_name".to_owned(),
        disclosure: "WyJfMjZiYzRMVC1hYzZxMktJNmNCVzVlcyIsICJmYW1pbHlfbmFtZSIsICJNw7ZiaXVzIl0"
            .to_owned(),
    };
    assert_eq!(
        published.digest(),
        "X9yH0Ajrdm1Oij4tWso9UzzKJvPoDxwmuEcO3XAdRC0"
    );
    let array = URL_SAFE_NO_PAD.decode(&published.disclosure).unwrap();
    assert_eq!(
        std::str::from_utf8(&array).unwrap(),
        r#"["_26bc4LT-ac6q2KI6cBW5es", "family_name", "Möbius"]"#
    );
    // Its salt of 23 characters is not the 16 bytes that ours have.
    assert_eq!(
        published.open(1).unwrap_err().to_string(),
        "disclosure 1: its salt is not the base64url of 16 bytes"
    );
}

#[test]
fn withheld_values_leave_digests_of_a_fixed_number() {
    let (public, disclosures) = withheld();
    let paths: Vec<&str> = disclosures
        .iter()
        .map(|disclosure| disclosure.path.as_str())
        .collect();
    assert_eq!(
        paths,
        [
            "/custody/0/from/address",
            "/custody/0/from/name",
            "/custody/1/number",
            "/custody/1/price",
            "/valuation/by/name",
            "/valuation"
        ]
    );
    assert_eq!(public[ALGORITHM], "sha-256");
    for (object, count) in [
        ("", 1),
        ("/custody/0", 2),
        ("/custody/1", 2),
        ("/custody/0/from", 3),
        ("/custody/1/from", 3),
    ] {
        let digests = public.pointer(object).unwrap()[DIGESTS].as_array().unwrap();
        assert_eq!(digests.len(), count, "{object}");
        assert!(digests.is_sorted_by_key(|digest| digest.as_str().unwrap()));
        assert!(
            digests
                .iter()
                .all(|digest| digest.as_str().unwrap().len() == 43)
        );
    }
    assert_eq!(public["blade"], record()["blade"]);
    assert_eq!(withheld(), (public, disclosures));
}

#[test]
fn every_subset_of_disclosures_reveals_exactly_its_values() {
    let (public, all) = withheld();
    for chosen in 0..1_u32 << all.len() {
        let given: Vec<Disclosure> = all
            .iter()
            .enumerate()
            .filter(|(index, _)| chosen >> index & 1 == 1)
            .map(|(_, disclosure)| disclosure.clone())
            .collect();
        // The appraiser's name lies inside the valuation: it has no place while that is withheld.
        let has = |path: &str| given.iter().any(|disclosure| disclosure.path == path);
        if has("/valuation/by/name") && !has("/valuation") {
            assert!(refused(&public, &given).contains("the record has no digest of it"));
            continue;
        }
        let (revealed, left) = reveal(&public, &given, RULES).unwrap();
        for disclosure in &all {
            let shown = revealed.pointer(&disclosure.path).is_some();
            assert_eq!(
                shown,
                has(&disclosure.path),
                "{} of {chosen:b}",
                disclosure.path
            );
        }
        let text = revealed.to_string();
        assert!(!text.contains(DIGESTS) && !text.contains(ALGORITHM));
        if given.len() == all.len() {
            assert_eq!(revealed, record());
        }
        assert!(
            left.iter()
                .all(|withheld| withheld.at_most > 0
                    && withheld.at_most <= withheld.properties.len())
        );
    }
}

#[test]
fn case_41_altered_unreferenced_duplicated_and_repeated_are_refused() {
    let (public, all) = withheld();
    let mut altered = all.clone();
    altered[3] = disclosure(
        "/custody/1/price",
        &format!("[\"{SALT}\",\"price\",\"900\"]"),
    );
    let unreferenced =
        "the record has no digest of it, so it was altered or belongs to another record";
    assert_eq!(
        refused(&public, &altered),
        format!("disclosure 4: {unreferenced}")
    );
    assert_eq!(
        refused(&public, &[all.clone(), vec![altered[3].clone()]].concat()),
        format!("disclosure 7: {unreferenced}")
    );
    assert_eq!(
        refused(&public, &[all.clone(), vec![all[2].clone()]].concat()),
        "disclosure 7: given twice"
    );
    assert_eq!(
        refused(&record(), &all[..1]),
        format!("disclosure 1: {unreferenced}")
    );

    // One digest in two places.
    let mut repeated = public.clone();
    repeated["custody"][0][DIGESTS] = public["custody"][1][DIGESTS].clone();
    assert_eq!(
        refused(&repeated, &[]),
        "/custody/1/_sd: a digest that stands in the record twice"
    );
    let mut twice = public.clone();
    twice["custody"][1][DIGESTS][1] = public["custody"][1][DIGESTS][0].clone();
    assert_eq!(
        refused(&twice, &[]),
        "/custody/1/_sd: a digest that stands in the record twice"
    );

    let mut elsewhere = all.clone();
    elsewhere[0].path = "/custody/1/from/address".to_owned();
    assert_eq!(
        refused(&public, &elsewhere),
        "disclosure 1: says it belongs at `/custody/1/from/address`, the record has its digest at `/custody/0/from/address`"
    );
}

#[test]
fn every_flipped_bit_of_a_disclosure_is_refused() {
    let (public, all) = withheld();
    let text = &all[3].disclosure;
    for index in 0..text.len() {
        for bit in 0..7 {
            let mut bytes = text.clone().into_bytes();
            bytes[index] ^= 1 << bit;
            let mut given = all.clone();
            given[3].disclosure = String::from_utf8(bytes).unwrap();
            assert!(
                reveal(&public, &given, RULES).is_err(),
                "byte {index}, bit {bit}"
            );
        }
    }
}

#[test]
fn case_42_reserved_and_shadowing_names_are_refused() {
    let (public, all) = withheld();
    for name in ["_sd", "...", "_sd_alg"] {
        let planted = disclosure("/custody/0/_sd", &format!("[\"{SALT}\",\"{name}\",\"x\"]"));
        assert_eq!(
            refused(&public, &[planted]),
            "disclosure 1: it has a name that is reserved: `_sd`, `_sd_alg` or `...`"
        );
    }
    // A value in clear and one withheld under the same name: the record would show two prices.
    let planted = disclosure("/custody/0/price", &format!("[\"{SALT}\",\"price\",\"1\"]"));
    let mut shadowed = public.clone();
    plant(&mut shadowed, "/custody/0", &planted, &all);
    assert!(reveal(&shadowed, std::slice::from_ref(&planted), RULES).is_ok());
    shadowed["custody"][0]["price"] = json!("2");
    assert_eq!(
        refused(&shadowed, &[planted]),
        "disclosure 1: the record shows a value at `/custody/0/price` already"
    );
    // Not on the closed list: a flaw hidden behind a digest.
    let planted = disclosure("/custody/0/flaws", &format!("[\"{SALT}\",\"flaws\",[]]"));
    let mut hidden = public.clone();
    plant(&mut hidden, "/custody/0", &planted, &all);
    assert_eq!(
        refused(&hidden, &[planted]),
        "disclosure 1: `/custody/0/flaws` is no value that can be withheld"
    );
}

#[test]
fn case_43_a_disclosure_of_another_record_is_refused() {
    let (public, all) = withheld();
    let mut other_bytes = counter();
    (0..100).for_each(|_| other_bytes(&mut [0; 32]));
    let (other, theirs) = withhold(&record(), RULES, other_bytes).unwrap();
    assert!(reveal(&other, &theirs, RULES).is_ok());
    let mut pasted = all;
    pasted[3] = theirs[3].clone();
    let error = reveal(&public, &pasted, RULES).unwrap_err();
    assert_eq!(error, DisclosureError::Unreferenced { number: 4 });
    assert!(error.hint().is_some());
}

#[test]
fn case_44_salts_missing_short_or_reused_are_refused() {
    // When withholding.
    for mut source in [
        Box::new(|bytes: &mut [u8]| bytes.fill(7)) as Box<dyn FnMut(&mut [u8])>,
        Box::new(|_: &mut [u8]| {}),
    ] {
        let error = withhold(&record(), RULES, &mut source).unwrap_err();
        assert_eq!(
            error.to_string(),
            "salt: the source of random bytes repeats itself or gives zeros; every salt must be new"
        );
    }
    // When reading.
    let (public, _) = withheld();
    for (content, problem) in [
        (
            "[\"price\",\"1\"]".to_owned(),
            "its array has not the three members salt, name and value",
        ),
        (
            "[\"\",\"price\",\"1\"]".to_owned(),
            "its salt is not the base64url of 16 bytes",
        ),
        (
            "[\"AQEB\",\"price\",\"1\"]".to_owned(),
            "its salt is not the base64url of 16 bytes",
        ),
        (
            "[5,\"price\",\"1\"]".to_owned(),
            "its salt or name is no text",
        ),
        (
            format!("[\"{SALT}\",\"price\",\"1\",\"2\"]"),
            "its array has not the three members salt, name and value",
        ),
        ("{}".to_owned(), "it holds no array of salt, name and value"),
        (
            format!("[\"{SALT}\",\"price\",1.5]"),
            "it holds no strict JSON",
        ),
        (
            format!("[\"{SALT}\",\"price\",{{\"a\":1,\"a\":2}}]"),
            "it holds no strict JSON",
        ),
    ] {
        assert_eq!(
            refused(&public, &[disclosure("/custody/0/price", &content)]),
            format!("disclosure 1: {problem}")
        );
    }
    let padded = Disclosure {
        path: String::new(),
        disclosure: "WyJ=".to_owned(),
    };
    assert_eq!(
        refused(&public, &[padded]),
        "disclosure 1: it is not base64url without padding"
    );
    let same = ["1", "2"].map(|value| {
        disclosure(
            "/custody/0/price",
            &format!("[\"{SALT}\",\"price\",\"{value}\"]"),
        )
    });
    assert_eq!(
        refused(&public, &same),
        "disclosure 2: its salt is that of an earlier one, every salt must be new"
    );
}

#[test]
fn case_45_a_price_cannot_be_guessed_from_its_digest() {
    let rules = &[WithholdRule {
        object: "",
        properties: &["price"],
    }];
    let (public, disclosures) = withhold(&json!({"price": "1200"}), rules, counter()).unwrap();
    let digests = public[DIGESTS].as_array().unwrap();
    let guess = |salt: &str, digests: &[Value]| {
        (0..3000).map(|price| price.to_string()).find(|price| {
            digests.contains(&json!(
                disclosure("/price", &json!([salt, "price", price]).to_string()).digest()
            ))
        })
    };
    // Without a salt, or with one that is known, it takes a moment: so the attack itself works.
    let unsalted = disclosure("/price", &json!(["", "price", "1200"]).to_string()).digest();
    assert_eq!(guess("", &[json!(unsalted)]).as_deref(), Some("1200"));
    let (salt, _, _) = disclosures[0].open(1).unwrap();
    assert_eq!(guess(&salt, digests).as_deref(), Some("1200"));
    // With 128 bits that are not, it finds nothing.
    for salt in ["", SALT, "AAAAAAAAAAAAAAAAAAAAAA"] {
        assert_eq!(guess(salt, digests), None);
    }
}

#[test]
fn case_46_withheld_values_are_nowhere_in_record_or_messages() {
    let (public, all) = withheld();
    let secrets = [
        "Anna",
        "Kettle",
        "Mill Lane",
        "1200",
        "A 17",
        "1500",
        "Bertil",
        "Rasp",
    ];
    let bytes = String::from_utf8(canonical_bytes(&public).unwrap()).unwrap();
    let wrong = refused(&json!({"custody": []}), &all);
    let debug = format!("{all:?}");
    for text in [bytes, wrong, debug] {
        for secret in secrets {
            assert!(!text.contains(secret), "{secret} in {text}");
        }
    }
}

#[test]
fn values_revealed_in_place_leave_the_digests_of_the_others() {
    let mut record = json!({
        "custody": [
            { "price": "1200.00", "number": "A 17" },
            { "number": "A 18" }
        ]
    });
    let (public, all) = withhold(&record, RULES, counter()).unwrap();
    let paths: Vec<&str> = all.iter().map(|one| one.path.as_str()).collect();
    assert_eq!(
        paths,
        ["/custody/0/number", "/custody/0/price", "/custody/1/number"]
    );
    let shown = reveal_in_place(&public, &all[..1], RULES).unwrap();
    // Only the digest of what is shown is gone.
    let mut left = public["custody"][0][DIGESTS].as_array().unwrap().clone();
    assert_eq!(left.len(), 2);
    left.retain(|digest| digest.as_str() != Some(&all[0].digest()));
    assert_eq!(left.len(), 1);
    record["custody"][0] = json!({ "number": "A 17", DIGESTS: left });
    record["custody"][1] = public["custody"][1].clone();
    record[DIGESTS] = public[DIGESTS].clone();
    record[ALGORITHM] = json!(SHA_256);
    assert_eq!(shown, record);
    // No value is shown, nothing changes.
    assert_eq!(reveal_in_place(&public, &[], RULES).unwrap(), public);
}

#[test]
fn case_47_what_stays_withheld_is_listed_as_withheld() {
    let (public, _) = withheld();
    let (revealed, left) = reveal(&public, &[], RULES).unwrap();
    assert_eq!(
        revealed["custody"][1],
        json!({"kind": "sold", "from": {"role": "seller"}})
    );
    let listed: Vec<(&str, usize)> = left
        .iter()
        .map(|withheld| (withheld.path.as_str(), withheld.at_most))
        .collect();
    assert_eq!(
        listed,
        [
            ("", 1),
            ("/custody/0", 2),
            ("/custody/0/from", 3),
            ("/custody/1", 2),
            ("/custody/1/from", 3)
        ]
    );
    assert_eq!(left[1].properties, ["price", "number"]);
}

#[test]
fn digests_that_are_not_as_they_must_be_are_refused() {
    let (public, _) = withheld();
    let with = |change: &dyn Fn(&mut Value)| {
        let mut altered = public.clone();
        change(&mut altered);
        refused(&altered, &[])
    };
    let digest = public["custody"][0][DIGESTS][0].clone();
    assert_eq!(
        with(&|record| record["blade"][DIGESTS] = json!([digest])),
        "/blade/_sd: no value of this object can be withheld"
    );
    assert_eq!(
        with(&|record| record["custody"][0][DIGESTS] = json!([digest])),
        "/custody/0/_sd: 1 digests, exactly 2 allowed"
    );
    assert_eq!(
        with(&|record| record["custody"][0][DIGESTS] = json!({})),
        "/custody/0/_sd: not an array of texts"
    );
    assert_eq!(
        with(&|record| record["custody"][0][DIGESTS] = json!([5, 6])),
        "/custody/0/_sd: not an array of texts"
    );
    assert_eq!(
        with(&|record| record["custody"][0][DIGESTS] = json!(["AA", "BB"])),
        "/custody/0/_sd: a member is not the base64url of a SHA-256 digest (43 characters)"
    );
    assert_eq!(
        with(&|record| record["custody"][0][DIGESTS]
            .as_array_mut()
            .unwrap()
            .reverse()),
        "/custody/0/_sd: not sorted"
    );
    assert_eq!(
        with(&|record| record[ALGORITHM] = json!("sha-512")),
        "_sd_alg: `sha-256` allowed, found something else"
    );
    assert_eq!(
        with(&|record| {
            record.as_object_mut().unwrap().remove(ALGORITHM);
        }),
        "_sd_alg: missing, `sha-256` allowed"
    );
    assert_eq!(
        with(&|record| record["blade"][ALGORITHM] = json!("sha-256")),
        "/blade/_sd_alg: a reserved name, not allowed here"
    );
    assert_eq!(
        with(&|record| record["custody"][0]["kind"] = json!({ELEMENT: digest})),
        "/custody/0/kind/...: a reserved name, not allowed here"
    );
}

#[test]
fn withholding_twice_or_by_two_rules_is_refused() {
    let (public, _) = withheld();
    assert_eq!(
        withhold(&public, RULES, counter()).unwrap_err().to_string(),
        "/_sd: there already, a record without withheld values allowed"
    );
    let rules = [
        WithholdRule {
            object: "/custody/*",
            properties: &["price"],
        },
        WithholdRule {
            object: "/custody/0",
            properties: &["number"],
        },
    ];
    assert_eq!(
        withhold(&record(), &rules, counter()).unwrap_err(),
        WithholdError::TwoRules {
            path: "/custody/0".to_owned()
        }
    );
    assert_eq!(
        withhold(&json!([]), RULES, counter()).unwrap_err(),
        WithholdError::NotAnObject
    );
    // Nothing to withhold: nothing changes.
    let plain = json!({"blade": {"kind": "tanto"}});
    assert_eq!(
        withhold(&plain, &RULES[1..], counter()).unwrap(),
        (plain.clone(), vec![])
    );
    assert_eq!(reveal(&plain, &[], RULES).unwrap(), (plain, vec![]));
}

#[test]
fn the_record_list_has_no_object_with_two_rules() {
    use tangmark_core::record::withhold::RULES;
    for rule in RULES {
        let path: Vec<String> = rule
            .object
            .split('/')
            .skip(1)
            .map(|part| part.replace('*', "0"))
            .collect();
        assert!(
            matches!(rule_for(RULES, &path), Ok(Some(found)) if found == rule),
            "{}",
            rule.object
        );
    }
}

#[test]
fn disclosure_files_read_back() {
    let (_, all) = withheld();
    let text = print_file(&all).unwrap();
    assert_eq!(parse_file(text.as_bytes()).unwrap(), all);
    assert_eq!(
        print_file(&[]).unwrap().parse::<Value>().unwrap(),
        json!({"format": FORMAT, "disclosures": []})
    );
    for (from, to, message) in [
        (
            FORMAT,
            "tangmark disclosures 2",
            "disclosures: format `tangmark disclosures 2`, `tangmark disclosures 1` allowed",
        ),
        (
            "\"format\"",
            "\"note\": \"x\", \"format\"",
            "disclosures: not an object with `format` and `disclosures` (each with `path` and `disclosure`)",
        ),
    ] {
        assert_eq!(
            parse_file(text.replacen(from, to, 1).as_bytes())
                .unwrap_err()
                .to_string(),
            message
        );
    }
    assert!(matches!(parse_file(b"{"), Err(DisclosureError::Json(_))));
}

#[test]
fn pointers_are_escaped() {
    assert_eq!(
        pointer(&["a/b".to_owned(), "~".to_owned(), "0".to_owned()]),
        "/a~1b/~0/0"
    );
    assert!(fits("/a~1b/*", &["a/b".to_owned(), "7".to_owned()]));
    for other in ["", "/a~1b", "/a~1b/*/*", "/*", "/b/*"] {
        assert!(!fits(other, &["a/b".to_owned(), "7".to_owned()]), "{other}");
    }
    assert!(fits("", &[]));
}
