// What is wanted is known to the command alone. Every message says all of it and fills the fields, so that all open pages show
// the same; what is touched is sent as a change of just that.
let token = document.querySelector("meta[name=token]").content;
let view = null, shape = "", picture = "", shown = "fabric", zoom = 0;
const before = [];
const pins = [];
const pause = (ms) => new Promise((go_on) => { setTimeout(go_on, ms); });

// What cannot be had because the command has ended is had when it speaks again.
const gone = () => {};

async function ask(path, body) {
  const post = () => fetch(path, { method: "POST", headers: { "x-hitchwork": token, "content-type": "application/json" }, body: body === undefined ? undefined : JSON.stringify(body) });
  const answer = await post();
  if (answer.status !== 403) return answer;
  await meet();
  return post();
}

/** Gets to know a command that has been started again: it has a token of its own, and may be a newer one with another page. */
async function meet() {
  const now = new DOMParser().parseFromString(await (await fetch("/")).text(), "text/html");
  if (now.querySelector("script").textContent !== document.querySelector("script").textContent) location.reload();
  token = now.querySelector("meta[name=token]").content;
}

// Changes on their way to the command, and the fields that they come from. Such a field is left alone until the command has said
// that it knows: `mine` has the number of that change, or more than any where it has not been answered yet.
let queue = null, queued = new Set(), sending = false;
const mine = new Map();
// What this page knew of the command before that was started again, until the command has it.
let memory = null;

const merged = (first, then) => (first && then ? { ...first, ...then, settings: { ...(then.afresh ? {} : first.settings), ...then.settings } } : first ?? then);

function change(changes, field) {
  queue = merged(queue, changes);
  if (field) { queued.add(field); mine.set(field, Infinity); }
  send();
}

async function send() {
  // While one change is on its way those that follow become one.
  if (sending || !view) return;
  sending = true;
  while (memory || queue) {
    by("state").textContent = "Tying…";
    const recalled = memory, batch = queue, fields = queued;
    if (!recalled) [queue, queued] = [null, new Set()];
    const back = () => { if (!recalled) [queue, queued] = [merged(batch, queue), new Set([...fields, ...queued])]; };
    try {
      const answer = await (recalled ? ask("/memory", recalled) : ask("/wish", batch));
      if (answer.status === 429) { back(); await pause(300); continue; }
      if (answer.ok) {
        const { wish } = await answer.json();
        if (recalled) memory = null;
        else for (const field of fields) if (!queued.has(field)) mine.set(field, wish);
      } else {
        by("state").textContent = (await answer.text()).trim();
        if (recalled) memory = null;
        else for (const field of fields) if (!queued.has(field)) mine.delete(field);
      }
      fill();
    } catch {
      back();
      by("state").textContent = "The command has ended: start it again in the same way, and this page picks up from here.";
      break;
    }
  }
  sending = false;
}

// What somebody is typing is not written over.
const typed = new Set();
addEventListener("input", ({ target }) => { if (/^(text|number)$/.test(target.type)) typed.add(target.id); });
addEventListener("change", ({ target }) => typed.delete(target.id));
addEventListener("focusout", ({ target }) => { if (typed.delete(target.id)) fill(); });

/** Whether a field may be filled with what the command says. */
function open(field) {
  if (typed.has(field) || view.wish < (mine.get(field) ?? 0)) return false;
  mine.delete(field);
  return true;
}

/** The value of a setting: what the rule made of it, or what is wanted where it has not been tied, or cannot be. */
function current({ name, value, default: usual }) {
  const of = (wishes) => (wishes && Object.hasOwn(wishes.settings, name) ? wishes.settings[name] : undefined);
  if (!view.is_busy && view.troubles.length === 0) return value;
  return of(view.wishes) ?? (of(view.made) === undefined ? value : usual);
}

