//! What the blade is: kind, construction, identity, opinions, papers.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::people::{Attribution, SaltedDigest};
use super::quantity::Length;
use super::scalar::{Key, PartialDate};
use super::term::terms;

terms! {
    /// Kind of blade, by length or by make.
    BladeKind {
        Katana "katana" "刀" "long sword worn edge up";
        Tachi "tachi" "太刀" "long sword slung edge down";
        Kodachi "kodachi" "小太刀" "short slung sword";
        Odachi "odachi" "大太刀" "very long slung sword";
        Nodachi "nodachi" "野太刀" "field sword, very long";
        Chisagatana "chisagatana" "小サ刀" "sword between long and short";
        Wakizashi "wakizashi" "脇差" "short sword";
        KoWakizashi "ko_wakizashi" "小脇差" "small short sword";
        OWakizashi "o_wakizashi" "大脇差" "large short sword";
        Tanto "tanto" "短刀" "dagger under one shaku";
        SunnobiTanto "sunnobi_tanto" "寸延短刀" "dagger longer than the standard";
        SunzumariTanto "sunzumari_tanto" "寸詰短刀" "dagger shorter than the standard";
        Ken "ken" "剣" "straight double-edged sword";
        Yari "yari" "槍" "spear head";
        Naginata "naginata" "薙刀" "glaive blade";
        Nagamaki "nagamaki" "長巻" "long-hilted glaive blade";
        Sabre "sabre" "" "curved single-edged sword from elsewhere" "外国の片刃の彎刀";
        StraightSword "straight_sword" "" "straight sword from elsewhere" "外国の直剣";
        Dagger "dagger" "" "dagger from elsewhere" "外国の短剣";
        Knife "knife" "" "knife" "ナイフ";
        Other "other" "" "other edged blade" "その他の刃物";
    }
}

terms! {
    /// Shape of the blade in section and profile.
    Construction {
        ShinogiZukuri "shinogi_zukuri" "鎬造" "ridge and point line";
        HiraZukuri "hira_zukuri" "平造" "flat, no ridge";
        ShobuZukuri "shobu_zukuri" "菖蒲造" "ridge without point line";
        KirihaZukuri "kiriha_zukuri" "切刃造" "ridge near the edge";
        KataKiriha "kata_kiriha" "片切刃造" "one face flat, the other with a ridge near the edge";
        KanmuriOtoshi "kanmuri_otoshi" "冠落造" "back thinned over its whole upper length";
        UnokubiZukuri "unokubi_zukuri" "鵜首造" "back thinned in the middle";
        OsorakuZukuri "osoraku_zukuri" "おそらく造" "point longer than half the blade";
        MorohaZukuri "moroha_zukuri" "両刃造" "double-edged, curved";
        KenZukuri "ken_zukuri" "剣造" "double-edged, straight";
        KissakiMoroha "kissaki_moroha" "鋒両刃造" "double-edged in the upper half";
        NaginataZukuri "naginata_zukuri" "薙刀造" "glaive form";
        NaginataNaoshi "naginata_naoshi" "薙刀直し" "made over from a glaive";
        NagamakiNaoshi "nagamaki_naoshi" "長巻直し" "made over from a long-hilted glaive";
        SuYari "su_yari" "素槍" "plain straight spear head";
        SankakuYari "sankaku_yari" "三角槍" "triangular spear head";
        RyoShinogiYari "ryo_shinogi_yari" "両鎬槍" "diamond spear head";
        JumonjiYari "jumonji_yari" "十文字槍" "cross-shaped spear head";
        KataKamaYari "kata_kama_yari" "片鎌槍" "spear head with one branch";
        KikuchiYari "kikuchi_yari" "菊池槍" "single-edged spear head";
        FlatGround "flat_ground" "" "flat ground to the edge" "平研ぎ（刃先まで平ら）";
        HollowGround "hollow_ground" "" "hollow ground" "凹面研ぎ";
        ConvexGround "convex_ground" "" "convex ground" "蛤刃";
        DiamondSection "diamond_section" "" "diamond section" "菱形断面";
        Fullered "fullered" "" "with one or more fullers" "樋のある断面";
        Other "other" "" "other" "その他";
    }
}

terms! {
    /// Form of the back.
    BackForm {
        Iori "iori" "庵棟" "two slopes";
        Hira "hira" "平棟" "flat";
        Mitsu "mitsu" "三つ棟" "three planes";
        Maru "maru" "丸棟" "round";
        None "none" "" "no back: double-edged or several edges" "棟なし（両刃または多刃）";
        Other "other" "" "other" "その他";
    }
}

