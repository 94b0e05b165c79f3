// Times and dates, as texts that sort as they follow each other (record-format.md, "Times and dates").

const UTC = /^(\d{4})-(\d{2})-(\d{2})T(\d{2}):(\d{2}):(\d{2})Z$/;
const LATEST_TIME = '9999-12-30T22:00:00Z';
const DAYS = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

function daysOf(year, month) {
  const leap = (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;
  return month === 2 && leap ? 29 : DAYS[month - 1] ?? 0;
}

// Whether a text is a time in UTC with whole seconds that the calendar has.
export function isTimeOfCalendar(text) {
  const parts = typeof text === 'string' ? UTC.exec(text) : null;
  if (parts === null) return false;
  const [year, month, day, hour, minute, second] = parts.slice(1).map(Number);
  return day >= 1 && day <= daysOf(year, month) && hour < 24 && minute < 60 && second < 60;
}

// Whether a text is a time that a record or a key history may state.
export function isUtcTime(text) {
  return isTimeOfCalendar(text) && text <= LATEST_TIME;
}

// Whether a text is a date, as precise as it is known, that the calendar has.
export function isPartialDate(text) {
  const parts = /^(\d{4})(?:-(\d{2})(?:-(\d{2}))?)?$/.exec(text);
  if (parts === null) return false;
  const [year, month, day] = parts.slice(1).map((part) => (part === undefined ? null : Number(part)));
  if (month === null) return true;
  return month >= 1 && month <= 12 && (day === null || (day >= 1 && day <= daysOf(year, month)));
}
