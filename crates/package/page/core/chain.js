// The chain of one blade's records (record-format.md, "Chain"; package-format.md, "Chain").
// States: `broken`, `incomplete`, `whole`.

// `links`: { file, sequence, previous, name, blade, issued_at } of the records that make the chain.
// `unread`: numbers whose file is there but says nothing that counts (altered, or not to be judged).
export function judgeChain(links, unread = new Set()) {
  const sorted = [...links].sort((one, other) => one.sequence - other.sequence || (one.file < other.file ? -1 : 1));
  const faults = [];
  const forks = [];
  let gaps = false;
  const fault = (link, rule, reason) => faults.push({ file: link.file, rule, reason });
  for (const [at, link] of sorted.entries()) {
    if ((link.sequence === 1) !== (link.previous === null)) fault(link, 'chain_first', '`previous` is null exactly in the first');
    const before = sorted[at - 1];
    if (before === undefined) continue;
    if (before.sequence === link.sequence && before.name === link.name) continue;
    if (before.blade !== link.blade) fault(link, 'chain_blade', 'a record of another blade');
    if (before.sequence === link.sequence) {
      // Of another blade it is no second history of this one.
      if (before.blade === link.blade) {
        forks.push([before.file, link.file]);
        fault(link, 'chain_fork', `another record of the number ${link.sequence} than ${before.file}: two histories`);
      }
      continue;
    }
    if (before.issued_at > link.issued_at) fault(link, 'chain_time', 'it was issued before its predecessor');
    if (link.sequence === before.sequence + 1) {
      const parents = sorted.filter(({ sequence }) => sequence === before.sequence);
      if (!parents.some(({ name }) => name === link.previous)) fault(link, 'chain_previous', 'it names another record as the one before');
      continue;
    }
    gaps = true;
    for (let number = before.sequence + 1; number < link.sequence; number += 1) {
      if (unread.has(number)) continue;
      fault(link, 'chain_gap', `a gap: there is no record of the number ${number}`);
      break;
    }
  }
  const whole = sorted[0]?.sequence === 1 && !gaps;
  return { state: faults.length > 0 ? 'broken' : whole ? 'whole' : 'incomplete', faults, forks, missing: missingNumbers(sorted) };
}

// The numbers below the last that are not there, a hundred at most.
function missingNumbers(sorted) {
  const numbers = new Set(sorted.map(({ sequence }) => sequence));
  const missing = [];
  const last = sorted.at(-1)?.sequence ?? 0;
  for (let number = 1; number < last && missing.length < 100; number += 1) if (!numbers.has(number)) missing.push(number);
  return missing;
}
