// The page in Chromium: what is dropped, what is said, in both languages, on a phone and on a desk, by keyboard alone.
import { readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';

const CARD = 'Y5NEV-LXHWZ-LR56P-FAL2P';
const SHOWN = '#again, .box.fails';

/** Opens the page with the network cut; every request and every complaint of the browser is kept. */
async function opened(browser, given, options = {}) {
  const { width = 1280, language = 'en-GB', scheme = 'light', ...rest } = options;
  const context = await browser.newContext({ viewport: { width, height: 800 }, locale: language, colorScheme: scheme, offline: true, reducedMotion: 'reduce', ...rest });
  const page = await context.newPage();
  const troubles = [];
  page.on('request', request => { if (!/^(file|blob|data):/.test(request.url())) troubles.push(`request ${request.url()}`); });
  page.on('console', message => troubles.push(`console ${message.text()}`));
  page.on('pageerror', error => troubles.push(`error ${error.message}`));
  await page.goto(given.url);
  const text = async selector => (await page.locator(selector).innerText()).replaceAll('\u00a0', ' ');
  const choose = async files => {
    const folder = typeof files === 'string' && statSync(files).isDirectory();
    await page.setInputFiles(folder ? '#choose-folder' : '#choose-files', files);
    await page.waitForSelector(SHOWN);
  };
  const word = answer => text(`#answer-${answer} .word`);
  const close = async name => {
    given.check(`${name}: no request, no error`, troubles.length === 0, troubles.slice(0, 3));
    await context.close();
  };
  return { page, text, choose, word, close };
}

/** Drops real files and folders by the protocol of the browser, as a hand would. */
async function drop(page, paths) {
  const session = await page.context().newCDPSession(page);
  const box = await page.locator('#drop').boundingBox();
  const at = { x: box.x + box.width / 2, y: box.y + box.height / 2 };
  const data = { items: [], files: paths, dragOperationsMask: 1 };
  for (const type of ['dragEnter', 'dragOver', 'drop']) await session.send('Input.dispatchDragEvent', { type, ...at, data });
  await page.waitForSelector(SHOWN);
}

async function answers({ word }) {
  return [await word('bytes'), await word('signer'), await word('time'), await word('completeness')];
}

const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);

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
    check(`${name}: what is not proved`, (await one.page.locator('#limits li').count()) === 7);
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
  await dropped.close('drops');
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
  for (const path of given.tour) {
    const one = await opened(browser, given);
    const name = `tour: ${path.split('/').at(-1)}`;
    await one.choose(path);
    check(`${name}: as sealed, whole`, (await one.word('bytes')) === 'as sealed' && (await one.word('completeness')) === 'whole up to this record', await one.text('main'));
    check(`${name}: only the signer is left to be confirmed`, (await one.page.locator('#attention li').count()) === 1 && /new to you/.test(await one.text('#attention')), await one.text('#attention'));
    const files = await one.page.evaluate(() => { for (const fold of document.querySelectorAll('#files details')) fold.open = true; return document.getElementById('files').innerText; });
    check(`${name}: its report`, /\.pdf\s*as signed/.test(files), files);
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

async function keyboard(browser, given) {
  const { check, samples } = given;
  const one = await opened(browser, given);
  const walk = [];
  for (let step = 0; step < 12; step += 1) {
    await one.page.keyboard.press('Tab');
    walk.push(await one.page.evaluate(() => document.activeElement.textContent));
  }
  check('keyboard: languages, files, folder in this order', same(walk.filter(Boolean).slice(0, 4), ['English', '日本語', 'Choose files', 'Choose a folder']), walk);
  await one.page.focus('#drop button');
  const [chooser] = await Promise.all([one.page.waitForEvent('filechooser'), one.page.keyboard.press('Enter')]);
  await chooser.setFiles([samples['before.json'], samples['after.json']]);
  await one.page.waitForSelector(SHOWN);
  check('keyboard: verdict without a mouse', (await one.word('bytes')) === 'as sealed');
  await one.page.evaluate(() => document.activeElement.blur());
  const wanted = await one.page.evaluate(() => [...document.querySelectorAll('button, a[href], summary, input, [tabindex="0"]')].filter(node => node.tabIndex >= 0 && node.checkVisibility()).length);
  const seen = new Set();
  let unseen = 0;
  for (let step = 0; step < wanted + 5; step += 1) {
    await one.page.keyboard.press('Tab');
    const [id, outline] = await one.page.evaluate(() => {
      const node = document.activeElement;
      node.dataset.walked ??= String(document.querySelectorAll('[data-walked]').length);
      return [node === document.body ? '' : node.dataset.walked, getComputedStyle(node).outlineStyle];
    });
    if (id !== '' && !seen.has(id)) {
      seen.add(id);
      if (outline === 'none') unseen += 1;
    }
  }
  check('keyboard: everything is reached', seen.size >= wanted, [seen.size, wanted]);
  check('keyboard: focus is visible everywhere', unseen === 0, unseen);
  await one.page.focus('#decision details:not([open]) > summary');
  await one.page.keyboard.press('Enter');
  check('keyboard: a fold opens', (await one.page.locator('#decision details[open]').count()) === 2);
  await one.close('keyboard');

  const photo = await opened(browser, given);
  await photo.choose(samples.reed);
  await photo.page.focus('#photos .thumbnail');
  await photo.page.keyboard.press('Enter');
  check('keyboard: a photo is enlarged', await photo.page.locator('dialog[open]').isVisible());
  await photo.page.keyboard.press('Escape');
  await photo.page.waitForTimeout(100);
  check('keyboard: and closed, focus back', (await photo.page.locator('dialog').count()) === 0 && (await photo.page.evaluate(() => document.activeElement.className === 'thumbnail')));
  await photo.close('photo');
}

/** Every state in every language, colour scheme and width: no violation, no sideways scroll, large targets; screenshots. */
async function everyState(browser, given) {
  const { check, samples, shots } = given;
  const axe = readFileSync(given.require.resolve('axe-core/axe.min.js'), 'utf8');
  const states = { start: null, intact: samples.reed, stops: samples.gorge, altered: samples['altered.json'], mixed: samples.mixed, refused: samples.refused, report: samples['report.pdf'], nothing: samples['nothing.txt'] };
  const sights = [['en', 'light', 360], ['en', 'light', 768], ['en', 'light', 1280], ['en', 'dark', 1280], ['ja', 'light', 1280], ['ja', 'dark', 360]];
  for (const [language, scheme, width] of sights) {
    const one = await opened(browser, given, { width, scheme, language: language === 'ja' ? 'ja-JP' : 'en-GB', bypassCSP: true });
    for (const [state, files] of Object.entries(states)) {
      const name = `${state} ${language} ${scheme} ${width}`;
      if (files) await one.choose(files);
      check(`${name}: language of the document`, (await one.page.getAttribute('html', 'lang')) === language);
      await one.page.evaluate(() => { for (const fold of document.querySelectorAll('details')) fold.open = true; });
      await one.page.waitForTimeout(120);
      const sideways = await one.page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      check(`${name}: no sideways scroll`, sideways <= 0, sideways);
      const small = await one.page.evaluate(() => [...document.querySelectorAll('button, summary, input:not(.unseen), nav a')].filter(node => node.checkVisibility() && node.getBoundingClientRect().height < 43.5).map(node => node.textContent));
      check(`${name}: targets of 44 pixels`, small.length === 0, small);
      if (!(await one.page.evaluate(() => 'axe' in globalThis))) await one.page.evaluate(axe);
      const violations = await one.page.evaluate(async () => (await globalThis.axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'], resultTypes: ['violations'] })).violations.map(found => [found.id, found.nodes.slice(0, 2).map(node => node.html.slice(0, 160))]));
      check(`${name}: accessibility`, violations.length === 0, violations);
      if (shots) await one.page.screenshot({ path: join(shots, `${name.replaceAll(' ', '-')}.png`), fullPage: true });
      if (files) await one.page.evaluate(() => document.getElementById('again')?.click());
    }
    await one.close(`every state ${language} ${scheme} ${width}`);
  }
}

async function paper(browser, given) {
  const { check, samples } = given;
  const one = await opened(browser, given, { scheme: 'dark' });
  await one.choose(samples.reed);
  await one.page.evaluate(() => window.dispatchEvent(new Event('beforeprint')));
  check('print: folds are open', (await one.page.locator('details:not([open])').count()) === 0);
  await one.page.evaluate(() => window.dispatchEvent(new Event('afterprint')));
  check('print: and folded again', (await one.page.locator('details:not([open])').count()) > 3);
  await one.page.emulateMedia({ media: 'print' });
  check('print: buttons are left out', !(await one.page.locator('#again').isVisible()) && !(await one.page.locator('#typed').isVisible()));
  check('print: black on white', same(await one.page.evaluate(() => [getComputedStyle(document.documentElement).color, getComputedStyle(document.documentElement).backgroundColor]), ['rgb(0, 0, 0)', 'rgb(255, 255, 255)']));
  check('print: the fingerprint is there', (await one.text('.fingerprint')).replaceAll(/\s/g, '') === CARD);
  const pdf = await one.page.pdf(given.shots ? { path: join(given.shots, 'print.pdf') } : {});
  check('print: pages come out', pdf.length > 20_000);
  await one.close('print');
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
