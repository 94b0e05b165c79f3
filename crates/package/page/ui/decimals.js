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

/** Returns an expanded uncertainty with the digits of its value, or with one that is not zero where that would be zero. */
export function expandedText(expanded, digits) {
  const rounded = expanded.toFixed(Math.min(digits, 9));
  if (Number(rounded) !== 0) return rounded;
  return expanded > 0 ? expanded.toFixed(Math.min(9, Math.ceil(-Math.log10(expanded)))) : rounded;
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
  const spread = expanded > 0 ? `\u00a0±\u00a0${expandedText(expanded, value.digits)}` : '';
  const unit = unitText(quantity.unit);
  return `${decimalText(value)}${spread}${unit ? `\u00a0${unit}` : ''}`;
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
  const unit = unitText(first.unit);
  return { text: `${decimalText(change, true)}\u00a0±\u00a0${expandedText(expanded, change.digits)}${unit ? `\u00a0${unit}` : ''}`, beyond: size > expanded };
}
