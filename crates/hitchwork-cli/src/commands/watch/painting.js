// Painting: a thread is taken up from those that hang below the band, and drawn over knots of the band itself or of the picture
// beside it. What is painted is shown here at once, and by the fabric as soon as the command has found the knots anew.
const PAGE = Array.from(crypto.getRandomValues(new Uint32Array(3)), (part) => part.toString(36)).join("");
/** The most cells of an act, and about those of a bundle: the command takes 64 KB at a time. */
const MOST_CELLS = 2000;
/** The thread in hand: a file and the name of a pot; or none. */
let hand = null;
/** The knots that can be pointed at, in the picture's own pixels, and a map of them. */
let band = { knots: [], files: [], begins: [], colours: [], threads: [], column: 1, picture: 0 }, near = new Map();
/** For each picture its cells as numbers of pots, which of them are tied, and how many changes they hold. */
const papers = new Map();
/** Where the keys are: a knot of the band, or a cell of a picture. */
let mark = null, cellMark = null;
let news = { files: [], version: 0, tied: 0, missed: 0 };

// Acts wait for their turn: they are numbered, sent one bundle after another, and sent again where the answer was lost.
let acts = [], done = 0, posting = false, strokes = 0, asked = 0;
/** Cells whose paint the fabric does not show yet, with the change from which on it does. */
const wet = new Map();

function act(what) {
  const last = acts.at(-1);
  const goes_on = last && !last.sent && ["act", "stroke", "file", "pot"].every((part) => last[part] === what[part]);
  if (goes_on && what.act === "stroke" && last.cells.length + what.cells.length <= MOST_CELLS) last.cells.push(...what.cells);
  else acts.push(what);
  // The first goes at once; while it is on its way, and until the next frame, the others become one bundle.
  if (!posting && !asked) { asked = 1; queueMicrotask(() => { asked = 0; post(); }); }
}

async function post() {
  if (posting) return;
  posting = true;
  while (acts.length > 0) {
    const bundle = [];
    for (let cells = 0; bundle.length < acts.length && cells < MOST_CELLS; bundle.push(acts[bundle.length])) cells += acts[bundle.length].cells?.length ?? 0;
    for (const each of bundle) each.sent = true;
    const body = { page: PAGE, from: done, acts: bundle.map(({ sent, ...each }) => each) };
    try {
      const answer = await ask("/painting/strokes", body);
      if (answer.status === 429) { await pause(300); continue; }
      acts = acts.slice(bundle.length);
      done += bundle.length;
      if (answer.ok) {
        const { version } = await answer.json();
        for (const [key, cell] of wet) if (cell.version === Infinity && !acts.some((each) => each.key === key)) wet.set(key, { ...cell, version });
        window.dispatchEvent(new CustomEvent("painted", { detail: version }));
      } else {
        tell((await answer.text()).trim());
        wet.clear();
        papers.clear();
      }
    } catch {
      tell("The command has ended: what is painted is sent when it has been started again.");
      await pause(1000);
    }
    await new Promise((go_on) => { requestAnimationFrame(go_on); });
  }
  posting = false;
  pictures();
}

/** Whoever goes away while something is painted that no file holds is asked by the browser. */
addEventListener("beforeunload", (event) => {
  if (acts.length > 0 || news.files.some((file) => file.is_unsaved && !file.is_saved_beside)) event.preventDefault();
});

let quiet = 0;
function tell(words) {
  clearTimeout(quiet);
  // Not word by word, where the mark moves fast.
  quiet = setTimeout(() => { by("told").textContent = words; }, 60);
}

const fileOf = (name) => news.files.find((file) => file.name === name);
const potOf = (name, id) => fileOf(name)?.pots.find((pot) => pot.id === id);
/** The threads that show what is in a pot: those of the band, or one of the pot's own colour. */
function threadsOf(name, pot) {
  const known = band.threads.find((each) => each.file === name && each.colour === pot.colour)?.threads;
  return known ?? (pot.colour ? [[pot.colour, pot.name ?? ""]] : []);
}
const called = (name, pot) => threadsOf(name, pot).map(([, thread]) => thread).join(", ") || pot.name || "nothing";

