//! The published examples of the canonicalization scheme, on the canonicalizer below the reader.
//!
//! Source of everything here but where said otherwise: json-canonicalization testdata,
//! github.com/cyberphone/json-canonicalization, commit 19d51d7, Apache-2.0. Inputs are typed with
//! the published content; the outputs are typed as text and stand for the published bytes.

use sha2::{Digest as _, Sha256};

use super::*;

/// Reads leniently, as the examples hold floats and one string outside form C.
fn lenient(input: &str) -> String {
    canonical(&serde_json::from_str(input).unwrap())
}

const WEIRD: &str = r#"{
  "\u20ac": "Euro Sign",
  "\r": "Carriage Return",
  "\u000a": "Newline",
  "1": "One",
  "\u0080": "Control\u007f",
  "\ud83d\ude02": "Smiley",
  "\u00f6": "Latin Small Letter O With Diaeresis",
  "\ufb33": "Hebrew Letter Dalet With Dagesh",
  "</script>": "Browser Challenge"
}"#;

#[test]
fn arrays() {
    let input = r#"[56, {"d": true, "10": null, "1": [ ]}]"#;
    let output = r#"[56,{"1":[],"10":null,"d":true}]"#;
    assert_eq!(lenient(input), output);
    assert_eq!(canonical(&strict(input).unwrap()), output);
}

#[test]
fn french() {
    let input = r#"{
      "peach": "This sorting order",
      "péché": "is wrong according to French",
      "pêche": "but canonicalization MUST",
      "sin":   "ignore locale"
    }"#;
    let output = concat!(
        r#"{"peach":"This sorting order","péché":"is wrong according to French","#,
        r#""pêche":"but canonicalization MUST","sin":"ignore locale"}"#
    );
    assert_eq!(lenient(input), output);
    assert_eq!(canonical(&strict(input).unwrap()), output);
}

#[test]
fn structures() {
    let input = r#"{
      "1": {"f": {"f": "hi","F": 5} ,"\n": 56.0},
      "10": { },
      "": "empty",
      "a": { },
      "111": [ {"e": "yes","E": "no" } ],
      "A": { }
    }"#;
    let output = concat!(
        r#"{"":"empty","1":{"\n":56,"f":{"F":5,"f":"hi"}},"10":{},"#,
        r#""111":[{"E":"no","e":"yes"}],"A":{},"a":{}}"#
    );
    assert_eq!(lenient(input), output);
    assert!(refusal(input).starts_with("line 2, column 44: found `56.0`"));
    assert_eq!(
        canonical(&strict(input.replace("56.0", "56")).unwrap()),
        output
    );
}

#[test]
fn unicode_is_not_normalized_by_the_canonicalizer() {
    let input = r#"{"Unnormalized Unicode":"A\u030a"}"#;
    assert_eq!(lenient(input), "{\"Unnormalized Unicode\":\"A\u{30a}\"}");
    assert!(refusal(input).contains("U+0041, U+00C5 is allowed there"));
}

#[test]
fn values() {
    let input = r#"{
      "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
      "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
      "literals": [null, true, false]
    }"#;
    let output = concat!(
        r#"{"literals":[null,true,false],"#,
        r#""numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"#,
        r#""string":"€$\u000f\nA'B\"\\\\\"/"}"#
    );
    assert_eq!(lenient(input), output);
}

#[test]
fn weird_keys_sort_by_utf_16_code_units() {
    let output = concat!(
        r#"{"\n":"Newline","\r":"Carriage Return","1":"One","</script>":"Browser Challenge","#,
        "\"\u{80}\":\"Control\u{7f}\",\"ö\":\"Latin Small Letter O With Diaeresis\",",
        "\"€\":\"Euro Sign\",\"😂\":\"Smiley\",\"\u{fb33}\":\"Hebrew Letter Dalet With Dagesh\"}"
    );
    assert_eq!(lenient(WEIRD), output);
}

