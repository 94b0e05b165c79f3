//! Care of the blade, for its owner, from the facts of its own record.

use tangmark_core::record::{FlawKind, Material, Progress, Record, Standing, SurfaceGrade};

use super::super::{Content, cautions, closing, title, words};
use super::eyebrow;
use crate::{
    layout::{Flow, Span, Table, style},
    speech::{Pair, pair},
};

type Item = (Option<Pair>, Pair);

fn item(head: Pair, text: Pair) -> Item {
    (Some(head), text)
}

pub(super) fn set(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    title::name(flow, record, &eyebrow(content));
    facts(flow, record);
    let sections: [(Pair, Vec<Item>); 5] = [
        (pair("In the hand", "扱い"), handling()),
        (pair("Where it is kept", "保管"), storage(record)),
        (pair("Oil", "油"), oil(record)),
        (pair("Never", "してはならないこと"), never()),
        (pair("Whom to ask", "相談先"), ask(record)),
    ];
    for (name, items) in sections {
        if name.en == "Never" {
            flow.may_turn();
        }
        words::heading(flow, &name, 14.0);
        flow.say_list(&items, style::BODY);
    }
    flow.gap(1.0);
    flow.say(&sources(), style::NOTE);
    flow.gap(1.0);
    flow.say(&who_decides(), style::CELL);
    closing::short(flow, content);
}

/// What the record says that care depends on.
fn facts(flow: &mut Flow, record: &Record) {
    words::heading(
        flow,
        &pair("What the record says of this blade", "記録による本刀の状態"),
        16.0,
    );
    let speech = flow.speech;
    let mut table = Table::pairs(46.0);
    let mut say = |name: Pair, value: Vec<Span>| words::row(&mut table, speech, &name, value);
    let surface = record.examination.as_ref().map_or_else(
        || speech.label(&words::not_recorded()),
        |examination| speech.label(&words::gloss(examination.surface)),
    );
    say(pair("surface", "表面"), surface);
    say(
        pair("rust that goes on", "進行中の錆"),
        speech.label(&if goes_on(record) {
            pair(
                "recorded: see a specialist soon",
                "記録あり。早めに専門家に相談",
            )
        } else {
            pair("none recorded", "記録なし")
        }),
    );
    let patina = record.tang.as_ref().and_then(|tang| tang.patina.as_ref());
    say(
        pair("patina of the tang", "茎の錆色"),
        patina.map_or_else(
            || speech.label(&words::not_recorded()),
            |patina| vec![Span::plain(patina.clone())],
        ),
    );
    let materials = materials(record);
    say(
        pair("materials of the fittings", "刀装具の材質"),
        if materials.is_empty() {
            speech.label(&words::not_recorded())
        } else {
            words::terms(speech, &materials)
        },
    );
    words::names_on_one_line(&mut table, speech, 60.0);
    flow.table(&table);
}

/// Whether rust is recorded that goes on.
fn goes_on(record: &Record) -> bool {
    record.flaws.iter().any(|flaw| {
        // What was looked for again and not found goes on no longer.
        flaw.standing != Standing::RuledOut
            && (flaw.kind == FlawKind::SabiActive
                || (flaw.progress == Progress::Active && flaw.kind == FlawKind::Pits))
    })
}

/// Materials of all fittings, each once, in the order of the list.
fn materials(record: &Record) -> Vec<Material> {
    let mut materials = Vec::new();
    for material in record
        .fittings
        .iter()
        .flat_map(|fitting| &fitting.materials)
    {
        if !materials.contains(material) {
            materials.push(*material);
        }
    }
    materials
}

fn handling() -> Vec<Item> {
    vec![
        cautions::edge(),
        item(
            pair("Fingers", "指"),
            pair(
                "Do not touch the polished steel: the salt and water of a hand start rust within days. Hold the blade by the tang or the hilt; whoever wears gloves takes clean ones that grip.",
                "研いだ鋼に触れない。手の塩分と水分は数日で錆を生む。茎または柄を持つ。手袋を用いるなら、清潔で滑らないものを選ぶ。",
            ),
        ),
        item(
            pair("Breath", "息"),
            pair(
                "Do not speak or breathe over the bare blade, and wipe off what fell on it at once.",
                "抜き身の上で話したり息をかけたりしない。付いたものは直ちに拭う。",
            ),
        ),
        item(
            pair("Out and in", "抜き差し"),
            pair(
                "Draw and sheathe with the edge up, slowly, the back sliding along the scabbard, with nobody before or beside you.",
                "刃を上にして棟を鞘に沿わせ、ゆっくり抜き、納める。前や横に人を置かない。",
            ),
        ),
    ]
}