/** What the command says of the pictures has changed, or what is shown of the band. */
function pictures() {
  if (!view) return;
  const before = news;
  news = view.painting;
  recall_paint();
  const off = news.files.length === 0 || shown !== "fabric";
  for (const each of ["beside", "ends", "painting"]) by(each).hidden = off;
  by("drawn").hidden = !(news.shows_drawn && news.files.length === 0 && shown === "fabric");
  by("desk").classList.toggle("paints", !off);
  if (news.files.length === 0) { by("unsaved").hidden = true; take(null); return; }
  if (hand && !potOf(hand.file, hand.pot)) take(null);
  by("undo").disabled = !news.can_undo;
  by("redo").disabled = !news.can_redo;
  by("unsaved").hidden = !news.files.some((file) => file.is_unsaved);
  by("unsaved").textContent = news.files.some((file) => file.is_unsaved && !file.is_saved_beside) ? "Save the picture first: the command reads its file, not this page." : "Let the rule read the text that was saved: the command reads what the rule reads.";
  if (news.missed !== before.missed || news.tied !== before.tied) missed();
  ends();
  figures();
  for (const file of news.files) {
    const was = before.files.find(({ name }) => name === file.name);
    if (was?.rows !== file.rows || was.columns !== file.columns) papers.delete(file.name);
    // Those that are being painted here are newer here.
    if (papers.get(file.name)?.version !== news.version && acts.length === 0 && !posting) cells(file.name);
  }
}

function missed() {
  const words = news.missed === 1 ? "1 knot of the repeat shows another colour than the picture asks for; it is ringed." : `${news.missed} knots of the repeat show another colour than the picture asks for; they are ringed.`;
  if (news.missed > 0) tell(words);
  else if (by("told").textContent.includes("ringed")) tell("Every knot shows what the picture asks for.");
}

async function cells(name) {
  const version = news.version;
  const known = papers.get(name) ?? {};
  if (known.asked === version) return;
  papers.set(name, { ...known, asked: version });
  try {
    const answer = await fetch(`/painting/cells?${new URLSearchParams({ file: name })}`);
    if (answer.ok && acts.length === 0 && !posting) {
      const { pots, are_tied, version } = await answer.json();
      papers.set(name, { pots, are_tied, version, asked: version });
      figure(name);
    } else papers.set(name, { ...known, asked: null });
  } catch { papers.set(name, { ...known, asked: null }); }
}

// Should the command end, this page still knows what was painted, and paints it again when it has been started again.
let start = null;
const unsaved = new Map();
function recall_paint() {
  const is_new = start !== null && start !== view.start && view.number > 0;
  if (start === null || is_new) start = view.start;
  if (is_new) { papers.clear(); wet.clear(); for (const [name, kept] of unsaved) if (fileOf(name)) repaint(name, kept); unsaved.clear(); }
  else if (start === view.start) for (const file of news.files) {
    const paper = papers.get(file.name);
    if (file.is_unsaved && paper?.pots) unsaved.set(file.name, { rows: file.rows, columns: file.columns, ids: paper.pots.map((pot) => file.pots[pot]?.id) });
    else if (!file.is_unsaved) unsaved.delete(file.name);
  }
}

async function repaint(name, { rows, columns, ids }) {
  const file = fileOf(name);
  if (file.rows !== rows || file.columns !== columns) { tell(`What was painted on ${name} does not fit it any more.`); return; }
  const answer = await fetch(`/painting/cells?${new URLSearchParams({ file: name })}`).catch(() => null);
  if (!answer?.ok) return;
  const { pots } = await answer.json();
  strokes += 1;
  for (const { id } of file.pots) {
    const cells = ids.flatMap((wanted, at) => (wanted === id && file.pots[pots[at]]?.id !== id ? [[Math.floor(at / columns), at % columns]] : []));
    for (let from = 0; from < cells.length; from += MOST_CELLS) act({ act: "stroke", stroke: strokes, file: name, pot: id, cells: cells.slice(from, from + MOST_CELLS) });
  }
}

