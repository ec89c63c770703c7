// The members stand in the page as data; a page of them is shown at a time, so that a
// collection of thousands is as quick as one of ten.
const data = JSON.parse(document.getElementById("members").textContent);
const members = data.members;
const PAGE = 60;
const chosen = new Set();
let shown = [], first = 0;

const words = members.map((m) => [m.name, m.title, m.rule, m.palette || "", m.settings, m.colours.map((c) => c[0]).join(" ")].join(" ").toLowerCase());
const path = (file) => file.split("/").map(encodeURIComponent).join("/");
const file = (m, ending) => m.files.find((f) => f.endsWith(ending));
const value = (m, name) => m.measures[data.measures.findIndex((f) => f[0] === name)];
const said = (v) => (v === true ? "yes" : v === false ? "no" : String(v));

// Pictures come when the page rests and they are near, one after another: drawing them while
// it moves would make it stick. Until then a card shows the band's colours.
const wanted = new Set();
const REST = 120;
let moved = 0;
addEventListener("scroll", () => { moved = performance.now(); }, { passive: true });
const pause = (ms) => new Promise((go_on) => { setTimeout(go_on, ms); });
let drawing = false;
async function load(img) {
  if (!img.src) img.src = img.dataset.src;
  await img.decode().catch(() => {});
  img.parentElement.style.background = "";
}
async function draw() {
  if (drawing) return;
  drawing = true;
  while (wanted.size > 0) {
    while (performance.now() - moved < REST) await pause(REST / 2);
    if (wanted.size === 0) break;
    const img = wanted.values().next().value;
    wanted.delete(img);
    if (!img.isConnected) continue;
    await load(img);
    await new Promise((free) => { requestAnimationFrame(() => setTimeout(free)); });
  }
  drawing = false;
}
const near = new IntersectionObserver((entries) => {
  for (const { target, isIntersecting } of entries) {
    if (isIntersecting && !target.src) wanted.add(target); else wanted.delete(target);
  }
  draw();
}, { rootMargin: "300px" });
const drawAll = () => Promise.all([...document.querySelectorAll("#grid img")].map(load));

// The outputs stand in the page in the order in which they are offered: a card shows the first
// that is a picture, and leads to the others.
const first_file = (m, output) => output.files.map((name) => file(m, `/${name}`)).find(Boolean);
const cover = (m) => data.outputs.find((output) => output.picture && first_file(m, output));

function picture(m, large) {
  const drawn = cover(m);
  const cloth = el("span", { class: "cloth" });
  if (drawn) {
    const alt = `${m.title}: ${drawn.meaning}`, src = path(first_file(m, drawn));
    const img = large ? el("img", { src, alt }) : el("img", { "data-src": src, alt, decoding: "async" });
    if (!large) {
      const step = 100 / m.colours.length;
      const stripes = m.colours.map((c, at) => `${c[1]} ${at * step}% ${(at + 1) * step}%`);
      cloth.style.background = `linear-gradient(90deg, ${stripes.join(", ")})`;
      near.observe(img);
    }
    cloth.append(img);
  } else {
    const stripes = el("span", { class: "stripes", role: "img", "aria-label": `colours: ${m.colours.map((c) => c[0]).join(", ")}` });
    for (const c of m.colours) { const i = el("i"); i.style.background = c[1]; stripes.append(i); }
    cloth.append(stripes);
  }
  return cloth;
}

