//! Temper line, temper in the point, activities, and grain.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::dimensions::Face;
use super::quantity::Length;
use super::scalar::Key;
use super::term::terms;

terms! {
    /// Whether there is a temper line to be seen.
    TemperVisibility {
        Visible "visible" "" "visible" "見える";
        PartlyVisible "partly_visible" "" "partly visible" "一部見える";
        NoneVisible "none_visible" "" "none visible in the present surface" "現状の肌では見えない";
        Lost "lost" "" "temper gone" "焼が失われている";
        NotApplicable "not_applicable" "" "through-hardened or unhardened by make" "作りにより対象外（全体焼入れ、または焼入れなし）";
        NotExamined "not_examined" "" "not looked for" "未調査";
    }
}

terms! {
    /// Family of a temper line.
    TemperFamily {
        Suguha "suguha" "直刃" "straight";
        HosoSuguha "hoso_suguha" "細直刃" "narrow straight";
        ChuSuguha "chu_suguha" "中直刃" "medium straight";
        HiroSuguha "hiro_suguha" "広直刃" "wide straight";
        ItoSuguha "ito_suguha" "糸直刃" "thread-like straight";
        Notare "notare" "湾れ" "gently waved";
        KoNotare "ko_notare" "小湾れ" "small waves";
        ONotare "o_notare" "大湾れ" "large waves";
        AsakiNotare "asaki_notare" "浅き湾れ" "shallow waves";
        Gunome "gunome" "互の目" "half rounds";
        KoGunome "ko_gunome" "小互の目" "small half rounds";
        OGunome "o_gunome" "大互の目" "large half rounds";
        Togari "togari" "尖り刃" "pointed";
        Choji "choji" "丁子" "clove heads";
        JukaChoji "juka_choji" "重花丁子" "doubled clove heads";
        SakaChoji "saka_choji" "逆丁子" "slanting clove heads";
        KawazuChoji "kawazu_choji" "蛙子丁子" "tadpole clove heads";
        Midare "midare" "乱れ" "irregular";
        KoMidare "ko_midare" "小乱れ" "small irregular";
        OMidare "o_midare" "大乱れ" "large irregular";
        SakaMidare "saka_midare" "逆乱れ" "slanting irregular";
        Hitatsura "hitatsura" "皆焼" "tempering over the whole ground";
        Toran "toran" "濤瀾" "billows";
        Sudare "sudare" "簾刃" "bamboo blind";
        Kikusui "kikusui" "菊水" "chrysanthemum on water";
        Hyotan "hyotan" "瓢箪刃" "gourds";
        Sanbonsugi "sanbonsugi" "三本杉" "three cedars";
        Mimigata "mimigata" "耳形" "ear shapes";
        Yahazu "yahazu" "矢筈" "arrow notches";
        UmaNoHa "uma_no_ha" "馬の歯" "horse teeth";
        Other "other" "" "other" "その他";
    }
}

terms! {
    /// Lower start of the temper line.
    TemperStart {
        Regular "regular" "" "at the edge notch" "刃区から";
        YakiOtoshi "yaki_otoshi" "焼落し" "stops short of the edge notch";
        YakiDashi "yaki_dashi" "焼出し" "straight start";
        Mizukage "mizukage" "水影" "hazy reflection rising at the notch";
    }
}

terms! {
    /// Form of the temper in the point.
    PointTemperForm {
        KoMaru "ko_maru" "小丸" "small round";
        OMaru "o_maru" "大丸" "large round";
        Jizo "jizo" "地蔵" "like a head seen from the side";
        Kaen "kaen" "火焔" "flame";
        Ichimai "ichimai" "一枚" "whole point hardened";
        Yakizume "yakizume" "焼詰め" "no turn-back";
        Hakikake "hakikake" "掃掛け" "swept";
        MidareKomi "midare_komi" "乱れ込み" "irregular";
        NotareKomi "notare_komi" "湾れ込み" "waved";
        Sugu "sugu" "直ぐ" "straight";
        None "none" "" "no temper in the point" "帽子なし";
        NotVisible "not_visible" "" "not visible in the present surface" "現状の肌では見えない";
        Other "other" "" "other" "その他";
    }
}