// The threads hang below the band. What one paints with is what one takes up.
const SVG = "http://www.w3.org/2000/svg";
function strand(colours) {
  const picture = document.createElementNS(SVG, "svg");
  picture.setAttribute("viewBox", "0 0 44 64");
  picture.setAttribute("aria-hidden", "true");
  const line = (d, stroke, width, dash) => {
    const path = document.createElementNS(SVG, "path");
    for (const [name, value] of Object.entries({ d, stroke, "stroke-width": width, "stroke-dasharray": dash ?? "none", fill: "none", "stroke-linecap": "round" })) path.setAttribute(name, value);
    picture.append(path);
  };
  if (colours.length === 0) line("M22 -2C18 14 27 26 21 40 M17 47l4-6 5 7", "currentColor", 1.5, "2 3");
  for (const [at, [colour]] of colours.slice(0, 4).entries()) {
    const x = 22 + (at - (Math.min(colours.length, 4) - 1) / 2) * 9, sway = at % 2 === 0 ? 4 : -4, end = 46 + (at * 5) % 9;
    const hangs = `M${x} -4C${x - sway} 14 ${x + sway} 28 ${x} ${end}`;
    line(hangs, "#0006", 6.5);
    line(hangs, colour, 5);
    line(hangs, "#fff6", 1.2, "2.5 4");
    line(`M${x} ${end}l-3 8M${x} ${end}l.5 9M${x} ${end}l3 7`, colour, 1.4);
  }
  return picture;
}

let hanging = "";
function ends() {
  const list = news.files.flatMap((file) => file.pots.map((pot, at) => ({ file: file.name, pot, at, threads: threadsOf(file.name, pot) })));
  const now = JSON.stringify([list, news.files.length]);
  if (now !== hanging) {
    hanging = now;
    const at = document.activeElement?.dataset?.end;
    by("ends").replaceChildren(...list.map(({ file, pot, at, threads }) => {
      const name = called(file, pot), digit = at < 9 ? String(at + 1) : "";
      const words = pot.colour === null && threads.length === 0 ? "nothing" : pot.colour === null ? `${name}, where the picture shows nothing` : name;
      const button = el("button", { type: "button", class: "end", "data-end": `${file} ${pot.id}`, title: words, "aria-label": `${digit && `${digit}: `}${words}${news.files.length > 1 ? `, of ${file}` : ""}` }, strand(threads), el("span", {}, digit && el("kbd", {}, digit), name));
      button.addEventListener("click", () => take(hand?.file === file && hand.pot === pot.id ? null : { file, pot: pot.id }));
      return button;
    }));
    if (at) [...by("ends").children].find((end) => end.dataset.end === at)?.focus();
  }
  for (const end of by("ends").children) end.setAttribute("aria-pressed", end.dataset.end === `${hand?.file} ${hand?.pot}`);
}

function take(what) {
  if (hand?.file === what?.file && hand?.pot === what?.pot) return;
  const first = hand === null;
  hand = what;
  // Knots have to be large enough to be pointed at.
  if (first && hand && painted && zoom === 0) {
    const wide = band.column * scale(painted.size);
    if (wide > 0 && wide < 14) larger(Math.ceil(2 * Math.log2(scale(painted.size) * 18 / wide)) + 4);
  }
  for (const place of [pane, by("beside")]) place.classList.toggle("paints", hand !== null);
  if (hand) tell(`${called(hand.file, potOf(hand.file, hand.pot))} is in your hand: draw it over knots, or go to one with the arrow keys and press the space bar. Escape lays it down.`);
  ends();
  drawMarks();
}

// The knots of the band.
async function survey() {
  if (news.files.length === 0 && news.missed === 0 && !view.painting?.files.length) return;
  const [left, top, width, height] = painted.area;
  try {
    const answer = await fetch(`/painting/knots?${new URLSearchParams({ left, top, right: left + width, bottom: top + height })}`);
    if (!answer.ok) return;
    const found = await answer.json();
    // A newer band has a newer picture, which asks again.
    if (found.picture < band.picture) return;
    band = found;
    near = new Map();
    for (const knot of band.knots) {
      const key = box(knot.x, knot.y);
      near.set(key, [...(near.get(key) ?? []), knot]);
    }
    for (const [key, cell] of wet) if (cell.version <= view.painting.tied) wet.delete(key);
    if (mark) mark = band.knots.find((knot) => knot.x === mark.x && knot.y === mark.y) ?? knotAt(mark.x, mark.y) ?? null;
    if (band.is_crowded && hand) tell("These are too many knots to point at: make the band larger with +.");
    ends();
    drawMarks();
    figures();
    for (const file of news.files) figure(file.name);
  } catch { /* The command has ended, or will be asked again. */ }
}
const box = (x, y) => `${Math.floor(x / band.column)} ${Math.floor(y / band.column)}`;

/** The knot at a place of the picture. */
function knotAt(x, y) {
  let best = null, least = band.column * 0.9;
  for (const across of [-1, 0, 1]) for (const down of [-1, 0, 1]) {
    for (const knot of near.get(box(x + across * band.column, y + down * band.column)) ?? []) {
      const far = Math.hypot(knot.x - x, knot.y - y);
      if (far < least) [best, least] = [knot, far];
    }
  }
  return best;
}

