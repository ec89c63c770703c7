// How long it takes from a stroke to the painted fabric on the live page, for pictures of 12 threads by 24 rows in two and in
// three colours, over 40 strokes each, by the clock of the page: from the moment at which the pointer touches a cell to the frame
// after the picture has been put in its place.
//
//     HITCHWORK=target/release/hitchwork npm run measure-painting
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { browser, watching, workshop } from './src/browser.js';

const STROKES = 40, THREADS = 12, ROWS = 24;
const { folder, done } = workshop();
const chromium = await browser();
const median = (all) => [...all].sort((a, b) => a - b)[Math.floor(all.length / 2)];
// Slanting bands, as designs are that can be tied; strokes lay noise over them.
const art = (marks) => Array.from({ length: ROWS }, (_, row) => Array.from({ length: THREADS - 1 }, (_, column) => marks[Math.floor(((row + column) % 24) * marks.length / 24)]).join('')).join('\n');

for (const [marks, counts, how] of [
  ['~-', '', 'their counts looked for'],
  ['~-o', 'counts: #{ "sea": 4, "foam": 4, "lamp": 4 }', 'their counts given'],
  ['~-o', '', 'their counts looked for'],
]) {
  const place = join(folder, `of-${marks.length}${counts && '-counted'}`);
  mkdirSync(place);
  writeFileSync(join(place, 'art.txt'), `${art(marks)}\n`);
  writeFileSync(join(place, 'art.rhai'), 'let marks = #{ "~": colour("sea", "#1d6f8c"), "-": colour("foam", "#e8f1ee"), "o": colour("lamp", "#ffc145") };\nlet tied = solved(picture("art.txt", #{ marks: marks }), #{ WISHES });\nband(tied.threads).repeat(tied.rows).colours(tied.colours).repeats(4)\n'.replace('WISHES', counts));
  const command = await watching(['art.rhai'], { cwd: place });
  const page = await chromium.newPage();
  await page.setViewport({ width: 1280, height: 900 });
  await page.goto(command.address);
  await page.waitForFunction(() => band.knots.length > 0 && papers.get('art.txt')?.pots);
  const took = [], runs = [];
  let misses = 0;
  for (let stroke = 0; stroke < STROKES; stroke += 1) {
    const row = (stroke * 7) % ROWS, column = (row % 2) + 2 * ((stroke * 3) % 5);
    const [ms, run, missed] = await page.evaluate(async (row, column, marks) => {
      const file = fileOf('art.txt'), was = file.pots[papers.get('art.txt').pots[row * file.columns + column]].id;
      take({ file: 'art.txt', pot: marks[(marks.indexOf(was) + 1) % marks.length] });
      await new Promise((go_on) => { requestAnimationFrame(go_on); });
      const version = view.painting.version, began = performance.now();
      dab('art.txt', row, column);
      while (!(Number(document.getElementById('picture').dataset.tied) > version)) await new Promise((go_on) => { requestAnimationFrame(() => setTimeout(go_on)); });
      return [performance.now() - began, view.took_ms, view.painting.missed];
    }, row, column, marks);
    took.push(ms);
    runs.push(run);
    misses = missed;
    await page.waitForFunction(() => acts.length === 0 && !posting && !view.is_busy && papers.get('art.txt').version === view.painting.version);
  }
  const say = (name, all) => console.log(`  ${name}: median ${median(all).toFixed(1)} ms, worst ${Math.max(...all).toFixed(1)} ms`);
  console.log(`${THREADS} threads by ${ROWS} rows in ${marks.length} colours, ${how}, ${STROKES} strokes, ${misses} knots missed at the end:`);
  say('from stroke to painted fabric', took);
  say('of that, the run itself', runs);
  await page.close();
  await command.stop();
}
await chromium.close();
done();