/// Storage, by what the blade and its fittings are made of.
fn storage(record: &Record) -> Vec<Item> {
    let mut items = vec![item(
        pair("Air", "空気"),
        pair(
            "Even and dry, out of the sun and away from kitchens and outer walls. For bare steel 35 to 45 % relative humidity is a common aim; museum guidance for metal among other materials names 35 to 55 % (Canadian Conservation Institute, Notes 9/2).",
            "温湿度の変わらない乾いた所に置き、日光、台所、外壁を避ける。裸の鋼では相対湿度 35～45 % を目安とすることが多い。他の素材と共に置く金属については 35～55 % とする博物館の指針がある（Canadian Conservation Institute, Notes 9/2）。",
        ),
    )];
    let wants_damper = materials(record).iter().any(|material| {
        matches!(
            material,
            Material::Wood
                | Material::Ho
                | Material::Rosewood
                | Material::Ebony
                | Material::Lacquer
                | Material::RaySkin
                | Material::SharkSkin
                | Material::Ivory
                | Material::Horn
                | Material::RhinocerosHorn
                | Material::Baleen
                | Material::Bone
                | Material::Tortoiseshell
                | Material::Leather
                | Material::Silk
        )
    });
    if wants_damper {
        items.push(item(
            pair("Fittings", "刀装具"),
            pair(
                "Wood, lacquer, skin and horn crack in air as dry as steel likes it: 45 to 55 % is the usual aim. Keep the blade in a plain storage scabbard and the fittings apart, on a wooden stand-in blade.",
                "木、漆、皮、角は、鋼に適した乾いた空気では割れる。45～55 % を目安とする。刀身は白鞘に納め、刀装具は繋（つなぎ）を入れて別に保管する。",
            ),
        ));
    }
    items.push(item(
        pair("What it lies in", "入れ物"),
        pair(
            "Not in leather, cardboard or fresh wood: they give off acids. A scabbard that was wet, or that holds old oil and dust, scratches and rusts what is put into it.",
            "革、段ボール、乾ききらない木材には入れない。酸を出すためである。濡れた鞘、古い油や埃の残る鞘は、刀身に傷と錆を付ける。",
        ),
    ));
    items
}

/// Oil, by how the surface was found.
fn oil(record: &Record) -> Vec<Item> {
    let fresh = !record.passes.is_empty()
        || record
            .examination
            .as_ref()
            .is_some_and(|examination| examination.surface == SurfaceGrade::FullPolish);
    let renew = if fresh {
        pair(
            "Look at the blade every month in the first year after a polish, then every three to six months, and renew the oil each time.",
            "研ぎの後一年は毎月、その後は三か月から六か月ごとに見て、その都度油を引き直す。",
        )
    } else {
        pair(
            "Look at the blade every three to six months, more often in damp seasons, and renew the oil each time.",
            "三か月から六か月ごと、湿気の多い季節はさらに頻繁に見て、その都度油を引き直す。",
        )
    };
    vec![
        item(
            pair("What", "油の種類"),
            pair(
                "A thin film of neutral oil without additives, such as choji oil made for blades; too much of it gathers dust and soaks the scabbard.",
                "添加物のない中性の油（刀剣用の丁子油など）を薄く引く。多すぎると埃を集め、鞘に染みる。",
            ),
        ),
        item(
            pair("How", "油の引き方"),
            pair(
                "Wipe the old oil off with clean soft paper, from the base to the point, with the back in the hand's fold and the edge away; then draw on the new oil. Powder for wiping polishes a little each time: only when it is needed.",
                "清潔な柔らかい紙で、棟側から挟み、元から先へ古い油を拭い、新しい油を引く。打粉は拭うたびにわずかに研ぐので、必要なときだけ用いる。",
            ),
        ),
        item(pair("When", "時期"), renew),
        item(
            pair("Rags", "布と紙"),
            pair(
                "Oily rags and paper can take fire by themselves: spread them out to dry outdoors or keep them in a closed metal box.",
                "油の染みた布や紙は自然発火することがある。屋外に広げて乾かすか、蓋付きの金属容器に入れる。",
            ),
        ),
    ]
}

