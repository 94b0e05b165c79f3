// Words of every state, by part: weight, word, sentence, and where there is one the next step; each a pair of English and
// Japanese. The states are those of schemas/package-format.md, record-format.md, key-history-format.md. Weights: `holds`,
// `fails` (rejected), `unknown` (cannot be checked), `confirm` (to be confirmed), `plain` (told, weighs nothing).

export const STATE_WORDS = {
  bytes: {
    intact: ['holds', ['as sealed', '封じたまま'], ['These are the bytes that the named key sealed.', '記載の鍵が封じたバイト列そのものです。']],
    same_content: ['holds', ['same content', '内容は同じ'], ['The content is what was sealed, but the file was written anew: these are not the sealed bytes.', '内容は封じたものですが、ファイルは書き直されており、封じたバイト列ではありません。'], ['Ask for the file as it was sealed if you want to keep it.', '保存するなら、封じたままのファイルを求めてください。']],
    altered: ['fails', ['altered', '改変'], ['The content does not fit the signature: it was changed after sealing, or never sealed by this key.', '内容が署名に合いません。封じた後に変わったか、この鍵で封じたものではありません。'], ['Do not rely on it. Ask the workshop for the record of this name.', '頼らないでください。この名の記録を工房に求めてください。']],
    cannot_judge: ['unknown', ['cannot be checked', '照合できない'], ['The file cannot be read as a record of a version that this page knows.', 'このページの知る版の記録として読み取れません。'], ['Look for a newer page, or for the file as the workshop wrote it.', '新しいページ、または工房が書いたままのファイルを探してください。']],
  },
  signer: {
    new: ['confirm', ['new to you', '初めての鍵'], ['The signature is by the key below. Nothing yet says that it is the workshop’s.', '署名は下の鍵によります。工房の鍵だと言うものは、まだありません。'], ['Type the fingerprint from the workshop’s card.', '工房の名刺の指紋を打ち込んでください。']],
    known: ['holds', ['the key on the card', '名刺の鍵'], ['The fingerprint that you typed is that of the signing key.', '打ち込まれた指紋は、署名した鍵のものです。']],
    succeeded: ['holds', ['known by succession', '継承で分かる鍵'], ['The key on your card and this key are joined by the key history: each key named the next, and the next signed that too.', '名刺の鍵とこの鍵は、鍵の履歴でつながっています。どの鍵も次の鍵を指名し、次の鍵もそれに署名しています。']],
    recovered: ['confirm', ['named by a paper key', '紙の鍵による指名'], ['Between the key on your card and this one the recovery key kept on paper spoke, or a revoked key. Whoever held it could do so.', '名刺の鍵とこの鍵の間では、紙に保管した回復用の鍵か、失効した鍵が指名しました。それを持つ者なら誰でもできます。'], ['Ask the workshop for its new card once, and type the fingerprint.', '一度、工房に新しい名刺を求め、その指紋を打ち込んでください。']],
    too_early: ['fails', ['before its time', '使用開始前'], ['By the workshop’s key history the key was not yet in use at the stated time.', '工房の鍵の履歴では、記載の時にこの鍵はまだ使われていません。'], ['Ask the workshop; do not rely on it until it answers.', '工房に尋ね、答えがあるまで頼らないでください。']],
    too_late: ['fails', ['after its time', '使用終了後'], ['By the workshop’s key history the key had been replaced by the stated time.', '工房の鍵の履歴では、記載の時にこの鍵は替えられていました。'], ['Ask the workshop; do not rely on it until it answers.', '工房に尋ね、答えがあるまで頼らないでください。']],
    revoked: ['fails', ['revoked', '失効'], ['The workshop has revoked the key from a time before the stated one: somebody else may have held it.', '工房は、記載の時より前からこの鍵を失効としています。別人が持っていたかもしれません。'], ['Do not rely on it. Ask the workshop.', '頼らず、工房に尋ねてください。']],
    revoked_unproved: ['confirm', ['revoked later', '後に失効'], ['The key was revoked from a later time on; but whoever holds it can write any time, and nothing from outside shows that the record is older.', '鍵は後の時点から失効しました。鍵を持つ者は時を自由に書け、記録がそれより古いと示す外部の裏づけはありません。'], ['Ask the workshop whether it issued the record of this name.', 'この名の記録を発行したか、工房に尋ねてください。']],
    revoked_proved: ['holds', ['revoked later, older by evidence', '後に失効、以前と裏づけ'], ['The key was revoked later; an authority that you trust says the record was there before.', '鍵は後に失効しましたが、信頼する局が、記録はそれ以前にあったとしています。']],
    two_histories: ['fails', ['two key histories', '鍵の履歴が二つ'], ['Two key histories of one first key disagree: somebody wrote two, and nobody can tell from files which is the workshop’s.', '同じ最初の鍵から、食い違う履歴が二つあります。どちらが工房のものか、ファイルからは分かりません。'], ['Show both to the workshop.', '両方を工房に見せてください。']],
    cannot_judge: ['unknown', ['cannot be told', '分からない'], ['No signature that holds names a key.', '成り立つ署名がなく、鍵が分かりません。']],
  },
  time: {
    stated: ['plain', ['stated only', '記載のみ'], ['The time is the issuer’s own word.', '時は発行者自身の言です。']],
    proved: ['holds', ['not later than', '以前'], ['Evidence from an authority that you trust says that the record was there by then.', '信頼する局の裏づけが、その時には記録があったとしています。']],
    later_than_proved: ['confirm', ['stated after the evidence', '記載が裏づけより後'], ['The issuer states a later time than the evidence: its clock or its word is off.', '発行者の記載は裏づけより後です。時計か言葉が狂っています。'], ['Ask the workshop about it.', '工房に尋ねてください。']],
    in_future: ['confirm', ['in the future', '未来の時'], ['The issuer states a time that has not come yet by the clock of this device.', '発行者の記載は、この端末の時計ではまだ来ていない時です。'], ['Look at the clock of this device; then ask the workshop.', 'この端末の時計を確かめ、次に工房に尋ねてください。']],
    cannot_judge: ['unknown', ['cannot be told', '分からない'], ['No time could be read from a record that holds.', '成り立つ記録から時を読み取れません。']],
  },
  completeness: {
    whole: ['holds', ['whole up to this record', 'この記録まで揃う'], ['Every record from the first to this one is here, each naming the one before.', '最初からこの記録まですべてあり、順に前を名指しています。']],
    incomplete: ['plain', ['earlier records missing', '以前の記録が欠ける'], ['Earlier records of the blade are not here.', 'この刀身の以前の記録が揃っていません。'], ['Ask for them; what was found then may matter.', '求めてください。当時の所見が大切なことがあります。']],
    broken: ['fails', ['broken', '途切れ'], ['The records contradict each other: their order, their names or their times do not fit.', '記録同士が食い違います。順序、名、または時が合いません。'], ['Show them to the workshop; do not rely on the newest alone.', '工房に見せ、最新の記録だけに頼らないでください。']],
    cannot_judge: ['unknown', ['cannot be told', '分からない'], ['Without a record that holds there is no chain.', '成り立つ記録がなく、連なりを判定できません。']],
  },
  record: {
    intact: ['holds', ['as sealed', '封じたまま'], ['The bytes are those that were sealed.', '封じたバイト列です。']],
    same_content: ['holds', ['same content', '内容は同じ'], ['Same content, not the sealed bytes.', '内容は同じですが、封じたバイト列ではありません。']],
    altered: ['fails', ['altered', '改変'], ['The content does not fit the signature.', '内容が署名に合いません。'], ['Do not rely on it; ask the workshop for it.', '頼らず、工房に求めてください。']],
    cannot_judge: ['unknown', ['cannot be checked', '照合できない'], ['This page cannot read it as a record.', '記録として読み取れません。'], ['Look for a newer page.', '新しいページを探してください。']],
    misnamed: ['fails', ['misnamed', '名が違う'], ['What it says of its place is not what its file name says.', '記載の順番や用途が、ファイル名と違います。'], ['Ask for the package as the workshop wrote it.', '工房が作ったままの一式を求めてください。']],
  },
  file: {
    changed: ['fails', ['changed', '変化'], ['The bytes are not those of the list.', '目録と内容が違います。'], ['Copy the package again from where it came.', '元からもう一度複写してください。']],
    missing: ['unknown', ['missing', '欠落'], ['The list names it; it is not there.', '目録にありますが、ありません。'], ['Ask for it, or copy the package again.', '求めるか、一式を複写し直してください。']],
    unlisted: ['confirm', ['added', '追加'], ['No list and no rule names it: somebody may have put it in later.', '目録にも決まりにもないもので、後から入れられたのかもしれません。'], ['Ask whoever gave you the package what it is.', '渡した人に、何かを尋ねてください。']],
  },
  photo: {
    original: ['holds', ['same file', '同一ファイル'], ['The bytes are those of the original that a record names.', '記録が挙げる原本のバイト列です。']],
    copy: ['holds', ['same file', '同一ファイル'], ['The bytes are those of a copy that a record names.', '記録が挙げる複製のバイト列です。']],
    not_the_same: ['fails', ['not the same file', '同一ではない'], ['The bytes are not those that the name of the file promises.', 'ファイル名の示すバイト列ではありません。'], ['Ask for the photo as the workshop has it.', '工房にある写真を求めてください。']],
    other_size: ['fails', ['not the same file', '同一ではない'], ['The picture has another number of pixels: it was scaled or cut.', '画素数が異なります。拡大縮小か切り取りです。'], ['Ask for the photo as the workshop has it.', '工房にある写真を求めてください。']],
    other_orientation: ['fails', ['not the same file', '同一ではない'], ['Same pixels wide and high, but turned by a note in the file.', '画素数は同じで、ファイルの注記により向きが違います。'], ['Ask for the photo as the workshop has it.', '工房にある写真を求めてください。']],
    same_size: ['fails', ['not the same file', '同一ではない'], ['Same pixels wide and high: written anew, or changed beside the picture or in it.', '画素数は同じで、書き直されたか、画像またはその周りが変わっています。'], ['Ask for the photo as the workshop has it.', '工房にある写真を求めてください。']],
    unsigned: ['confirm', ['no record names it', 'どの記録にもない'], ['Added or made later; no record signs for it.', '後から加えたか作られたもので、署名した記録はありません。'], ['Do not take it for a photo of the records.', '記録の写真とは見なさないでください。']],
    unmatched: ['plain', ['not the same file', '同一ではない'], ['None of the records at hand names these bytes.', '手元の記録は、このバイト列を挙げていません。'], ['Drop the record that should name it, or ask for the photo as the workshop has it.', '挙げているはずの記録を併せて置くか、工房にある写真を求めてください。']],
  },
  report: {
    unaltered: ['holds', ['as signed', '署名のまま'], ['The pages and the record inside are as the workshop signed them.', '紙面も中の記録も、工房が署名したままです。']],
    altered: ['fails', ['altered', '改変'], ['The file is not as it was signed.', '署名したときのファイルではありません。'], ['Do not rely on its pages; ask for the report anew.', '紙面に頼らず、報告書を改めて求めてください。']],
    cannot_judge: ['unknown', ['cannot be checked', '照合できない'], ['This page cannot read it as a report.', '報告書として読み取れません。'], ['Use the records beside it.', '併せて渡された記録を用いてください。']],
    other_record: ['fails', ['of another record', '別の記録のもの'], ['The record inside is not one of this package.', '中の記録が、この一式のものではありません。'], ['Ask what the report belongs to.', '何の報告書かを尋ねてください。']],
    older: ['confirm', ['of an earlier record', '以前の記録のもの'], ['Its pages show an earlier state than the newest record.', '紙面は、最新の記録より前の状態を示します。'], ['Read the newest record for the present state.', '現状は最新の記録で見てください。']],
  },
  disclosures: {
    fit: ['holds', ['fit', '合う'], ['Every value shown is one that the record withholds.', '開示された値はすべて、記録が伏せたものです。']],
    refused: ['fails', ['refused', '不可'], ['At least one value is not what the record withholds, or the file breaks the rules.', '記録が伏せた値でないものがあるか、決まりに反しています。'], ['Rely on none of its values.', 'どの値にも頼らないでください。']],
    cannot_judge: ['plain', ['cannot be checked', '照合できない'], ['The record it speaks of cannot be judged here.', '対象の記録を判定できません。']],
    no_record: ['fails', ['no record to it', '記録がない'], ['The record it speaks of is not here.', '対象の記録がありません。'], ['Ask for that record.', 'その記録を求めてください。']],
  },
  key_history: {
    fits: ['holds', ['fits', '合う'], ['Every key in it was named by the key before, or by the paper key.', 'どの鍵も、前の鍵か紙の鍵によって指名されています。']],
    refused: ['fails', ['refused', '不可'], ['The key history breaks its rules or a signature in it does not fit.', '鍵の履歴が決まりに反しているか、中の署名が合いません。'], ['Ask the workshop for its key history.', '工房に鍵の履歴を求めてください。']],
    fork: ['fails', ['two that disagree', '食い違う二つ'], ['Two histories of one first key disagree; neither is relied on.', '同じ最初の鍵の履歴が二つ食い違い、どちらにも頼れません。'], ['Show both to the workshop.', '両方を工房に見せてください。']],
    no_issuer: ['confirm', ['of nobody here', '該当者なし'], ['It names no key that issued a record here.', 'ここの記録を発行した鍵を含みません。'], ['Ask why it is in the package.', 'なぜ入っているかを尋ねてください。']],
  },
  timestamp: {
    fits: ['holds', ['fits', '合う'], ['The token is over the name of the record.', '記録の名に対するものです。']],
    refused: ['fails', ['refused', '不可'], ['The token breaks a rule or is over something else.', '決まりに反するか、別のものに対するものです。'], ['It is no evidence; the stated time stands alone.', '裏づけになりません。記載の時だけが残ります。']],
    cannot_judge: ['plain', ['cannot be checked', '照合できない'], ['The record it speaks of cannot be judged here.', '対象の記録を判定できません。']],
    no_record: ['fails', ['no record to it', '記録がない'], ['The record it speaks of is not here.', '対象の記録がありません。'], ['Ask for that record.', 'その記録を求めてください。']],
  },
  schema: {
    fits: ['holds', ['fits', '合う'], ['It is the schema that the records name.', '記録が挙げるスキーマです。']],
    other: ['fails', ['another schema', '別のスキーマ'], ['It is not the schema that the records name.', '記録が挙げるスキーマではありません。'], ['This page used its own; do not use the one in the package.', 'このページは自前のものを用いました。一式のものは使わないでください。']],
  },
  page: {
    released: ['plain', ['a released page', '公開された版'], ['The page in the package is one that was released.', '一式の中のページは、公開された版です。']],
    other: ['confirm', ['another page', '別のページ'], ['The page in the package is none that this page knows as released: a newer one, or a changed one.', 'このページの知る公開版ではありません。より新しいか、書き換えられています。'], ['Use a page from elsewhere, and compare its digest with the published one.', '別の経路のページを用い、公開された要約値と見比べてください。']],
    missing: ['plain', ['no page', 'ページなし'], ['The package has no verifier page.', '一式に検証ページはありません。']],
  },
};
