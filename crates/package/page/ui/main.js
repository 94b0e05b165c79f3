// The page at work: what was dropped is judged by the core, and shown.

import { languageOf, say, speak, stateWords } from './lang.js';
import { announce, el } from './dom.js';
import { Problem, fromChoice, fromDrop } from './sources.js';
import { languageSwitch, limitsSection, problemScreen, startScreen, workingScreen } from './start.js';
import { attentionOf, attentionSection, contentsList, headOf } from './head.js';
import { answersSection, differingGroups, typedLetters, typedWords } from './answers.js';
import { decisionSection } from './decision.js';
import { eyeSection } from './eye.js';
import { mapSection } from './map.js';
import { changesSection } from './changes.js';
import { photosSection } from './photos.js';
import { chainSection } from './chain_view.js';
import { withheldSection } from './withheld.js';
import { filesSection } from './files.js';
import { modelOf } from './model.js';
import { refusedScreen } from './refused.js';
import { judgeDropped, judgedAgain, photoUrls } from './judge.js';

/** What is on the screen: `start`, `working`, `problem`, `refused` or `verdict`, with what it needs. */
let screenNow = { kind: 'start' };
let urlsNow = new Map();

function dataOf(id) {
  return document.getElementById(id).textContent;
}

/** What the reader of the page brings: fingerprints typed, certificates of authorities, the pages that this page knows, the time. */
function readerOf({ typed = '', authorities = [] } = {}) {
  const own = document.getElementById('page-digest').textContent;
  return {
    // The letters that the form compares are those that are judged by.
    fingerprints: typed ? [typedLetters(typed)] : [], authorities, histories: [], schema: new TextEncoder().encode(dataOf('record-schema')),
    releasedPages: [own, ...JSON.parse(dataOf('released-pages'))], releasedAids: JSON.parse(dataOf('released-aids')), now: `${new Date().toISOString().slice(0, 19)}Z`,
  };
}

function show(children, focus = true) {
  const app = document.getElementById('app');
  const bar = el('header', { class: 'bar' }, el('p', { class: 'tool' }, say('tool')), languageSwitch(changeLanguage));
  app.replaceChildren(bar, el('main', { id: 'main' }, children));
  document.title = document.getElementById('title')?.textContent ?? say('tool');
  if (focus) document.getElementById('title')?.focus();
}

/** Makes a section, or says that the record's form did not allow it: an altered record can have any form. */
function guarded(model, make) {
  try {
    return make();
  } catch (error) {
    if (model.subjectHolds) throw error;
    return null;
  }
}

function verdictScreen(model) {
  const record = model.subject?.record;
  const shown = record !== null && typeof record === 'object';
  const ofRecord = make => (shown ? guarded(model, make) : null);
  const sections = [
    attentionSection(model),
    answersSection(model, compareCard, takeAuthorities),
    ofRecord(() => decisionSection(record, model.subject)),
    ofRecord(() => eyeSection(record, model)),
    ofRecord(() => mapSection(record)),
    model.records.length > 1 ? guarded(model, () => changesSection(model.records)) : null,
    guarded(model, () => photosSection(model)),
    chainSection(model),
    withheldSection(model),
    filesSection(model),
    limitsSection(),
  ].filter(Boolean);
  return [guarded(model, () => headOf(model, startAgain)) ?? el('h1', { id: 'title', tabindex: -1 }, say('no_subject')), contentsList(sections), sections];
}

function draw(focus = true) {
  const now = screenNow;
  if (now.kind === 'start') show(startScreen(take), focus);
  else if (now.kind === 'problem') show(problemScreen(say(now.problem.key, now.problem.values), say(`${now.problem.key}_next`), take), focus);
  else if (now.kind === 'refused') show(refusedScreen(now.refused, now.name, startAgain), focus);
  else if (now.kind === 'verdict') show(verdictScreen(now.model), focus);
}

function changeLanguage(code) {
  speak(code);
  if (screenNow.kind === 'working') return;
  draw(false);
  document.querySelector(`.languages [lang="${code}"]`)?.focus();
}

function startAgain() {
  for (const url of urlsNow.values()) URL.revokeObjectURL(url);
  urlsNow = new Map();
  screenNow = { kind: 'start' };
  draw();
}

function fail(problem) {
  const known = problem instanceof Problem ? problem : new Problem('problem_inside', { reason: String(problem?.message ?? problem) });
  screenNow = { kind: 'problem', problem: known };
  draw();
  announce(say(known.key, known.values));
}

/** Takes a list of files, or a promise of what was dropped, through judging to the verdict. */
async function take(files) {
  await work(async () => fromChoice(files));
}