fn never() -> Vec<Item> {
    vec![
        item(
            pair("The tang", "茎"),
            pair(
                "Never clean, brush, oil thickly or etch it. Its patina tells age and hand; once gone it does not come back.",
                "磨く、ブラシをかける、厚く油を塗る、腐食する、のいずれもしてはならない。茎の錆は時代と手を語り、失えば戻らない。",
            ),
        ),
        item(
            pair("The steel", "刀身"),
            pair(
                "No polishing compound, no sandpaper, no rust remover, no stone. Every polish takes steel that cannot be put back.",
                "研磨剤、紙やすり、錆落とし、砥石を用いない。研ぎのたびに、戻すことのできない鋼が失われる。",
            ),
        ),
        item(
            pair("The edge", "刃"),
            pair(
                "Do not try it on anything, and do not let it touch the scabbard's mouth when it goes in.",
                "何かを切って試さない。納めるとき、刃を鯉口に当てない。",
            ),
        ),
    ]
}

fn ask(record: &Record) -> Vec<Item> {
    let name = record.issuer.name.clone();
    let mut items = vec![item(
        pair("The polisher", "研師"),
        pair(
            format!(
                "{name} made this record. For rust, a chip, a loose collar or any doubt ask a licensed polisher before you do anything."
            ),
            format!(
                "本記録は {name} が作成した。錆、刃毀れ、鎺の緩み、その他疑問があれば、何かする前に資格ある研師に相談すること。"
            ),
        ),
    )];
    if goes_on(record) {
        items.push(item(
            pair("Rust", "錆"),
            pair(
                "Rust that goes on is recorded on this blade. Keep it dry and oiled and have it looked at soon; do not rub it.",
                "本刀には進行中の錆が記録されている。乾かして油を引き、早めに見てもらうこと。擦らない。",
            ),
        ));
    }
    items.push(item(
        pair("Papers", "書類"),
        pair(
            "A registration card belongs to the blade and goes wherever it goes. Where blades are registered, a change of owner may have to be reported within days: ask the authority. Keep this record and its file as long as the blade.",
            "登録証は刀身に付くもので、常に刀身と共にあること。登録制度のある土地では、所有者の変更を短い期日内に届け出ることがある。官庁に確認する。本記録とそのファイルは刀身と共に保存する。",
        ),
    ));
    items.push(cautions::carriage());
    items
}

/// What the remarks rest on.
pub(super) fn sources() -> Pair {
    pair(
        "Except for what names a source, these remarks are common practice, no source.",
        "典拠を示したもののほかは、慣行による（典拠なし）。",
    )
}

/// Who decides in the end.
pub(super) fn who_decides() -> Pair {
    pair(
        "These are general remarks. Local code, the authorities and a licensed polisher decide.",
        "以上は一般的な注意である。各地の法令、所管の官庁、資格ある研師の判断に従うこと。",
    )
}

/// Care in a few lines.
pub(super) fn brief(record: &Record) -> Vec<Item> {
    let mut items = vec![
        item(
            pair("Steel", "刀身"),
            pair(
                "No bare fingers, no polishing compound, a thin film of neutral oil renewed every three to six months, dry and even storage.",
                "素手で触れず、研磨剤を用いない。中性の油を薄く引き、三か月から六か月ごとに引き直す。乾いた、温湿度の変わらない場所に保管する。",
            ),
        ),
        item(
            pair("Tang", "茎"),
            pair("Never clean its patina.", "茎の錆は決して落とさない。"),
        ),
    ];
    if goes_on(record) {
        items.extend(ask(record).into_iter().skip(1).take(1));
    }
    items
}
