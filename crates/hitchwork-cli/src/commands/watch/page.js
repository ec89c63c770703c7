// The page listens for news and shows them; whatever is touched becomes a wish.
const token = document.querySelector("meta[name=token]").content;
let view = null, wishes = null, shape = "", picture = -1, shown = "fabric", zoom = 0;
const before = [];
const pins = [];

const ask = (path, body) => fetch(path, { method: "POST", headers: { "x-hitchwork": token, "content-type": "application/json" }, body: body === undefined ? undefined : JSON.stringify(body) });
let sending = false, waiting = false;
async function wish() {
  // While one wish is on its way only the newest of those that follow matters.
  if (sending) { waiting = true; return; }
  sending = true;
  by("state").textContent = "Tying…";
  try {
    const answer = await ask("/wish", wishes);
    if (!answer.ok) by("state").textContent = (await answer.text()).trim();
  } catch {
    by("state").textContent = "The command has ended: start it again and load this page anew.";
  }
  sending = false;
  if (waiting) { waiting = false; wish(); }
}

function turn(seed) {
  if (seed === wishes.seed) return;
  before.push(wishes.seed);
  wishes.seed = seed;
  by("seed").value = seed;
  by("back").disabled = false;
  wish();
}

const said = (value) => (Array.isArray(value) ? value.join(",") : value === true ? "yes" : value === false ? "no" : String(value));

function control(parameter) {
  const { name, range, value, default: usual } = parameter;
  const id = `setting-${name}`;
  const set = (text) => { wishes.settings[name] = text; wish(); };
  const sentence = el("p", { id: `${id}-says` }, `${parameter.sentence}; ${said(usual)} unless you set it`);
  const box = el("div", { class: "setting", "data-name": name });
  if (range.kind === "flag") {
    const input = el("input", { id, type: "checkbox", "aria-describedby": `${id}-says` });
    input.checked = value === true;
    input.addEventListener("change", () => set(input.checked ? "yes" : "no"));
    box.append(el("label", { class: "check", for: id }, input, name), sentence);
    return box;
  }
  box.append(el("label", { for: id }, name));
  if (range.kind === "whole" || range.kind === "number") {
    const step = range.kind === "whole" ? 1 : "any";
    const slide = el("input", { type: "range", min: range.least, max: range.most, step: range.kind === "whole" ? 1 : (range.most - range.least) / 100, "aria-label": `${name}, slider` });
    const number = el("input", { id, type: "number", min: range.least, max: range.most, step, "aria-describedby": `${id}-says` });
    slide.value = number.value = value;
    slide.addEventListener("input", () => { number.value = slide.value; set(slide.value); });
    number.addEventListener("change", () => { slide.value = number.value; if (number.value !== "") set(number.value); });
    box.append(el("span", { class: "row" }, slide, number));
  } else if (range.kind === "choice" || range.kind === "palette") {
    const select = el("select", { id, "aria-describedby": `${id}-says` }, ...range.options.map((option) => el("option", { value: option }, option)));
    select.value = value;
    select.addEventListener("change", () => set(select.value));
    box.append(select);
  } else {
    const text = el("input", { id, type: "text", "aria-describedby": `${id}-says` });
    text.value = said(value);
    text.addEventListener("change", () => set(text.value));
    box.append(text);
  }
  box.append(sentence);
  return box;
}

function settings() {
  const now = JSON.stringify(view.parameters.map(({ name, range, sentence }) => [name, range, sentence]));
  const form = by("settings");
  if (now !== shape) {
    // Who is at a control stays there, though the rule has changed around it.
    const at = document.activeElement?.id;
    form.replaceChildren(...view.parameters.map(control));
    shape = now;
    if (at) document.getElementById(at)?.focus();
    return;
  }
  for (const { name, value } of view.parameters) {
    for (const input of form.querySelectorAll(`[data-name="${CSS.escape(name)}"] :is(input, select)`)) {
      if (input === document.activeElement) continue;
      if (input.type === "checkbox") input.checked = value === true;
      else input.value = said(value);
    }
  }
}

function troubles() {
  const box = by("troubles");
  box.hidden = view.troubles.length === 0;
  box.replaceChildren(...view.troubles.flatMap((trouble) => {
    const parts = [el("p", { class: "what" }, trouble.message)];
    if (trouble.line) {
      const from = trouble.character - 1;
      const letters = [...trouble.text];
      parts.push(el("p", {}, `${trouble.file}, line ${trouble.line}, character ${trouble.character}`));
      parts.push(el("pre", { tabindex: "0" }, letters.slice(0, from).join(""), el("mark", {}, letters.slice(from, from + Math.max(1, trouble.length)).join("") || " "), letters.slice(from + Math.max(1, trouble.length)).join("")));
    }
    if (trouble.help) parts.push(el("p", {}, trouble.help));
    return parts;
  }));
}

// Only what is looked at is painted, and some more all around, so that there is something to move into. Everything is reckoned
// in the picture's own pixels, but for what is asked of the command.
let painted = null, painting = false, again = false;
const pane = by("fabric"), table = by("table");
const room = () => [pane.offsetWidth - 2, pane.offsetHeight - 2];
const scale = ([width, height]) => (zoom > 0 ? 2 ** (zoom / 2 - 2) : Math.min(room()[0] / width, room()[1] / height));