const wetKey = (file, row, column) => `${file} ${row} ${column}`;
/** The file, row and column of the cell that a knot shows. */
const cellOf = (knot) => knot.cell && [band.files[knot.cell[0]], knot.cell[1], knot.cell[2]];

function drawMarks() {
  const canvas = by("marks");
  if (!painted || pane.hidden || by("ends").hidden) { canvas.width = canvas.height = 0; return; }
  const now = scale(painted.size), fine = now * devicePixelRatio, [left, top, width, height] = painted.area;
  canvas.width = Math.round(width * fine);
  canvas.height = Math.round(height * fine);
  const pen = canvas.getContext("2d");
  pen.setTransform(fine, 0, 0, fine, -left * fine, -top * fine);
  const size = band.column;
  const ring = (x, y, r, colour, wide) => { pen.beginPath(); pen.arc(x, y, r, 0, 7); pen.strokeStyle = colour; pen.lineWidth = wide; pen.stroke(); };
  for (const knot of band.knots) {
    const cell = cellOf(knot), fresh = cell && wet.get(wetKey(...cell));
    if (fresh) loop(pen, knot.x, knot.y, size * 1.35, fresh.colour);
    else if (knot.is_missed) {
      ring(knot.x, knot.y, size * 0.4, "#fffd", size * 0.2);
      ring(knot.x, knot.y, size * 0.4, "#22252b", size * 0.09);
      pen.fillStyle = knot.wanted;
      pen.beginPath(); pen.arc(knot.x, knot.y, size * 0.2, 0, 7); pen.fill();
      ring(knot.x, knot.y, size * 0.2, "#22252b", size * 0.05);
    }
  }
  if (mark && document.activeElement === pane) {
    ring(mark.x, mark.y, size * 0.62, "#fff", size * 0.26);
    ring(mark.x, mark.y, size * 0.62, "#17596a", size * 0.14);
  }
}

/** A small knot, as two wraps lie side by side; without a colour, the loop that waits for one. */
function loop(pen, x, y, size, colour, dark = "#0005") {
  const wrap = (shift, stroke, wide) => {
    pen.beginPath();
    pen.moveTo(x - size * 0.3 + shift, y + size * 0.24);
    pen.quadraticCurveTo(x + shift * 0.6, y, x + size * 0.3 + shift, y - size * 0.24);
    pen.lineWidth = wide; pen.strokeStyle = stroke; pen.lineCap = "round"; pen.stroke();
  };
  if (!colour) { pen.beginPath(); pen.arc(x, y, size * 0.16, 0, 7); pen.lineWidth = Math.max(0.7, size * 0.06); pen.strokeStyle = dark; pen.stroke(); return; }
  for (const shift of [-size * 0.17, size * 0.17]) {
    wrap(shift, dark, size * 0.38);
    wrap(shift, colour, size * 0.3);
  }
}

// A stroke: cells under the pointer, or under a key.
let stroke = null;
function daub(name, row, column) {
  const file = fileOf(name);
  if (!stroke || !file || name !== hand?.file || row < 0 || column < 0 || row >= file.rows || column >= file.columns) return;
  const key = wetKey(name, row, column), pot = potOf(hand.file, hand.pot), paper = papers.get(name);
  if (!stroke.cells.has(key)) {
    stroke.cells.add(key);
    if (paper?.pots) { paper.pots[row * file.columns + column] = file.pots.indexOf(pot); paper.version = null; }
    wet.set(key, { colour: threadsOf(name, pot)[0]?.[0] ?? pot.colour, version: Infinity });
    act({ act: "stroke", stroke: stroke.number, file: name, pot: pot.id, cells: [[row, column]] });
  }
  // Where the pointer is, the keys go on.
  if (stroke.canvas) cellMark = { file: name, row, column };
  sayCell(name, row, column, isTied(name, row, column) ? ", painted" : ", painted, though no knot of the band shows it", pot);
  figure(name);
}

