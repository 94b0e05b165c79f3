// Photos: which are the files that a record names, which are not, which were not handed over.

import { half, listed, say, stateWords } from './lang.js';
import { button, el, fold, mark, nextStep, section } from './dom.js';

function enlarge(url, words) {
  const close = button(say('photo_close'), () => dialog.close(), { class: 'main' });
  const dialog = el('dialog', { class: 'large-photo', 'aria-label': words }, el('img', { src: url, alt: words }), el('p', { class: 'buttons' }, close));
  dialog.addEventListener('close', () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();
}

/** Above this many, pictures are decoded when they come into sight; below, at once, so that they are there for printing. */
const MANY_PHOTOS = 40;

function picture(entry, words, loading = 'eager') {
  if (!entry.url) return el('div', { class: 'no-picture' }, say('photo_no_view'));
  const image = el('img', { src: entry.url, alt: words, loading, decoding: loading === 'lazy' ? 'async' : 'sync' });
  const shown = button(image, () => enlarge(entry.url, words), { class: 'thumbnail', 'aria-label': say('photo_open', { caption: words }) });
  image.addEventListener('error', () => shown.replaceWith(el('div', { class: 'no-picture' }, say('photo_no_view'))));
  return shown;
}

function sameWords(entry) {
  if (entry.state === 'original' || entry.state === 'copy') return say(`photo_${entry.state}`, { records: listed(entry.records.map(String)) });
  return stateWords('photo', entry.further ?? entry.state).says;
}

/** One photo with its caption and what was found. */
function figure(entry, loading) {
  const state = stateWords('photo', entry.further ?? entry.state);
  const caption = entry.photo?.caption ?? say('photo_unknown_alt');
  const words = entry.photo ? say('photo_alt', { caption }) : caption;
  return el('figure', { class: `photo ${state.weight}` },
    picture(entry, words, loading),
    el('figcaption', null,
      el('p', null, caption, entry.photo?.taken_on ? el('span', { class: 'quiet-text' }, ` · ${say('photo_taken', { day: entry.photo.taken_on })}`) : null),
      el('p', { class: `state ${state.weight}` }, mark(state.weight), el('span', { class: 'word' }, state.word)),
      el('p', { class: 'quiet-text' }, sameWords(entry)),
      nextStep(state.next),
      el('p', { class: 'quiet-text' }, el('code', { class: 'long' }, entry.file))));
}

/** Returns a few photos beside what they show, or null. */
export function photoStrip(model, wanted) {
  const shown = model.photos.filter(entry => entry.url && ['original', 'copy'].includes(entry.state) && wanted(entry)).slice(0, 6);
  if (shown.length === 0) return null;
  return el('div', { class: 'strip', role: 'group', 'aria-label': say('compare_photos') }, shown.map(entry => el('figure', null, picture(entry, say('photo_alt', { caption: entry.photo.caption })), el('figcaption', null, entry.photo.caption))));
}

/** Returns the section of photos. */
export function photosSection(model) {
  const { photos, unpacked } = model;
  const rest = unpacked.map(({ photo, sequence }) => el('li', null, photo.caption, photo.original_kept_private ? ` – ${say('photo_private')}` : '', half([` (record ${sequence})`, `（記録 ${sequence}）`])));
  return section('photos', say('photos'),
    photos.length > 0 ? el('div', { class: 'photos' }, photos.map(entry => figure(entry, photos.length > MANY_PHOTOS ? 'lazy' : 'eager'))) : null,
    photos.length === 0 && unpacked.length === 0 ? el('p', null, say('photos_none')) : null,
    unpacked.length > 0 ? fold(`${say('photo_unpacked')} (${unpacked.length})`, { open: photos.length === 0 }, el('p', null, say('photo_unpacked_says')), el('ul', { class: 'plain-list' }, rest)) : null);
}