function card(at) {
  const m = members[at];
  const links = el("div", { class: "links" });
  const others = data.outputs.filter((output) => output !== cover(m)).map((output) => [first_file(m, output), output.short]);
  for (const [found, name] of [...others, [file(m, ".band.json"), "band file"]]) {
    if (found) links.append(el("a", { href: path(found), "aria-label": `${name} of ${m.name}` }, name));
  }
  const box = el("input", { type: "checkbox", "aria-label": `compare ${m.name}` });
  box.checked = chosen.has(at);
  box.addEventListener("change", () => {
    if (box.checked) chosen.add(at); else chosen.delete(at);
    offer();
    keep();
  });
  links.append(el("label", {}, box, "compare"));
  const grave = m.findings.filter((f) => f[1] !== "note").length;
  return el("li", {},
    picture(m, false),
    el("h2", {}, m.title),
    el("p", {}, m.name),
    el("p", {}, `${value(m, "threads")} threads, ${value(m, "width_mm")} mm wide, ${value(m, "thread_m")} m of thread`),
    el("p", {}, `${m.time}, difficulty ${value(m, "difficulty")}, symmetry of the colours: ${value(m, "colour_symmetry")}`),
    m.same_as ? el("p", { class: "flag" }, `the same as ${m.same_as}`) : null,
    grave ? el("p", { class: "flag" }, grave === 1 ? "1 warning" : `${grave} warnings`) : null,
    links);
}

function limits() {
  const all = [];
  for (const row of document.querySelectorAll(".limit")) {
    const name = row.querySelector("select").value;
    const at = data.measures.findIndex((f) => f[0] === name);
    const [least, most] = [...row.querySelectorAll("input")].map((i) => i.value.trim());
    if (at < 0 || (least === "" && most === "")) continue;
    all.push((m) => {
      const v = m.measures[at];
      if (typeof v === "number") return (least === "" || v >= Number(least)) && (most === "" || v <= Number(most));
      const asked = (least || most).toLowerCase();
      return said(v) === asked || said(v).startsWith(`${asked} (`);
    });
  }
  return all;
}

function look() {
  clearTimeout(waiting);
  by("grid").setAttribute("aria-busy", "false");
  const asked = by("search").value.toLowerCase().split(/\s+/).filter(Boolean);
  const tests = limits();
  shown = members.map((_, at) => at).filter((at) => asked.every((w) => words[at].includes(w)) && tests.every((t) => t(members[at])));
  const sort = by("sort").value;
  if (sort !== "") {
    const at = data.measures.findIndex((f) => f[0] === sort);
    const turn = by("order").value === "down" ? -1 : 1;
    const compare = (a, b) => (a < b ? -1 : a > b ? 1 : 0);
    shown.sort((a, b) => turn * compare(members[a].measures[at], members[b].measures[at]) || a - b);
  }
  first = 0;
  show();
}

function show() {
  keep();
  const page = shown.slice(first, first + PAGE);
  near.disconnect();
  wanted.clear();
  by("grid").replaceChildren(...page.map(card));
  const last = first + page.length;
  by("count").textContent = shown.length === 0 ? "No band matches."
    : `${shown.length === members.length ? "" : `${shown.length} of `}${members.length} bands${shown.length > PAGE ? `, ${first + 1} to ${last} shown` : ""}`;
  by("before").disabled = first === 0;
  by("after").disabled = last >= shown.length;
  by("pages").hidden = shown.length <= PAGE;
}

function turn(by_) {
  first = Math.max(0, Math.min(first + by_ * PAGE, Math.floor((shown.length - 1) / PAGE) * PAGE));
  show();
  scrollTo({ top: by("grid").getBoundingClientRect().top + scrollY - 90 });
  by("count").focus({ preventScroll: true });
}

function offer() {
  const button = by("compare");
  const count = chosen.size;
  button.disabled = count < 2 || count > 3;
  button.textContent = count < 2 ? "Compare: choose two or three" : count > 3 ? `Compare: ${count} are too many` : `Compare ${count} bands`;
  by("none").hidden = count === 0;
}