/** The address of a part of the picture, and where that part lies. */
function part(size, scale, left, top, width, height) {
  const fine = scale * devicePixelRatio;
  const from = [left, top].map((at) => Math.max(0, Math.floor(at * fine)));
  const to = [left + width, top + height].map((at, axis) => Math.ceil(Math.min(at, size[axis]) * fine));
  const area = [...from, Math.max(1, to[0] - from[0]), Math.max(1, to[1] - from[1])];
  const words = { n: view.picture, scale: fine, left: area[0], top: area[1], width: area[2], height: area[3] };
  return { url: `/fabric.png?${new URLSearchParams(words)}`, size, area: area.map((pixels) => pixels / fine) };
}

async function paint() {
  if (!view || view.picture === 0 || pane.hidden) return;
  // While one part is being painted only the newest of those that follow matters.
  if (painting) { again = true; return; }
  const now = scale(view.size);
  const seen = zoom > 0 && painted ? [pane.scrollLeft / now, pane.scrollTop / now] : [0, 0];
  const [wide, high] = room().map((pixels) => pixels / now);
  const next = part(view.size, now, seen[0] - wide / 2, seen[1] - high / 2, 2 * wide, 2 * high);
  if (next.url === painted?.url) return;
  const image = new Image();
  image.src = next.url;
  image.id = "picture";
  image.alt = `${view.title}: the finished band`;
  image.draggable = false;
  image.dataset.picture = view.picture;
  if (view.troubles.length === 0) image.dataset.took = view.took_ms;
  painting = true;
  try {
    await image.decode();
    painted = next;
    by("picture").replaceWith(image);
    size();
  } catch { /* The command has ended, or will be asked again. */ }
  painting = false;
  if (again) { again = false; paint(); }
}

/** Lays what has been painted where it belongs. */
function size() {
  if (!painted || pane.hidden) return;
  const now = scale(painted.size);
  [table.style.width, table.style.height] = painted.size.map((pixels) => `${pixels * now}px`);
  const { style } = by("picture");
  [style.left, style.top, style.width, style.height] = painted.area.map((pixels) => `${pixels * now}px`);
  by("scale").textContent = zoom > 0 ? `${Math.round(now * 100)} %` : "fits";
}

/** Whoever comes near the end of what has been painted gets more. */
function moved() {
  if (!painted || pane.hidden) return;
  const now = scale(painted.size), [left, top, width, height] = painted.area;
  const seen = [pane.scrollLeft / now, pane.scrollTop / now], ahead = room().map((pixels) => pixels / now / 4);
  const ends = [seen[0] + room()[0] / now, seen[1] + room()[1] / now];
  const inside = left <= Math.max(0, seen[0] - ahead[0]) && top <= Math.max(0, seen[1] - ahead[1])
    && left + width >= Math.min(painted.size[0], ends[0] + ahead[0]) - 1 && top + height >= Math.min(painted.size[1], ends[1] + ahead[1]) - 1;
  if (!inside) paint();
}

function larger(steps) {
  const before = painted ? scale(painted.size) : 1;
  const middle = [(pane.scrollLeft + room()[0] / 2) / before, (pane.scrollTop + room()[1] / 2) / before];
  zoom = Math.max(0, Math.min(12, zoom + steps));
  size();
  if (painted) pane.scrollTo(...middle.map((at, axis) => at * scale(painted.size) - room()[axis] / 2));
  paint();
}

function other() {
  if (!view || view.picture === 0) return;
  if (shown === "strands") fetch(`/strands?n=${view.picture}`).then((answer) => answer.json()).then(({ pages }) => {
    by("strands").replaceChildren(...Array.from({ length: pages }, (_, page) => el("img", { src: `/strands/${page + 1}?n=${view.picture}`, alt: `the working chart, page ${page + 1} of ${pages}` })));
  });
  if (shown === "steps") fetch(`/steps.txt?n=${view.picture}`).then((answer) => answer.text()).then((text) => { by("steps").firstElementChild.textContent = text; });
}

function show() {
  // First of all what takes longest.
  paint();
  by("title").textContent = view.title;
  document.title = view.title;
  by("state").textContent = view.troubles.length ? "The rule made no band; the last good one is shown." : `Tied in ${view.took_ms} ms.`;
  by("facts").replaceChildren(...view.facts.map(({ name, value }) => el("div", {}, el("dt", {}, name), el("dd", {}, value))));
  by("findings").replaceChildren(...view.findings.map((finding) => {
    const rule = finding.where && finding.where.rule;
    return el("li", {}, el("b", {}, finding.severity), ` ${finding.message}`, rule ? ` (${rule.file}, line ${rule.line})` : "", el("br"), finding.help);
  }));
  by("command").textContent = view.command;
  settings();
  troubles();
  if (view.picture !== picture) { picture = view.picture; other(); }
}

