//! The tang: form, file marks, holes, inscription, history of shortening.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::dimensions::Face;
use super::people::Person;
use super::quantity::Length;
use super::scalar::{Key, PartialDate};
use super::term::terms;

terms! {
    /// Form of the tang.
    TangShape {
        Futsu "futsu" "普通" "regular";
        KijiMomo "kiji_momo" "雉子股" "pheasant thigh";
        Furisode "furisode" "振袖" "curved like a long sleeve";
        TanagoBara "tanago_bara" "鱮腹" "fish belly";
        Funagata "funagata" "舟形" "ship bottom";
        Gohei "gohei" "御幣形" "stepped";
        Socket "socket" "" "socket" "袋茎";
        FullTang "full_tang" "" "as wide as the hilt" "柄幅いっぱいの茎";
        RodTang "rod_tang" "" "narrow rod" "棒状の茎";
        Other "other" "" "other" "その他";
    }
}

terms! {
    /// End of the tang.
    TangEnd {
        Kurijiri "kurijiri" "栗尻" "rounded";
        HaAgariKurijiri "ha_agari_kurijiri" "刃上り栗尻" "rounded, rising to the edge side";
        Kiri "kiri" "切" "cut square" "切尻";
        IriyamaGata "iriyama_gata" "入山形" "unequal point";
        Kengyo "kengyo" "剣形" "pointed";
        SasaBa "sasa" "笹" "bamboo leaf" "笹";
        Peened "peened" "" "peened over a pommel" "柄頭にかしめ";
        Other "other" "" "other" "その他";
    }
}

terms! {
    /// Direction of the file marks.
    FileMarks {
        Kiri "kiri" "切" "level" "切鑢";
        KatteSagari "katte_sagari" "勝手下り" "slightly slanting down to the edge side";
        KatteAgari "katte_agari" "勝手上り" "slightly slanting up to the edge side";
        Sujikai "sujikai" "筋違" "slanting";
        OSujikai "o_sujikai" "大筋違" "steeply slanting";
        GyakuOSujikai "gyaku_o_sujikai" "逆大筋違" "steeply slanting, reversed";
        Takanoha "takanoha" "鷹の羽" "hawk feather";
        GyakuTakanoha "gyaku_takanoha" "逆鷹の羽" "hawk feather, reversed";
        Higaki "higaki" "檜垣" "crossed";
        Sensuki "sensuki" "銑鋤" "scraped lengthwise";
        Worn "worn" "" "worn, not readable" "磨滅して判読できず";
        None "none" "" "none" "鑢目なし";
        Other "other" "" "other" "その他";
    }
}

terms! {
    /// What has become of the original tang.
    TangState {
        Ubu "ubu" "生ぶ" "original, not shortened";
        MachiOkuri "machi_okuri" "区送り" "only the notches moved";
        Suriage "suriage" "磨上げ" "shortened";
        OSuriage "o_suriage" "大磨上げ" "shortened so that the original tang is gone";
        NaginataNaoshi "naginata_naoshi" "薙刀直し" "made over from a glaive";
        NagamakiNaoshi "nagamaki_naoshi" "長巻直し" "made over from a long-hilted glaive";
        TachiNaoshi "tachi_naoshi" "太刀直し" "made over from a slung sword";
        SaihaSuspected "saiha_suspected" "再刃" "re-tempering suspected from the tang" "再刃の疑い";
        Unknown "unknown" "" "not known" "不明";
    }
}

terms! {
    /// Kind of an inscription.
    InscriptionKind {
        Zaimei "zaimei" "在銘" "signed";
        Mumei "mumei" "無銘" "unsigned";
        TachiMei "tachi_mei" "太刀銘" "signed on the side that faces away when slung";
        KatanaMei "katana_mei" "刀銘" "signed on the side that faces away when worn edge up";
        NijiMei "niji_mei" "二字銘" "two characters";
        NagaMei "naga_mei" "長銘" "long signature";
        Nengo "nengo" "年紀" "date";
        GakuMei "gaku_mei" "額銘" "old signature set into the altered tang";
        OrikaeshiMei "orikaeshi_mei" "折返銘" "old signature folded back";
        HameMei "hame_mei" "嵌め銘" "signature inlaid in a filed seat";
        KiritsukeMei "kiritsuke_mei" "切付銘" "cut later";
        KinzoganMei "kinzogan_mei" "金象嵌銘" "attribution inlaid in gold";
        ShuMei "shu_mei" "朱銘" "red lacquer";
        KinpunMei "kinpun_mei" "金粉銘" "gold powder";
        Kao "kao" "花押" "monogram" "花押";
        ChumonMei "chumon_mei" "注文銘" "name of the person who ordered it";
        TameshiMei "tameshi_mei" "試し銘" "cutting test";
        SaidanMei "saidan_mei" "裁断銘" "cutting test with the name of the cutter";
        ShojiMei "shoji_mei" "所持銘" "owner's name";
        KieMei "kie_mei" "消え銘" "no longer readable";
        MakersMark "makers_mark" "" "maker's mark or stamp" "作者の印または刻印";
        Number "number" "" "number" "番号";
        Other "other" "" "other" "その他";
    }
}

terms! {
    /// What the author of an opinion holds of a signature.
    MeiView {
        Shoshin "shoshin" "正真" "held to be by the hand it names" "正真（銘の作者の手と見る）";
        Shomei "shomei" "正銘" "held to be in order" "正銘（整うと見る）";
        Gimei "gimei" "偽銘" "held to be added by another hand" "偽銘（別人の手と見る）";
        Undecided "undecided" "" "left open" "保留";
    }
}

/// Somebody's opinion on an inscription. The tool takes no side.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct InscriptionOpinion {
    /// The view.
    pub view: MeiView,
    /// Whose.
    pub author: Person,
    /// When it was given.
    pub on: PartialDate,
    /// In words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 400))]
    pub statement: Option<String>,
}

/// An inscription or mark.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Inscription {
    /// Kind.
    pub kind: InscriptionKind,
    /// Side it is on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Face>,
    /// The characters as read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 400))]
    pub reading: Option<String>,
    /// The reading in Latin letters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 400))]
    pub transliteration: Option<String>,
    /// Opinions on it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 20))]
    pub opinions: Vec<InscriptionOpinion>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 400))]
    pub note: Option<String>,
    /// Photos.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photos: Vec<Key>,
}

/// A peg hole.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Hole {
    /// Distance of its centre from the datum, along the tang.
    pub at: Length,
    /// Diameter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diameter: Option<Length>,
    /// Plugged.
    #[serde(default)]
    pub plugged: bool,
}

/// The tang.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tang {
    /// Form.
    pub shape: TangShape,
    /// End.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub end: Option<TangEnd>,
    /// File marks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub file_marks: Option<FileMarks>,
    /// Decorated file marks at the top (kesho yasuri).
    #[serde(default)]
    pub decorated_file_marks: bool,
    /// Older file marks still visible on a shortened tang.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub older_file_marks: Option<FileMarks>,
    /// Peg holes, in order from the datum.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 20))]
    pub holes: Vec<Hole>,
    /// Inscriptions and marks.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 30))]
    pub inscriptions: Vec<Inscription>,
    /// State.
    pub state: TangState,
    /// Temper line runs into the tang.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temper_runs_in: Option<bool>,
    /// Colour and evenness of the patina, which is never cleaned.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 400))]
    pub patina: Option<String>,
    /// Photos.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photos: Vec<Key>,
}