terms! {
    /// Length of the turn-back.
    TurnBack {
        Fukai "fukai" "深い" "long";
        Asai "asai" "浅い" "short";
        None "none" "" "none" "返りなし";
    }
}

terms! {
    /// Activities in temper line and ground.
    Activity {
        Nie "nie" "沸" "grains seen singly";
        Nioi "nioi" "匂" "mist";
        AraNie "ara_nie" "荒沸" "coarse grains";
        Ashi "ashi" "足" "legs";
        Yo "yo" "葉" "leaves";
        Kinsuji "kinsuji" "金筋" "bright lines in the temper line";
        Inazuma "inazuma" "稲妻" "lightning lines";
        Sunagashi "sunagashi" "砂流し" "swept sand";
        Chikei "chikei" "地景" "dark bright lines in the grain";
        Tobiyaki "tobiyaki" "飛焼" "islands of temper";
        Yubashiri "yubashiri" "湯走り" "patches of grains";
        Utsuri "utsuri" "映り" "reflection in the ground";
        BoUtsuri "bo_utsuri" "棒映り" "straight reflection";
        MidareUtsuri "midare_utsuri" "乱れ映り" "irregular reflection";
        Nijuba "nijuba" "二重刃" "double line";
        Uchinoke "uchinoke" "打ちのけ" "crescents above the line";
        Hotsure "hotsure" "ほつれ" "frayed";
        KuichigaiBa "kuichigai_ba" "喰違刃" "line that divides and crosses";
        Muneyaki "muneyaki" "棟焼" "temper on the back";
        JiNie "ji_nie" "地沸" "grains in the ground";
    }
}

terms! {
    /// Family of the grain.
    GrainFamily {
        Itame "itame" "板目" "wood grain";
        KoItame "ko_itame" "小板目" "small wood grain";
        OItame "o_itame" "大板目" "large wood grain";
        Mokume "mokume" "杢目" "burl";
        Masame "masame" "柾目" "straight grain";
        Ayasugi "ayasugi" "綾杉" "large waves";
        Nashiji "nashiji" "梨地" "pear skin";
        Konuka "konuka" "小糠" "rice bran";
        Chirimen "chirimen" "縮緬" "crepe";
        Muji "muji" "無地" "no visible grain" "無地";
        Nagare "nagare" "流れ" "flowing";
        Hadatachi "hadatachi" "肌立ち" "standing grain";
        Homogeneous "homogeneous" "" "homogeneous industrial steel" "均質な近代鋼";
        PatternWelded "pattern_welded" "" "pattern-welded" "模様鍛接（異種鋼の鍛え合わせ）";
        Other "other" "" "other" "その他";
    }
}

/// Width of the temper line at one place, from the edge.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TemperWidth {
    /// Distance from the datum.
    pub at: Length,
    /// Face.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub face: Option<Face>,
    /// Width from the edge.
    pub width: Length,
}

/// A stretch of the temper line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Stretch {
    /// Face.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub face: Option<Face>,
    /// Start, from the datum.
    pub from: Length,
    /// End, from the datum.
    pub to: Length,
}

/// Temper in the point.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PointTemper {
    /// Forms, the dominant first.
    #[schemars(length(min = 1, max = 6))]
    pub forms: Vec<PointTemperForm>,
    /// Turn-back in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turn_back: Option<TurnBack>,
    /// Turn-back measured along the back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turn_back_length: Option<Length>,
}

/// The temper line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TemperLine {
    /// Whether it can be seen.
    pub visibility: TemperVisibility,
    /// Families, the dominant first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 10))]
    pub families: Vec<TemperFamily>,
    /// Lower start.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start: Option<TemperStart>,
    /// Widths, in order from the datum.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 400))]
    pub widths: Vec<TemperWidth>,
    /// Temper in the point.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub point: Option<PointTemper>,
    /// Activities.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub activities: Vec<Activity>,
    /// Stretches where the line is missing.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub breaks: Vec<Stretch>,
    /// Stretches where the line runs out into the edge.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub run_outs: Vec<Stretch>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 2000))]
    pub note: Option<String>,
    /// Photos.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photos: Vec<Key>,
}

/// Grain of the steel.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Grain {
    /// Families, the dominant first.
    #[schemars(length(min = 1, max = 10))]
    pub families: Vec<GrainFamily>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 2000))]
    pub note: Option<String>,
}