function fill() {
  if (!view || memory) return;
  if (open("seed")) {
    if (seed !== null && seed !== view.wishes.seed) before.push(seed);
    seed = by("seed").value = view.wishes.seed;
  }
  by("back").disabled = before.length === 0;
  if (open("length")) by("length").value = view.wishes.length_cm ?? "";
  if (open("wrist")) wrist(view.wishes.wrist_cm);
  if (open("mirrored")) by("mirrored").checked = view.wishes.mirrored;
  for (const control of view.controls) {
    const field = `setting-${control.name}`;
    if (!document.getElementById(field) || !open(field)) continue;
    for (const input of by("settings").querySelectorAll(`[data-name="${CSS.escape(control.name)}"] :is(input, select)`)) {
      if (input.type === "checkbox") input.checked = /^(yes|true|on)$/.test(current(control));
      else input.value = current(control);
    }
  }
}

/** Shows for which wrist the band is; one of another size than the usual becomes a choice as well. */
function wrist(cm) {
  const value = cm === null ? "" : String(cm), select = by("wrist");
  if (![...select.options].some((option) => option.value === value)) select.append(el("option", { value }, `${value} cm round`));
  select.value = value;
}

let seed = null;
function turn(to, goes_back) {
  if (to === seed) return;
  if (!goes_back) before.push(seed);
  seed = by("seed").value = to;
  by("back").disabled = before.length === 0;
  change({ seed }, "seed");
}

function control({ name, sentence, kind, least, most, whole, options, default: usual }) {
  const id = `setting-${name}`;
  const set = (text) => change({ settings: { [name]: text } }, id);
  const describes = { id, "aria-describedby": `${id}-says` };
  const says = el("p", { id: `${id}-says` }, `${sentence}; default: ${usual}`);
  const box = el("div", { class: "setting", "data-name": name });
  if (kind === "switch") {
    const input = el("input", { ...describes, type: "checkbox" });
    input.addEventListener("change", () => set(input.checked ? "yes" : "no"));
    box.append(el("label", { class: "check", for: id }, input, name), says);
    return box;
  }
  box.append(el("label", { for: id }, name));
  if (kind === "slider") {
    const slide = el("input", { type: "range", min: least, max: most, step: whole ? 1 : (most - least) / 100, "aria-label": `${name}, slider` });
    const number = el("input", { ...describes, type: "number", min: least, max: most, step: whole ? 1 : "any" });
    slide.addEventListener("input", () => { number.value = slide.value; set(slide.value); });
    number.addEventListener("change", () => { slide.value = number.value; if (number.value !== "") set(number.value); });
    box.append(el("span", { class: "row" }, slide, number));
  } else if (kind === "list") {
    const select = el("select", describes, ...options.map((option) => el("option", { value: option }, option)));
    select.addEventListener("change", () => set(select.value));
    box.append(select);
  } else {
    const text = el("input", { ...describes, type: "text" });
    text.addEventListener("change", () => set(text.value));
    box.append(text);
  }
  box.append(says);
  return box;
}

function settings() {
  const now = JSON.stringify(view.controls.map((control) => ({ ...control, value: null })));
  if (now !== shape) {
    // Who is at a control stays there, though the rule has changed around it, and keeps what is half typed.
    const at = document.activeElement?.id, half = typed.has(at) ? document.activeElement.value : null;
    by("settings").replaceChildren(...view.controls.map(control));
    shape = now;
    const again = at && document.getElementById(at);
    if (again) again.focus();
    if (again && half !== null) again.value = half;
  }
  fill();
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
  const words = { of: `${view.start} ${view.picture}`, scale: fine, left: area[0], top: area[1], width: area[2], height: area[3] };
  return { url: `/fabric.png?${new URLSearchParams(words)}`, size, area: area.map((pixels) => pixels / fine) };
}

