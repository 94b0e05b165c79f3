// The screen before anything was dropped, and the one while files are read.

import { half, language, say, sizeText } from './lang.js';
import { button, el, nextStep, section } from './dom.js';

/** Returns the switch between the languages. */
export function languageSwitch(onspeak) {
  const choice = (code, name) => button(name, () => onspeak(code), { lang: code, 'aria-pressed': String(language() === code), class: 'quiet' });
  return el('div', { role: 'group', 'aria-label': say('language'), class: 'languages' }, choice('en', 'English'), choice('ja', '日本語'));
}

function chooser(words, attributes, onfiles) {
  const input = el('input', {
    type: 'file', multiple: true, class: 'unseen', tabindex: -1, 'aria-hidden': 'true', ...attributes,
    onchange: event => { if (event.target.files.length > 0) onfiles(event.target.files); },
  });
  return [button(words, () => input.click(), { class: 'main' }), input];
}

/** Returns the place to drop files on, with its buttons. `small` leaves out the explanations. */
export function dropArea(onfiles) {
  return el('div', { id: 'drop', class: 'drop' },
    el('p', { class: 'drop-words' }, say('drop_here')),
    el('p', { class: 'buttons' }, chooser(say('choose_files'), { id: 'choose-files' }, onfiles), chooser(say('choose_folder'), { id: 'choose-folder', webkitdirectory: true }, onfiles)),
    el('p', { class: 'quiet-text' }, say('drop_kinds')));
}

/** Returns the first screen. */
export function startScreen(onfiles) {
  const questions = ['q_bytes', 'q_signer', 'q_time', 'q_completeness'].map(key => el('li', null, say(key)));
  return [
    el('h1', { id: 'title', tabindex: -1 }, say('start_title')),
    el('p', { class: 'lead' }, say('start_lead')),
    dropArea(onfiles),
    el('p', null, say('start_private')),
    section('questions', say('start_answers'), el('p', null, say('start_answers_lead')), el('ol', { class: 'questions' }, questions)),
    limitsSection(),
  ];
}

/** Returns what no file can prove. */
export function limitsSection() {
  const keys = ['limit_true', 'limit_pages', 'limit_blade', 'limit_who', 'limit_when', 'limit_later', 'limit_worth', 'limit_law'];
  return section('limits', say('limits'), el('ul', { class: 'plain-list' }, keys.map(key => el('li', null, say(key)))));
}

/** Returns the screen while files are read, with `update({ words, done, total })`. */
export function workingScreen(name, oncancel) {
  const what = el('p', { class: 'working-on' }, '');
  const bar = el('progress', { 'aria-label': say('progress'), max: 1 });
  const amount = el('p', { class: 'quiet-text' }, '');
  const screen = [
    el('h1', { id: 'title', tabindex: -1 }, say('reading', { name: name || half(['the files', 'ファイル']) })),
    what, bar, amount,
    el('p', { class: 'buttons' }, button(say('cancel'), oncancel, { id: 'cancel' })),
  ];
  const update = ({ words, done, total }) => {
    what.textContent = words;
    if (total > 0) {
      bar.max = total;
      bar.value = done;
      amount.textContent = say('working_bytes', { done: sizeText(done), total: sizeText(total) });
    }
  };
  return { screen, update };
}

/** Returns the screen for what cannot be checked at all. */
export function problemScreen(words, next, onfiles) {
  return [
    el('h1', { id: 'title', tabindex: -1 }, say('problem_title')),
    el('div', { class: 'box fails' }, el('p', null, words), nextStep(next)),
    dropArea(onfiles),
  ];
}
