// The chain of one blade's records (record-format.md, "Chain"). States: `whole`, `incomplete`, `broken`.

// `links`: { file, sequence, previous, name, blade, issued_at } of records whose signature holds.
export function judgeChain(links) {
  const sorted = [...links].sort((one, other) => one.sequence - other.sequence || (one.file < other.file ? -1 : 1));
  const faults = [];
  const forks = [];
  for (let at = 0; at < sorted.length; at += 1) {
    const link = sorted[at];
    if ((link.sequence === 1) !== (link.previous === null)) faults.push({ file: link.file, reason: '`previous` is null exactly in the first' });
    if (link.previous === link.name) faults.push({ file: link.file, reason: 'the record names itself' });
    const before = sorted[at - 1];
    if (before === undefined) continue;
    if (before.sequence === link.sequence) {
      if (before.name !== link.name) {
        forks.push([before.file, link.file]);
        faults.push({ file: link.file, reason: `another record of the number ${link.sequence} than ${before.file}: two histories` });
      }
      continue;
    }
    if (link.sequence !== before.sequence + 1) {
      faults.push({ file: link.file, reason: `a gap: the record before is number ${before.sequence}` });
      continue;
    }
    const earlier = sorted.filter(({ sequence }) => sequence === before.sequence);
    const parent = earlier.find(({ name }) => name === link.previous);
    if (parent === undefined) faults.push({ file: link.file, reason: 'it names another record as the one before' });
    for (const other of [parent ?? before]) {
      if (other.blade !== link.blade) faults.push({ file: link.file, reason: 'a record of another blade' });
      if (other.issued_at > link.issued_at) faults.push({ file: link.file, reason: 'it was issued before its predecessor' });
    }
  }
  const numbers = new Set(sorted.map(({ sequence }) => sequence));
  const missing = [];
  for (let number = 1; number < (sorted.at(-1)?.sequence ?? 1) && missing.length < 100; number += 1) if (!numbers.has(number)) missing.push(number);
  const complete = sorted[0]?.sequence === 1;
  const state = faults.length > 0 ? 'broken' : complete ? 'whole' : 'incomplete';
  return { state, faults, forks, missing };
}
