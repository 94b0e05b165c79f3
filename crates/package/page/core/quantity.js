// Quantities are computed again from what was read (record-format.md, "Quantities"), exactly, in fractions.

const UNITS = {
  mm: {
    mm: [1n, 1n], cm: [10n, 1n], m: [1000n, 1n], um: [1n, 1000n],
    '[in_i]': [254n, 10n], '[ft_i]': [3048n, 10n],
    shaku: [10000n, 33n], sun: [1000n, 33n], bu: [100n, 33n], rin: [10n, 33n],
  },
  g: { g: [1n, 1n], kg: [1000n, 1n], momme: [375n, 100n], '[oz_av]': [45359237n, 1600000n], '[lb_av]': [45359237n, 100000n] },
  deg: { deg: [1n, 1n] },
  min: { min: [1n, 1n], h: [60n, 1n], s: [1n, 60n] },
  Cel: { Cel: [1n, 1n] },
  '%': { '%': [1n, 1n] },
  mm2: { mm2: [1n, 1n], cm2: [100n, 1n] },
};
// Words of readings that are not the code itself.
const WORDS = {
  in: '[in_i]', 'in.': '[in_i]', inch: '[in_i]', inches: '[in_i]', '"': '[in_i]', '″': '[in_i]',
  ft: '[ft_i]', 'ft.': '[ft_i]', foot: '[ft_i]', feet: '[ft_i]', "'": '[ft_i]', '′': '[ft_i]',
  oz: '[oz_av]', 'oz.': '[oz_av]', lb: '[lb_av]', 'lb.': '[lb_av]', lbs: '[lb_av]',
  '°C': 'Cel', '°': 'deg', µm: 'um', μm: 'um', 'mm²': 'mm2', 'cm²': 'cm2',
};

function fraction(top, bottom) {
  return { top, bottom };
}

function add(one, other) {
  return fraction(one.top * other.bottom + other.top * one.bottom, one.bottom * other.bottom);
}

function isLess(one, other) {
  return one.top * other.bottom < other.top * one.bottom;
}

// One reading in the record's unit: { value, step, unit }, `unit` that of its last part; null where it cannot be read.
export function readReading(text, unit) {
  const table = UNITS[unit];
  if (table === undefined) return null;
  let rest = text;
  let value = fraction(0n, 1n);
  let step = null;
  let negative = null;
  let last = null;
  while (rest.trim() !== '') {
    const parts = /^\s*([-\u2212]?)\s*(?:(\d+)\s+(\d+)\/(\d+)|(\d+)\/(\d+)|(\d+)(?:\.(\d+))?)\s*([^\s\d]\S*)/u.exec(rest);
    if (parts === null) return null;
    const [whole, sign, mixed, mixedTop, mixedBottom, top, bottom, digits, decimals, word] = parts;
    const code = Object.hasOwn(WORDS, word) ? WORDS[word] : word;
    if (!Object.hasOwn(table, code)) return null;
    if (negative === null) negative = sign !== '';
    else if (sign !== '') return null;
    let number;
    let finest;
    if (mixed !== undefined || top !== undefined) {
      const under = BigInt(mixedBottom ?? bottom);
      if (under === 0n) return null;
      number = fraction(BigInt(mixed ?? 0) * under + BigInt(mixedTop ?? top), under);
      finest = fraction(1n, under);
    } else {
      const scale = 10n ** BigInt((decimals ?? '').length);
      number = fraction(BigInt(digits + (decimals ?? '')), scale);
      finest = fraction(1n, scale);
    }
    const [by, over] = table[code];
    value = add(value, fraction(number.top * by, number.bottom * over));
    // Units get smaller from part to part.
    if (last !== null && !isLess(fraction(by, over), fraction(...table[last]))) return null;
    step = fraction(finest.top * by, finest.bottom * over);
    last = code;
    rest = rest.slice(whole.length);
  }
  if (step === null) return null;
  return { value: negative ? fraction(-value.top, value.bottom) : value, step, unit: last };
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