async function paint() {
  if (!view || view.picture === 0 || pane.hidden) return;
  // While one part is being painted only the newest of those that follow matters.
  if (painting) { again = true; return; }
  const now = scale(view.size);
  // Before the page has a width nothing is seen; it is painted when it has one.
  if (!(now > 0)) return;
  const seen = zoom > 0 && painted ? [pane.scrollLeft / now, pane.scrollTop / now] : [0, 0];
  const [wide, high] = room().map((pixels) => pixels / now);
  // Who paints wants to see what comes of it: there is no time for much that lies around.
  const around = wet.size > 0 ? 0.1 : 0.5;
  const next = part(view.size, now, seen[0] - wide * around, seen[1] - high * around, (1 + 2 * around) * wide, (1 + 2 * around) * high);
  if (next.url === painted?.url) return;
  const image = new Image();
  // Decoded in the frame that shows it: whoever asks for that beforehand waits for a frame more.
  image.decoding = "sync";
  const there = new Promise((go_on, give_up) => { image.onload = go_on; image.onerror = give_up; });
  image.src = next.url;
  image.id = "picture";
  image.alt = `${view.title}: the finished band`;
  image.draggable = false;
  image.dataset.picture = view.picture;
  if (view.troubles.length === 0) image.dataset.took = view.took_ms;
  image.dataset.tied = view.painting.tied;
  painting = true;
  try {
    await there;
    painted = next;
    by("picture").replaceWith(image);
    size();
    survey();
  } catch { /* The command has ended, or will be asked again. */ }
  painting = false;
  if (again) { again = false; paint(); }
}

/** Lays what has been painted where it belongs. */
function size() {
  if (!painted || pane.hidden) return;
  const now = scale(painted.size);
  [table.style.width, table.style.height] = painted.size.map((pixels) => `${pixels * now}px`);
  for (const { style } of [by("picture"), by("marks")]) [style.left, style.top, style.width, style.height] = painted.area.map((pixels) => `${pixels * now}px`);
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
  if (shown === "strands") fetch(`/strands?of=${picture}`).then((answer) => answer.json()).then(({ pages }) => {
    by("strands").replaceChildren(...Array.from({ length: pages }, (_, page) => el("img", { src: `/strands/${page + 1}?of=${picture}`, alt: `the working chart, page ${page + 1} of ${pages}` })));
  }).catch(gone);
  if (shown === "steps") fetch(`/sheet.txt?of=${picture}`).then((answer) => answer.text()).then((text) => { by("steps").firstElementChild.textContent = text; }).catch(gone);
}

// How hard the band is takes longer to find out than to show it, so it comes when it is known.
let difficulty = "…";
function hardness() {
  difficulty = "…";
  if (view.picture === 0) return;
  const asked = picture;
  fetch(`/difficulty?of=${asked}`).then((answer) => answer.ok ? answer.text() : "…").then((text) => {
    if (picture !== asked) return;
    difficulty = text;
    by("measures").lastElementChild?.lastElementChild.replaceChildren(text);
  }).catch(gone);
}

function show() {
  // First of all what takes longest.
  paint();
  by("title").textContent = view.title;
  document.title = view.title;
  const now = `${view.start}-${view.picture}`;
  const measure = ({ name, value }) => el("div", {}, el("dt", {}, name), el("dd", {}, value));
  by("measures").replaceChildren(...view.measures.map(measure), ...(view.picture === 0 ? [] : [measure({ name: "difficulty", value: now === picture ? difficulty : "…" })]));
  by("findings").replaceChildren(...view.findings.map((finding) => {
    const rule = finding.where && finding.where.rule;
    return el("li", {}, el("b", {}, finding.severity), ` ${finding.message}`, rule ? ` (${rule.file}, line ${rule.line})` : "", el("br"), finding.help);
  }));
  by("command").textContent = view.command;
  by("chance").hidden = !view.leaves_to_chance;
  if (view.cautions.length > 0) by("cautions").replaceChildren(...view.cautions.map((line) => el("li", {}, line)));
  settings();
  troubles();
  if (now !== picture) { picture = now; other(); hardness(); }
}