#[test]
fn weird_keys_pass_the_reader_but_for_the_one_outside_form_c() {
    // U+FB33 is excluded from composition: its form C is U+05D3 U+05BC.
    assert!(refusal(WEIRD).contains("character 1 is U+FB33, U+05D3 is allowed there"));
    // U+FF5E sorts, like it, before U+1F602 by code point and after it by UTF-16 code units.
    let read = strict(WEIRD.replace("fb33", "ff5e")).unwrap();
    let keys = canonical(&read);
    assert!(keys.find('😂').unwrap() < keys.find('\u{ff5e}').unwrap());
    assert_eq!(keys, lenient(WEIRD).replace('\u{fb33}', "\u{ff5e}"));
}

/// The first 168 bit patterns of the published number sequence.
#[rustfmt::skip]
const STATIC_NUMBERS: [u64; 168] = [
    0x0000_0000_0000_0000, 0x8000_0000_0000_0000, 0x0000_0000_0000_0001, 0x8000_0000_0000_0001,
    0xc466_9669_5dbd_1cc3, 0xc432_11ed_e497_4a35, 0xc3fc_e97c_a0f2_1056, 0xc3c7_2130_80c1_a6ac,
    0xc392_80f3_9a34_8556, 0xc35d_9b1f_5d20_d557, 0xc327_af4c_4a80_aaac, 0xc2f2_f2a3_6ecd_5556,
    0xc2be_5105_7e15_5558, 0xc288_40d1_31aa_aaac, 0xc253_670d_c155_5557, 0xc21f_0b49_3555_5557,
    0xc1e8_d5d4_2aaa_aaac, 0xc1b3_de43_5555_5556, 0xc17f_ca05_5555_5556, 0xc149_6e6a_aaaa_aaab,
    0xc114_5855_5555_5555, 0xc0e0_46aa_aaaa_aaab, 0xc0aa_0aaa_aaaa_aaaa, 0xc074_d555_5555_5555,
    0xc040_aaaa_aaaa_aaab, 0xc00a_aaaa_aaaa_aaab, 0xbfd5_5555_5555_5555, 0xbfa1_1111_1111_1111,
    0xbf6b_4e81_b4e8_1b4f, 0xbf35_d867_c3ec_e2a5, 0xbf01_79ec_9cbd_821e, 0xbecb_f647_612f_3696,
    0xbe96_5e9f_80f2_9212, 0xbe61_e54c_6728_74db, 0xbe2c_a213_d840_baf8, 0xbdf6_e80f_e033_c8c6,
    0xbdc2_533f_e68f_d3d2, 0xbd8d_51ff_d74c_861c, 0xbd57_74cc_ac3d_3817, 0xbd22_c3d6_f030_f9ac,
    0xbcee_0624_b381_8f79, 0xbcb8_04ea_2934_72c7, 0xbc83_3721_ba90_5bd3, 0xbc4e_be9c_5db3_c61e,
    0xbc18_987d_17c3_04e5, 0xbbe3_ad30_dfcf_371d, 0xbbaf_7b81_6618_582f, 0xbb79_2f9a_b813_79bf,
    0xbb44_2615_600f_9499, 0xbb10_1e77_800c_76e1, 0xbad9_ca58_cce0_be35, 0xbaa4_a1e0_a3e6_fe90,
    0xba70_8180_831f_320d, 0xba3a_68cd_9e98_5016, 0x4466_9669_5dbd_1cc3, 0x4432_11ed_e497_4a35,
    0x43fc_e97c_a0f2_1056, 0x43c7_2130_80c1_a6ac, 0x4392_80f3_9a34_8556, 0x435d_9b1f_5d20_d557,
    0x4327_af4c_4a80_aaac, 0x42f2_f2a3_6ecd_5556, 0x42be_5105_7e15_5558, 0x4288_40d1_31aa_aaac,
    0x4253_670d_c155_5557, 0x421f_0b49_3555_5557, 0x41e8_d5d4_2aaa_aaac, 0x41b3_de43_5555_5556,
    0x417f_ca05_5555_5556, 0x4149_6e6a_aaaa_aaab, 0x4114_5855_5555_5555, 0x40e0_46aa_aaaa_aaab,
    0x40aa_0aaa_aaaa_aaaa, 0x4074_d555_5555_5555, 0x4040_aaaa_aaaa_aaab, 0x400a_aaaa_aaaa_aaab,
    0x3fd5_5555_5555_5555, 0x3fa1_1111_1111_1111, 0x3f6b_4e81_b4e8_1b4f, 0x3f35_d867_c3ec_e2a5,
    0x3f01_79ec_9cbd_821e, 0x3ecb_f647_612f_3696, 0x3e96_5e9f_80f2_9212, 0x3e61_e54c_6728_74db,
    0x3e2c_a213_d840_baf8, 0x3df6_e80f_e033_c8c6, 0x3dc2_533f_e68f_d3d2, 0x3d8d_51ff_d74c_861c,
    0x3d57_74cc_ac3d_3817, 0x3d22_c3d6_f030_f9ac, 0x3cee_0624_b381_8f79, 0x3cb8_04ea_2934_72c7,
    0x3c83_3721_ba90_5bd3, 0x3c4e_be9c_5db3_c61e, 0x3c18_987d_17c3_04e5, 0x3be3_ad30_dfcf_371d,
    0x3baf_7b81_6618_582f, 0x3b79_2f9a_b813_79bf, 0x3b44_2615_600f_9499, 0x3b10_1e77_800c_76e1,
    0x3ad9_ca58_cce0_be35, 0x3aa4_a1e0_a3e6_fe90, 0x3a70_8180_831f_320d, 0x3a3a_68cd_9e98_5016,
    0x4024_0000_0000_0000, 0x4014_0000_0000_0000, 0x3fe0_0000_0000_0000, 0x3fa9_9999_9999_999a,
    0x3f74_7ae1_47ae_147b, 0x3f40_624d_d2f1_a9fc, 0x3f0a_36e2_eb1c_432d, 0x3ed4_f8b5_88e3_68f1,
    0x3ea0_c6f7_a0b5_ed8d, 0x3e6a_d7f2_9abc_af48, 0x3e35_798e_e230_8c3a, 0x3ed5_3922_3589_fa95,
    0x3ed4_ff26_cd5a_7781, 0x3ed4_f95a_7622_83ff, 0x3ed4_f8c6_0703_520c, 0x3ed4_f8b7_2f19_cd0d,
    0x3ed4_f8b5_b31c_0c8d, 0x3ed4_f8b5_8d1c_461a, 0x3ed4_f8b5_894f_7f0e, 0x3ed4_f8b5_88ee_37f3,
    0x3ed4_f8b5_88e4_7da4, 0x3ed4_f8b5_88e3_849c, 0x3ed4_f8b5_88e3_6bb5, 0x3ed4_f8b5_88e3_6937,
    0x3ed4_f8b5_88e3_68f8, 0x3ed4_f8b5_88e3_68f1, 0x3ff0_0000_0000_0000, 0xbff0_0000_0000_0000,
    0xbfef_ffff_ffff_fffa, 0xbfef_ffff_ffff_fffb, 0x3fef_ffff_ffff_fffa, 0x3fef_ffff_ffff_fffb,
    0x3fef_ffff_ffff_fffc, 0x3fef_ffff_ffff_fffe, 0xbfef_ffff_ffff_ffff, 0xbfef_ffff_ffff_ffff,
    0x3fef_ffff_ffff_ffff, 0x3fef_ffff_ffff_ffff, 0x3fd3_3333_3333_3332, 0x3fd3_3333_3333_3333,
    0x3fd3_3333_3333_3334, 0x0010_0000_0000_0000, 0x000f_ffff_ffff_fffd, 0x000f_ffff_ffff_ffff,
    0x7fef_ffff_ffff_ffff, 0xffef_ffff_ffff_ffff, 0x4340_0000_0000_0000, 0xc340_0000_0000_0000,
    0x4430_0000_0000_0000, 0x44b5_2d02_c7e1_4af5, 0x44b5_2d02_c7e1_4af6, 0x44b5_2d02_c7e1_4af7,
    0x444b_1ae4_d6e2_ef4e, 0x444b_1ae4_d6e2_ef4f, 0x444b_1ae4_d6e2_ef50, 0x3eb0_c6f7_a0b5_ed8c,
    0x3eb0_c6f7_a0b5_ed8d, 0x41b3_de43_5555_5553, 0x41b3_de43_5555_5554, 0x41b3_de43_5555_5555,
    0x41b3_de43_5555_5556, 0x41b3_de43_5555_5557, 0xbecb_f647_612f_3696, 0x4314_3ff3_c1cb_0959,
];

