// What is asked of a page that is open in a browser. Each check answers with what is wrong, a sentence each.

import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** The body is styled by the page, not by the browser. */
export async function style(page) {
  const found = await page.evaluate(() => {
    const body = getComputedStyle(document.body);
    return { font: body.fontFamily, width: body.maxWidth, padding: body.paddingLeft, paper: body.backgroundColor };
  });
  const problems = [];
  if (found.font !== 'sans-serif') problems.push(`the body's font is ${found.font}`);
  if (found.width === 'none') problems.push('the body has no largest width');
  if (found.padding === '0px') problems.push('the body has no margin to the edge');
  if (found.paper === 'rgba(0, 0, 0, 0)') problems.push('the body has no background of its own');
  return problems;
}

/** Nothing reaches beyond either side of the window, shown or hidden by scrolling. */
export async function widths(page) {
  return page.evaluate(() => {
    const width = document.documentElement.clientWidth;
    const problems = [];
    if (document.documentElement.scrollWidth > width) {
      problems.push(`the page is ${document.documentElement.scrollWidth} wide in a window of ${width}`);
    }
    for (const element of document.body.querySelectorAll('*')) {
      const { left, right } = element.getBoundingClientRect();
      if (left < -0.5 || right > width + 0.5) {
        problems.push(`<${element.localName}> reaches from ${left.toFixed(1)} to ${right.toFixed(1)} of ${width}`);
      }
    }
    return problems.slice(0, 5);
  });
}

/** Text in pictures is at least this many pixels high as shown. */
export async function pictureText(page, least) {
  return page.evaluate((least) => {
    const problems = [];
    for (const text of document.querySelectorAll('svg text')) {
      const matrix = text.getScreenCTM();
      const shown = parseFloat(text.getAttribute('font-size')) * Math.hypot(matrix.a, matrix.b);
      if (shown < least) problems.push(`"${text.textContent.trim()}" is ${shown.toFixed(1)} pixels high`);
    }
    return problems.slice(0, 5);
  }, least);
}

/** Lines and texts of pictures stand out from the paper they are on: 3 and 4.5 by WCAG 2.2; the grid is decoration. */
export async function pictureContrast(page) {
  return page.evaluate(() => {
    const parts = (colour) => (colour.match(/[\d.]+/g) ?? []).map(Number);
    const luminance = (colour) => {
      const linear = parts(colour).slice(0, 3).map((part) => part / 255)
        .map((part) => (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4));
      return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2];
    };
    const contrast = (one, other) => {
      const [low, high] = [luminance(one), luminance(other)].sort((one, other) => one - other);
      return (high + 0.05) / (low + 0.05);
    };
    const grid = '#D6D6D6';
    const found = new Map();
    for (const svg of document.querySelectorAll('svg')) {
      const paper = getComputedStyle(svg.querySelector('rect')).fill;
      for (const element of svg.querySelectorAll('text, polyline, line, circle, path')) {
        if (element.getAttribute('stroke') === grid) continue;
        const style = getComputedStyle(element);
        const isText = element.localName === 'text';
        const colour = isText || style.stroke === 'none' ? style.fill : style.stroke;
        const ratio = contrast(colour, paper);
        if (ratio < (isText ? 4.5 : 3)) found.set(`<${element.localName}> ${colour} on ${paper}: ${ratio.toFixed(2)}`, true);
      }
    }
    return [...found.keys()].slice(0, 5);
  });
}

/** Names, roles, order and contrast as the accessibility checker judges them, its best practices among them. */
export async function accessibility(page) {
  await page.evaluate(axe);
  const violations = await page.evaluate(async () => (await globalThis.axe.run(document)).violations);
  return violations.flatMap(({ id, help, nodes }) =>
    nodes.slice(0, 3).map((node) => `${id}: ${help}: ${node.html.slice(0, 120)}`));
}

/** Every picture has a name and a description as its first elements. */
export async function names(page) {
  return page.evaluate(() => {
    const lacks = (svg) => {
      const [title, desc] = svg.children;
      const says = (element, name, least) => element?.localName === name && element.textContent.trim().length >= least;
      return !says(title, 'title', 3) || !says(desc, 'desc', 20);
    };
    const pictures = [...document.querySelectorAll('svg')];
    if (pictures.length === 0) return ['there is no picture'];
    return pictures.filter(lacks).map((svg) => `a picture lacks title or desc: ${svg.outerHTML.slice(0, 120)}`).slice(0, 5);
  });
}

/** Every entry of the table of contents leads somewhere. */
export async function contents(page) {
  return page.evaluate(() => {
    const links = [...document.querySelectorAll('nav a')];
    const lost = links.filter((link) => !document.getElementById(link.getAttribute('href').slice(1)));
    if (links.length < 3) return [`the table of contents has ${links.length} entries`];
    return lost.map((link) => `${link.getAttribute('href')} leads nowhere`);
  });
}