terms! {
    /// What the polisher sees or reads that may make a blade important.
    SignKind {
        DesignationByLaw "designation_by_law" "" "designated under a heritage law" "文化財法令による指定";
        ImportantMakerOnPapers "important_maker_on_papers" "" "an important maker named on papers" "書付に名のある重要な作者";
        ExcavatedLook "excavated_look" "" "looks as if it came out of the ground" "出土品の様相";
        TempleOrShrineMark "temple_or_shrine_mark" "" "mark of a temple or shrine" "社寺の印";
        OldPapers "old_papers" "" "papers of an earlier century" "前世紀以前の書付";
        GapInWartime "gap_in_wartime" "" "no provenance for 1933 to 1945" "1933～1945年の来歴欠落";
        NoExportPapers "no_export_papers" "" "left a country after 1970 without papers" "1970年以降に証明書なしで国外へ";
        RareForm "rare_form" "" "form seldom seen" "稀な姿";
        NamedBlade "named_blade" "" "the blade has a name of its own" "号のある刀身";
        Other "other" "" "other sign" "その他の徴候";
    }
}

/// A sign of importance that somebody saw.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Sign {
    /// Which sign.
    pub kind: SignKind,
    /// What was seen.
    #[schemars(length(min = 1, max = 400))]
    pub note: String,
    /// Photos that show it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photos: Vec<Key>,
}

/// What a registration card or paper states about the blade, to be compared with it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RegistrationStates {
    /// Blade length on the paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blade_length: Option<Length>,
    /// Curvature on the paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub curvature: Option<Length>,
    /// Number of peg holes on the paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub peg_holes: Option<u32>,
    /// Inscription on the paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 400))]
    pub inscription: Option<String>,
}

terms! {
    /// Kind of a registration.
    RegistrationKind {
        RegistrationCard "registration_card" "登録証" "ordinary registration card";
        NationalTreasure "kokuho" "国宝" "national treasure";
        ImportantCulturalProperty "juyo_bunkazai" "重要文化財" "important cultural property";
        ImportantArtObject "juyo_bijutsuhin" "重要美術品" "important art object";
        OtherDesignation "other_designation" "" "designation under another heritage law" "他の文化財法令による指定";
        PrivateAppraisal "private_appraisal" "鑑定書" "private appraisal, an opinion" "鑑定書（私的見解）";
        LossRegister "loss_register" "" "entry in a register of lost objects" "紛失・盗難品台帳への登載";
        Other "other" "" "other register" "その他の登録";
    }
}

/// An entry in a register or a paper on the blade. Its existence is never withheld, its number may be.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Registration {
    /// Kind.
    pub kind: RegistrationKind,
    /// Authority or issuer.
    #[schemars(length(min = 1, max = 200))]
    pub authority: String,
    /// Date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<PartialDate>,
    /// Grade, where the paper has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 200))]
    pub grade: Option<String>,
    /// What the paper states about the blade.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub states: Option<RegistrationStates>,
    /// Number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 100))]
    pub number: Option<String>,
    /// Digests of withheld properties.
    #[serde(rename = "_sd", default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(min = 1, max = 1))]
    pub withheld: Vec<SaltedDigest>,
}

/// Identity of the blade. With `dimensions` and `tang` it covers the nine categories of Object ID.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Blade {
    /// The workshop's key of this blade.
    pub id: Key,
    /// Object ID: title, the name people use for it.
    #[schemars(length(min = 1, max = 200))]
    pub title: String,
    /// Object ID: type of object, in plain words.
    #[schemars(length(min = 1, max = 200))]
    pub object_type: String,
    /// Kind by length, where length decides; left out when it does not or is undecided.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kind_by_length: Option<BladeKind>,
    /// Kind by make and mount.
    pub kind_by_make: BladeKind,
    /// Construction.
    pub construction: Construction,
    /// Form of the back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub back_form: Option<BackForm>,
    /// Object ID: materials and techniques.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub materials_and_techniques: Vec<String>,
    /// Object ID: distinguishing features.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 2000))]
    pub distinguishing_features: Option<String>,
    /// Object ID: subject, what is pictured (carving, inlay).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 400))]
    pub subject: Option<String>,
    /// Object ID: date or period, as opinions.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub period: Vec<Attribution>,
    /// Object ID: maker, as opinions.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub maker: Vec<Attribution>,
    /// Place of origin, as opinions.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub origin: Vec<Attribution>,
    /// The earliest year in which the blade may have been made, in the examiner's view.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub made_not_before: Option<PartialDate>,
    /// The latest year in which the blade may have been made, in the examiner's view.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub made_not_after: Option<PartialDate>,
    /// Carvings and grooves, in words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub carvings: Vec<String>,
    /// Registrations, designations and appraisals.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub registrations: Vec<Registration>,
    /// Signs of importance.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub signs: Vec<Sign>,
    /// Related written material and objects.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub related: Vec<String>,
}