/// The published sequence of doubles: 168 chosen ones, 2000 in a row, then SHA-256 in feedback.
struct Sequence {
    index: usize,
    block: [u8; 32],
    unused: Vec<f64>,
}

impl Iterator for Sequence {
    type Item = f64;

    fn next(&mut self) -> Option<f64> {
        let index = self.index;
        self.index += 1;
        if let Some(&bits) = STATIC_NUMBERS.get(index) {
            return Some(f64::from_bits(bits));
        }
        if let Some(serial) = (0..2000u64).nth(index - STATIC_NUMBERS.len()) {
            return Some(f64::from_bits(0x0010_0000_0000_0000 + serial));
        }
        loop {
            if self.unused.is_empty() {
                self.block = Sha256::digest(self.block).into();
                let words = self.block.chunks_exact(8).rev();
                self.unused = words
                    .map(|word| f64::from_le_bytes(word.try_into().unwrap()))
                    .collect();
            }
            let number = self.unused.pop().unwrap();
            if number != 0.0 && number.is_finite() {
                return Some(number);
            }
        }
    }
}

#[test]
fn the_number_sequence_has_the_published_digests() {
    let published = [
        (
            1_000,
            "be18b62b6f69cdab33a7e0dae0d9cfa869fda80ddc712221570f9f40a5878687",
        ),
        (
            10_000,
            "b9f7a8e75ef22a835685a52ccba7f7d6bdc99e34b010992cbc5864cd12be6892",
        ),
        (
            100_000,
            "22776e6d4b49fa294a0d0f349268e5c28808fe7e0cb2bcbe28f63894e494d4c7",
        ),
        (
            1_000_000,
            "49415fee2c56c77864931bd3624faad425c3c577d6d74e89a83bc725506dad16",
        ),
    ];
    let mut numbers = Sequence {
        index: 0,
        block: [0; 32],
        unused: Vec::new(),
    };
    let mut lines = 0;
    let mut digest = Sha256::new();
    for (count, expected) in published {
        for number in numbers.by_ref().take(count - lines) {
            let printed = canonical(&Value::from(number));
            digest.update(format!("{:x},{printed}\n", number.to_bits()));
        }
        lines = count;
        assert_eq!(
            format!("{:x}", digest.clone().finalize()),
            expected,
            "{count} lines"
        );
    }
}

#[test]
fn numbers_keep_no_text_of_their_own() {
    // With the feature `arbitrary_precision` of serde_json, which any crate of the build can
    // switch on for all, a number would keep its digits and its canonical bytes would change.
    assert!(serde_json::from_str::<Value>("1e400").is_err());
    for (spelled, kept) in [
        ("1e2", "100.0"),
        ("1.50", "1.5"),
        ("0.30000000000000001", "0.3"),
    ] {
        assert_eq!(
            serde_json::from_str::<Value>(spelled).unwrap().to_string(),
            kept
        );
    }
}
