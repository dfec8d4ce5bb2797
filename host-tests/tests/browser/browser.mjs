// The browser, and every kind of page that the program makes.

import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { chromium } from 'playwright-core';

const HOST = process.env.TALLYVOLT_HOST_TESTS ?? resolve(dirname(fileURLToPath(import.meta.url)), '../..');
const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
  '--disable-component-update', '--disable-sync'];

export const WIDE = { width: 1280, height: 900 };
export const NARROW = { width: 390, height: 844 };

/** A browser with a profile of its own in `folder`. */
export function launch(folder) {
  return chromium.launchPersistentContext(join(folder, 'profile'), {
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', headless: true, args: FLAGS,
  });
}

/** Opens a page and answers with it, and with what it said or asked for. */
export async function open(context, file, { viewport, scheme }) {
  const page = await context.newPage();
  await page.emulateMedia({ colorScheme: scheme });
  await page.setViewportSize(viewport);
  const said = [];
  page.on('console', (message) => said.push(`the console says: ${message.text()}`));
  page.on('pageerror', (error) => said.push(`an error: ${error.message}`));
  const address = pathToFileURL(file).href;
  page.on('request', (request) => {
    if (request.url() !== address) said.push(`it asks for ${request.url().slice(0, 100)}`);
  });
  await page.goto(address, { waitUntil: 'load' });
  return { page, said };
}

/** Makes every kind of page in `folder`, and answers with the most sheets that each may take. */
export function makePages(program, folder) {
  const at = (name) => join(folder, name);
  // A front end that fails, or a suspect module, is a page worth looking at as well.
  const tallyvolt = (...words) => {
    try {
      execFileSync(program, words, { cwd: HOST, stdio: ['ignore', 'ignore', 'pipe'] });
    } catch (error) {
      if (error.status !== 1) throw new Error(`tallyvolt ${words.join(' ')}: ${error.stderr}`);
    }
  };
  const report = (name, ...files) => tallyvolt('report', ...files, '--trials', '20000', '--out', at(name));
  const divided = 'front-ends/hut-divided-12bit.toml';
  report('report.html', 'front-ends/hut-divided-thermistor.toml');
  report('supply.html', 'front-ends/candidates/hut-b-supply-12bit.toml');
  report('plain.html', 'front-ends/hut-divided-10bit.toml');
  report('fails.html', 'tests/data/does-not-fit.toml');
  report('several.html', divided, 'front-ends/hut-supply-12bit.toml', 'front-ends/hut-supply-thermistor.toml');
  const meter = ['--meter-ppm-reading', '50', '--meter-ppm-range', '10', '--meter-range-mv', '10000', '--meter-resolution-mv', '0.1'];
  tallyvolt('fit', divided, 'readings/hut-16-modules.csv', ...meter, '--csv', at('batch.csv'), '--page', at('fit.html'));
  writeFileSync(at('large.csv'), largeBatch());
  tallyvolt('fit', divided, at('large.csv'), '--page', at('large.html'));
  tallyvolt('replay', divided, 'readings/hut-evening-log.csv', '--calibration', at('batch.csv'), '--stuck-rows', '20',
    '--page', at('replay.html'));
  tallyvolt('replay', 'front-ends/hut-divided-thermistor.toml', 'readings/hut-night-sensors.csv', '--page', at('night.html'));
  return { report: 6, supply: 5, plain: 4, fails: 2, several: 13, fit: 2, large: 2, replay: 5, night: 2 };
}

/** Three hundred invented modules, every fiftieth off by a tenth. */
function largeBatch() {
  const rows = ['module,meter_mv,count'];
  for (let module = 1; module <= 300; module += 1) {
    const gain = (module % 50 === 0 ? 1.1 : 1) * (1 + 0.003 * Math.sin(module));
    for (const mv of [2000, 2000, 2900, 2900, 3650, 3650]) {
      // Front end hut-divided-12bit: 4275.25 mV would be 4096.
      rows.push(`hut-lighting-bank-${module},${mv},${Math.round((mv / gain / 4275.25) * 4096 - 0.5)}`);
    }
  }
  return rows.join('\n') + '\n';
}
