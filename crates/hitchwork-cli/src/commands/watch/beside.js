// The pictures beside the band, drawn as the small knots that they become.
const framed = new Map();
/** Brings the pictures up to date. A canvas stays the same for as long as its picture is there: somebody may be drawing on it. */
function figures() {
  const names = news.files.map(({ name }) => name);
  for (const name of framed.keys()) if (!names.includes(name)) { framed.get(name).figure.remove(); framed.delete(name); }
  for (const file of news.files) {
    if (!framed.has(file.name)) framed.set(file.name, frame(file));
    const parts = framed.get(file.name);
    if (by("beside").children[names.indexOf(file.name)] !== parts.figure) by("beside").append(parts.figure);
    caption(file, parts);
  }
}

function frame({ name }) {
  const canvas = el("canvas", { tabindex: "0", role: "application", "data-file": name });
  const chooser = el("input", { type: "file", hidden: true, accept: ".png,.pbm,.pgm,.ppm,.pnm,.txt" });
  chooser.addEventListener("change", () => { if (chooser.files[0]) drop(name, chooser.files[0]); chooser.value = ""; });
  canvas.addEventListener("pointerdown", (event) => begin(event, canvas));
  canvas.addEventListener("keydown", (event) => keys(event, canvas));
  canvas.addEventListener("focus", () => figureMark(canvas));
  canvas.addEventListener("blur", () => { cellMark = null; drawFigure(name); });
  const words = el("span", {}), row = el("span", { class: "row" });
  return { canvas, chooser, words, row, figure: el("figure", {}, canvas, el("figcaption", {}, el("b", {}, name), words), row, chooser) };
}

function caption(file, { canvas, chooser, words, row }) {
  canvas.setAttribute("aria-label", `${file.name}, ${file.columns} columns and ${file.rows} rows: arrow keys go from knot to knot, the space bar paints`);
  words.textContent = file.is_changed ? " was changed elsewhere while it was painted here" : !file.is_read ? " painted, but the rule does not read it any more" : file.is_unsaved ? " painted, not saved" : "";
  const wanted = file.is_changed ? ["keep", "take"] : ["save", "other"];
  const now = wanted.join(" ");
  const saves = row.querySelector("[data-does^=save]");
  if (saves) saves.disabled = !file.is_unsaved;
  if (row.dataset.buttons === now) return;
  row.dataset.buttons = now;
  const does = {
    keep: ["Keep what is painted", () => act({ act: "keep", file: file.name })],
    take: ["Take the file as it is now", () => act({ act: "take", file: file.name })],
    save: [file.is_text ? "Save what is painted" : "Save it as text", () => save(file.name)],
    other: ["Another picture…", () => chooser.click()],
  };
  const held = row.contains(document.activeElement);
  row.replaceChildren(...wanted.map((what) => {
    const button = el("button", { type: "button", "data-does": `${what} ${file.name}` }, does[what][0]);
    button.disabled = what === "save" && !file.is_unsaved;
    button.addEventListener("click", does[what][1]);
    return button;
  }));
  // Who has just pressed one that is gone stays beside it.
  if (held) canvas.focus({ preventScroll: true });
}

const canvasOf = (name) => by("beside").querySelector(`canvas[data-file="${CSS.escape(name)}"]`);
let drawing = new Set();
/** Draws a picture at the next frame. */
function figure(name) {
  if (drawing.size === 0) requestAnimationFrame(() => { const all = drawing; drawing = new Set(); for (const each of all) drawFigure(each); });
  drawing.add(name);
}

