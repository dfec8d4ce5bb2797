// A printed page: how many sheets, and how full each is.

import { execFileSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** A sheet of less than this part of its height is near-empty. */
const LEAST = 0.2;
/** Dots to the inch of what is looked at. */
const DOTS = 24;

/** The part of each sheet's height down to its lowest mark. */
function filled(pdf) {
  const folder = mkdtempSync(join(tmpdir(), 'sheets-'));
  try {
    execFileSync('pdftoppm', ['-r', String(DOTS), '-gray', pdf, join(folder, 'sheet')]);
    return readdirSync(folder).sort().map((name) => {
      const bytes = readFileSync(join(folder, name));
      const head = /^P5\s+(\d+)\s+(\d+)\s+255\s/.exec(bytes.subarray(0, 32).toString('latin1'));
      const [width, height] = [Number(head[1]), Number(head[2])];
      const marks = bytes.subarray(head[0].length);
      let lowest = 0;
      for (let at = 0; at < width * height; at += 1) {
        if (marks[at] < 240) lowest = Math.floor(at / width) + 1;
      }
      return lowest / height;
    });
  } finally {
    rmSync(folder, { recursive: true });
  }
}

/** What is wrong with the sheets of a page: how many there are, and which are near-empty. */
export async function print(page, file, most) {
  await page.pdf({ path: file, format: 'A4', preferCSSPageSize: true });
  const sheets = filled(file);
  const problems = [];
  if (sheets.length > most) problems.push(`${sheets.length} sheets, at most ${most} were expected`);
  sheets.forEach((part, place) => {
    if (part < LEAST) problems.push(`sheet ${place + 1} of ${sheets.length} is filled to ${(100 * part).toFixed(0)} %`);
  });
  return { sheets: sheets.length, problems };
}
