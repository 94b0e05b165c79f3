// The page in Firefox, by WebDriver BiDi: the same verdicts from files and from a folder, in both languages.
import { readdirSync } from 'node:fs';
import { dirname, join, relative } from 'node:path';

const SHOWN = '#again, .box.fails';

/** Waits until `asked` holds in the page. The library's own waiting makes functions from text, which the page forbids. */
async function until(page, asked, argument) {
  for (let tries = 0; tries < 400; tries += 1) {
    if (await page.evaluate(asked, argument)) return;
    await new Promise(done => { setTimeout(done, 100); });
  }
  throw new Error(`waited 40 s for ${asked}`);
}

async function opened(browser, given, language, width) {
  const page = await browser.newPage();
  // The width is set, then older Firefox refuses to turn the screen, which nothing here needs.
  await page.setViewport({ width, height: 800 }).catch(error => { if (!/setScreenOrientationOverride/.test(error.message)) throw error; });
  const troubles = [];
  page.on('request', request => { if (!/^(file|blob|data|about):/.test(request.url())) troubles.push(`request ${request.url()}`); });
  page.on('pageerror', error => troubles.push(`error ${error.message}`));
  await page.goto(given.url);
  await until(page, wanted => innerWidth === wanted, width);
  await page.evaluate(wanted => document.querySelector(`.languages [lang="${wanted}"]`).click(), language);
  const choose = async files => {
    const input = (await page.evaluateHandle(() => document.getElementById('choose-files'))).asElement();
    await input.uploadFile(...files);
    await until(page, wanted => document.querySelector(wanted) !== null, SHOWN);
  };
  // The protocol gives Firefox files, never a folder: the files of one are given to the button for folders, each with the path
  // that Firefox gives it there.
  const chooseFolder = async folder => {
    const paths = Object.fromEntries(readdirSync(folder, { recursive: true, withFileTypes: true }).filter(one => one.isFile()).map(one => [one.name, relative(dirname(folder), join(one.parentPath, one.name))]));
    await page.evaluate(known => {
      document.addEventListener('change', event => {
        for (const file of event.target.files ?? []) Object.defineProperty(file, 'webkitRelativePath', { value: known[file.name] });
      }, { capture: true, once: true });
    }, paths);
    const input = (await page.evaluateHandle(() => document.getElementById('choose-folder'))).asElement();
    await input.uploadFile(...Object.values(paths).map(path => join(dirname(folder), path)));
    await until(page, wanted => document.querySelector(wanted) !== null, SHOWN);
  };
  const words = () => page.evaluate(() => [...document.querySelectorAll('#answers .verdict .word')].map(node => node.textContent));
  const close = async name => {
    given.check(`firefox ${name}: no request, no error`, troubles.length === 0, troubles.slice(0, 3));
    await page.close();
  };
  return { page, choose, chooseFolder, words, close };
}

/** Runs the main ways in Firefox. */
export async function inFirefox(given) {
  const { check, samples } = given;
  const puppeteer = given.require('puppeteer-core');
  const browser = await puppeteer.launch({
    browser: 'firefox', executablePath: '/usr/bin/firefox-esr', headless: true, defaultViewport: null, env: { ...given.env, HOME: given.folder },
    // No way to a network: a proxy that nobody answers at, for every address but files.
    extraPrefsFirefox: { 'network.proxy.type': 1, 'network.proxy.http': '127.0.0.1', 'network.proxy.http_port': 9, 'network.proxy.ssl': '127.0.0.1', 'network.proxy.ssl_port': 9, 'network.proxy.no_proxies_on': '' },
  });
  try {
    console.log(`firefox ${await browser.version()}`);
    const intact = ['as sealed', 'new to you', 'stated only', 'whole up to this record'];
    const ways = [
      ['zip', ['reed-handover.zip'], intact],
      ['records', ['before.json', 'after.json'], intact],
      ['altered', ['altered.json'], ['altered', 'cannot be told', 'cannot be told', 'cannot be told']],
      ['report', ['report.pdf'], ['as sealed', 'new to you', 'stated only', 'whole up to this record']],
    ];
    for (const [name, files, wanted] of ways) {
      const one = await opened(browser, given, 'en', 1280);
      await one.choose(files.map(file => samples[file]));
      const found = await one.words();
      check(`firefox ${name}: four answers`, JSON.stringify(found) === JSON.stringify(wanted), found);
      if (name === 'zip') {
        check('firefox: pictures are drawn', await one.page.evaluate(async () => {
          const images = [...document.querySelectorAll('#photos img')];
          for (const image of images) { image.loading = 'eager'; await image.decode(); }
          return images.length === 5 && images.every(image => image.naturalWidth > 100);
        }));
        await one.page.evaluate(() => document.getElementById('typed').focus());
        await one.page.keyboard.type('Y5NEVLXHWZLR56PFAL2P');
        await one.page.keyboard.press('Enter');
        await until(one.page, () => document.getElementById('typed-result').textContent !== '');
        check('firefox: fingerprint right', (await one.words())[1] === 'the key on the card');
      }
      if (given.shots) await one.page.screenshot({ path: join(given.shots, `firefox-${name}.png`), fullPage: true });
      await one.close(name);
    }
    const folder = await opened(browser, given, 'en', 1280);
    await folder.chooseFolder(samples.stick);
    check('firefox folder: four answers', JSON.stringify(await folder.words()) === JSON.stringify(intact), await folder.words());
    check('firefox folder: what lies beside is named', /beside the package[^\n]*stick\/letter\.txt/.test(await folder.page.evaluate(() => document.querySelector('main').innerText)));
    await folder.close('folder');
    const phone = await opened(browser, given, 'ja', 360);
    await phone.choose([samples['reed-handover.zip']]);
    check('firefox ja 360: four answers', JSON.stringify(await phone.words()) === JSON.stringify(['封じたまま', '初めての鍵', '記載のみ', 'この記録まで揃う']), await phone.words());
    await phone.page.evaluate(() => { for (const fold of document.querySelectorAll('details')) fold.open = true; });
    const sideways = await phone.page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    check('firefox ja 360: no sideways scroll', sideways <= 0, sideways);
    if (given.shots) await phone.page.screenshot({ path: join(given.shots, 'firefox-ja-360.png'), fullPage: true });
    await phone.close('ja 360');
    const refused = await opened(browser, given, 'en', 1280);
    await refused.choose([samples['commented.zip']]);
    check('firefox: refused', /end is not where it must be/.test(await refused.page.evaluate(() => document.querySelector('main').innerText)));
    await refused.close('refused');
  } finally {
    await browser.close();
  }
}