function drawFigure(name) {
  const file = fileOf(name), canvas = canvasOf(name), paper = papers.get(name);
  if (!file || !canvas || !paper?.pots || file.rows === 0) return;
  const most = [Math.min(288, by("desk").clientWidth - 24), 420];
  const size = Math.max(3, Math.min(18, most[0] / file.columns, most[1] / file.rows));
  canvas.dataset.size = size;
  canvas.style.width = `${size * file.columns}px`;
  canvas.style.height = `${size * file.rows}px`;
  canvas.width = Math.round(size * file.columns * devicePixelRatio);
  canvas.height = Math.round(size * file.rows * devicePixelRatio);
  const pen = canvas.getContext("2d");
  pen.setTransform(devicePixelRatio, 0, 0, devicePixelRatio, 0, 0);
  const ink = getComputedStyle(document.body).color;
  const some = paper.are_tied.some(Boolean);
  const colours = file.pots.map((pot) => threadsOf(name, pot)[0]?.[0] ?? pot.colour);
  for (let row = 0; row < file.rows; row += 1) for (let column = 0; column < file.columns; column += 1) {
    const at = row * file.columns + column, fresh = wet.get(wetKey(name, row, column));
    const [x, y] = [(column + 0.5) * size, (row + 0.5) * size];
    // What no knot shows is there to be seen, and no more.
    if (some && !paper.are_tied[at] && file.pots[paper.pots[at]]?.colour == null && !fresh) continue;
    pen.globalAlpha = some && !paper.are_tied[at] ? 0.3 : 1;
    const colour = fresh ? fresh.colour : colours[paper.pots[at]];
    if (colour) loop(pen, x, y, size * 1.12, colour); else { pen.globalAlpha *= 0.35; loop(pen, x, y, size, null, ink); }
  }
  pen.globalAlpha = 1;
  if (cellMark?.file === name && document.activeElement === canvas) {
    for (const [colour, wide] of [["#fff", 4], ["#17596a", 2]]) {
      pen.beginPath(); pen.arc((cellMark.column + 0.5) * size, (cellMark.row + 0.5) * size, size * 0.62, 0, 7);
      pen.strokeStyle = colour; pen.lineWidth = wide; pen.stroke();
    }
  }
}

function figureMark(canvas) {
  const file = canvas.dataset.file;
  if (cellMark?.file !== file) cellMark = { file, row: 0, column: 0 };
  sayCell(file, cellMark.row, cellMark.column);
  drawFigure(file);
}

function sayCell(name, row, column, more = "") {
  const file = fileOf(name), pot = file?.pots[papers.get(name)?.pots?.[row * file.columns + column]];
  tell(`Row ${row + 1}, column ${column + 1} of ${name}: ${pot ? called(name, pot) : "nothing"}${more}`);
}

async function save(name) {
  const answer = await ask("/painting/save", { file: name }).catch(() => null);
  const told = answer && (await answer.json().catch(() => null));
  tell(told?.path ? `Saved: ${told.path}${told.advice ? `. Now ${told.advice}` : ""}` : told?.message ? `${told.message}; ${told.help ?? ""}` : "It could not be saved.");
}

// A picture from elsewhere takes the place of one of the rule's, if the rule makes a band of it.
async function drop(name, file) {
  const post = () => fetch(`/painting/dropped?${new URLSearchParams({ file: name })}`, { method: "POST", headers: { "x-hitchwork": token, "content-type": "application/octet-stream" }, body: file });
  tell(`Fitting ${file.name}…`);
  try {
    let answer = await post();
    if (answer.status === 403) { await meet(); answer = await post(); }
    if (answer.ok) { tell(`${file.name} is in the place of ${name}, and is not saved.`); return; }
    const words = await answer.text();
    let told = null;
    try { told = JSON.parse(words); } catch { /* It says so in plain words. */ }
    tell(told ? `${file.name} was not taken: ${told.message}; ${told.help ?? ""}` : `${file.name} was not taken: ${words.trim()}`);
  } catch { tell("The command has ended: start it again, and drop the picture once more."); }
}
addEventListener("dragover", (event) => {
  if (news.files.length === 0 || !event.dataTransfer?.types.includes("Files")) return;
  event.preventDefault();
  event.dataTransfer.dropEffect = "copy";
});
addEventListener("drop", (event) => {
  const file = event.dataTransfer?.files[0];
  if (!file || news.files.length === 0) return;
  event.preventDefault();
  drop(event.target.closest?.("figure")?.querySelector("canvas").dataset.file ?? hand?.file ?? news.files[0].name, file);
});
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { for (const file of news.files) figure(file.name); });
