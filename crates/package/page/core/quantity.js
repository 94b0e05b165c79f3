// Quantities are computed again from what was read (record-format.md, "Quantities" and "Readings"), exactly, in fractions.

// By the record's unit: [as_read.unit, numerator, denominator, words and signs].
const UNIT_ROWS = {
  mm: [
    ['mm', 1n, 1n, 'mm millimetre millimetres millimeter millimeters'],
    ['cm', 10n, 1n, 'cm centimetre centimetres centimeter centimeters'],
    ['m', 1000n, 1n, 'm metre metres meter meters'],
    ['um', 1n, 1000n, 'um micrometre micrometres micrometer micrometers'],
    ['[in_i]', 254n, 10n, 'in inch inches "'],
    ['[ft_i]', 3048n, 10n, "ft foot feet '"],
    ['shaku', 10000n, 33n, 'shaku 尺'],
    ['sun', 1000n, 33n, 'sun 寸'],
    ['bu', 100n, 33n, 'bu 分'],
    ['rin', 10n, 33n, 'rin 厘'],
  ],
  g: [
    ['g', 1n, 1n, 'g gram grams gramme grammes'],
    ['kg', 1000n, 1n, 'kg kilogram kilograms'],
    ['[oz_av]', 45359237n, 1600000n, 'oz ounce ounces'],
    ['[lb_av]', 45359237n, 100000n, 'lb lbs pound pounds'],
    ['momme', 375n, 100n, 'momme monme 匁'],
  ],
  deg: [['deg', 1n, 1n, 'deg degree degrees ° 度']],
  min: [
    ['h', 60n, 1n, 'h hr hrs hour hours'],
    ['min', 1n, 1n, 'min mins minute minutes'],
    ['s', 1n, 60n, 's sec second seconds'],
  ],
  Cel: [['Cel', 1n, 1n, '°c cel c']],
  '%': [['%', 1n, 1n, '% percent']],
  mm2: [['mm2', 1n, 1n, 'mm2'], ['cm2', 100n, 1n, 'cm2']],
};
const UNITS = new Map(
  Object.entries(UNIT_ROWS).map(([unit, rows]) => [unit, new Map(rows.flatMap(([code, by, over, words]) => words.split(' ').map((word) => [word, { code, by, over }])))]),
);
// Only units of one group stand beside each other in a reading.
const GROUPS = [['[in_i]', '[ft_i]'], ['[oz_av]', '[lb_av]'], ['shaku', 'sun', 'bu', 'rin'], ['h', 'min', 's']];
const MOST_DIGITS = 9;
const LEAST_TOO_MUCH = 10n ** 12n;
const LARGEST_UNDER = 1024n;

const SIGNS = new Map([
  ['\u2044', '/'], ...[...'\u2032\u2019'].map((sign) => [sign, "'"]), ...[...'\u2033\u201c\u201d'].map((sign) => [sign, '"']), ...[...'\u2010\u2011\u2212'].map((sign) => [sign, '-']),
  ['\u00b5', 'u'], ['\u03bc', 'u'], ['\u00ba', '°'], ['㎜', 'mm'], ['㎝', 'cm'], ['㎏', 'kg'], ['℃', '°c'],
  ...['¼ 1/4', '½ 1/2', '¾ 3/4', '⅐ 1/7', '⅑ 1/9', '⅒ 1/10', '⅓ 1/3', '⅔ 2/3', '⅕ 1/5', '⅖ 2/5', '⅗ 3/5', '⅘ 4/5', '⅙ 1/6', '⅚ 5/6', '⅛ 1/8', '⅜ 3/8', '⅝ 5/8', '⅞ 7/8'].map((pair) => [pair[0], `${pair.slice(1)} `]),
]);
const KANJI = '一二三四五六七八九';

function fraction(top, bottom) {
  return { top, bottom };
}

function add(one, other) {
  return fraction(one.top * other.bottom + other.top * one.bottom, one.bottom * other.bottom);
}

function isLess(one, other) {
  return one.top * other.bottom < other.top * one.bottom;
}

// The text with signs that mean the same made the same.
function plainSigns(text) {
  let plain = '';
  for (const sign of text) {
    const point = sign.codePointAt(0);
    if (/\p{White_Space}/u.test(sign)) plain += ' ';
    else if (point >= 0xff01 && point <= 0xff5e) plain += String.fromCodePoint(point - 0xfee0).toLowerCase();
    else if (sign >= 'A' && sign <= 'Z') plain += sign.toLowerCase();
    else plain += SIGNS.get(sign) ?? sign;
  }
  return plain.replace(/([a-z])([²³])/g, (_, letter, raised) => letter + (raised === '²' ? '2' : '3'));
}

// A kanji numeral below ten thousand, or null.
function kanjiNumber(signs) {
  if (signs === '〇' || signs === '零') return 0n;
  const places = /^(?:(.?)千)?(?:(.?)百)?(?:(.?)十)?(.?)$/.exec(signs);
  if (places === null) return null;
  let number = 0n;
  for (const [at, weight] of [1000n, 100n, 10n, 1n].entries()) {
    const sign = places[at + 1];
    if (sign === undefined || (sign === '' && weight === 1n)) continue;
    const times = sign === '' ? 1 : KANJI.indexOf(sign) + 1;
    if (times === 0) return null;
    number += BigInt(times) * weight;
  }
  return number;
}

// One reading, sign by sign. A method gives null where the text does not fit.
class ReadingReader {
  constructor(text) {
    this.text = plainSigns(text);
    this.at = 0;
  }

