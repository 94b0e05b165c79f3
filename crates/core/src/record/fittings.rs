//! Fittings of the blade.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::quantity::Length;
use super::scalar::{Key, PartialDate};
use super::term::terms;

terms! {
    /// Part of a mounting.
    FittingPart {
        Tsuba "tsuba" "鍔" "guard";
        Seppa "seppa" "切羽" "washer";
        Habaki "habaki" "鎺" "collar";
        Fuchi "fuchi" "縁" "hilt collar";
        Kashira "kashira" "頭" "pommel cap";
        Menuki "menuki" "目貫" "grip ornaments";
        Mekugi "mekugi" "目釘" "peg";
        Same "same" "鮫" "ray skin of the hilt" "鮫皮";
        TsukaIto "tsuka_ito" "柄糸" "hilt wrapping";
        Tsuka "tsuka" "柄" "hilt";
        Saya "saya" "鞘" "scabbard";
        Shirasaya "shirasaya" "白鞘" "plain storage scabbard and hilt";
        Kurigata "kurigata" "栗形" "cord knob";
        Koiguchi "koiguchi" "鯉口" "scabbard mouth";
        Kojiri "kojiri" "鐺" "scabbard end";
        Sageo "sageo" "下緒" "cord";
        Kozuka "kozuka" "小柄" "handle of the by-knife";
        Kogatana "kogatana" "小刀" "by-knife";
        Kogai "kogai" "笄" "skewer";
        Soritsuno "soritsuno" "返角" "scabbard hook";
        Tsunagi "tsunagi" "繋" "wooden stand-in blade";
        Guard "guard" "" "guard of a hilt from elsewhere" "外国の柄の鍔";
        Grip "grip" "" "grip" "握り";
        Pommel "pommel" "" "pommel" "柄頭";
        Scabbard "scabbard" "" "scabbard from elsewhere" "外国の鞘";
        Shaft "shaft" "柄" "shaft" "長柄";
        Other "other" "" "other" "その他";
    }
}

terms! {
    /// Material of a fitting.
    Material {
        Iron "iron" "鉄" "iron";
        Shakudo "shakudo" "赤銅" "copper-gold alloy";
        Shibuichi "shibuichi" "四分一" "copper-silver alloy";
        Sentoku "sentoku" "宣徳" "brass-like alloy";
        Copper "copper" "銅" "copper";
        Brass "brass" "真鍮" "brass";
        Gold "gold" "金" "gold";
        Silver "silver" "銀" "silver";
        Lead "lead" "鉛" "lead";
        Wood "wood" "木" "wood" "木材";
        Ho "ho" "朴" "magnolia wood" "朴の木";
        Rosewood "rosewood" "紫檀" "rosewood";
        Ebony "ebony" "黒檀" "ebony";
        Lacquer "lacquer" "漆" "lacquer";
        RaySkin "ray_skin" "鮫皮" "ray skin";
        SharkSkin "shark_skin" "" "shark skin" "サメ革";
        Ivory "ivory" "象牙" "ivory";
        Horn "horn" "角" "horn" "角（つの）";
        RhinocerosHorn "rhinoceros_horn" "犀角" "rhinoceros horn";
        Bone "bone" "骨" "bone";
        Baleen "baleen" "鯨鬚" "whale baleen";
        Tortoiseshell "tortoiseshell" "鼈甲" "turtle shell";
        Coral "coral" "珊瑚" "coral";
        MotherOfPearl "mother_of_pearl" "貝" "mother-of-pearl" "真珠母貝";
        Leather "leather" "革" "leather";
        Silk "silk" "絹" "silk";
        Cotton "cotton" "木綿" "cotton";
        Plastic "plastic" "" "plastic" "合成樹脂";
        Unknown "unknown" "" "not known" "不明";
        Other "other" "" "other" "その他";
    }
}

terms! {
    /// Whether a fitting belongs to the blade.
    Matched {
        Fits "fits" "" "fits and has long been with it" "刀身に合い、古くから付属";
        FitsNow "fits_now" "" "fits, history not known" "刀身に合うが来歴は不明";
        DoesNotFit "does_not_fit" "" "does not fit" "刀身に合わない";
        NotTried "not_tried" "" "not tried" "合わせていない";
    }
}

terms! {
    /// Outcome of a look at lists of protected materials. Never a clearance.
    ProtectedScreen {
        NotScreened "not_screened" "" "not looked up" "未照合";
        AskAuthority "ask_authority" "" "may be protected: ask the authority" "規制対象の可能性あり。官庁に照会のこと";
        NotFoundInList "not_found_in_list" "" "not found in the list looked at; ask the authority all the same" "照合した一覧には見当たらない。なお官庁に照会のこと";
    }
}

terms! {
    /// Where a fitting is kept.
    Kept {
        Mounted "mounted" "" "mounted on the blade" "刀身に装着";
        Storage "storage" "" "kept with the blade, not mounted" "刀身とともに保管、未装着";
        Apart "apart" "" "kept apart from the blade" "刀身とは別に保管";
    }
}

terms! {
    /// How a fitting came to the blade.
    FittingOrigin {
        CameWithBlade "came_with_blade" "" "came with the blade" "刀身に付属して受領";
        Added "added" "" "taken from elsewhere and added" "他所から取り合わせ";
        MadeNew "made_new" "" "made new for the blade" "刀身に合わせて新調";
        Unknown "unknown" "" "not known" "不明";
    }
}

/// What decides whether a fitting goes on a blade, as measured on the fitting.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FittingFit {
    /// Distance of the centre of the peg hole of a hilt from its mouth.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub peg_hole_at: Option<Length>,
    /// Opening for the tang or the blade, from the edge side to the back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opening_width: Option<Length>,
    /// The same opening from face to face.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub opening_thickness: Option<Length>,
    /// Day it was last tried on the blade.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tried_on: Option<PartialDate>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 400))]
    pub note: Option<String>,
}

/// A fitting.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Fitting {
    /// Key.
    pub id: Key,
    /// Part.
    pub part: FittingPart,
    /// Description.
    #[schemars(length(min = 1, max = 1000))]
    pub description: String,
    /// Materials.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub materials: Vec<Material>,
    /// How the materials were told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 400))]
    pub material_evidence: Option<String>,
    /// Whether it belongs to the blade.
    pub matched: Matched,
    /// How it came to the blade.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub origin: Option<FittingOrigin>,
    /// Where it is kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kept: Option<Kept>,
    /// What decides whether it goes on the blade.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fit: Option<FittingFit>,
    /// Condition.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 1000))]
    pub condition: Option<String>,
    /// Look at lists of protected materials.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub protected: Option<ProtectedScreen>,
    /// Date of the list looked at.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub protected_as_of: Option<PartialDate>,
    /// Photos.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photos: Vec<Key>,
}
