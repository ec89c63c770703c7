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
  const chooser = el("input", { type: "file", hidden: true, accept: by("beside").dataset.takes });
  chooser.addEventListener("change", () => { if (chooser.files[0]) drop(name, chooser.files[0]); chooser.value = ""; });
  canvas.addEventListener("pointerdown", (event) => begin(event, canvas));
  canvas.addEventListener("keydown", (event) => keys(event, canvas));
  canvas.addEventListener("focus", () => figureMark(canvas));
  canvas.addEventListener("blur", () => { cellMark = null; drawFigure(name); });
  const words = el("span", {}), lies = el("span", { class: "lies" }), row = el("span", { class: "row" }), reads = el("div", { class: "reads", hidden: true });
  return { canvas, chooser, words, lies, row, reads, figure: el("figure", {}, canvas, el("figcaption", {}, el("b", {}, name), words, lies), row, reads, chooser) };
}

/** How the edges of a picture are called. */
const EDGES = { top: "top row", bottom: "bottom row", left: "left column", right: "right column" };

function caption(file, { canvas, chooser, words, lies, row }) {
  canvas.setAttribute("aria-label", `${file.name}, ${file.columns} columns and ${file.rows} rows: arrow keys go from knot to knot, digits take up a thread, the space bar paints`);
  words.textContent = file.changed_beside ? ` was saved as ${file.changed_beside}, which was changed elsewhere since` : file.is_gone ? " was taken away while it was painted here" : file.is_changed ? " was changed elsewhere while it was painted here" : !file.is_read ? " painted, but the rule does not read it any more" : file.is_saved_beside ? " saved as text, which the rule does not read yet" : file.is_unsaved ? " painted, not saved" : "";
  // The band lies along the page, and the picture as it is read: often not the same way round.
  const edge = band.begins[band.files.indexOf(file.name)] ?? null;
  canvas.dataset.begins = edge ?? "";
  lies.textContent = edge && `The band begins, at the left where it lies straight, with the ${EDGES[edge]}, marked here.`;
  const wanted = file.is_gone ? ["keep"] : file.is_changed || file.changed_beside ? ["keep", "take"] : ["save", "other"];
  const now = [...wanted, file.changed_beside].join(" ");
  const saves = row.querySelector("[data-does^=save]");
  if (saves) saves.disabled = !file.is_unsaved;
  if (row.dataset.buttons === now) return;
  row.dataset.buttons = now;
  const does = {
    keep: [file.changed_beside ? "Keep mine, under another name" : "Keep what is painted", () => act({ act: "keep", file: file.name })],
    take: [file.changed_beside ? "Take the text as it is now" : "Take the file as it is now", () => act({ act: "take", file: file.name })],
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

function figureMark(canvas, more) {
  const file = canvas.dataset.file;
  if (cellMark?.file !== file) cellMark = { file, row: 0, column: 0 };
  sayCell(file, cellMark.row, cellMark.column, more);
  drawFigure(file);
}

/** What a picture shows in a cell, as this page knows it. */
function shownIn(name, row, column) {
  const file = fileOf(name);
  return file?.pots[papers.get(name)?.pots?.[row * file.columns + column]];
}

function sayCell(name, row, column, more = "", pot = shownIn(name, row, column)) {
  tell(`Row ${row + 1}, column ${column + 1} of ${name}: ${pot ? called(name, pot) : "nothing"}${more}`);
}

async function save(name) {
  const answer = await ask("/painting/save", { file: name }).catch(() => null);
  const told = answer && (await answer.json().catch(() => null));
  tell(told?.path ? `Saved: ${told.path}${told.advice ? `. Now ${told.advice}` : ""}` : told?.message ? `${told.message}; ${told.help ?? ""}` : "It could not be saved.");
  if (told?.call) readsIt(name, told);
}

/** Beside the picture stays what the rule has to say to read the text, until the rule reads it. */
function readsIt(name, { path, advice, call }) {
  const parts = framed.get(name);
  if (!parts) return;
  const code = el("code", { tabindex: "0" }, call), copy = el("button", { type: "button", "data-does": `copy ${name}` }, "Copy the line");
  copy.addEventListener("click", async () => {
    try { await navigator.clipboard.writeText(call); tell("What the rule is to say has been copied."); } catch { getSelection().selectAllChildren(code); }
  });
  parts.reads.replaceChildren(el("p", {}, `Saved: ${path}. Now ${advice.split(call)[0].trimEnd()}`), code, copy);
  parts.reads.hidden = false;
}

/** What has become of a picture that was dropped. */
function fitted(name, { columns, rows, colours, has_ground, pixels }) {
  const size = (across, down) => `${across} ${across === 1 ? "column" : "columns"} and ${down} ${down === 1 ? "row" : "rows"}`;
  const list = colours.length < 2 ? colours.join("") : `${colours.slice(0, -1).join(", ")} and ${colours.at(-1)}`;
  const shows = `${colours.length > 6 ? `${colours.length} colours` : list || "nothing"}${has_ground ? " on a ground" : ""}`;
  const is_shrunk = pixels && (pixels[0] !== columns || pixels[1] !== rows);
  const why = fileOf(name)?.is_text ? `no wider than ${name} was` : "as the rule asks";
  return is_shrunk ? `It was shrunk from ${size(...pixels)} to ${size(columns, rows)}, ${why}, and shows ${shows}.` : `It has ${size(columns, rows)}, and shows ${shows}.`;
}

// A picture from elsewhere takes the place of one of the rule's, if the rule makes a band of it.
async function drop(name, file) {
  const post = () => fetch(`/painting/dropped?${new URLSearchParams({ file: name })}`, { method: "POST", headers: { "x-hitchwork": token, "content-type": "application/octet-stream" }, body: file });
  tell(`Fitting ${file.name}…`);
  try {
    let answer = await post();
    if (answer.status === 403) { await meet(); answer = await post(); }
    if (answer.ok) {
      const { fit } = await answer.json();
      tell(`${file.name} is in the place of ${name}, and is not saved.${fit ? ` ${fitted(name, fit)}` : ""}`);
      return;
    }
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