/** Whether a knot shows a cell; where that is not known yet, one most likely does. */
const isTied = (name, row, column) => papers.get(name)?.are_tied?.[row * fileOf(name).columns + column] ?? true;
/** Whether what is in the hand paints this picture. Nothing is painted with a thread that nobody has taken up; one that hangs for another picture is changed for its like. */
function handFor(name) {
  if (!hand) return false;
  if (hand.file === name) return true;
  const { colour } = potOf(hand.file, hand.pot);
  const like = fileOf(name)?.pots.find((pot) => pot.colour === colour);
  if (like) take({ file: name, pot: like.id });
  return like !== undefined;
}
/** What is to be done before a picture is painted that `handFor` refuses. */
const toPaint = (name) => (hand ? `. What is in your hand hangs for ${hand.file}: take up a thread of ${name}` : ". To paint it, take up a thread that hangs below the band");

const overPane = (event) => {
  const { left, top } = table.getBoundingClientRect(), now = scale(painted.size);
  return [(event.clientX - left) / now, (event.clientY - top) / now];
};
const overFigure = (event, canvas) => {
  const { left, top } = canvas.getBoundingClientRect();
  return [(event.clientX - left) / Number(canvas.dataset.size), (event.clientY - top) / Number(canvas.dataset.size)];
};

/** Paints all cells from where the pointer was to where it is. */
function draw(event) {
  const points = event.getCoalescedEvents?.().length ? event.getCoalescedEvents() : [event];
  for (const point of points) {
    const [x, y] = stroke.canvas ? overFigure(point, stroke.canvas) : overPane(point);
    const from = stroke.last ?? [x, y], step = stroke.canvas ? 0.4 : band.column * 0.4;
    const steps = Math.max(1, Math.ceil(Math.hypot(x - from[0], y - from[1]) / step));
    for (let at = 1; at <= steps; at += 1) {
      const [across, down] = [from[0] + (x - from[0]) * at / steps, from[1] + (y - from[1]) * at / steps];
      if (stroke.canvas) daub(stroke.canvas.dataset.file, Math.floor(down), Math.floor(across));
      else { const knot = knotAt(across, down); if (knot?.cell) { mark = knot; const cell = cellOf(knot); if (handFor(cell[0])) daub(...cell); else stroke.refused = cell; } }
    }
    stroke.last = [x, y];
  }
  drawMarks();
}

function begin(event, canvas) {
  if (!painted || event.button !== 0 || stroke) return;
  if (canvas) {
    const name = canvas.dataset.file, { rows, columns } = fileOf(name), [x, y] = overFigure(event, canvas);
    const inside = (at, most) => Math.max(0, Math.min(most - 1, Math.floor(at)));
    cellMark = { file: name, row: inside(y, rows), column: inside(x, columns) };
    if (!handFor(name)) {
      canvas.focus({ preventScroll: true });
      figureMark(canvas, toPaint(name));
      return;
    }
  }
  if (!hand) return;
  const surface = canvas ?? pane;
  strokes += 1;
  stroke = { number: strokes, cells: new Set(), last: null, canvas, pointer: event.pointerId };
  surface.setPointerCapture(event.pointerId);
  surface.focus({ preventScroll: true });
  event.preventDefault();
  event.stopImmediatePropagation();
  draw(event);
}
pane.addEventListener("pointerdown", (event) => begin(event, null), { capture: true });
addEventListener("pointermove", (event) => { if (stroke?.pointer === event.pointerId) draw(event); });
for (const end of ["pointerup", "pointercancel"]) addEventListener(end, (event) => {
  if (stroke?.pointer !== event.pointerId) return;
  if (stroke.cells.size === 0 && stroke.refused) sayCell(...stroke.refused, toPaint(stroke.refused[0]));
  else if (stroke.cells.size === 0 && !stroke.canvas) tell(band.is_crowded ? "These are too many knots to point at: make the band larger with +." : "No knot there shows a cell of the picture.");
  stroke = null;
});

/** Paints one knot, as a stroke of its own. */
function dab(name, row, column) {
  if (!handFor(name)) { sayCell(name, row, column, toPaint(name)); return; }
  strokes += 1;
  stroke = { number: strokes, cells: new Set() };
  daub(name, row, column);
  stroke = null;
  drawMarks();
}

const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
/** The nearest knot in a direction: what lies beside it counts as further away. */
function next([across, down]) {
  let best = mark, least = Infinity;
  for (const knot of band.knots) {
    const [x, y] = [knot.x - mark.x, knot.y - mark.y];
    const ahead = x * across + y * down, aside = Math.abs(x * down) + Math.abs(y * across);
    if (ahead < band.column * 0.3) continue;
    const far = ahead + 2.5 * aside;
    if (far < least) [best, least] = [knot, far];
  }
  return best;
}