  // What a sticky pattern finds here, or null; past it.
  take(pattern) {
    pattern.lastIndex = this.at;
    const found = pattern.exec(this.text);
    if (found !== null) this.at = pattern.lastIndex;
    return found;
  }

  fraction(top, bottom) {
    if (top.length > 4 || bottom.length > 4) return null;
    const [over, under] = [BigInt(top), BigInt(bottom)];
    return over >= 1n && over < under && under <= LARGEST_UNDER ? { value: fraction(over, under), step: fraction(1n, under), isWhole: false } : null;
  }

  number() {
    const kanji = this.take(/[〇零一二三四五六七八九十百千]+/y);
    let whole = kanji && kanjiNumber(kanji[0]);
    if (kanji === null) {
      const digits = this.take(/([0-9]+)(?:\.([0-9]+)|\/([0-9]+))?/y);
      if (digits === null) return null;
      const [, before, after, under] = digits;
      if (under !== undefined) return this.fraction(before, under);
      if (before.length > 12 || (after ?? '').length > MOST_DIGITS) return null;
      if (after !== undefined) {
        const scale = 10n ** BigInt(after.length);
        return { value: fraction(BigInt(before + after), scale), step: fraction(1n, scale), isWhole: false };
      }
      whole = BigInt(before);
    }
    if (whole === null) return null;
    const behind = this.take(/ *(?:- *)?([0-9]+)\/([0-9]+)/y);
    if (behind === null) return { value: fraction(whole, 1n), step: fraction(1n, 1n), isWhole: true };
    const part = this.fraction(behind[1], behind[2]);
    return part && { ...part, value: add(fraction(whole, 1n), part.value) };
  }

  unit(table) {
    const word = this.take(/([a-z]*m\^?2(?![0-9])|[a-z]+)(?:\.(?![0-9]))?/y);
    if (word !== null) return table.get(word[1].replace('^', '')) ?? null;
    if (this.take(/° *c(?![a-z])/y)) return table.get('°c') ?? null;
    const sign = this.take(/''|["'%°尺寸分厘匁度]/y);
    return sign && (table.get(sign[0] === "''" ? '"' : sign[0]) ?? null);
  }
}

// Whether a part may stand behind another.
function follows(part, before) {
  if (!before.isWhole || !GROUPS.some((group) => group.includes(part.code) && group.includes(before.code))) return false;
  return isLess(part.size, before.size) && isLess(part.value, before.size);
}

// One reading in the record's unit: { value, step, unit }, `unit` that of its last part; null where it does not fit.
export function readReading(text, unit) {
  const table = UNITS.get(unit);
  if (table === undefined) return null;
  const reader = new ReadingReader(text);
  const isNegative = reader.take(/ *- */y) !== null;
  reader.take(/ */y);
  let sum = fraction(0n, 1n);
  let last = null;
  do {
    const number = reader.number();
    reader.take(/ */y);
    const found = number && reader.unit(table);
    if (!found) return null;
    const size = fraction(found.by, found.over);
    const scaled = ({ top, bottom }) => fraction(top * size.top, bottom * size.bottom);
    const part = { code: found.code, size, isWhole: number.isWhole, value: scaled(number.value), step: scaled(number.step) };
    if (last !== null && !follows(part, last)) return null;
    sum = add(sum, part.value);
    last = part;
  } while (reader.take(/ *(?:, *)?(?! *$)/y) !== null && reader.at < reader.text.length);
  if (!/^ *$/.test(reader.text.slice(reader.at))) return null;
  const digits = digitsFor(last.step);
  const value = isNegative ? fraction(-sum.top, sum.bottom) : sum;
  if (digits > MOST_DIGITS || BigInt(roundedEven(value, digits).replace(/^-|\..*/g, '')) >= LEAST_TOO_MUCH) return null;
  return { value, step: last.step, unit: last.code };
}

// Digits after the full stop: max(0, 1 - floor(log10 step)).
function digitsFor(step) {
  let floor = 0;
  while (isLess(step, floor >= 0 ? fraction(10n ** BigInt(floor), 1n) : fraction(1n, 10n ** BigInt(-floor)))) floor -= 1;
  for (;;) {
    const next = floor + 1;
    const power = next >= 0 ? fraction(10n ** BigInt(next), 1n) : fraction(1n, 10n ** BigInt(-next));
    if (isLess(step, power)) return Math.max(0, 1 - floor);
    floor = next;
  }
}

function roundedEven({ top, bottom }, digits) {
  const scaled = (top < 0n ? -top : top) * 10n ** BigInt(digits);
  let whole = scaled / bottom;
  const twice = (scaled % bottom) * 2n;
  if (twice > bottom || (twice === bottom && whole % 2n === 1n)) whole += 1n;
  const text = whole.toString().padStart(digits + 1, '0');
  const sign = top < 0n && whole !== 0n ? '-' : '';
  return sign + (digits === 0 ? text : `${text.slice(0, -digits)}.${text.slice(-digits)}`);
}

// The value that the readings of a quantity come to, as text; null where one cannot be read in the unit stated with it.
export function valueOf(readings, unit) {
  let sum = fraction(0n, 1n);
  let finest = null;
  for (const { text, unit: stated } of readings) {
    const reading = readReading(text, unit);
    if (reading === null || reading.unit !== stated) return null;
    sum = add(sum, reading.value);
    if (finest === null || isLess(reading.step, finest)) finest = reading.step;
  }
  return roundedEven(fraction(sum.top, sum.bottom * BigInt(readings.length)), digitsFor(finest));
}
