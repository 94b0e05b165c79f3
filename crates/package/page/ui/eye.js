// What to compare by eye on the blade in hand: the parts that are hard to change, first the tang.

import { half, listed, say } from './lang.js';
import { el, pairs, section, term, terms } from './dom.js';
import { quantityText } from './decimals.js';
import { photoStrip } from './photos.js';

function holeWords(hole) {
  const at = quantityText(hole.at);
  const words = hole.diameter ? say('hole', { at, diameter: quantityText(hole.diameter) }) : say('hole_at', { at });
  return el('li', null, words, hole.plugged ? `, ${say('hole_plugged')}` : '');
}

function inscriptionWords(one) {
  const opinions = (one.opinions ?? []).map(opinion => [say('opinion'), half([': ', '：']), term('MeiView', opinion.view), opinion.statement ? ` – ${opinion.statement}` : '', ` (${opinion.on})`]);
  return el('li', null, term('InscriptionKind', one.kind), one.side ? [' · ', term('Face', one.side)] : '', one.reading ? [half([': ', '：']), el('strong', null, one.reading)] : '',
    one.transliteration ? ` (${one.transliteration})` : '', one.note ? ` – ${one.note}` : '', opinions.map(words => el('div', { class: 'quiet-text' }, words)));
}

function paperWords(one) {
  const { states } = one;
  const what = states ? listed([quantityText(states.blade_length), quantityText(states.curvature), states.peg_holes === undefined ? '' : `${say('holes')} ${states.peg_holes}`, states.inscription ?? '']) : '';
  return el('li', null, term('RegistrationKind', one.kind), `, ${one.authority}`, one.on ? `, ${one.on}` : '', one.number ? `, ${one.number}` : '', what ? [' – ', say('paper_states', { what })] : '');
}

const list = items => (items.length > 0 ? el('ul', { class: 'plain-list' }, items) : null);

/** Returns the section of what to compare on the blade itself. */
export function eyeSection(record, model) {
  const tang = record.tang ?? {};
  const dimensions = record.dimensions ?? {};
  const blade = record.blade ?? {};
  const curvature = dimensions.curvature ? [quantityText(dimensions.curvature), dimensions.curvature_kind ? [' · ', term('CurvatureKind', dimensions.curvature_kind)] : ''] : null;
  const mass = dimensions.mass ? [quantityText(dimensions.mass), dimensions.mass_state ? [' · ', term('MassState', dimensions.mass_state)] : ''] : null;
  const holes = tang.holes ?? [];
  const notExamined = (record.examination?.not_examined ?? []).map(one => el('li', null, term('Part', one.part), ` – ${one.why}`));
  return section('eye', say('by_eye'),
    el('p', null, say('by_eye_lead')),
    pairs([
      [say('tang'), record.tang ? [term('TangState', tang.state), ' · ', term('TangShape', tang.shape)] : say('none_recorded')],
      [say('holes'), holes.length > 0 ? list(holes.map(holeWords)) : say('none_recorded')],
      [say('inscription'), list((tang.inscriptions ?? []).map(inscriptionWords)) ?? say('none_recorded')],
      [say('file_marks'), term('FileMarks', tang.file_marks)],
      [say('older_file_marks'), term('FileMarks', tang.older_file_marks)],
      [say('tang_end'), term('TangEnd', tang.end)],
      [say('patina'), tang.patina],
      [half(['blade length (nagasa)', '刃長']), quantityText(dimensions.blade_length)],
      [half(['curvature (sori)', '反り']), curvature],
      [half(['mass', '質量']), mass],
      [say('temper_line'), record.temper_line ? [term('TemperVisibility', record.temper_line.visibility), (record.temper_line.families ?? []).length > 0 ? [' · ', terms('TemperFamily', record.temper_line.families)] : ''] : null],
      [say('features'), blade.distinguishing_features],
      [say('registration'), list((blade.registrations ?? []).map(paperWords))],
      [say('not_examined'), list(notExamined)],
    ], { class: 'pairs tall' }),
    el('p', { class: 'quiet-text' }, say('expanded')),
    photoStrip(model, entry => ['tang', 'inscription', 'whole'].includes(entry.photo?.shows)));
}