function goTo(knot) {
  mark = knot;
  if (!mark) return;
  const now = scale(painted.size), room = [pane.clientWidth, pane.clientHeight], at = [mark.x * now, mark.y * now];
  const seen = [pane.scrollLeft, pane.scrollTop], edge = band.column * now * 2;
  if (at[0] < seen[0] + edge || at[0] > seen[0] + room[0] - edge || at[1] < seen[1] + edge || at[1] > seen[1] + room[1] - edge) pane.scrollTo(at[0] - room[0] / 2, at[1] - room[1] / 2);
  const shows = band.colours[mark.shows]?.[1] ?? "";
  const words = mark.is_missed ? `; another colour shows, ${shows}` : shows && `; ${shows} shows`;
  if (mark.cell) sayCell(...cellOf(mark), words); else tell(`A knot that comes from no file${words}`);
  drawMarks();
}

/** Keys on the band, while a thread is in hand, and on a picture. Gives whether the key meant something. */
function key(event, canvas) {
  const name = canvas?.dataset.file ?? hand?.file, file = fileOf(name);
  if (!file) return false;
  const way = WAYS[event.key];
  if (way && canvas) {
    cellMark ??= { file: name, row: 0, column: 0 };
    cellMark = { file: name, row: Math.max(0, Math.min(file.rows - 1, cellMark.row + way[1])), column: Math.max(0, Math.min(file.columns - 1, cellMark.column + way[0])) };
    figureMark(canvas);
  } else if (way) {
    const [left, top] = [pane.scrollLeft, pane.scrollTop].map((at) => at / scale(painted.size));
    goTo(mark ? next(way) : [...band.knots].sort((one, other) => Math.hypot(one.x - left, one.y - top) - Math.hypot(other.x - left, other.y - top))[0]);
  } else if (event.key === " ") {
    if (canvas) dab(name, cellMark?.row ?? 0, cellMark?.column ?? 0);
    else if (mark?.cell) dab(...cellOf(mark));
  } else if (event.key === "Enter" && !canvas) {
    const cell = mark && cellOf(mark);
    const pot = cell && fileOf(cell[0])?.pots[papers.get(cell[0])?.pots?.[cell[1] * fileOf(cell[0]).columns + cell[2]]];
    if (pot) take({ file: cell[0], pot: pot.id });
  } else {
    const pot = file.pots.find((pot) => pot.id === event.key) ?? (/^[1-9]$/.test(event.key) ? file.pots[event.key - 1] : null);
    if (!pot) return false;
    take({ file: name, pot: pot.id });
  }
  return true;
}
function keys(event, canvas) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === "Escape" && hand) take(null);
  else if (!(canvas || hand) || !key(event, canvas)) return;
  event.preventDefault();
  event.stopPropagation();
}
pane.addEventListener("keydown", (event) => keys(event, null));
pane.addEventListener("focus", drawMarks);
pane.addEventListener("blur", drawMarks);
by("ends").addEventListener("keydown", (event) => {
  const buttons = [...by("ends").children], at = buttons.indexOf(document.activeElement), way = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  if (way && at >= 0) buttons[(at + way + buttons.length) % buttons.length].focus();
  else if (event.key === "Escape" && hand) take(null);
  else if (/^[1-9]$/.test(event.key) && buttons[event.key - 1]) buttons[event.key - 1].click();
  else return;
  event.preventDefault();
  event.stopPropagation();
});
addEventListener("keydown", (event) => {
  if (news.files.length === 0 || /^(INPUT|SELECT|TEXTAREA)$/.test(event.target.tagName)) return;
  const letter = event.key.toLowerCase();
  if ((event.ctrlKey || event.metaKey) && !event.altKey && (letter === "z" || letter === "y")) {
    event.preventDefault();
    turnBack(letter === "y" || event.shiftKey ? "redo" : "undo");
  } else if (letter === "t" && !event.ctrlKey && !event.metaKey && !event.altKey && shown === "fabric") {
    const file = news.files[0];
    take(hand ? null : { file: file.name, pot: file.pots[0].id });
    pane.focus();
  }
});

function turnBack(way) {
  act({ act: way });
  wet.clear();
  tell(way === "undo" ? "Undone." : "Done again.");
}
by("undo").addEventListener("click", () => turnBack("undo"));
by("redo").addEventListener("click", () => turnBack("redo"));

new ResizeObserver(drawMarks).observe(pane);
