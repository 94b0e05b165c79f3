//! Words for the specialist who opens the packet: what was packed, and how to sign for it.

use std::fmt::Write as _;

use tangmark_core::Digest;
use tangmark_core::record::Record;
use tangmark_report::Speech;

use super::packet::{LIST, packed};

/// What the words are about.
pub(super) struct Signing<'a> {
    pub(super) record: &'a Record,
    /// Name of the hand-over package.
    pub(super) zip: &'a str,
    /// SHA-256 over the list of files.
    pub(super) list: &'a Digest,
    pub(super) speech: Speech,
}

/// The words, in the languages asked for.
pub(super) fn signing(of: &Signing<'_>) -> String {
    match of.speech {
        Speech::English => english(of),
        Speech::Japanese => japanese(of),
        Speech::Both => format!("{}\n\n{}", english(of), japanese(of)),
    }
}

fn listed(items: &[String], none: &str) -> String {
    if items.is_empty() {
        return format!("  - {none}\n");
    }
    items.iter().fold(String::new(), |mut list, item| {
        let _ = writeln!(list, "  - {item}");
        list
    })
}

fn english(of: &Signing<'_>) -> String {
    let (record, list, zip) = (of.record, of.list, of.zip);
    let blade = &record.blade.id;
    let number = record.sequence;
    let packed = listed(
        packed(record),
        "nothing is listed in the record; compare with the photographs",
    );
    let conditions = record
        .referral
        .as_ref()
        .and_then(|referral| referral.return_conditions.as_deref())
        .unwrap_or("none are written");
    format!(
        "Packing list and receipt: {title}, blade `{blade}`, record {number}

Packed:
{packed}
Conditions of return: {conditions}

The edge is sharp. Open the parcel on a table, hold hilt or tang, draw slowly with the edge up, and compare the blade
with the photographs before you sign (common practice, no source). What may be carried, imported or sold is decided by
your local code and its authorities.

Signing for the blade, in one of three ways:
1. On paper: the last page of the report is a receipt. Write this number on it, which stands for every file here:
   {list}
2. With any P-256 key: sign {LIST}, and send back receipt.sig with your public key or certificate.
   openssl dgst -sha256 -sign KEY.pem -out receipt.sig {LIST}
3. With a workshop of your own: take the package in, look at the blade, seal a receipt, and send back its file.
   tangmark handover receive {zip}
   tangmark seal {blade} --for receipt --refers-to {number} --statement \"Received as packed\"

A signature says that you hold the blade and have these files. It changes nothing about who owns it.
",
        title = record.blade.title,
    )
}

fn japanese(of: &Signing<'_>) -> String {
    let (record, list, zip) = (of.record, of.list, of.zip);
    let blade = &record.blade.id;
    let number = record.sequence;
    let packed = listed(packed(record), "記録に記載なし。写真と照合のこと");
    let conditions = record
        .referral
        .as_ref()
        .and_then(|referral| referral.return_conditions.as_deref())
        .unwrap_or("記載なし");
    format!(
        "梱包明細と受領：{title}、刀身 `{blade}`、記録 {number}

梱包した物：
{packed}
返却の条件：{conditions}

刃は鋭い。机の上で開梱し、柄または茎を持ち、刃を上にしてゆっくり抜き、署名の前に写真と照合すること（慣行による。典拠
なし）。運搬、輸入、売買の可否は、各地の法令と所管の官庁が定める。

受領の署名は次のいずれかによる。
1. 紙：報告書の最後の頁が預り証である。ここにある全ての書類を表す次の番号を記す。
   {list}
2. P-256の鍵：{LIST} に署名し、receipt.sig を公開鍵または証明書と共に返送する。
   openssl dgst -sha256 -sign KEY.pem -out receipt.sig {LIST}
3. 自らの工房の記録：一式を受け取り、刀身を確かめ、受領の記録に封をし、その書類を返送する。
   tangmark handover receive {zip}
   tangmark seal {blade} --for receipt --refers-to {number} --statement \"Received as packed\"

署名は、刀身を預かり、これらの書類を受け取ったことを示す。所有権には関わらない。
",
        title = record.blade.title,
    )
}
