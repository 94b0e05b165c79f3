// The page in Chromium as people meet it: by keyboard alone, in every state, language, colour scheme and width, on paper.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { CARD, opened, same, SHOWN } from './opened.mjs';

export async function keyboard(browser, given) {
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
export async function everyState(browser, given) {
  const { check, samples, shots } = given;
  const axe = readFileSync(given.require.resolve('axe-core/axe.min.js'), 'utf8');
  const { evidence } = given;
  const states = {
    start: null, intact: samples.reed, stops: samples.gorge, altered: samples['altered.json'], mixed: samples.mixed, refused: samples.refused, report: samples['report.pdf'], nothing: samples['nothing.txt'],
    around: samples.stick, rotated: evidence.rotated, revoked: evidence.revoked, withdrawn: evidence.withdrawn, disclosed: evidence.disclosed, stamped: evidence.stamped, turned: samples['turned.json'],
    typed: samples.reed, succeeded: evidence.rotated,
  };
  const typed = { typed: CARD, succeeded: evidence.first };
  const sights = [['en', 'light', 360], ['en', 'light', 768], ['en', 'light', 1280], ['en', 'dark', 1280], ['ja', 'light', 1280], ['ja', 'dark', 360]];
  for (const [language, scheme, width] of sights) {
    const one = await opened(browser, given, { width, scheme, language: language === 'ja' ? 'ja-JP' : 'en-GB', bypassCSP: true });
    for (const [state, files] of Object.entries(states)) {
      const name = `${state} ${language} ${scheme} ${width}`;
      if (files) await one.choose(files);
      if (typed[state]) {
        await one.page.fill('#typed', typed[state]);
        await one.page.press('#typed', 'Enter');
        await one.page.waitForFunction(() => document.getElementById('typed-result').textContent !== '');
      }
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
      // From a problem there is no way back but the next choice, which would find the old screen.
      if (files) await one.page.evaluate(() => document.getElementById('again')?.click());
      if (state === 'nothing') await one.page.reload();
    }
    await one.close(`every state ${language} ${scheme} ${width}`);
  }
}

export async function paper(browser, given) {
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
