// Decimals of the record as exact whole numbers of their last digit; uncertainties to the digits of the value.

/** Returns a decimal as `{ units, digits }`: `-1.50` is −150 with 2 digits; null for anything else. */
export function decimal(text) {
  const found = typeof text === 'string' ? /^(-?)(\d{1,12})(?:\.(\d{1,9}))?$/.exec(text) : null;
  if (found === null) return null;
  const fraction = found[3] ?? '';
  const units = BigInt(found[2] + fraction);
  return { units: found[1] ? -units : units, digits: fraction.length };
}

/** Returns the decimal as a text with all its digits; `signed` writes a plus too, and a true minus. */
export function decimalText({ units, digits }, signed = false) {
  const bare = (units < 0n ? -units : units).toString().padStart(digits + 1, '0');
  const body = digits === 0 ? bare : `${bare.slice(0, -digits)}.${bare.slice(-digits)}`;
  if (units < 0n) return `−${body}`;
  return signed && units > 0n ? `+${body}` : body;
}

/** Returns b − a with the digits of the finer of the two. */
export function difference(a, b) {
  const digits = Math.max(a.digits, b.digits);
  const scaled = value => value.units * 10n ** BigInt(digits - value.digits);
  return { units: scaled(b) - scaled(a), digits };
}

/** The number of decimals of the second significant digit; below zero for tens and more. */
function placeOfSecondDigit(number) {
  return 1 - Number(number.toExponential(1).split('e')[1]);
}

/** A decimal with another number of digits; ties go to the even one. */
function toDigits({ units, digits }, wanted) {
  if (wanted >= digits) return { units: units * 10n ** BigInt(wanted - digits), digits: wanted };
  const step = 10n ** BigInt(digits - wanted);
  const [size, sign] = units < 0n ? [-units, -1n] : [units, 1n];
  const [whole, rest] = [size / step, size % step * 2n];
  return { units: sign * (rest > step || (rest === step && whole % 2n === 1n) ? whole + 1n : whole), digits: wanted };
}

/**
 * Returns a value and its expanded uncertainty, both to the same decimal place: that of the second significant digit of the
 * uncertainty, or the value's own last one where that is coarser; but never so coarse that no digit of the uncertainty is
 * left. The reports round alike. Source: JCGM 100:2008, 6.2 and 7.2.6 (from memory).
 */
export function withExpanded(value, expanded, signed = false) {
  const fine = placeOfSecondDigit(expanded);
  const place = Math.max(Math.min(fine, value.digits), fine - 1);
  const shown = toDigits(value, place);
  const whole = place < 0 ? { units: shown.units * 10n ** BigInt(-place), digits: 0 } : shown;
  const spread = place < 0 ? String(Math.round(expanded / 10 ** -place) * 10 ** -place) : expanded.toFixed(Math.min(place, 20));
  return `${decimalText(whole, signed)}\u00a0±\u00a0${spread}`;
}

const UNIT_TEXT = { mm: 'mm', g: 'g', deg: '°', min: 'min', Cel: '°C', '%': '%', mm2: 'mm²', mm3: 'mm³', um: 'µm', h: 'h', 1: '', 'g/cm3': 'g/cm³' };

/** Returns a unit as people write it. */
export function unitText(unit) {
  return Object.hasOwn(UNIT_TEXT, unit) ? UNIT_TEXT[unit] : String(unit);
}

/** Returns a quantity or number of the record: `698.17 ± 0.40 mm`, with k = 2. */
export function quantityText(quantity) {
  const value = decimal(quantity?.value);
  if (value === null) return '';
  const expanded = 2 * Number(quantity.standard_uncertainty ?? 0);
  return withUnit(expanded > 0 ? withExpanded(value, expanded) : decimalText(value), quantity.unit);
}

function withUnit(text, of) {
  const unit = unitText(of);
  return unit ? `${text}\u00a0${unit}` : text;
}

/**
 * Returns a number of a finding as it is sealed, its standard uncertainty beside it: `4.20 g, u 0.16 g`. That is rounded already;
 * doubled it would seem to differ from what the finding says.
 */
export function numberText(number) {
  const value = decimal(number?.value);
  if (value === null) return '';
  const u = decimal(number.standard_uncertainty);
  return `${withUnit(decimalText(value), number.unit)}${u ? `, u\u00a0${withUnit(decimalText(u), number.unit)}` : ''}`;
}

/** Returns a quantity as a number in its unit, or null. */
export function numberOf(quantity) {
  return decimal(quantity?.value) === null ? null : Number(quantity.value);
}

/**
 * Compares two readings of one thing as independent (variances add; JCGM 100:2008, 5.1.2, from memory): change, its expanded
 * uncertainty with k = 2, and whether the change is beyond it. Null where they cannot be compared.
 */
export function changeOf(first, last) {
  const [a, b] = [decimal(first?.value), decimal(last?.value)];
  if (a === null || b === null || first.unit !== last.unit) return null;
  const change = difference(a, b);
  const expanded = 2 * Math.hypot(Number(first.standard_uncertainty), Number(last.standard_uncertainty));
  const size = Math.abs(Number(change.units)) / 10 ** change.digits;
  return { text: withUnit(expanded > 0 ? withExpanded(change, expanded, true) : decimalText(change, true), first.unit), beyond: size > expanded };
}