function state() {
  by("state").textContent = view.is_busy || memory || queue ? "Tying…"
    : view.troubles.length === 0 ? `Worked out in ${Math.max(1, Math.round(view.took_ms))} ms`
    : view.picture === 0 ? "The rule has made no band yet." : "The rule made no band; the last good one is shown.";
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
  pictures();
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
  if (!painted || !view.made) return;
  const kept = view.made;
  const name = view.leaves_to_chance ? `seed ${kept.seed}: ${view.title}` : view.title;
  const thumb = el("img", { alt: `pinned: ${name}` });
  const [width, height] = view.size, small = Math.max(72 / height, 360 / width);
  fetch(part(view.size, small, Math.max(0, (width - 360 / small) / 2), 0, 360 / small, height).url).then((answer) => answer.blob()).then((blob) => { thumb.src = URL.createObjectURL(blob); }).catch(gone);
  const go = el("button", { type: "button" }, name);
  const drop = el("button", { type: "button", "aria-label": `unpin ${name}` }, "×");
  const item = el("li", {}, thumb, el("span", { class: "row" }, go, drop));
  go.addEventListener("click", () => change({ afresh: true, ...kept }));
  drop.addEventListener("click", () => { item.remove(); URL.revokeObjectURL(thumb.src); by("pin").focus(); });
  pins.push(item);
  by("pins").append(item);
}

by("another").addEventListener("click", () => turn(String(Math.floor(Math.random() * 1_000_000))));
by("back").addEventListener("click", () => turn(before.pop(), true));
by("seed").addEventListener("change", () => {
  // As text, for the numbers of a browser are exact only up to 2^53.
  const text = by("seed").value.trim();
  if (/^\d+$/.test(text) && BigInt(text) < 2n ** 64n) { turn(String(BigInt(text))); return; }
  by("state").textContent = `A seed is a whole number from 0 to ${2n ** 64n - 1n}.`;
  by("seed").value = seed;
});
by("pin").addEventListener("click", pin);
by("length").addEventListener("change", () => change({ length_cm: by("length").value === "" ? null : Number(by("length").value) }, "length"));
by("wrist").addEventListener("change", () => change({ wrist_cm: by("wrist").value === "" ? null : Number(by("wrist").value) }, "wrist"));
by("mirrored").addEventListener("change", () => change({ mirrored: by("mirrored").checked }, "mirrored"));
by("defaults").addEventListener("click", () => change({ afresh: true, settings: {}, length_cm: null, wrist_cm: null, mirrored: false }));
by("settings").addEventListener("submit", (event) => event.preventDefault());
by("copy").addEventListener("click", async () => {
  try { await navigator.clipboard.writeText(by("command").textContent); by("saved").textContent = "The command has been copied."; } catch { getSelection().selectAllChildren(by("command")); }
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
  const act = { 1: () => tab("fabric"), 2: () => tab("strands"), 3: () => tab("steps"), d: () => view?.leaves_to_chance && by("another").click(), p: pin, "+": () => by("more").click(), "-": () => larger(-1), 0: () => larger(-99) }[event.key];
  if (act) { event.preventDefault(); act(); }
});

// This tab knows how everything was, even after a reload: should the command have been started again meanwhile, and
// nobody have asked it for anything since, it gets that back.
const KEPT = "what was wanted";
function keep() {
  const { start, rule, given, wishes } = view;
  try { sessionStorage.setItem(KEPT, JSON.stringify({ start, rule, given, wishes })); } catch { /* Then only this page knows. */ }
}
function recall() {
  try { return JSON.parse(sessionStorage.getItem(KEPT)); } catch { return null; }
}

function heard(news) {
  const last = view ?? recall();
  view = news;
  if (last && last.start !== view.start) {
    mine.forEach((wish, field) => { if (wish !== Infinity) mine.delete(field); });
    if (!memory && last.rule === view.rule) memory = { given: last.given, wishes: last.wishes };
  }
  if (view.wish > 0) memory = null;
  if (!memory) keep();
  if (view.number > 0 && (last?.start !== view.start || last?.number !== view.number || !shape)) show();
  else fill();
  if (view.number > 0) state();
  pictures();
  send();
}

function listen() {
  const source = new EventSource("/news");
  source.addEventListener("message", (event) => heard(JSON.parse(event.data)));
  source.addEventListener("error", () => {
    by("state").textContent = "No answer from the command; waiting for it…";
    if (source.readyState === EventSource.CLOSED) setTimeout(listen, 2000);
  });
}
listen();
