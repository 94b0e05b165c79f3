//! The usual cautions of the trade: general, and second to local code and licensed practice.

use super::words;
use crate::{
    layout::{Flow, style},
    speech::{Pair, pair},
};

/// A caution: what it is about, and the words.
pub(super) type Caution = (Option<Pair>, Pair);

pub(super) fn edge() -> Caution {
    (
        Some(pair("Edge", "刃")),
        pair(
            "A blade cuts when it is drawn, wiped or passed on. Keep it covered except while it is worked or looked at, carry it edge away and by the tang or hilt, and keep others out of reach.",
            "刀身は、抜くとき、拭うとき、渡すときに人を切る。作業または鑑賞の間以外は覆い、刃を人に向けず、茎または柄を持って運び、周りの人を近づけない。",
        ),
    )
}

pub(super) fn acids() -> Caution {
    (
        Some(pair("Acids and etchants", "酸・腐食剤")),
        pair(
            "They burn eyes and skin and give off fumes. Ventilate, cover eyes and hands, never mix them with bleach or other cleaners, neutralise and rinse, dry and oil at once. Never etch a tang.",
            "目と皮膚を焼き、有害な蒸気を出す。換気し、目と手を保護し、漂白剤その他の洗剤と決して混ぜない。中和、水洗、乾燥のうえ、直ちに油を引く。茎は決して腐食しない。",
        ),
    )
}

pub(super) fn dust() -> Caution {
    (
        Some(pair("Stone and dust", "砥石と粉塵")),
        pair(
            "Natural stones and their mud hold crystalline silica, which harms the lungs. Work wet, wipe wet, never sand dry or sweep. Old lacquer and repairs can hold lead. Oily rags can take fire by themselves.",
            "天然砥石とその砥泥は結晶質シリカを含み、肺を害する。湿式で作業し、濡れ布で拭き、乾いたまま研磨したり掃いたりしない。古い漆や修理箇所は鉛を含むことがある。油の染みた布は自然発火することがある。",
        ),
    )
}

pub(super) fn care() -> Caution {
    (
        Some(pair("Care", "手入れ")),
        pair(
            "No bare fingers on the steel, no cleaning of a tang's patina, a thin film of neutral oil, dry and even storage.",
            "刀身に素手で触れない。茎の錆は落とさない。中性の油を薄く引き、乾いた、温湿度の変わらない場所に保管する。",
        ),
    )
}

pub(super) fn protected() -> Caution {
    (
        Some(pair("Protected materials", "規制対象の素材")),
        pair(
            "Ivory, horn, turtle shell, some woods, rays and corals fall under species law. This report clears nothing.",
            "象牙、犀角などの角、鼈甲、一部の木材、エイ、珊瑚は種の保存に関する法令の対象となる。本報告書は何らの許可も与えない。",
        ),
    )
}

pub(super) fn carriage() -> Caution {
    (
        Some(pair("Carrying, sending, selling", "携帯・発送・売買")),
        pair(
            "Law on weapons, registration, export and import differs from place to place and changes. Ask the authority before the blade moves or changes hands.",
            "武器、登録、輸出入の法令は土地により異なり、改正される。刀身を移動または譲渡する前に、所管の官庁に確認すること。",
        ),
    )
}

/// Sets every caution.
pub(super) fn all(flow: &mut Flow) {
    set(
        flow,
        &[edge(), acids(), dust(), care(), protected(), carriage()],
    );
}

/// Sets cautions under their heading, with who decides.
pub(super) fn set(flow: &mut Flow, cautions: &[Caution]) {
    words::heading(flow, &pair("Cautions", "注意事項"), 20.0);
    flow.say_list(cautions, style::CELL);
    flow.gap(0.6);
    flow.say(
        &pair(
            "These are general remarks, common practice, no source. Your local code and licensed practice decide.",
            "以上は慣行による一般的な注意である（典拠なし）。各地の法令と、資格ある者の実務に従うこと。",
        ),
        style::CELL,
    );
}
