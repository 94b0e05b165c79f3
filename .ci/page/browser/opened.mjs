// The page opened in Chromium, and what every test of it does: choose, drop, read the answers.
import { statSync } from 'node:fs';

export const CARD = 'Y5NEV-LXHWZ-LR56P-FAL2P';
export const SHOWN = '#again, .box.fails';

/** Opens the page with the network cut; every request and every complaint of the browser is kept. */
export async function opened(browser, given, options = {}) {
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
export async function drop(page, paths) {
  const session = await page.context().newCDPSession(page);
  const box = await page.locator('#drop').boundingBox();
  const at = { x: box.x + box.width / 2, y: box.y + box.height / 2 };
  const data = { items: [], files: paths, dragOperationsMask: 1 };
  for (const type of ['dragEnter', 'dragOver', 'drop']) await session.send('Input.dispatchDragEvent', { type, ...at, data });
  await page.waitForSelector(SHOWN);
}

export async function answers({ word }) {
  return [await word('bytes'), await word('signer'), await word('time'), await word('completeness')];
}

export const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