// The band is moved about by dragging it, where it is larger than its place.
let held = null;
pane.addEventListener("pointerdown", (event) => {
  if (event.pointerType !== "mouse" || event.button !== 0) return;
  held = [event.clientX + pane.scrollLeft, event.clientY + pane.scrollTop];
  pane.setPointerCapture(event.pointerId);
  event.preventDefault();
});
pane.addEventListener("pointermove", (event) => {
  if (held) pane.scrollTo(held[0] - event.clientX, held[1] - event.clientY);
});
pane.addEventListener("scroll", moved);
new ResizeObserver(() => { size(); paint(); }).observe(pane);
for (const end of ["pointerup", "pointercancel"]) pane.addEventListener(end, () => { held = null; });

const TABS = ["fabric", "strands", "steps"];
function tab(name) {
  shown = name;
  for (const each of TABS) {
    by(each).hidden = each !== name;
    const button = by(`tab-${each}`);
    button.setAttribute("aria-selected", each === name);
    button.tabIndex = each === name ? 0 : -1;
  }
  if (name === "fabric") { size(); paint(); } else other();
}
for (const [at, name] of TABS.entries()) {
  const button = by(`tab-${name}`);
  button.addEventListener("click", () => tab(name));
  button.addEventListener("keydown", (event) => {
    const way = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!way) return;
    const next = TABS[(at + way + TABS.length) % TABS.length];
    tab(next);
    by(`tab-${next}`).focus();
  });
}

function pin() {
  if (!painted) return;
  const kept = structuredClone(wishes);
  const thumb = el("img", { alt: `pinned: seed ${kept.seed}` });
  const [width, height] = view.size, small = Math.max(72 / height, 360 / width);
  fetch(part(view.size, small, Math.max(0, (width - 360 / small) / 2), 0, 360 / small, height).url).then((answer) => answer.blob()).then((blob) => { thumb.src = URL.createObjectURL(blob); });
  const go = el("button", { type: "button" }, `seed ${kept.seed}: ${view.title}`);
  const drop = el("button", { type: "button", "aria-label": `unpin seed ${kept.seed}` }, "×");
  const item = el("li", {}, thumb, el("span", { class: "row" }, go, drop));
  go.addEventListener("click", () => {
    before.push(wishes.seed);
    by("back").disabled = false;
    wishes = structuredClone(kept);
    fill();
    wish();
  });
  drop.addEventListener("click", () => { item.remove(); URL.revokeObjectURL(thumb.src); by("pin").focus(); });
  pins.push(item);
  by("pins").append(item);
}

function fill() {
  by("seed").value = wishes.seed;
  by("length").value = wishes.length_cm ?? "";
  by("hand").checked = wishes.other_hand;
}

by("throw").addEventListener("click", () => turn(Math.floor(Math.random() * 1_000_000)));
by("back").addEventListener("click", () => {
  wishes.seed = before.pop();
  by("back").disabled = before.length === 0;
  fill();
  wish();
});
by("seed").addEventListener("change", () => { const seed = Number(by("seed").value); if (Number.isSafeInteger(seed) && seed >= 0) turn(seed); });
by("pin").addEventListener("click", pin);
by("length").addEventListener("change", () => { wishes.length_cm = by("length").value === "" ? null : Number(by("length").value); wish(); });
by("hand").addEventListener("change", () => { wishes.other_hand = by("hand").checked; wish(); });
by("defaults").addEventListener("click", () => { wishes = { settings: {}, seed: wishes.seed, length_cm: null, other_hand: false }; fill(); wish(); });
by("settings").addEventListener("submit", (event) => event.preventDefault());
by("copy").addEventListener("click", async () => {
  try { await navigator.clipboard.writeText(by("command").textContent); by("saved").textContent = "The command is copied."; } catch { getSelection().selectAllChildren(by("command")); }
});
for (const button of document.querySelectorAll("[data-save]")) {
  button.addEventListener("click", async () => {
    const answer = await ask(`/save/${button.dataset.save}`).catch(() => null);
    const told = answer && (await answer.json().catch(() => null));
    by("saved").textContent = told?.path ? `Saved: ${told.path}` : told?.message ? `${told.message}; ${told.help ?? ""}` : "It could not be saved.";
  });
}
by("more").addEventListener("click", () => larger(zoom === 0 ? 4 : 1));
by("less").addEventListener("click", () => larger(-1));
by("fit").addEventListener("click", () => larger(-99));
addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || /^(INPUT|SELECT|TEXTAREA)$/.test(event.target.tagName)) return;
  const act = { 1: () => tab("fabric"), 2: () => tab("strands"), 3: () => tab("steps"), d: () => by("throw").click(), p: pin, "+": () => by("more").click(), "-": () => larger(-1), 0: () => larger(-99) }[event.key];
  if (act) { event.preventDefault(); act(); }
});

const listen = new EventSource("/news");
listen.addEventListener("message", (event) => {
  view = JSON.parse(event.data);
  if (view.number === 0) return;
  if (!wishes) { wishes = structuredClone(view.wishes); fill(); }
  show();
});
listen.addEventListener("error", () => { by("state").textContent = "No word from the command; waiting for it…"; });
