// The page in Chromium: what is dropped, what is said, in both languages.
import { answers, CARD, drop, opened, same } from './opened.mjs';
import { everyState, keyboard, paper } from './sights.mjs';

async function start(browser, given) {
  const { page, text } = await opened(browser, given);
  const context = page.context();
  const { check } = given;
  check('first words are on the page itself', await page.evaluate(() => document.body.firstElementChild.id === 'notice'));
  check('it says that it proves nothing', (await text('#notice')).includes('proves nothing about that package'));
  check('it states its digest', (await text('#page-digest')) === given.digest);
  check('nothing is shown in Japanese', !(await text('#notice')).includes('証明しません'));
  check('title', (await page.title()) === 'Check what a workshop sealed');
  check('no address leads out', await page.evaluate(() => [...document.querySelectorAll('[src],[href]')].every(node => !/^(https?:)?\/\//.test(node.getAttribute('src') ?? node.getAttribute('href')))));
  const blocked = await page.evaluate(() => fetch('https://example.org/').then(() => false, () => true));
  check('the policy blocks a request', blocked);
  await context.close();
  const bare = await browser.newContext({ javaScriptEnabled: false, offline: true });
  const still = await bare.newPage();
  await still.goto(given.url);
  check('without scripts: what the page is, and what to do', /proves nothing/.test(await still.innerText('#notice')) && /HOW-TO-CHECK/.test(await still.innerText('body')));
  await bare.close();
}

async function packages(browser, given) {
  const { check, samples } = given;
  const intact = ['as sealed', 'new to you', 'stated only', 'whole up to this record'];
  for (const [name, files] of [['folder', samples.reed], ['zip file', samples['reed-handover.zip']]]) {
    const one = await opened(browser, given);
    await one.choose(files);
    check(`${name}: four answers`, same(await answers(one), intact), await answers(one));
    check(`${name}: focus on the title`, await one.page.evaluate(() => document.activeElement.id === 'title'));
    await one.page.waitForTimeout(150);
    check(`${name}: said aloud`, /new to you/.test(await one.page.evaluate(() => document.getElementById('live').textContent)));
    check(`${name}: title of the blade`, (await one.text('h1')) === 'Long sword “Reed”');
    check(`${name}: five photos, each the same file`, (await one.page.locator('#photos figure .word').allInnerTexts()).join() === Array(5).fill('same file').join());
    check(`${name}: pictures are drawn`, await one.page.evaluate(async () => {
      const images = [...document.querySelectorAll('#photos img')];
      for (const image of images) { image.loading = 'eager'; await image.decode(); }
      return images.length === 5 && images.every(image => image.naturalWidth > 100);
    }));
    check(`${name}: three flaws on map and list`, (await one.page.locator('.blade-map .number').allTextContents()).join() === '1,2,3' && (await one.page.locator('ol.flaws > li').count()) === 3);
    const changes = await one.text('#changes');
    check(`${name}: mass beyond uncertainty`, /mass[\s\S]*748\.30 ± 0\.24[\s\S]*741\.90 ± 0\.24[\s\S]*−6\.40 ± 0\.34[\s\S]*beyond uncertainty/.test(changes));
    check(`${name}: length within uncertainty`, /blade length[^\n]*\t698\.17 ± 0\.40[\s\S]*?0\.00 ± 0\.57[\s\S]*?within uncertainty/.test(changes));
    check(`${name}: decision`, /\nWork\n[\s\S]*31 findings of the checks 0 ask to stop, 2 ask for caution and 29 inform/.test(await one.text('#decision')));
    check(`${name}: by eye`, /58\.0 ± 0\.6 mm from the start of the blade, diameter 5\.40 ± 0\.07 mm/.test(await one.text('#eye')));
    check(`${name}: withheld by place`, /agreement › owner\s+address, telephone or mail, name/.test(await one.text('#withheld')));
    check(`${name}: what is not proved`, (await one.page.locator('#limits li').count()) === 8 && /this page does not draw them again/.test(await one.text('#limits')));
    check(`${name}: nothing kept`, same(await one.page.evaluate(async () => {
      let stored = 0;
      try { stored = localStorage.length + sessionStorage.length; } catch { stored = 0; }
      return [stored, document.cookie];
    }), [0, '']));
    await one.close(name);
  }
  const dropped = await opened(browser, given);
  await drop(dropped.page, [samples.reed]);
  check('dropped folder: four answers', same(await answers(dropped), intact), await answers(dropped));
  await dropped.page.click('#again');
  await drop(dropped.page, [samples['before.json'], samples['after.json'], samples['named.jpg'], samples['other.jpg']]);
  check('dropped files: four answers', same(await answers(dropped), intact), await answers(dropped));
  check('dropped files: which photo is the same file', same((await dropped.page.locator('#photos .word').allInnerTexts()).sort(), ['not the same file', 'same file']));
  await dropped.page.click('#again');
  await drop(dropped.page, [samples.stick, samples['nothing.txt']]);
  check('dropped folder around the package: four answers', same(await answers(dropped), intact), await answers(dropped));
  check('dropped folder around the package: what lies beside is named', /package reed-handover[\s\S]*Not looked at\s+beside the package[^\n]*nothing\.txt, stick\/letter\.txt/.test(await dropped.text('main')), await dropped.text('main'));
  await dropped.close('drops');
  const chosen = await opened(browser, given);
  await chosen.choose(samples.stick);
  check('chosen folder around the package: four answers', same(await answers(chosen), intact), await answers(chosen));
  check('chosen folder around the package: photos are there', (await chosen.page.locator('#photos figure .word').allInnerTexts()).join() === Array(5).fill('same file').join());
  await chosen.close('folder around the package');
  for (const [name, files, words] of [['two packages', samples.two, /2 packages[\s\S]*Next step Drop one of them by itself/], ['zip with company', [samples['reed-handover.zip'], samples['before.json']], /reed-handover\.zip is a zip file, and beside it lies more[\s\S]*Next step Drop the zip file alone/]]) {
    const one = await opened(browser, given);
    await one.choose(files);
    check(`${name}: a problem with its next step`, words.test(await one.text('main')), await one.text('main'));
    await one.close(name);
  }
  for (const [blade, words] of [['gorge', /set aside[\s\S]*stop/i], ['lantern', /refer/], ['heron', /rod tang|narrow rod|tang/], ['dune', /makers? mark|running hare/]]) {
    const one = await opened(browser, given);
    await one.choose(samples[blade]);
    check(`${blade}: as sealed`, (await one.word('bytes')) === 'as sealed');
    check(`${blade}: its words`, words.test(await one.text('main')));
    await one.close(blade);
  }
}

async function faults(browser, given) {
  const { check, samples } = given;
  const alone = await opened(browser, given);
  await alone.choose(samples['after.json']);
  check('record alone: earlier ones missing', (await alone.word('completeness')) === 'earlier records missing');
  check('record alone: the gap in the chain', /Record 1 is not here/.test(await alone.text('#chain')));
  check('record alone: photos not handed over', /not handed over \(3\)/.test(await alone.text('#photos')));
  await alone.close('record alone');

  const altered = await opened(browser, given);
  await altered.choose(samples['altered.json']);
  check('altered record', (await altered.word('bytes')) === 'altered' && (await altered.word('signer')) === 'cannot be told');
  check('altered record: said before its contents', await altered.page.locator('#altered').isVisible());
  check('altered record: no key to compare with', (await altered.page.locator('#typed').count()) === 0 && /names the key/.test(await altered.text('main')));
  await altered.close('altered record');

  const inBag = await opened(browser, given);
  await inBag.choose(samples.altered);
  check('altered in a package: named first', /does not hold[\s\S]*02-after_work\.json[\s\S]*altered/.test(await inBag.text('#attention')));
  check('altered in a package: what is shown is told', /A record of a higher number was handed over, but does not hold/.test(await inBag.text('main')));
  await inBag.close('altered in a package');

  const mixed = await opened(browser, given);
  await mixed.choose(samples.mixed);
  const attention = await mixed.text('#attention');
  for (const words of ['not the same file', 'missing', 'added', 'no record names it']) check(`mixed: ${words}`, attention.includes(words), attention);
  check('mixed: not looked at', /Not looked at[\s\S]*data\/proofs\/later\.bin/.test(await mixed.text('#files')));
  await mixed.close('mixed');

  for (const [name, files, words] of [['refused folder', samples.refused, /name of a device[\s\S]*data\/con\.txt/], ['refused zip', samples['commented.zip'], /end is not where it must be/]]) {
    const one = await opened(browser, given);
    await one.choose(files);
    const told = await one.text('main');
    check(`${name}: rule and place`, words.test(told), told);
    check(`${name}: nothing else`, (await one.page.locator('main section').count()) === 0 && !told.includes('Reed'));
    await one.close(name);
  }

  const pdf = await opened(browser, given);
  await pdf.choose(samples['report.pdf']);
  check('report: as signed', /report\.pdf\s*as signed/.test(await pdf.text('#files')), await pdf.text('#files'));
  check('report: record in it', (await pdf.word('bytes')) === 'as sealed');
  await pdf.page.click('#again');
  await pdf.choose(samples['altered.pdf']);
  check('altered report', /altered|cannot be checked/.test(await pdf.text('#attention')) && !/report\.pdf\s*as signed/.test(await pdf.text('#files')));
  await pdf.close('report');

  const hostile = await opened(browser, given);
  await hostile.choose(samples['markup.json']);
  check('markup in a record stays text', (await hostile.text('h1')).includes('<img src=x') && (await hostile.page.locator('h1 img, h1 b').count()) === 0);
  await hostile.page.click('#again');
  await hostile.choose(samples['turned.json']);
  check('what turns the direction of writing is shown by number', (await hostile.text('h1')) === 'Long U+202Eswordo U+200B“Reed”', await hostile.text('h1'));
  const kept = await hostile.page.evaluate(() => ['h1', 'dd', 'code', '#attention strong', '.photo figcaption p', 'bdi'].map(name => document.querySelector(name)).filter(Boolean).map(node => getComputedStyle(node).unicodeBidi));
  check('names are kept apart from the words around them', kept.length > 3 && kept.every(value => value === 'isolate'), kept);
  await hostile.page.click('#again');
  await hostile.choose(samples['hostile.json']);
  check('a record of no form: never as sealed, and the page stays', /altered|cannot be checked/.test(await hostile.word('bytes')), await hostile.word('bytes'));
  await hostile.page.click('#again');
  await hostile.choose(samples['nothing.txt']);
  check('nothing to check: said with a next step', /None of these files[\s\S]*Next step/.test(await hostile.text('main')));
  await hostile.close('hostile');

  const japanese = await opened(browser, given, { language: 'ja-JP' });
  await japanese.choose(samples.altered);
  check('altered in Japanese: why', /署名が内容に合わない/.test(await japanese.text('#attention')), await japanese.text('#attention'));
  await japanese.close('altered in Japanese');
}

async function card(browser, given) {
  const { check, samples } = given;
  const one = await opened(browser, given);
  await one.choose(samples.reed);
  const type = async words => {
    await one.page.fill('#typed', words);
    // What was said before must not be taken for the new answer.
    await one.page.evaluate(() => { document.getElementById('typed-result').textContent = ''; });
    await one.page.press('#typed', 'Enter');
    await one.page.waitForFunction(() => document.getElementById('typed-result').textContent !== '');
    await one.page.waitForTimeout(150);
  };
  await type('Y5NEV LXHWZ');
  check('fingerprint too short', /10 letters typed, 20 needed/.test(await one.text('#typed-result')) && (await one.page.getAttribute('#typed', 'aria-invalid')) === 'true');
  await type('Y5NEV-LXHWZ-LR56P-FAL2Q');
  check('fingerprint wrong: group named', /does not fit\. Groups that differ: 4\./.test(await one.text('#typed-result')), await one.text('#typed-result'));
  check('fingerprint wrong: still new', (await one.word('signer')) === 'new to you');
  // As a Japanese keyboard gives it: letters of full width, another hyphen.
  await type([...CARD].map(letter => (letter === '-' ? '－' : String.fromCharCode(letter.charCodeAt(0) + 0xfee0))).join(''));
  check('fingerprint right, in full width', (await one.word('signer')) === 'the key on the card' && /that of the signing key/.test(await one.text('#typed-result')), await one.text('#answer-signer'));
  await type(CARD.toLowerCase().replaceAll('-', ' '));
  check('fingerprint right', (await one.word('signer')) === 'the key on the card' && /that of the signing key/.test(await one.text('#typed-result')));
  check('fingerprint right: other answers stay', same((await answers(one)).filter((_, index) => index !== 1), ['as sealed', 'stated only', 'whole up to this record']));
  check('focus stays on the field', await one.page.evaluate(() => document.activeElement.id === 'typed'));
  await one.page.click('.languages [lang="ja"]');
  check('language changed: answer stays', (await one.word('signer')) === '名刺の鍵');
  check('language changed: focus stays', await one.page.evaluate(() => document.activeElement.getAttribute('lang') === 'ja' && document.activeElement.getAttribute('aria-pressed') === 'true'));
  await one.page.click('#again');
  await one.choose(samples.reed);
  check('forgotten with the next package', (await one.word('signer')) === '初めての鍵' && (await one.page.inputValue('#typed')) === '');
  await one.close('card');
}

async function evidence(browser, given) {
  const { check, evidence: made } = given;
  const told = async (name, files, typed) => {
    const one = await opened(browser, given);
    await one.choose(files);
    if (typed) {
      await one.page.fill('#typed', typed);
      await one.page.press('#typed', 'Enter');
      await one.page.waitForFunction(() => document.getElementById('typed-result').textContent !== '');
    }
    const found = { signer: await one.word('signer'), time: await one.word('time'), all: await one.text('main') };
    await one.close(name);
    return found;
  };
  const succeeded = await told('succession', made.rotated, made.first);
  check('succession: known by the card of the key before', succeeded.signer === 'known by succession' && succeeded.all.includes('another key of this package'), succeeded.signer);
  check('succession: the chain names the change of key', succeeded.all.includes('another key than the record before'));
  check('succession: new without the card', (await told('no card', made.rotated)).signer === 'new to you');
  check('recovery: to be confirmed', (await told('recovery', made.recovered, made.first)).signer === 'named by a paper key');
  check('revoked', (await told('revoked', made.revoked, made.first)).signer === 'revoked');
  check('revoked later, no evidence', (await told('unproved', made.unproved, made.first)).signer === 'revoked later');
  check('disclosed by place', /examination › examiner › name\s+Odile Varga/.test((await told('disclosed', made.disclosed)).all));

  // A withdrawal is told before everything else: in a package, and among loose files.
  for (const [name, files] of [['withdrawn', made.withdrawn], ['withdrawn, loose', made.withdrawnFiles]]) {
    const one = await opened(browser, given);
    await one.choose(files);
    check(`${name}: first of what needs attention`, /a withdrawal/.test(await one.page.locator('#attention li').first().innerText()), await one.text('#attention'));
    check(`${name}: of which record, and why`, /Record 2 withdraws record 1: “Measured on another blade\.”/.test(await one.text('#attention')) && /withdrawn by record 2/.test(await one.text('#chain')), await one.text('#attention'));
    await one.page.click('.languages [lang="ja"]');
    check(`${name}: in Japanese`, /撤回/.test(await one.page.locator('#attention li').first().innerText()));
    await one.close(name);
  }
  const report = await opened(browser, given);
  await report.choose(made.pagesRejected);
  check('report by a revoked key: named', /by a key not to be relied on/.test(await report.text('#attention')), await report.text('#attention'));
  await report.close('report by a revoked key');
  const beside = await opened(browser, given);
  await beside.choose(made.besideFiles);
  check('beside: another blade is left out and told', (await beside.word('completeness')) === 'earlier records missing' && /left out/.test(await beside.text('#files')), await beside.text('#files'));
  await beside.close('beside');

  const one = await opened(browser, given);
  await one.choose(made.stamped);
  await one.page.click('#answer-time summary');
  check('time evidence: in the open', /Not later than 20\d\d-.* UTC, says `Example clock`/.test(await one.page.locator('#answer-time .witness').innerText()));
  check('time evidence: who says so', (await one.word('time')) === 'not later than, says somebody unknown' && /Not later than 20\d\d-.* UTC, says .*Example clock.*unknown to this page/.test(await one.text('#answer-time')), await one.text('#answer-time'));
  check('time evidence: in the chain', /evidence from outside\s+Not later than/.test(await one.text('#chain')));
  await one.page.setInputFiles('#choose-authority', given.samples['nothing.txt']);
  await one.page.waitForFunction(() => document.getElementById('authority-result').textContent !== '');
  check('time evidence: no certificate', /BEGIN CERTIFICATE is needed/.test(await one.text('#authority-result')));
  await one.page.setInputFiles('#choose-authority', made.root);
  await one.page.waitForFunction(() => document.querySelector('#answer-time .word').textContent === 'not later than');
  await one.page.click('#answer-time summary');
  check('time evidence: an authority that the reader gave', /an authority that you gave to this page/.test(await one.text('#answer-time')));
  await one.close('time evidence');
}

/** What the program itself packed: nothing rejected, the report as signed, the page in it this one. */
async function tour(browser, given) {
  const { check } = given;
  // A whole run without what the tour packed would leave out what the program itself writes.
  check('tour: packages were given (the third folder that run.mjs is told)', given.tour.length > 0 || given.only.length > 0);
  for (const path of given.tour) {
    const one = await opened(browser, given);
    const name = `tour: ${path.split('/').at(-1)}`;
    await one.choose(path);
    check(`${name}: as sealed, whole`, (await one.word('bytes')) === 'as sealed' && (await one.word('completeness')) === 'whole up to this record', await one.text('main'));
    check(`${name}: only the signer is left to be confirmed`, (await one.page.locator('#attention li').count()) === 1 && /new to you/.test(await one.text('#attention')), await one.text('#attention'));
    const files = await one.page.evaluate(() => { for (const fold of document.querySelectorAll('#files details')) fold.open = true; return document.getElementById('files').innerText; });
    check(`${name}: its report`, /\.pdf\s*as signed/.test(files), files);
    check(`${name}: what nobody signed is named`, /Compared with the list only[\s\S]*do not run programs that came with a package[\s\S]*data\/HOW-TO-CHECK\.txt/.test(files), files);
    check(`${name}: its page`, !files.includes('verify.html') || /verify\.html\s*a released page/.test(files), files);
    await one.page.fill('#typed', await one.text('.fingerprint'));
    await one.page.press('#typed', 'Enter');
    await one.page.waitForFunction(() => document.getElementById('typed-result').textContent !== '');
    check(`${name}: nothing left`, /Nothing was rejected/.test(await one.text('#attention')), await one.text('#attention'));
    await one.close(name);
  }
}

async function large(browser, given) {
  const { check, samples } = given;
  const one = await opened(browser, given);
  await one.page.setInputFiles('#choose-folder', samples.many);
  await one.page.waitForSelector('#cancel');
  await one.page.waitForFunction(() => /Checking/.test(document.querySelector('.working-on')?.textContent ?? ''));
  check('large package: progress', await one.page.evaluate(() => document.querySelector('progress').getAttribute('aria-label') === 'Progress'));
  await one.page.click('#cancel');
  await one.page.waitForSelector('#drop');
  check('large package: cancelled', (await one.text('h1')) === 'Check what a workshop sealed');
  await one.page.waitForTimeout(400);
  check('large package: nothing comes later', (await one.page.locator('#answers').count()) === 0);
  await one.choose(samples.many);
  check('large package: photos that no record names stand together', /and 35 more/.test(await one.text('#attention')), await one.text('#attention'));
  await one.close('large package');
}

/** Runs everything in Chromium. */
export async function inChromium(given) {
  const { chromium } = given.require('playwright-core');
  const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox'], env: given.env });
  try {
    console.log(`chromium ${browser.version()}`);
    for (const part of [start, packages, faults, card, evidence, tour, large, keyboard, paper, everyState]) {
      if (given.only.length === 0 || given.only.includes(part.name)) await part(browser, given);
    }
  } finally {
    await browser.close();
  }
}
