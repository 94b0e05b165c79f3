// Browsers in tests take their fonts from the repository, so that Japanese is there on every machine.
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** Writes a font configuration and returns the environment that names it. */
export function fontEnvironment(folder) {
  const fonts = fileURLToPath(new URL('../../../crates/report/fonts/', import.meta.url));
  mkdirSync(folder, { recursive: true });
  const file = join(folder, 'fonts.conf');
  writeFileSync(file, `<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd"><fontconfig><dir>${fonts}</dir><dir>/usr/share/fonts</dir><cachedir>${folder}/cache</cachedir></fontconfig>\n`);
  return { ...process.env, FONTCONFIG_FILE: file };
}