async function work(list) {
  if (screenNow.kind === 'working') return;
  startAgainQuietly();
  const stop = new AbortController();
  const { screen, update } = workingScreen('', () => stop.abort());
  screenNow = { kind: 'working', update };
  show(screen);
  try {
    if (!globalThis.crypto?.subtle) throw new Problem('problem_crypto');
    const dropped = await list(count => update({ words: say('reading_folder', { count }), done: 0, total: 0 }));
    const watch = { signal: stop.signal, progress: ({ path, done, total }) => update({ words: say('working_on', { path }), done, total }) };
    const judged = await judgeDropped(dropped, readerOf(), watch);
    stop.signal.throwIfAborted();
    finish(judged, dropped, await photoUrls(judged.result, judged.files));
  } catch (problem) {
    if (stop.signal.aborted) {
      startAgain();
      announce(say('cancelled'));
    } else fail(problem);
  }
}

function startAgainQuietly() {
  for (const url of urlsNow.values()) URL.revokeObjectURL(url);
  urlsNow = new Map();
}

function finish(judged, dropped, urls) {
  urlsNow = urls;
  const name = dropped.name || dropped.files[0].path;
  if (judged.result.refused) {
    screenNow = { kind: 'refused', refused: judged.result.refused, name };
    draw();
    announce(say('refused_title'));
    return;
  }
  const listed = judged.files;
  const source = {
    isPackage: judged.isPackage, name, files: listed.length, bytes: listed.reduce((sum, file) => sum + file.length, 0),
    outside: dropped.outside, names: [...listed.slice(0, 4).map(file => file.path), ...(listed.length > 4 ? ['…'] : [])],
  };
  screenNow = { kind: 'verdict', judged, model: modelOf(judged.result, source, urlsNow) };
  draw();
  const { model } = screenNow;
  const answers = ['bytes', 'signer', 'time', 'completeness'].map(key => `${say(`q_${key}`)} ${stateWords(key, model.answers[key].state).word}.`);
  announce([...answers, `${say('attention')}: ${attentionOf(model).length}.`].join(' '));
}

/** Judges again with what was typed and given, and shows it; false when the screen is another by then. */
async function judgeAgain(given) {
  const { model, judged } = screenNow;
  const result = await judgedAgain(judged, readerOf(given));
  if (screenNow.model !== model) return false;
  judged.result = result;
  screenNow.model = { ...modelOf(result, model.source, urlsNow), typed: model.typed, typedResult: model.typedResult, authorities: model.authorities, ...given };
  return true;
}

/** The fingerprint was typed: judged again with it, shown, and forgotten with the page. */
async function compareCard(typed, letters) {
  const own = screenNow.model.subject.fingerprint;
  if (!(await judgeAgain({ typed, authorities: screenNow.model.authorities }))) return;
  const { model } = screenNow;
  const { signer } = model.answers;
  const joined = ['succeeded', 'recovered'].includes(signer.state);
  if (typedLetters(own) === letters) model.typedResult = { fits: 'signer' };
  else model.typedResult = joined ? { fits: 'other', who: signer.known ?? '' } : { fits: 'none', groups: differingGroups(letters, own) };
  draw(false);
  document.getElementById('typed')?.focus();
  announce(typedWords(model.typedResult));
}

/** The reader trusts these authorities: evidence of time is judged again with them. */
async function takeAuthorities(files) {
  const { typed, authorities } = screenNow.model;
  for (const file of files) {
    try {
      const text = await file.text();
      if (!text.includes('-----BEGIN CERTIFICATE-----')) throw new TypeError('no certificate');
      if (!(await judgeAgain({ typed, authorities: [...screenNow.model.authorities, text] }))) return;
    } catch {
      const words = say('authority_bad', { name: file.name });
      document.getElementById('authority-result').textContent = words;
      announce(words);
      return;
    }
  }
  if (screenNow.model.authorities.length === authorities.length) return;
  draw(false);
  document.querySelector('#answer-time summary')?.focus();
  announce(say('authority_taken'));
}

function listen() {
  const over = event => {
    event.preventDefault();
    document.documentElement.classList.add('dragging');
  };
  const leave = () => document.documentElement.classList.remove('dragging');
  window.addEventListener('dragover', over);
  window.addEventListener('dragleave', event => { if (event.relatedTarget === null) leave(); });
  window.addEventListener('drop', event => {
    event.preventDefault();
    leave();
    const transfer = event.dataTransfer;
    work(count => fromDrop(transfer, count));
  });
  window.addEventListener('error', event => { if (event.error) fail(event.error); });
  window.addEventListener('unhandledrejection', event => fail(event.reason));
  // What is folded is printed too; it is folded again afterwards.
  let folded = [];
  window.addEventListener('beforeprint', () => {
    folded = [...document.querySelectorAll('details:not([open])')];
    for (const one of folded) one.open = true;
  });
  window.addEventListener('afterprint', () => { for (const one of folded) one.open = false; });
}

speak(languageOf(navigator.languages ?? [navigator.language]));
listen();
draw(false);
