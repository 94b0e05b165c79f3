// The screen for a package that is refused whole: which rule, where, and nothing else.

import { RULE_WORDS } from '../words/rules.js';
import { half, say } from './lang.js';
import { button, el, mark, nextStep, pairs } from './dom.js';

/** Words for a rule that was broken; the core's own words where the page has none. */
export function ruleWords(rule, reason) {
  return Object.hasOwn(RULE_WORDS, rule) ? half(RULE_WORDS[rule]) : reason;
}

/** Returns the screen. */
export function refusedScreen(refused, name, onagain) {
  return [
    el('p', { class: 'over-title' }, name),
    el('h1', { id: 'title', tabindex: -1 }, say('refused_title')),
    el('div', { class: 'box fails' },
      el('p', null, mark('fails'), ' ', say('refused_lead')),
      pairs([
        [say('refused_rule'), ruleWords(refused.rule, refused.reason)],
        [say('refused_details'), Object.hasOwn(RULE_WORDS, refused.rule) && refused.reason ? el('span', { class: 'reason', lang: 'en' }, refused.reason) : null],
        [say('refused_path'), refused.path ? el('code', { class: 'long' }, refused.path) : null],
      ]),
      nextStep(say('refused_next'))),
    el('p', { class: 'buttons no-print' }, button(say('again'), onagain, { id: 'again' })),
  ];
}
