// The four answers, each by itself, and the comparison with the card.

import { half, say, stateWords, utcText } from './lang.js';
import { announce, button, el, fold, mark, nextStep, pairs, reasonLine, sayApart, section } from './dom.js';

/** One answer; `shown` stands open below its sentence, `rests` is folded. */
function card(id, question, answer, part, rests, shown = null) {
  const words = stateWords(part, answer.state);
  return el('article', { class: `answer ${words.weight}`, id: `answer-${id}`, 'aria-labelledby': `answer-${id}-q` },
    el('h3', { id: `answer-${id}-q` }, question),
    el('p', { class: 'verdict' }, mark(words.weight), el('span', { class: 'word' }, words.word)),
    el('p', null, words.says),
    shown,
    nextStep(words.next),
    rests || answer.reason ? fold(say('rests_on'), null, rests, reasonLine(answer.rule, answer.reason)) : null);
}

/** Words on each piece of evidence of time; the name that an authority gives itself stands between backticks. */
export function evidenceWords(evidence) {
  return sayApart('time_evidence', { time: utcText(evidence.time), name: evidence.who ? `\`${evidence.who}\`` : say('time_nameless'), authority: say(`authority_${evidence.authority}`) });
}

/** The time stated, and the best evidence, in the open: date and who says so. */
function timeShown(model) {
  const { time, who, standing } = model.answers.time;
  return [
    model.subject?.issued_at ? el('p', null, say('time_stated_short', { time: utcText(model.subject.issued_at) })) : null,
    time ? el('p', { class: 'witness' }, evidenceWords({ time, who, authority: standing })) : null,
  ];
}

function authorityChoice(onauthority) {
  const input = el('input', { type: 'file', id: 'choose-authority', multiple: true, accept: '.pem,.crt', class: 'unseen', tabindex: -1, 'aria-hidden': 'true', onchange: event => onauthority([...event.target.files]) });
  return el('div', { class: 'no-print' }, el('p', null, say('authority_lead')), button(say('authority_button'), () => input.click(), { id: 'authority' }), input, el('p', { id: 'authority-result', class: 'result' }));
}

function timeRests(model, onauthority) {
  const stated = model.subject?.issued_at ? el('p', null, say('time_stated')) : null;
  const outside = model.subject?.evidence ?? [];
  if (outside.length === 0) return stated;
  const choice = outside.some(one => one.authority !== 'trusted') ? authorityChoice(onauthority) : null;
  // One alone stands open above.
  return [stated, outside.length > 1 ? el('ul', { class: 'plain-list' }, outside.map(one => el('li', null, evidenceWords(one)))) : null, choice];
}

/** Letters of a fingerprint, without what people write between them. */
export function typedLetters(text) {
  return text.normalize('NFKC').toUpperCase().replace(/[^A-Z0-9]/g, '');
}

/** Groups (counted from 1) in which two fingerprints differ. */
export function differingGroups(letters, fingerprint) {
  const wanted = typedLetters(fingerprint);
  return [0, 1, 2, 3].filter(group => letters.slice(group * 5, group * 5 + 5) !== wanted.slice(group * 5, group * 5 + 5)).map(group => group + 1);
}

function fingerprintForm(model, oncompare) {
  const { fingerprint } = model.subject ?? {};
  // Without a signature that holds there is no signing key: a card that fits the key named would mislead.
  if (!fingerprint || model.answers.signer.state === 'cannot_judge') return null;
  const field = el('input', {
    id: 'typed', type: 'text', autocomplete: 'off', autocapitalize: 'characters', spellcheck: 'false', maxlength: 40,
    'aria-describedby': 'typed-hint typed-result', value: model.typed ?? '',
  });
  const result = el('p', { id: 'typed-result', class: 'result' }, '');
  const tell = words => { result.textContent = words; announce(words); };
  if (model.typedResult) result.textContent = typedWords(model.typedResult);
  const compare = event => {
    event.preventDefault();
    const letters = typedLetters(field.value);
    if (letters.length !== 20) {
      tell(say('card_short', { found: letters.length }));
      field.setAttribute('aria-invalid', 'true');
      field.focus();
      return;
    }
    field.removeAttribute('aria-invalid');
    oncompare(field.value, letters);
  };
  return el('form', { class: 'card', id: 'card', onsubmit: compare, 'aria-labelledby': 'card-title' },
    el('h3', { id: 'card-title' }, say('card_title')),
    el('div', null, el('p', null, say('card_lead')), el('p', { class: 'fingerprint' }, el('code', null, fingerprint.split('-').map((group, index) => el('span', null, group, index < 3 ? '-' : ''))))),
    el('div', { class: 'no-print typing' },
      el('label', { for: 'typed' }, say('card_field')),
      el('div', { class: 'field' }, field, button(say('card_button'), null, { type: 'submit', class: 'main' })),
      el('p', { id: 'typed-hint', class: 'quiet-text' }, say('card_hint'), half([' ', '']), say('card_forgotten'))),
    result);
}

/** Words for what came of a comparison: `{ fits, who, groups }`. */
export function typedWords(found) {
  if (found.fits === 'signer') return say('card_fits');
  if (found.fits === 'other') return say('card_fits_other', { who: found.who });
  return say('card_differs', { groups: found.groups.join(', ') });
}

/** Returns the section of the four answers. */
export function answersSection(model, oncompare, onauthority) {
  const { answers } = model;
  const bytesKey = { intact: 'bytes_rests', same_content: 'bytes_rests_same', altered_signed: 'bytes_rests_unused', cannot_judge_signed: 'bytes_rests_unused' }[answers.bytes.state] ?? 'bytes_not';
  return section('answers', say('answers'), el('div', { class: 'answers' },
    card('bytes', say('q_bytes'), answers.bytes, 'bytes', el('p', null, say(bytesKey))),
    card('signer', say('q_signer'), answers.signer, 'signer', answers.signer.state === 'cannot_judge' ? null : pairs([
      [say('issued_by'), model.subject?.issuer], [say('key_fingerprint'), model.subject?.fingerprint ? el('code', null, model.subject.fingerprint) : null],
    ])),
    card('time', say('q_time'), answers.time, 'time', timeRests(model, onauthority), timeShown(model)),
    card('completeness', say('q_completeness'), answers.completeness, 'completeness', el('p', null, say('completeness_rests')))),
    fingerprintForm(model, oncompare));
}
