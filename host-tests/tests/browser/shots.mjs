// Pictures of pages as the browser shows them: `node shots.mjs PROGRAM FOLDER`.

import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { NARROW, WIDE, launch, makePages, open } from './browser.mjs';

const [program, out] = process.argv.slice(2);
const folder = mkdtempSync(join(tmpdir(), 'pages-'));
mkdirSync(out, { recursive: true });
const context = await launch(folder);
try {
  makePages(program, folder);
  for (const [name, viewport, scheme] of [
    ['report', WIDE, 'light'], ['report', NARROW, 'dark'], ['supply', WIDE, 'dark'], ['fit', WIDE, 'light'], ['replay', WIDE, 'light'],
  ]) {
    const { page } = await open(context, join(folder, `${name}.html`), { viewport, scheme });
    await page.screenshot({ path: join(out, `${name}-${viewport.width}-${scheme}.png`) });
    await page.close();
  }
} finally {
  await context.close();
  rmSync(folder, { recursive: true, force: true });
}
