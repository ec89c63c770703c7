// A browser for the tests: the Chromium of the machine, with a profile of its own.
import { execFileSync, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import puppeteer from 'puppeteer-core';

const BROWSERS = ['/usr/bin/chromium', '/usr/bin/chromium-browser', '/usr/bin/google-chrome'];
export const binary = process.env.HITCHWORK ?? new URL('../../../target/debug/hitchwork', import.meta.url).pathname;

/** A folder for one test file; it goes when `done` is called. */
export function workshop() {
  const folder = mkdtempSync(join(tmpdir(), 'hitchwork-pages-'));
  return { folder, done: () => rmSync(folder, { recursive: true, force: true }) };
}

/** Runs `hitchwork` and gives what it says. */
export function hitchwork(...words) {
  return execFileSync(binary, words, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'], maxBuffer: 1 << 28 });
}

/** Starts `hitchwork watch`; gives the page's address, what the command says, and how to end it, which gives its status. */
export async function watching(words, { cwd } = {}) {
  const server = spawn(binary, ['watch', ...words], { cwd, stdio: ['ignore', 'pipe', 'pipe'] });
  const command = { said: '' };
  command.stop = () => new Promise((resolve) => {
    server.on('exit', resolve);
    server.kill('SIGINT');
  });
  command.address = await new Promise((resolve, reject) => {
    for (const out of [server.stdout, server.stderr]) out.on('data', (data) => {
      command.said += data;
      const found = command.said.match(/http:\/\/127\.0\.0\.1:\d+\//);
      if (found) resolve(found[0]);
    });
    server.on('exit', () => reject(new Error(command.said)));
  });
  return command;
}

/** The sheet of a band as a page, made by the command; gives its address. */
export function sheet(folder, name, ...words) {
  const file = join(folder, `${name}.html`);
  hitchwork('sheet', ...words, '--out', file);
  return pathToFileURL(file).href;
}

/** A band file with these fields; gives its path. */
export function bandFile(folder, name, fields) {
  const file = join(folder, `${name}.band.json`);
  writeFileSync(file, JSON.stringify({ format: 'hitchwork-band/1', ...fields }));
  return file;
}

/** The text behind an address made by `sheet`. */
export const source = (address) => readFileSync(new URL(address), 'utf8');

/** Starts the browser. */
export async function browser() {
  const executablePath = process.env.CHROMIUM ?? BROWSERS.find(existsSync);
  if (!executablePath) throw new Error('no Chromium here: install Debian\'s package chromium, or name it in CHROMIUM');
  return puppeteer.launch({
    executablePath,
    headless: true,
    timeout: 60_000,
    args: ['--no-sandbox', '--disable-gpu', '--disable-background-networking', '--disable-dev-shm-usage'],
  });
}

/**
 * Opens a sheet in a browser that knows nothing yet, and watches it: what it says on the console, what goes wrong in it, and
 * what it asks the network for.
 */
export async function open(chromium, address, { width = 1280, height = 900, touch = false, before } = {}) {
  const context = await chromium.createBrowserContext();
  const page = await context.newPage();
  const heard = { console: [], errors: [], requests: [] };
  page.on('console', (message) => heard.console.push(message.text()));
  page.on('pageerror', (error) => heard.errors.push(error.message));
  page.on('request', (request) => {
    if (request.url() !== address && !request.url().startsWith('data:')) heard.requests.push(request.url());
  });
  await page.setViewport({ width, height, hasTouch: touch, isMobile: touch });
  if (before) await page.evaluateOnNewDocument(before);
  await page.goto(address, { waitUntil: 'load' });
  return { page, heard };
}

/** The order that the tracker shows, as thread numbers. */
export const shown = (page) =>
  page.$$eval('#order .chip span', (chips) => chips.map((chip) => Number.parseInt(chip.textContent, 10)));

/** What the tracker shows at the moment, as words. */
export const words = (page, selector) => page.$eval(selector, (element) => element.textContent.replace(/\s+/g, ' ').trim());

/** Chooses a hand: 0 as designed, 1 mirrored. A sheet that still scrolls to its row is waited for. */
export const choose = (page, hand) => page.locator(`input[name="hand"][value="${hand}"]`).click();
