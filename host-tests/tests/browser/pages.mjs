// Makes every kind of page with the program and looks at each in a browser, light and dark, wide and narrow, and in print.
// Each check has a control: a page that it must refuse. `node pages.mjs PROGRAM`; exit code 1 when anything is wrong.

import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { NARROW, WIDE, launch, makePages, open } from './browser.mjs';
import * as checks from './checks.mjs';
import { print } from './print.mjs';

const PROGRAM = resolve(process.argv[2]);
/** Least height of text in pictures on a narrow window, in pixels. */
const READABLE = 10;

const folder = mkdtempSync(join(tmpdir(), 'pages-'));
const at = (name) => join(folder, name);
const context = await launch(folder);

/** What is asked in every window, by check. */
const ASKED = {
  style: checks.style,
  widths: checks.widths,
  pictureText: (page, viewport) => (viewport === NARROW ? checks.pictureText(page, READABLE) : []),
  pictureContrast: checks.pictureContrast,
  names: checks.names,
  contents: checks.contents,
  // Last: it adds a script of its own.
  accessibility: checks.accessibility,
};

/** All that is wrong with a page, by check; `only` one of them where it is named. */
async function problemsOf(file, sheets, only) {
  const found = {};
  const wanted = (check) => only === undefined || only === check;
  const note = (check, problems, where) => {
    found[check] = (found[check] ?? []).concat(problems.map((problem) => `${where}: ${problem}`));
  };
  const windows = [
    ['wide, light', WIDE, 'light'], ['wide, dark', WIDE, 'dark'], ['narrow, light', NARROW, 'light'], ['narrow, dark', NARROW, 'dark'],
  ];
  for (const [where, viewport, scheme] of only === 'print' ? [] : windows) {
    const { page, said } = await open(context, file, { viewport, scheme });
    note('quiet', said.splice(0), where);
    for (const [check, ask] of Object.entries(ASKED).filter(([check]) => wanted(check))) {
      note(check, await ask(page, viewport), where);
    }
    await page.close();
  }
  if (!wanted('print')) return found;
  const { page } = await open(context, file, { viewport: WIDE, scheme: 'dark' });
  const printed = await print(page, at('printed.pdf'), sheets);
  await page.close();
  return { ...found, print: printed.problems, sheets: printed.sheets };
}

/** For each check, what makes a good page one that it must refuse. */
const SPOIL = {
  quiet: [
    (text) => text.replace('</main>', '<img alt="" src="missing.png"></main>'),
    (text) => text.replace('</main>', '<script>console.log("x")</script></main>'),
  ],
  // As it once was: a stray brace, and no browser reads the rule behind it.
  style: [(text) => text.replace('body { max-width: 72rem', '}\nbody { max-width: 72rem')],
  widths: [(text) => text.replace('</main>', '<p style="width: 400px">wide</p></main>')],
  pictureText: [(text) => text.replaceAll('font-size="96"', 'font-size="72"')],
  pictureContrast: [
    (text) => text.replaceAll('stroke="#0072B2"', 'stroke="#9FD0F0"'),
    (text) => text.replaceAll('svg [stroke="#0072B2"] { stroke: #56A8E8 }', 'svg [stroke="#0072B2"] { stroke: #203040 }'),
  ],
  accessibility: [
    (text) => text.replaceAll('--quiet: #59606A', '--quiet: #B0B6BE'),
    (text) => text.replaceAll('--quiet: #A4ABB5', '--quiet: #4A5058'),
    (text) => text.replace('<html lang="en">', '<html>'),
  ],
  names: [(text) => text.replace(/<desc>[^<]*<\/desc>/, '')],
  contents: [(text) => text.replace('id="cautions"', 'id="elsewhere"')],
  print: [
    (text) => text.replace('<footer>', '<footer style="break-before: page">'),
    (text) => text.replace('</main>', '<div style="height: 400cm; border: 1px solid"></div></main>'),
  ],
};

let wrong = 0;
try {
  const pages = makePages(PROGRAM, folder);
  for (const [name, most] of Object.entries(pages)) {
    const { sheets, ...found } = await problemsOf(at(`${name}.html`), most);
    const problems = Object.entries(found).flatMap(([check, list]) => list.map((problem) => `${check}: ${problem}`));
    console.log(`${problems.length === 0 ? 'good ' : 'WRONG'} ${name}.html, ${sheets} sheets`);
    problems.forEach((problem) => console.log(`      ${problem}`));
    wrong += problems.length;
  }
  const good = readFileSync(at('report.html'), 'utf8');
  for (const [check, ways] of Object.entries(SPOIL)) {
    for (const [place, spoil] of ways.entries()) {
      const text = spoil(good);
      writeFileSync(at('control.html'), text);
      const caught = text !== good && (await problemsOf(at('control.html'), pages.report, check))[check].length > 0;
      console.log(`${caught ? 'good ' : 'WRONG'} control ${place + 1} of ${check}: ${caught ? 'refused' : 'NOT NOTICED'}`);
      wrong += caught ? 0 : 1;
    }
  }
} finally {
  await context.close();
  rmSync(folder, { recursive: true, force: true });
}
console.log(wrong === 0 ? 'every page holds, and every control is refused' : `${wrong} problems`);
process.exitCode = wrong === 0 ? 0 : 1;