function compare() {
  // Every part says what it is, for on a phone the table is laid out in another way, and some browsers then forget.
  const some = [...chosen].map((at) => members[at]);
  const row = (...cells) => el("tr", { role: "row" }, ...cells);
  const cells = (kind, say) => some.map((m) => el("td", { role: "cell", class: kind }, say(m)));
  const corner = () => el("td", { role: "cell" }, "");
  const names = some.map((m) => el("th", { scope: "col", role: "columnheader" }, m.title, el("br"), el("small", {}, m.name)));
  const head = el("thead", { role: "rowgroup" }, row(corner(), ...cells(false, (m) => picture(m, true))), row(corner(), ...names));
  head.lastChild.className = "names";
  const lines = [["settings", "The rule's settings.", (m) => m.settings], ...data.measures.map(([name, sentence], at) => [name.replaceAll("_", " "), sentence, (m) => said(m.measures[at])])];
  const differs = ([, , say]) => some.some((m) => say(m) !== say(some[0]));
  const part = (title, kind, lines) => (lines.length === 0 ? null : el("tbody", { role: "rowgroup" },
    row(el("th", { scope: "rowgroup", colspan: some.length + 1, role: "rowheader", class: "part" }, title)),
    ...lines.map(([name, sentence, say]) => row(el("th", { scope: "row", role: "rowheader", title: sentence }, name), ...cells(kind, say)))));
  by("side").replaceChildren(el("table", { role: "table", class: `of-${some.length}` }, head,
    part("Where they differ", "differs", lines.filter(differs)), part("Where they are the same", false, lines.filter((line) => !differs(line)))));
  by("beside").showModal();
  by("side").scrollTo(0, 0);
}

// What was looked for and chosen is kept for as long as the tab is open: also when the page is loaded anew, or come back to.
const KEPT = `gallery ${location.pathname}`;
const fields = () => [...by("ask").querySelectorAll("input, select")];
function keep() {
  const choices = [...chosen].map((at) => members[at].name);
  try { sessionStorage.setItem(KEPT, JSON.stringify({ fields: fields().map((field) => field.value), choices, first })); } catch { /* Then it is forgotten. */ }
}
function recall() {
  let kept = null;
  try { kept = JSON.parse(sessionStorage.getItem(KEPT)); } catch { /* Nothing is known. */ }
  if (!kept) { look(); return; }
  fields().forEach((field, at) => { field.value = kept.fields[at] ?? field.value; });
  const places = new Map(members.map((m, at) => [m.name, at]));
  for (const name of kept.choices) if (places.has(name)) chosen.add(places.get(name));
  look();
  if (kept.first > 0 && kept.first < shown.length) { first = kept.first; show(); }
}

// What most people choose by, in words; all else is called by its name.
const USUAL = {
  threads: "number of threads", width_mm: "width in mm", length_mm: "length in mm", minutes: "time in minutes", thread_m: "thread in metres",
  longest_cm: "longest piece in cm", difficulty: "difficulty, 0 to 10", colours: "number of colours", drifts: "whether colours drift", colour_symmetry: "symmetry of the colours",
};
for (const select of document.querySelectorAll("select.measures")) {
  const option = ([name, sentence]) => el("option", { value: name, title: sentence }, USUAL[name] ?? name.replaceAll("_", " "));
  const known = new Map(data.measures.map((measure) => [measure[0], measure]));
  const usual = Object.keys(USUAL).filter((name) => known.has(name));
  const others = data.measures.filter(([name]) => !usual.includes(name));
  select.append(...usual.map((name) => option(known.get(name))), el("optgroup", { label: "more" }, ...others.map(option)));
}
let waiting = 0;
// Until then the bands shown are not yet those asked for, which readers of screens are told.
const soon = () => { by("grid").setAttribute("aria-busy", "true"); clearTimeout(waiting); waiting = setTimeout(look, 60); };
by("ask").addEventListener("input", soon);
by("ask").addEventListener("submit", (event) => { event.preventDefault(); look(); });
by("over").addEventListener("click", () => { by("ask").reset(); look(); });
by("before").addEventListener("click", () => turn(-1));
by("after").addEventListener("click", () => turn(1));
by("compare").addEventListener("click", compare);
by("none").addEventListener("click", () => { chosen.clear(); offer(); show(); });
by("close").addEventListener("click", () => by("beside").close());
addEventListener("beforeprint", drawAll);
by("print").addEventListener("click", () => drawAll().then(() => print()));
recall();
offer();
