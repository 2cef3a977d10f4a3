// The live job sheet: shows what the server says of the job, and sends it what is changed. The job file is the truth.
// @ts-check
import { inPart, movedPin, nearestOn, oneMore, onSvg, onTape, overlay, pinWords, placeOf, plain, safe, stepped } from "./draw.js";

/** @typedef {{path: (string|number)[], typed?: string, kind?: string, value?: any}} Change */

const bar = /** @type {HTMLElement} */ (document.getElementById("bar"));
const sheet = /** @type {HTMLElement} */ (document.getElementById("sheet"));
const spoken = /** @type {HTMLElement} */ (document.getElementById("spoken"));
const token = new URLSearchParams(location.search).get("token");

/** @type {any} */ let state = null;
/** @type {any} */ let designs = null;
/** @type {any} */ let wood = null;
/** @type {any} */ let days = null;
/** @type {any} */ let conflict = null;
/** @type {any} */ let dragged = null;
/** The text that was put in its field last, its version, and its line ends, which the field does not keep. @type {{version: number, ends: string, text: string} | null} */ let textOf = null;
let gone = false, textOpen = false, sheetOf = "", run = "", notice = "";   // a notice: what the server said of something that has no line of its own
/** @type {Map<string, string>} */ const refused = new Map();   // what the server said of a change, by its path
/** @type {Set<string>} */ const opened = new Set();
/** @type {Set<string>} */ const moving = new Set();               // layouts whose bridges are shown to be moved
/** @type {Set<string>} */ const keeping = new Set();              // layouts whose parts are shown to be kept
/** @type {Map<string, {mode: string, points: number[][]}>} */ const drawing = new Map();
/** @type {WeakSet<EventTarget>} */ const touched = new WeakSet(); // fields in which something is being typed
/** @type {number[]} */ const followed = [];                    // ms from a dragged value to its picture

const key = (/** @type {(string|number)[]} */ path) => JSON.stringify(path);
const spaced = (/** @type {string} */ name) => name.replaceAll("_", " ");
const say = (/** @type {string} */ words) => { spoken.textContent = words; };

// ---- the server

/** @param {string} path */
function address(path) { return token === null ? path : `${path}${path.includes("?") ? "&" : "?"}token=${encodeURIComponent(token)}`; }

/** @param {string} path @param {object} [body] @returns {Promise<any>} */
async function ask(path, body) {
  let answer;
  if (body !== undefined && path !== "try") { notice = ""; }
  try {
    answer = await fetch(address(path), body === undefined ? {} : { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
  } catch {
    isGone(true);
    throw new Error("gone");
  }
  isGone(false);
  const data = await answer.json().catch(() => ({ said: ["the server gave no answer that can be read"] }));
  if (answer.status === 409 && (path === "undo" || path === "redo")) {
    take(data.state);
    throw Object.assign(new Error("refused"), { said: ["The job file was changed elsewhere meanwhile, so nothing was undone. The sheet shows it as it is now."] });
  }
  if (answer.status === 409) { conflict = { body, path }; if (data.state) { take(data.state); } throw new Error("overlapped"); }
  if (!answer.ok) { const error = new Error("refused"); /** @type {any} */ (error).said = data.said || ["this can't be done"]; throw error; }
  return data;
}

/** Changes that could not be sent, with what their lines held when they were made: they wait for the server. @type {{changes: Change[], entries: {names: string[], at: number}[][], held: any[]}[]} */
const unsent = [];
const heldAt = (/** @type {Change[]} */ changes) => changes.map(one => { const line = state && state.job !== null && lineAt(key(one.path)); return line ? line.typed : null; });
const waits = (/** @type {string} */ id) => unsent.some(one => one.changes.some(change => key(change.path) === id));

/** Send what waited, now that the server is back. A line that has changed meanwhile is asked about. */
function sendWaiting() {
  for (const one of unsent.splice(0)) {
    if (key(heldAt(one.changes)) === key(one.held)) { edit(one.changes, one.entries); } else { conflict = { path: "edit", body: { changes: one.changes }, entries: one.entries }; }
  }
  draw();
}

/** One change after the other, each made to the version before it. */
let turn = Promise.resolve();
/** @param {Change[]} changes @param {{names: string[], at: number}[][]} [entries] @returns {Promise<void>} */
function edit(changes, entries = changes.map(one => entriesOf(one.path))) {
  const held = heldAt(changes);
  turn = turn.then(async () => {
    if (changes.some((one, place) => isMoved(entries[place], entriesOf(one.path)))) {
      refusedBy({ said: ["The lists of the job have changed meanwhile, so it is not sure which entry this change is about. Nothing was changed: make it again."] });
      return;
    }
    for (const one of changes) { refused.delete(key(one.path)); }
    try {
      take(await ask("edit", { version: state.version, shop_version: state.shop_version, changes }));
      say("changed");
    } catch (error) {
      if (/** @type {any} */ (error).message === "gone") { unsent.push({ changes, entries, held }); draw(); return; }
      if (conflict && /** @type {any} */ (error).message === "overlapped") { conflict.entries = entries; }
      refusedBy(error, changes[0].path);
    }
  });
  return turn;
}

/** The lists that a path leads through: the names of their entries, and the place of its own. @param {(string|number)[]} path @returns {{names: string[], at: number}[]} */
function entriesOf(path) {
  return path.flatMap((at, place) => {
    if (typeof at !== "number" || !state || state.job === null) { return []; }
    const list = key(path.slice(0, place)), names = /** @type {string[]} */ ([]);
    const walk = (/** @type {any} */ group) => { if (group.path && !group.added && group.path.length === place + 1 && key(group.path.slice(0, -1)) === list) { names.push(group.name); } group.groups.forEach(walk); };
    state.look.sections.forEach(walk);
    return [{ names, at }];
  });
}

/** Whether an entry is no longer where it was. @param {{names: string[], at: number}[]} before @param {{names: string[], at: number}[]} now */
function isMoved(before, now) {
  return before.some((one, place) => one.names.length !== now[place].names.length || (one.names[one.at] !== now[place].names[one.at] && now[place].names.includes(one.names[one.at])));
}

/** @param {any} error @param {(string|number)[]} [path] */
function refusedBy(error, path) {
  if (error.said) {
    if (path && state && state.job !== null && lineAt(key(path))) { refused.set(key(path), error.said.join(" ")); } else { notice = error.said.join(" "); }
    say(error.said.join(" "));
  }
  draw();
}

/** What follows a drag: only the newest is looked at. @type {{changes: Change[], since: number} | null} */ let waiting = null;
let looking = false;
/** @param {Change[]} changes */
async function follow(changes) {
  waiting = { changes, since: performance.now() };
  if (looking) { return; }
  looking = true;
  while (waiting) {
    const now = waiting; waiting = null;
    try {
      const look = await ask("try", { changes: now.changes });
      if (dragged) { pictures(look); followed.push(performance.now() - now.since); sheet.dataset.followed = String(Math.round(followed[followed.length - 1])); }
    } catch (error) { if (/** @type {any} */ (error).said) { say(/** @type {any} */ (error).said.join(" ")); } }
  }
  looking = false;
}

/** @param {boolean} now */
function isGone(now) {
  if (gone === now) { return; }
  gone = now;
  draw();
  if (gone) { setTimeout(again, 2000); }
}

/** Look whether the server is back, until it is: its events may have gone on all the time. */
async function again() {
  if (gone) { await refresh(); }
  if (gone) { setTimeout(again, 2000); }
}

/** @param {any} next */
function take(next) {
  if (state && next.run === state.run && (next.version < state.version || (next.version === state.version && next.told < state.told))) { return; }
  if (!state || state.job !== next.job) { drawn.clear(); refused.clear(); drawing.clear(); sheetOf = ""; days = null; wood = null; textOf = null; }
  if (state && next.version !== state.version) { days = null; }
  state = next;
  draw();
  if (state.job === null && !designs) { ask("designs").then(found => { designs = found; draw(); }, () => {}); }
  if (state.job !== null && !wood) { wood = { stocks: [] }; ask("wood").then(found => { wood = found; draw(); }, () => {}); }
  if (textOpen && (!textOf || textOf.version !== state.version)) { fillText(); }
  fetchSheet();
}

async function refresh() { try { take(await ask("state")); if (unsent.length) { sendWaiting(); } } catch { /* said already */ } }

function listen() {
  const events = new EventSource(address("events"));
  events.onerror = () => isGone(true);
  events.addEventListener("hello", event => {
    const data = JSON.parse(event.data);
    const other = run && data.run !== run;
    run = data.run;
    if (gone || other) { gone = false; state = other ? null : state; if (other && textOf) { textOf.version = -1; } }
    refresh();
  });
  events.addEventListener("changed", event => {
    if (state && state.job !== null && JSON.parse(event.data).version < state.version) { return; }
    // The answer to this page's own edit is on its way: what it says need not be asked for twice.
    turn = turn.then(() => { if (!state || state.job === null || JSON.parse(event.data).version > state.version) { wood = null; return refresh(); } });
  });
  events.addEventListener("again", () => { wood = null; refresh(); });
  for (const kind of ["stage", "plan", "proven", "refused", "written", "failed", "drawings"]) {
    events.addEventListener(kind, event => { heard(kind, JSON.parse(/** @type {MessageEvent} */ (event).data)); });
  }
}

/** @param {string} kind @param {any} data */
function heard(kind, data) {
  if (state && state.job !== null && data.version > state.version) { turn = turn.then(() => state && data.version > state.version ? refresh() : undefined); return; }
  if (!state || state.job === null || data.version !== state.version) { return; }
  if (data.told) { state.told = Math.max(state.told, data.told); }
  if (kind === "stage") { state.doing = data; }
  else if (kind === "written") { state.written = data; state.writing = false; state.doing = null; say(data.said ? data.said.join(" ") : data.passed ? "the folder is written" : "not proven: nothing is written"); }
  else if (kind === "failed") { state.failed = data; state.writing = false; state.doing = null; }
  else if (kind === "drawings") {
    for (const one of data.items) { const item = state.look.items.find((/** @type {any} */ it) => key(it.path) === key(one.path)); if (item) { item.drawings = one.drawings; } }
  } else {
    state.plan = data; state.failed = null;
    state.doing = data.last ? null : state.doing;
    if (kind === "proven") { state.files = data.files; say("proven"); }
    if (kind === "refused") { state.files = []; say("not proven"); }
  }
  draw();
  fetchSheet();
}

/** The job sheet's own sections for the boards and the work by hand, once it is proven. */
async function fetchSheet() {
  if (!state || state.job === null || !state.files.includes("job-sheet.html")) { return; }
  const now = `${state.run} ${state.version} ${state.plan && state.plan.effort}`;
  if (sheetOf === now) { return; }
  sheetOf = now;
  let page;
  try { page = new DOMParser().parseFromString(await (await fetch(address("sheet"))).text(), "text/html"); } catch { sheetOf = ""; return; }
  const put = (/** @type {string} */ place, /** @type {string[]} */ ids) => {
    const box = document.getElementById(place);
    if (!box) { return; }
    const open = new Set([...box.querySelectorAll("section[id]")].filter(one => one.querySelector("details[open]")).map(one => one.id));
    box.replaceChildren(...ids.flatMap(id => { const one = page.getElementById(id); return one ? [document.importNode(one, true)] : []; }));
    for (const id of open) { const one = box.querySelector(`#${CSS.escape(id)} details`); if (one) { one.setAttribute("open", ""); } }
    for (const one of box.querySelectorAll("h2")) { const h3 = document.createElement("h3"); h3.textContent = one.textContent; one.replaceWith(h3); }
    box.dispatchEvent(new CustomEvent("boards", { bubbles: true }));
  };
  put("cut-boards", [...page.querySelectorAll("section.s-board")].map(one => one.id));
  put("by-hand", ["fetch", "saw", "rods", "buy", "assembly", "leftovers"]);
  put("before-start", ["check"]);
}

// ---- what is shown

function draw() {
  if (!state) { bar.innerHTML = ""; return; }
  morph(bar, barHtml());
  document.title = state.job === null ? "a new job" : `${titleOf()}: job sheet`;
  if (state.job === null) { drawn.clear(); morph(sheet, startHtml()); } else { drawParts(jobParts()); }
  sheet.dataset.version = String(state.version || 0);
  sheet.dataset.state = state.job === null ? "start" : proofState()[0];
  sheet.dataset.planned = String(state.plan ? state.plan.version : 0);
}

/** The HTML of each part of the sheet as it was put on the page last. @type {Map<string, string>} */ const drawn = new Map();

/** Put the parts of the sheet on the page; those that are the same stay. @param {[string, string][]} parts */
function drawParts(parts) {
  const names = new Set(parts.map(([name]) => name));
  for (const one of [...sheet.childNodes]) { if (!(one instanceof HTMLElement) || !names.has(one.dataset.part || "")) { one.remove(); } }
  let here = sheet.firstElementChild;
  for (const [name, html] of parts) {
    let box = /** @type {HTMLElement|null} */ (sheet.querySelector(`:scope > [data-part="${name}"]`));
    if (!box) { box = document.createElement("div"); box.dataset.part = name; drawn.delete(name); }
    if (box !== here) { sheet.insertBefore(box, here); }
    here = box.nextElementSibling;
    if (drawn.get(name) !== html) { drawn.set(name, html); morph(box, html); }
  }
}

function titleOf() {
  for (const section of state.look.sections) { for (const line of section.lines) { if (line.name === "title" && line.typed) { return line.typed; } } }
  return state.job;
}

/** The state of the proof: its name, and what it says. @returns {[string, string]} */
function proofState() {
  const plan = state.plan;
  if (gone) { return ["working", "no server"]; }
  if (dragged && dragged.moved) { return ["working", "being drawn"]; }
  if (state.look.mistakes.length) { const n = state.look.mistakes.length; return ["wrong", n === 1 ? "1 mistake: nothing is cut" : `${n} mistakes: nothing is cut`]; }
  if (state.failed && state.failed.version === state.version) { return ["wrong", "not worked out"]; }
  if (plan && plan.version === state.version && plan.proof) {
    return plan.proof.passed ? ["proven", plan.last ? "proven" : "proven; a better layout is looked for"] : ["refused", "not proven"];
  }
  return ["working", plan && plan.version === state.version ? "laid out, not proven yet" : "being laid out"];
}

function barHtml() {
  if (state.job === null) { return `<h1>A new job <small>in ${safe(state.folder)}</small></h1>${goneHtml()}${noticeHtml()}`; }
  const [name, words] = proofState();
  const ready = name !== "wrong" && !state.read_only;
  return `<h1>${safe(titleOf())} <small>${safe(state.job)}</small></h1>
<span class="l-state" data-state="${name}" role="status">${safe(words)}</span>
${state.read_only ? "<span>for reading</span>" : `<button type="button" data-do="undo"${state.undo ? "" : " disabled"}>Undo</button>
<button type="button" data-do="redo"${state.redo ? "" : " disabled"}>Redo</button>
<button type="button" data-do="write"${ready ? "" : " disabled"}>Write the files</button>`}
${writtenHtml()}${goneHtml()}${noticeHtml()}${conflictHtml()}`;
}

/** What became of writing the files, until the next change. */
function writtenHtml() {
  const words = writtenWords();
  return words ? `<p class="l-written" role="status">${words}</p>` : "";
}

function writtenWords() {
  const written = state.written && state.written.version === state.version ? state.written : null;
  if (!written) { return state.writing ? "The files are being made." : ""; }
  if (written.said) { return written.said.map(safe).join("<br>"); }
  return written.passed ? `Written to ${safe(written.folder)}.${written.offcuts ? ` The offcuts are in ${safe(written.offcuts)}.` : ""}` : "Not proven: the folder is as it was.";
}

function goneHtml() {
  if (!gone) { return ""; }
  const wait = unsent.length ? ` ${unsent.length === 1 ? "1 change waits" : `${unsent.length} changes wait`} on this page until it is back, and will be sent then: leave the page open.` : "";
  return `<p class="l-gone" role="alert">The server is gone. What was changed before is in the job file.${wait} This page takes up again when the server is back.</p>`;
}

function noticeHtml() { return notice ? `<p class="l-gone" role="alert">${safe(notice)}</p>` : ""; }

function conflictHtml() {
  if (!conflict) { return ""; }
  return `<div class="l-ask" role="alertdialog" aria-label="Changed elsewhere"><p>The job file was changed elsewhere while you changed it here. The sheet shows the file as it is now. Your change is not in it.</p>
<button type="button" data-do="mine">${conflict.text === undefined ? "Make my change as well" : "Put my text in its place"}</button> <button type="button" data-do="theirs">Leave it</button></div>`;
}

/** @returns {[string, string][]} */
function jobParts() {
  /** @type {[string, string][]} */ const parts = [];
  if (state.look.lost.length || (state.look.mistakes.length && (state.lines_before || !state.look.sections.length))) {
    const said = state.look.lost.length ? state.look.lost : state.look.mistakes.map((/** @type {any} */ one) => one.said);
    parts.push(["mistakes", `<section class="s-warnings" aria-label="Mistakes"><ul>${said.map((/** @type {string} */ one) => `<li>${safe(one)}</li>`).join("")}</ul></section>`]);
  }
  if (state.failed && state.failed.version === state.version) { parts.push(["failed", `<p class="l-gone" role="alert">${safe(state.failed.why)}</p>`]); }
  for (const section of state.look.sections) {
    parts.push([section.id, `<section class="l-section${state.lines_before ? " l-lines-before" : ""}"${state.lines_before ? " inert" : ""} id="part-${section.id}" aria-labelledby="title-${section.id}"><h2 id="title-${section.id}">${safe(section.title)}</h2>
${section.id === "make" || section.id === "wood" ? pairsHtml(section) : `<div class="l-drawn">${drawnHtml(section.id)}</div><div class="l-list">${section.lines.map(lineHtml).join("")}${section.groups.map((/** @type {any} */ one) => groupHtml(one, 3)).join("")}${besideHtml(section.id)}</div>`}</section>`]);
  }
  parts.push(["days", daysHtml()], ["files", filesHtml()], ["text", textHtml()]);
  return parts;
}

/** Each item, and each board, with its drawing beside it. @param {any} section */
function pairsHtml(section) {
  const name = section.id === "make" ? "make" : "board", shown = name === "make" ? state.look.items : state.look.boards;
  const own = section.groups.filter((/** @type {any} */ one) => one.path[0] === name && !one.added), rest = section.groups.filter((/** @type {any} */ one) => !own.includes(one));
  const drawn = own.map((/** @type {any} */ group) => {
    const place = shown.findIndex((/** @type {any} */ one) => key(one.path) === key(group.path));
    return place < 0 ? "" : name === "make" ? itemHtml(shown[place], place) : boardHtml(shown[place], place);
  });
  const pair = (/** @type {string} */ id, /** @type {string} */ left, /** @type {string} */ right) => `<div class="l-drawn" data-key="drawn-${id}">${left}</div><div class="l-list" data-key="list-${id}">${right}</div>`;
  const first = section.lines.map(lineHtml).join("");
  const rows = own.map((/** @type {any} */ group, /** @type {number} */ place) => pair(`${name}${place}`, drawn[place], (place ? "" : first) + groupHtml(group, 3)));
  if (!own.length) { rows.push(pair(`${name}0`, "", first)); }
  rows.push(pair(`${name}rest`, section.id === "wood" ? woodHtml() : "", rest.map((/** @type {any} */ one) => groupHtml(one, 3)).join("")));
  return rows.join("");
}

/** @param {any} group @param {number} level @returns {string} */
function groupHtml(group, level) {
  if (group.added) {
    return state.read_only ? "" : `<p data-key="${safe(key(group.path))}+"><button type="button" data-add="${safe(key(group.path))}" data-value="${safe(JSON.stringify(group.added))}">+ ${safe(group.name)}</button></p>`;
  }
  const last = group.path[group.path.length - 1];
  const given = group.lines.filter((/** @type {any} */ one) => one.typed !== null || one.problems.length || refused.has(key(one.path)));
  const open = last === "with" ? group.lines : given, rest = last === "with" ? [] : group.lines.filter((/** @type {any} */ one) => !open.includes(one));
  const name = last === "with" ? "measures" : typeof last === "number" ? group.name : spaced(group.name);
  const id = key(group.path);
  const tag = `h${Math.min(level, 6)}`;
  const inner = `${group.problems.map((/** @type {string} */ one) => `<p class="l-said">${safe(one)}</p>`).join("")}${open.map(lineHtml).join("")}
${rest.length ? `<details class="l-more" data-open="${safe(id)}"><summary>${rest.length === 1 ? "1 line" : `${rest.length} lines`} left as usual</summary>${rest.map(lineHtml).join("")}</details>` : ""}
${group.groups.map((/** @type {any} */ one) => groupHtml(one, level + 1)).join("")}`;
  const remove = group.removable && !state.read_only ? `<button type="button" data-remove="${safe(id)}" aria-label="take out ${safe(name)}">take out</button>` : "";
  return `<div class="l-group" data-key="${safe(id)}" role="group" aria-label="${safe(name)}"><${tag}>${safe(name)} ${remove}</${tag}>${inner}</div>`;
}

/** @param {any} line @returns {string} */
function lineHtml(line) {
  const id = key(line.path), name = `k${id.replace(/[^A-Za-z0-9]+/g, "-")}`;
  const said = [...line.problems, ...(refused.has(id) ? [refused.get(id)] : [])];
  const common = `id="${name}" data-path="${safe(id)}" data-kind="${line.kind}" ${said.length ? `aria-invalid="true" aria-describedby="${name}said"` : ""} ${state.read_only ? "disabled" : ""}`;
  const usual = line.usual || (line.kind === "yes_no" ? "" : "");
  let field;
  const free = ["design", "machine"].includes(String(line.path[line.path.length - 1])) || (line.path.length === 3 && line.name === "size");
  if (line.kind === "choice" || line.kind === "yes_no" || (line.choices.length && !free)) {
    const choices = line.kind === "yes_no" ? ["true", "false"] : line.choices;
    const all = line.typed !== null && !choices.includes(line.typed) ? [...choices, line.typed] : choices;
    field = `<select ${common}><option value=""${line.typed === null ? " selected" : ""}>${usual ? `as usual: ${safe(usual)}` : "as usual"}</option>${all.map((/** @type {string} */ one) => `<option${one === line.typed ? " selected" : ""}>${safe(one)}</option>`).join("")}</select>`;
  } else {
    const list = line.choices.length ? `list="${name}list"` : "";
    field = `<input ${common} ${list} value="${safe(line.typed === null ? "" : line.typed)}" placeholder="${safe(usual)}" autocomplete="off" autocapitalize="off" spellcheck="false">${line.choices.length ? `<datalist id="${name}list">${line.choices.map((/** @type {string} */ one) => `<option value="${safe(one)}"></option>`).join("")}</datalist>` : ""}`;
  }
  const grip = line.amount !== null && !state.read_only && ["length", "count", "number"].includes(line.kind)
    ? `<button type="button" class="l-grip" role="slider" data-grip="${safe(id)}" data-kind="${line.kind}" data-amount="${line.amount}" aria-label="drag ${safe(spaced(line.name))}" aria-valuenow="${line.amount}" aria-valuetext="${safe(line.typed === null ? usual : line.typed)}">&#8596;</button>` : "";
  return `<div class="l-line" data-key="${safe(id)}"${line.typed !== null ? " data-given" : ""}${said.length ? " data-wrong" : ""}><label for="${name}">${safe(spaced(line.name))}</label>${field}${grip}
${said.length ? `<p class="l-said" id="${name}said">${said.map(safe).join("<br>")}</p>` : ""}${line.help ? `<p class="l-help">${safe(line.help)}</p>` : ""}</div>`;
}

/** @param {string} id @returns {string} */
function drawnHtml(id) {
  if (id === "machine") { return machineHtml(); }
  if (id === "lies") { return layoutHtml(); }
  if (id === "held") { return '<div id="cut-boards" class="l-sheet-part" data-own></div>'; }
  if (id === "hands") { return '<div id="by-hand" class="l-sheet-part" data-own></div>'; }
  if (id === "costs") { return moneyHtml(); }
  return "";
}

/** @param {string} id @returns {string} */
function besideHtml(id) {
  if (id === "lies") { return searchHtml(); }
  if (id === "costs" && !state.read_only && !state.shop) { return '<p><button type="button" data-do="begin-shop">begin a shop file</button> with usual figures, beside the job: wages, minutes, ways of selling. Its lines then stand below, to be made your own.</p>'; }
  if (id === "machine") { return '<details data-open="start"><summary>Before the start</summary><div id="before-start" class="l-sheet-part" data-own></div></details>'; }
  if (id === "held" && state.plan && state.plan.warnings.length) {
    return `<div class="s-warnings"><h3>Warnings</h3><ul>${state.plan.warnings.map((/** @type {string} */ one) => `<li>${safe(one)}</li>`).join("")}</ul></div>`;
  }
  return "";
}

/** @param {any} item @param {number} number @returns {string} */
function itemHtml(item, number) {
  const before = state.of_before ? " l-of-before" : "";
  const whole = item.drawings.findIndex((/** @type {any} */ one) => one.whole);
  const picture = whole >= 0 ? handHtml(item.drawings[whole], number, whole) : `<figure class="l-picture" data-picture="${number}">${item.picture || ""}</figure>`;
  return `<div class="l-item${before}" data-key="item-${number}"><h3>${item.count} x ${safe(item.name)}</h3>
<div class="l-pictures">${picture}${item.parts ? `<figure class="l-picture" data-parts="${number}">${item.parts}</figure>` : ""}</div>
<p data-measures="${number}">${measuresHtml(item)}</p>
${item.drawings.map((/** @type {any} */ one, /** @type {number} */ place) => one.whole ? "" : handHtml(one, number, place)).join("")}</div>`;
}

/** @param {any} item */
function measuresHtml(item) { return item.measures.map((/** @type {[string, string]} */ [name, words]) => `${safe(name)} ${safe(words)}`).join("; "); }

/** @param {any} one @param {number} number @param {number} place @returns {string} */
function handHtml(one, number, place) {
  const id = `${number}.${place}`;
  const pins = state.read_only ? "" : one.pins.map((/** @type {any} */ edge, /** @type {number} */ index) =>
    `<button type="button" data-pin-more="${id}.${index}">+ a pin, ${safe(spaced(edge.name))}</button>${edge.pins.length > 2 ? ` <button type="button" data-pin-less="${id}.${index}">- a pin, ${safe(spaced(edge.name))}</button>` : ""}`).join(" ");
  const words = [...(one.whole ? [] : [one.part]), ...(!state.read_only && (one.handles.length || one.pins.length) ? ["drag a point, or move it with the arrow keys"] : [])].join(": ");
  return `<figure class="l-hand${one.whole ? " l-whole" : ""}" data-key="hand-${id}" data-hand="${id}"><div class="l-scroll" tabindex="-1"><div class="l-frame" style="position:relative;aspect-ratio:${plain(one.width)}/${plain(one.height)}"><div data-base="${id}">${one.whole ? state.look.items[number].picture : one.svg}</div>${state.read_only ? "" : overlay(one, state.look.unit)}</div></div>
<figcaption>${safe(words)}</figcaption>${pins ? `<div class="l-tools">${pins}</div>` : ""}</figure>`;
}

/** @param {any} board @param {number} number @returns {string} */
function boardHtml(board, number) {
  const id = key(board.path), now = drawing.get(id);
  const tool = (/** @type {string} */ mode, /** @type {string} */ words) => `<button type="button" data-tool="${safe(id)}" data-mode="${mode}" aria-pressed="${now ? now.mode === mode : false}">${words}</button>`;
  const said = !now ? "" : now.mode === "knot" ? "Tap where the knot is." : now.mode === "clamp" ? "Tap two corners of the clamp." : "Tap the corners in order round the board; then close it.";
  const points = now ? now.points.map(([x, y]) => `<circle cx="${plain(board.left + x)}" cy="${plain(board.bottom - y)}" r="${plain(board.height / 60)}" fill="#d55e00"/><text class="l-measure" font-size="${plain(board.left)}" stroke-width="${plain(board.left / 5)}" x="${plain(board.left * 1.6 + x)}" y="${plain(board.bottom - y)}">${onTape(x, state.look.unit)}, ${onTape(y, state.look.unit)}</text>`).join("") : "";
  return `<figure class="l-board" data-key="board-${safe(id)}"${now ? ` data-mode="${now.mode}"` : ""} style="max-width:none"><div class="l-scroll" tabindex="0" role="group" aria-label="${safe(board.name)}"><div style="position:relative">${board.svg}<svg class="l-over" data-board="${number}" viewBox="0 0 ${plain(board.width)} ${plain(board.height)}" aria-hidden="true">${points}</svg></div></div>
${state.read_only ? "" : `<div class="l-tools"><span>${safe(board.name)}:</span>${tool("knot", "draw a knot")}${tool("clamp", "draw a clamp")}${tool("outline", "draw an end cut's outline")}${now && now.mode === "outline" && now.points.length > 2 ? `<button type="button" data-close="${safe(id)}">close it</button>` : ""}<span>${said}</span></div>${board.count > 1 ? `<div class="l-tools"><span>What is drawn is on all ${board.count} boards of this line.</span><button type="button" data-alone="${number}">put one of them on a line of its own</button></div>` : ""}`}</figure>`;
}

function woodHtml() {
  if (!wood || !wood.stocks.length) { return ""; }
  return `<h3>In stock</h3>${wood.stocks.map((/** @type {any} */ one) => `<div data-key="stock-${safe(one.file)}"><label><input type="checkbox" data-stock="${safe(one.file)}"${one.taken ? " checked" : ""}${state.read_only ? " disabled" : ""}> ${safe(one.file)}</label>
${one.said.map((/** @type {string} */ said) => `<p class="l-said">${safe(said)}</p>`).join("")}<div class="l-wood">${one.boards.map((/** @type {any} */ board) => `<figure>${board.svg}<figcaption><label><input type="checkbox" data-board-of="${safe(one.file)}" data-board-name="${safe(board.name)}"${board.taken ? " checked" : ""}${state.read_only ? " disabled" : ""}> ${board.count - board.used} x ${safe(board.name)}</label></figcaption></figure>`).join("")}</div></div>`).join("")}`;
}

function machineHtml() {
  const plan = state.plan;
  if (!plan) { return ""; }
  const row = plan.summary.find((/** @type {string[]} */ one) => one[0] === "Machine");
  return row ? `<p>${safe(row[1])}</p>` : "";
}

function layoutHtml() {
  const plan = state.plan;
  if (!plan) { return `<p>${state.look.mistakes.length ? "Nothing is laid out while there are mistakes." : "Being laid out."}</p>`; }
  const old = plan.version !== state.version;
  const boards = plan.boards.map((/** @type {any} */ one, /** @type {number} */ number) => `<figure class="l-board${old ? " l-of-before" : ""}" data-key="layout-${one.id}"${moving.has(one.id) ? " data-bridges" : ""}${keeping.has(one.id) ? " data-keeping" : ""} style="max-width:none"><figcaption>${safe(one.id)}: ${safe(one.board)}; ${safe(one.line)}</figcaption>
<div class="l-scroll" tabindex="0" role="group" aria-label="${safe(one.id)}: the layout"><div style="position:relative">${one.svg}${old || state.read_only ? "" : bridgesHtml(one, number) + keepHtml(one, number)}</div></div>
${old || state.read_only ? "" : layoutTools(one)}
<ul class="s-key">${one.key.map((/** @type {string[]} */ [sign, words]) => `<li>${sign} ${safe(words)}</li>`).join("")}</ul></figure>`).join("");
  const words = plan.summary.filter((/** @type {string[]} */ one) => one[0] !== "Machine").map((/** @type {string[]} */ [name, said]) => `<div><dt>${safe(name)}</dt><dd>${safe(said)}${wasHtml(name, said)}</dd></div>`).join("");
  const first = plan.step === "first" && !old ? "<p>A first layout. How it is held is being worked out.</p>" : "";
  const found = plan.proof && !plan.proof.passed ? `<div class="s-warnings" role="alert"><h3>Not proven</h3><ul>${plan.proof.findings.map((/** @type {string} */ one) => `<li>${safe(one)}</li>`).join("")}</ul></div>` : "";
  return `${first}${found}<dl${old ? ' class="l-of-before"' : ""}>${words}</dl>${boards}${plan.more_boards ? `<p>and ${plan.more_boards} more layouts</p>` : ""}`;
}

/** @param {string} name @param {string} said */
function wasHtml(name, said) {
  const before = state.before && state.before.summary.find((/** @type {string[]} */ one) => one[0] === name);
  return before && before[1] !== said && !said.includes("not proven yet") ? `<span class="l-was">was: ${safe(before[1])}</span>` : "";
}

/** @param {any} board */
function layoutTools(board) {
  const bridges = board.bridges.length ? `<button type="button" data-bridges="${safe(board.id)}" aria-pressed="${moving.has(board.id)}">move bridges</button>` : "";
  const said = moving.has(board.id) ? "Drag a bridge along its outline, or move it with the arrow keys. The job then says where it is." : keeping.has(board.id) ? "Tap a part: it stays there while the others are laid out. Tap it again to let it go." : "";
  return `<div class="l-tools"><button type="button" data-keeping="${safe(board.id)}" aria-pressed="${keeping.has(board.id)}">keep parts here</button>${bridges}<span>${said}</span></div>`;
}

/** The parts that the job keeps: the place of each in the file. */
function kept() {
  /** @type {{index: number, item: string, part: string, unit: number, board: string, number: number, at: boolean}[]} */ const found = [];
  const walk = (/** @type {any} */ group) => {
    if (group.path && group.path[0] === "keep" && !group.added) {
      const value = (/** @type {string} */ name) => { const line = group.lines.find((/** @type {any} */ one) => one.name === name); return line ? (line.typed === null ? line.usual : line.typed) : ""; };
      found.push({ index: Number(group.path[1]), item: value("item"), part: value("part"), unit: Number(value("unit")), board: value("board"), number: Number(value("number")), at: value("at") !== "" });
    }
    group.groups.forEach(walk);
  };
  state.look.sections.forEach(walk);
  return found;
}

/** @param {any} board @param {number} number */
function keepHtml(board, number) {
  const all = kept();
  return `<svg class="l-over" data-keeps="${number}" viewBox="0 0 ${plain(board.width)} ${plain(board.height)}" role="group" aria-label="${safe(board.id)}: parts to keep">${board.parts.map((/** @type {any} */ part, /** @type {number} */ place) => {
    const [x0, y0, x1, y1] = part.box, is = all.some(one => one.item === part.item && one.part === part.part && one.unit === part.unit);
    return `<rect class="l-keep" tabindex="${keeping.has(board.id) ? 0 : -1}" role="checkbox" aria-checked="${is}" aria-label="keep ${safe(part.part)} of ${safe(part.item)} ${part.unit}" data-keep="${place}" x="${plain(board.left + x0)}" y="${plain(board.bottom - y1)}" width="${plain(x1 - x0)}" height="${plain(y1 - y0)}"/>`;
  }).join("")}</svg>`;
}

/** Keep a part where it lies, or let it go. @param {Element} at */
function toggleKept(at) {
  const board = state.plan.boards[Number(at.closest("svg")?.getAttribute("data-keeps"))], part = board.parts[Number(at.getAttribute("data-keep"))], all = kept();
  const mine = all.find(one => one.item === part.item && one.part === part.part && one.unit === part.unit);
  if (mine) { edit([{ path: ["keep", mine.index], value: null }]); return; }
  // A board that has a kept part already is that one; else it is the first of its kind without.
  const beside = all.find(one => one.board === board.board && one.at && board.parts.some((/** @type {any} */ other) => other.item === one.item && other.part === one.part && other.unit === one.unit));
  let number = beside ? beside.number : board.numbers[0];
  while (!beside && number < board.numbers[1] && all.some(one => one.board === board.board && one.at && one.number === number)) { number++; }
  const mm = (/** @type {number} */ value) => state.look.unit === "mm" ? Number(value.toFixed(3)) : `${Number(value.toFixed(3))} mm`;
  /** @type {any} */ const value = { item: part.item, part: part.part, unit: part.unit, board: board.board, number, at: [mm(part.box[0]), mm(part.box[1])] };
  if (part.turned % 360) { value.turned = plain(part.turned); }
  if (part.mirrored) { value.mirrored = true; }
  edit([{ path: ["keep", all.length], value }]);
}

/** @param {any} board @param {number} number */
function bridgesHtml(board, number) {
  if (!board.bridges.length) { return ""; }
  const r = plain(Math.max(board.width / 110, 3));
  return `<svg class="l-over" data-layout="${number}" viewBox="0 0 ${plain(board.width)} ${plain(board.height)}" role="group" aria-label="${safe(board.id)}: bridges">${board.bridges.map((/** @type {any} */ one, /** @type {number} */ place) => {
    const part = board.parts[one.number - 1];
    return `<circle class="l-handle" tabindex="0" role="button" aria-label="bridge at ${safe(part.part)} of ${safe(part.item)}, ${part.number}" data-bridge="${place}" cx="${plain(board.left + one.at[0])}" cy="${plain(board.bottom - one.at[1])}" r="${r}" stroke-width="${plain(r / 3)}" fill-opacity="0.2"/>`;
  }).join("")}</svg>`;
}

function searchHtml() {
  const doing = state.doing && state.doing.version === state.version ? state.doing : null;
  const efforts = state.efforts.map((/** @type {string} */ one) => `<option${one === state.effort ? " selected" : ""}>${one}</option>`).join("");
  const words = !doing ? "" : doing.compiling ? "compiling, once on this computer" : doing.stage === "layout" && doing.boards ? `looking for a better layout: ${doing.boards === 1 ? "1 board" : `${doing.boards} boards`} so far` : `working: ${doing.stage}`;
  return `<div class="l-group" role="group" aria-label="the search"><h3>the search</h3>
<div class="l-line"><label for="effort">effort</label><select id="effort" data-search="effort"${state.read_only ? " disabled" : ""}>${efforts}</select></div>
<div class="l-line"><label for="seed">seed</label><input id="seed" data-search="seed" inputmode="numeric" value="${state.seed}"${state.read_only ? " disabled" : ""}></div>
<div class="l-progress">${doing ? `<progress max="1" value="${doing.done || 0}" aria-label="how far the search is"></progress><span>${safe(words)}</span>${state.read_only ? "" : '<button type="button" data-do="enough">Keep the best so far</button>'}` : ""}</div></div>`;
}

/** @param {any} table @param {any} before */
function tableHtml(table, before) {
  if (!table || !table.rows.length) { return ""; }
  const was = (/** @type {string[]} */ row, /** @type {number} */ column) => {
    if (!before || column < 2) { return ""; }
    const same = before.rows.find((/** @type {string[]} */ one) => one[0] === row[0] && (table.heads[1] !== "sold by" || one[1] === row[1]));
    const at = before.heads.indexOf(table.heads[column]);
    return same && at >= 0 && same[at] !== row[column] ? `<span class="l-was">was ${safe(same[at])}</span>` : "";
  };
  return `<div class="l-scroll" tabindex="0" role="group" aria-label="figures"><table role="table"><thead role="rowgroup"><tr role="row">${table.heads.map((/** @type {string} */ one) => `<th role="columnheader" scope="col">${safe(one)}</th>`).join("")}</tr></thead><tbody role="rowgroup">${table.rows.map((/** @type {string[]} */ row) => `<tr role="row">${row.map((cell, column) => `<td role="cell" data-head="${safe(table.heads[column])}"${column ? "" : ' class="s-first"'}>${safe(cell)}${was(row, column)}</td>`).join("")}</tr>`).join("")}</tbody></table></div>`;
}

function moneyHtml() {
  const plan = state.plan;
  if (!plan) { return ""; }
  const old = plan.version !== state.version ? ' class="l-of-before"' : "", before = state.before;
  const named = (plan.money && plan.money.usual || []).map((/** @type {string} */ one) => { const [table, name] = one.split("."); return `${spaced(name)} (${table})`; });
  const usual = named.length ? `<p>Usual figures, without a source: ${named.slice(0, 6).map(safe).join(", ")}${named.length > 6 ? ` and ${named.length - 6} more` : ""}. Time your own work and put it ${state.shop ? "in the lines of the shop's figures below" : "in a shop file"}.</p>` : "";
  const money = plan.money ? `<p>Money is in ${safe(plan.money.currency)}.</p>` : "";
  return `<div${old}>${money}${tableHtml(plan.costs, before && before.costs)}${tableHtml(plan.prices, before && before.prices)}${chosenHtml(plan)}<ul>${plan.sold.map((/** @type {string} */ one) => `<li>${safe(one)}</li>`).join("")}</ul>${usual}</div>`;
}

/** What was chosen of counts that were left open. @param {any} plan */
function chosenHtml(plan) {
  if (!plan.chosen || !plan.chosen.length) {
    return state.read_only ? "" : '<p><button type="button" data-do="ask-counts">What to make for most profit</button> leaves the counts of the items open: as many as fit, from this wood and these hours.</p>';
  }
  return `<p>Chosen: ${plan.chosen.map((/** @type {any[]} */ [name, count]) => `${count} x ${safe(name)}`).join(", ")}.</p>${state.read_only ? "" : '<p><button type="button" data-do="take-counts">Put these counts in the job</button></p>'}`;
}

function daysHtml() {
  const found = days && days.weeks ? `<p>${days.opening.map(safe).join("<br>")}</p>${tableHtml(days.make, null)}${days.refuse.rows.length ? `<h3>Refuse, or agree on a later day</h3>${tableHtml(days.refuse, null)}` : ""}<p style="white-space:pre-wrap">${safe(days.weeks.join("\n"))}</p>` : days && days.said ? `<p class="l-said">${days.said.map(safe).join("<br>")}</p>` : days && days.asked ? "<p>Being worked out.</p>" : "";
  const today = new Date(); today.setMinutes(today.getMinutes() - today.getTimezoneOffset());
  return `<section class="l-section" id="part-days" aria-labelledby="title-days"><h2 id="title-days">By which day</h2><div class="l-drawn">${found}</div><div class="l-list"><div class="l-line"><label for="day">first day of work</label><input id="day" type="date" value="${days && days.from ? safe(days.from) : today.toISOString().slice(0, 10)}"></div><p><button type="button" data-do="dates">What is ready by which day</button></p><p>Orders are read from orders.toml beside the job, hours from the shop file.</p></div></section>`;
}

function filesHtml() {
  const words = writtenWords();
  const list = state.files.length ? `<ul class="l-files">${state.files.map((/** @type {string} */ one) => `<li><a href="${safe(address(`files/${encodeURIComponent(one)}`))}" download>${safe(one)}</a></li>`).join("")}</ul>` : "<p>There are files once the job is proven.</p>";
  const stocks = (wood ? wood.stocks : []).filter((/** @type {any} */ one) => one.taken);
  const said = words ? `<p>${words}</p>` : "";
  const ready = proofState()[0] !== "wrong";
  return `<section class="l-section" id="part-files" aria-labelledby="title-files"><h2 id="title-files">The files</h2><div class="l-drawn">${list}</div><div class="l-list">
${state.read_only ? "" : `<p><button type="button" data-do="write"${ready ? "" : " disabled"}>Write the files</button> to ${safe(state.to_folder)}, as <code>${safe(state.command)}</code> does.</p>
${stocks.map((/** @type {any} */ one) => `<p><button type="button" data-offcuts="${safe(one.file)}"${ready ? "" : " disabled"}>Write the files, offcuts to ${safe(one.file)}</button></p>`).join("")}`}${said}</div></section>`;
}

function textHtml() {
  return `<section class="l-text" id="part-text" aria-labelledby="title-text"><details data-open="text"><summary><h2 id="title-text">The job file</h2></summary>${textOpen ? `<label class="l-unseen" for="text">text of the job</label><textarea id="text" data-own spellcheck="false"${state.read_only ? " readonly" : ""}></textarea>${state.read_only ? "" : '<p><button type="button" data-do="put">Put this text in the file</button></p>'}` : ""}</details></section>`;
}

function startHtml() {
  const jobs = state.jobs.length ? `<section><h2>Open a job</h2><div class="l-tools">${state.jobs.map((/** @type {string} */ one) => `<button type="button" data-job="${safe(one)}">${safe(one)}</button>`).join("")}</div></section>` : "";
  const list = designs ? designs.map((/** @type {any} */ one) => `<div class="l-design" data-key="${safe(one.name)}"><h3>${safe(one.name)}</h3><p>${safe(one.summary)}</p><div class="l-sizes">${one.sizes.map((/** @type {any} */ size) => `<button type="button" data-design="${safe(one.name)}" data-size="${safe(size.size)}">${size.picture || ""}<span>${safe(size.size)}</span><small>${safe(size.words)}</small></button>`).join("")}</div></div>`).join("") : "<p>Drawing the designs.</p>";
  return `${jobs}<section><h2>Begin one from a design, at a size</h2><div class="l-new"><label for="units">unit of the job</label> <select id="units" style="width:auto"><option value="in">inches</option><option value="mm">millimetres</option></select></div><div class="l-designs">${list}</div></section>`;
}

// ---- putting it on the page: what has not changed stays, and so do the focus and what is being typed

/** @param {Element} box @param {string} html */
function morph(box, html) {
  const made = document.createElement("template");
  made.innerHTML = html;
  children(box, made.content);
}

/** @param {Element|DocumentFragment} old @param {Element|DocumentFragment} next */
function children(old, next) {
  /** @type {Map<string, Element>} */ const keyed = new Map();
  for (const one of old.children) { const name = one.getAttribute("data-key"); if (name) { keyed.set(name, one); } }
  let here = old.firstChild;
  for (const wanted of [...next.childNodes]) {
    const name = wanted instanceof Element ? wanted.getAttribute("data-key") : null;
    let match = name ? keyed.get(name) || null : here;
    if (name && match && match !== here) { old.insertBefore(match, here); }
    if (!name && match instanceof Element && match.hasAttribute("data-key")) { match = null; }
    if (match && match.nodeType === wanted.nodeType && match.nodeName === wanted.nodeName) {
      node(match, wanted);
      here = match.nextSibling;
    } else { old.insertBefore(wanted, here); }
  }
  while (here) { const gone = here; here = here.nextSibling; gone.remove(); }
}

/** @param {ChildNode} old @param {ChildNode} next */
function node(old, next) {
  if (!(old instanceof Element) || !(next instanceof Element)) { if (old.nodeValue !== next.nodeValue) { old.nodeValue = next.nodeValue; } return; }
  if (old.isEqualNode(next) && !(old instanceof HTMLInputElement) && !(old instanceof HTMLSelectElement)) { return; }
  if (dragged && old.contains(dragged.element)) { return; }
  for (const one of [...old.attributes]) { if (!next.hasAttribute(one.name) && !(one.name === "open" && old.nodeName === "DETAILS")) { old.removeAttribute(one.name); } }
  for (const one of next.attributes) { if (old.getAttribute(one.name) !== one.value) { old.setAttribute(one.name, one.value); } }
  if (old.hasAttribute("data-own")) { return; }
  children(old, next);
  if (old instanceof HTMLInputElement && old.type !== "checkbox" && !(old === document.activeElement && touched.has(old))) { const value = next.getAttribute("value") || ""; if (old.value !== value && !refused.has(old.dataset.path || "") && !waits(old.dataset.path || "")) { old.value = value; } }
  if (old instanceof HTMLInputElement && old.type === "checkbox") { old.checked = next.hasAttribute("checked"); }
  if (old instanceof HTMLSelectElement && old !== document.activeElement) { const chosen = [...old.options].findIndex(one => one.hasAttribute("selected")); if (chosen >= 0) { old.selectedIndex = chosen; } }
}

/** Put a look's pictures in their places, while something is dragged. @param {any} look */
function pictures(look) {
  drawn.delete("make");
  look.items.forEach((/** @type {any} */ item, /** @type {number} */ number) => {
    for (const [name, value] of [["picture", item.picture], ["parts", item.parts]]) {
      const box = sheet.querySelector(`[data-${name}="${number}"]`);
      if (box && value) { box.innerHTML = value; }
    }
    const measures = sheet.querySelector(`[data-measures="${number}"]`);
    if (measures) { measures.innerHTML = measuresHtml(item); }
    item.drawings.forEach((/** @type {any} */ one, /** @type {number} */ place) => {
      const box = sheet.querySelector(`[data-base="${number}.${place}"]`), before = state.look.items[number]?.drawings[place];
      if (!box || !before) { return; }
      box.innerHTML = one.whole ? item.picture : one.svg;
      // The part grows where it stands: its frame stays in its place until the drag ends.
      box.querySelector("svg")?.setAttribute("viewBox", `${plain(one.left - before.left)} ${plain(one.bottom - before.bottom)} ${plain(before.width)} ${plain(before.height)}`);
    });
  });
  const mistake = look.mistakes[0];
  if (mistake) { say(mistake.words); }
}

// ---- what people do

/** @param {string} id */
function lineAt(id) {
  /** @type {any} */ let found = null;
  const walk = (/** @type {any} */ group) => { for (const one of group.lines) { if (key(one.path) === id) { found = one; } } group.groups.forEach(walk); };
  state.look.sections.forEach(walk);
  return found;
}

/** @param {any} line @param {number} amount */
function typedAs(line, amount) {
  return line.kind === "length" ? onTape(amount, state.look.unit) : String(plain(amount));
}

/** @param {any} line */
function stepOf(line) { return line.kind === "length" ? state.look.tape : line.kind === "count" ? 1 : 0.01; }

/** @param {any} line @param {number} amount */
function within(line, amount) {
  const low = line.least === null ? (line.kind === "count" ? 0 : -Infinity) : line.least, high = line.greatest === null ? Infinity : line.greatest;
  return Math.min(high, Math.max(low, stepped(amount, stepOf(line))));
}

sheet.addEventListener("input", event => { const field = /** @type {HTMLElement} */ (event.target); if (field.dataset.path) { touched.add(field); } });

sheet.addEventListener("change", event => {
  const field = /** @type {HTMLInputElement} */ (event.target);
  if (field.dataset.path) {
    touched.delete(field);
    edit([{ path: JSON.parse(field.dataset.path), kind: field.dataset.kind, typed: field.value }]);
  } else if (field.dataset.search) {
    const value = field.dataset.search === "seed" ? Number(field.value) : field.value;
    ask("search", { [field.dataset.search]: value }).then(take, error => refusedBy(error));
  } else if (field.dataset.boardOf) {
    takeBoard(field.dataset.boardOf, field.dataset.boardName || "", field.checked);
  } else if (field.dataset.stock) {
    const now = wood.stocks.filter((/** @type {any} */ one) => (one.file === field.dataset.stock ? field.checked : one.taken)).map((/** @type {any} */ one) => one.file);
    edit([{ path: ["stock"], value: now.length ? now : null }]);
  }
});

/** Take a board in stock into the job, or leave it there. @param {string} file @param {string} name @param {boolean} taken */
function takeBoard(file, name, taken) {
  const stocks = wood.stocks, own = stocks.find((/** @type {any} */ one) => one.file === file);
  const files = stocks.filter((/** @type {any} */ one) => one.taken || (one.file === file && taken)).map((/** @type {any} */ one) => one.file);
  /** @type {string[]} */ const left = stocks.filter((/** @type {any} */ one) => files.includes(one.file)).flatMap((/** @type {any} */ one) => one.boards.filter((/** @type {any} */ board) =>
    board.name === name && one === own ? !taken : !(board.taken)).map((/** @type {any} */ board) => board.name));
  edit([{ path: ["stock"], value: files.length ? files : null }, ...(left.length || hasLine("left_in_stock") ? [{ path: ["left_in_stock"], value: left.length ? [...new Set(left)] : null }] : [])]);
}

/** Whether the file says something at a key of its own. @param {string} name */
function hasLine(name) { const line = lineAt(key([name])); return Boolean(line && line.typed !== null); }

document.addEventListener("toggle", event => {
  const box = /** @type {HTMLDetailsElement} */ (event.target);
  if (!box.dataset || !box.dataset.open) { return; }
  if (box.open) { opened.add(box.dataset.open); } else { opened.delete(box.dataset.open); }
  if (box.dataset.open === "text" && box.open !== textOpen) { textOpen = box.open; draw(); textOf = null; if (textOpen) { fillText(); } }
}, true);

/** Put the file's text in its field, unless something is typed there that the file does not have. */
async function fillText() {
  const area = textField(), before = area && area.value;
  if (!area || isTyped(area)) { return; }
  let answer, text;
  try { answer = await fetch(address("job")); text = await answer.text(); } catch { isGone(true); return; }
  const version = Number((answer.headers.get("ETag") || "0").replaceAll('"', ""));
  if (!answer.ok || area !== textField() || (textOf && (area.value !== before || version < textOf.version))) { return; }
  area.value = text;
  textOf = { version, ends: text.includes("\r\n") && !/(^|[^\r])\n/.test(text) ? "\r\n" : "\n", text: area.value };
}

/** @returns {HTMLTextAreaElement|null} */
function textField() { return /** @type {HTMLTextAreaElement|null} */ (document.getElementById("text")); }

/** Whether the field has words that the file did not have when it was put there. @param {HTMLTextAreaElement} area */
function isTyped(area) { return textOf !== null && area.value !== textOf.text; }

document.addEventListener("click", event => {
  const button = /** @type {HTMLElement} */ (event.target).closest("button");
  const part = /** @type {Element} */ (event.target).closest("[data-keep]");
  if (part) { toggleKept(part); return; }
  if (!button) { const svg = /** @type {Element} */ (event.target).closest("svg[data-board]"); if (svg) { tapped(/** @type {SVGSVGElement} */ (svg), /** @type {MouseEvent} */ (event)); } return; }
  const data = button.dataset;
  if (data.do) { doing(data.do); }
  else if (data.add) { edit([{ path: JSON.parse(data.add), value: newName(JSON.parse(data.value || "{}"), JSON.parse(data.add)) }]); }
  else if (data.remove) { edit([{ path: JSON.parse(data.remove), value: null }]); }
  else if (data.pinMore) { pinsChanged(data.pinMore, oneMore); }
  else if (data.pinLess) { pinsChanged(data.pinLess, pins => [...pins.slice(0, -2), pins[pins.length - 1]]); }
  else if (data.tool) { const now = drawing.get(data.tool); if (now && now.mode === data.mode) { drawing.delete(data.tool); } else { drawing.clear(); drawing.set(data.tool, { mode: data.mode || "", points: [] }); } draw(); }
  else if (data.bridges) { keeping.clear(); if (!moving.delete(data.bridges)) { moving.add(data.bridges); } draw(); }
  else if (data.keeping) { moving.clear(); if (!keeping.delete(data.keeping)) { keeping.add(data.keeping); } draw(); }
  else if (data.close) { closeOutline(data.close); }
  else if (data.alone) { oneAlone(Number(data.alone)); }
  else if (data.design) { ask("new", { design: data.design, size: data.size, units: /** @type {HTMLSelectElement} */ (document.getElementById("units")).value }).then(take, error => refusedBy(error)); }
  else if (data.job) { ask("open", { name: data.job }).then(take, error => refusedBy(error)); }
  else if (data.offcuts) { ask("write", { offcuts: data.offcuts }).then(take, error => refusedBy(error)); }
});

/** @param {any} value @param {(string|number)[]} path */
function newName(value, path) {
  if (!value.name) { return value; }
  /** @type {Set<string>} */ const names = new Set();
  const walk = (/** @type {any} */ group) => { if (group.path && group.path[0] === path[0]) { names.add(group.name); } group.groups.forEach(walk); };
  state.look.sections.forEach(walk);
  let name = value.name, number = 2;
  while (names.has(name)) { name = `${value.name} ${number++}`; }
  return { ...value, name };
}

/** @param {string} what */
async function doing(what) {
  try {
    if (what === "undo" || what === "redo") { turn = turn.then(() => ask(what, { version: state.version, shop_version: state.shop_version }).then(take, error => refusedBy(error))); await turn; }
    else if (what === "write") { await turn; say("writing"); take(await ask("write", {})); }
    else if (what === "begin-shop") { take(await ask("shop", {})); }
    else if (what === "enough") { await ask("enough", {}); }
    else if (what === "theirs") { conflict = null; draw(); }
    else if (what === "mine") {
      const again = conflict; conflict = null;
      if (again.text !== undefined) { await put(again.text, state.version); }
      else if (again.path === "edit") { await edit(again.body.changes, again.entries); }
      else { draw(); }
    } else if (what === "put") {
      const area = textField();
      if (area && textOf) { await put(area.value.replaceAll("\n", textOf.ends), textOf.version); }
    }
    else if (what === "ask-counts") { await edit(state.look.items.map((/** @type {any} */ one) => ({ path: [...one.path, "count"], value: "as many as fit" }))); }
    else if (what === "take-counts") {
      const chosen = state.plan.chosen;
      await edit(state.look.items.flatMap((/** @type {any} */ one) => {
        const row = chosen.find((/** @type {any} */ it) => it[0] === one.name);
        return row ? [{ path: [...one.path, "count"], value: row[1] }] : [];
      }));
    }
    else if (what === "dates") {
      const from = /** @type {HTMLInputElement} */ (document.getElementById("day")).value;
      days = { asked: true, from }; draw();
      try { days = await ask("dates", { from }); } catch (error) { days = { said: /** @type {any} */ (error).said || ["not worked out"], from }; }
      draw();
    }
  } catch (error) { refusedBy(error); }
}

/** Put a whole text in the file: every other edit comes down to this. @param {string} text @param {number} [version] */
async function put(text, version) {
  const answer = await fetch(address("job"), { method: "PUT", headers: version === undefined ? {} : { "If-Match": `"${version}"` }, body: text });
  const data = await answer.json();
  if (answer.status === 409) { conflict = { text }; take(data.state); return; }
  if (!answer.ok) { refusedBy({ said: data.said || ["this can't be done"] }); return; }
  notice = "";
  // What was typed since the press stays: it comes after the text that is in the file now.
  if (textOf) { textOf = { ...textOf, version: data.version, text: text.replaceAll("\r\n", "\n") }; }
  take(data);
}

/** @param {string} id @param {(pins: number[][]) => number[][]} change */
function pinsChanged(id, change) {
  const [item, place, edge] = id.split(".").map(Number), pins = state.look.items[item].drawings[place].pins[edge];
  edit([{ path: pins.path, value: change(pins.pins) }]);
}

// Boards: a knot, a clamp, an outline by a few taps.

/** A knot and a clamp begin with a size that a maker then sets: no source, of our own choice. @param {SVGSVGElement} svg @param {MouseEvent} event */
function tapped(svg, event) {
  const board = state.look.boards[Number(svg.dataset.board)], id = key(board.path), now = drawing.get(id);
  if (!now) { return; }
  const [u, v] = onSvg(svg, event), step = state.look.tape;
  const x = stepped(u - board.left, step), y = stepped(board.bottom - v, step), unit = state.look.unit;
  const length = (/** @type {number} */ mm) => unit === "mm" ? plain(mm) : onTape(mm, unit);
  now.points.push([x, y]);
  const stated = placesOn(board.path);
  if (now.mode === "knot") {
    drawing.delete(id);
    edit([{ path: [...board.path, "keep_out", stated], value: { at: [length(x), length(y)], radius: length(unit === "mm" ? 15 : 0.625 * 25.4), why: "knot" } }]);
  } else if (now.mode === "clamp" && now.points.length === 2) {
    const [[a, b], [c, d]] = now.points;
    drawing.delete(id);
    if (a === c || b === d) { draw(); return; }
    edit([{ path: [...board.path, "keep_out", stated], value: { outline: [[a, b], [c, b], [c, d], [a, d]].map(([p, q]) => [length(p), length(q)]), why: "clamp", height: length(unit === "mm" ? 25 : 25.4) } }]);
  } else { draw(); }
}

/** The number of places that a board keeps free. @param {(string|number)[]} path */
function placesOn(path) {
  let count = 0;
  const walk = (/** @type {any} */ group) => { if (group.path && !group.added && group.path.length === path.length + 2 && key(group.path.slice(0, -1)) === key([...path, "keep_out"])) { count++; } group.groups.forEach(walk); };
  state.look.sections.forEach(walk);
  return count;
}

/** Put one of several boards on a line of its own, so that a knot can be drawn on it alone. @param {number} number */
function oneAlone(number) {
  const board = state.look.boards[number];
  /** @type {any} */ let next = null;
  for (const section of state.look.sections) { for (const group of section.groups) { if (group.added && group.path.length === 2 && group.path[0] === "board") { next = group.path; } } }
  if (next) { edit([{ path: [...board.path, "count"], value: board.count - 1 }, { path: next, value: newName(board.alone, next) }]); }
}

/** @param {string} id */
function closeOutline(id) {
  const now = drawing.get(id), path = JSON.parse(id), unit = state.look.unit;
  if (!now) { return; }
  drawing.delete(id);
  const x0 = Math.min(...now.points.map(one => one[0])), y0 = Math.min(...now.points.map(one => one[1]));
  const corners = now.points.map(([x, y]) => [x - x0, y - y0].map(mm => unit === "mm" ? plain(mm) : onTape(mm, unit)));
  const gone = ["length", "width", "corners"].filter(name => { const line = lineAt(key([...path, name])); return (line && line.typed !== null) || (name === "corners" && hasGroup([...path, name])); });
  edit([...gone.map(name => ({ path: [...path, name], value: null })), { path: [...path, "outline"], value: corners }]);
}

/** @param {(string|number)[]} path */
function hasGroup(path) {
  let found = false;
  const walk = (/** @type {any} */ group) => { if (group.path && key(group.path) === key(path) && group.removable) { found = true; } group.groups.forEach(walk); };
  state.look.sections.forEach(walk);
  return found;
}

// Dragging: handles, pins, bridges and the grips of lines.

document.addEventListener("pointerdown", event => {
  const at = /** @type {Element} */ (event.target);
  if (!state || state.read_only || event.button !== 0) { return; }
  const grip = /** @type {HTMLElement|null} */ (at.closest("[data-grip]"));
  const start = { element: at, x: event.clientX, y: event.clientY, changes: /** @type {Change[]|null} */ (null) };
  if (grip) {
    const line = lineAt(grip.dataset.grip || ""), from = Number(grip.dataset.amount);
    dragged = { ...start, element: grip, move: (/** @type {PointerEvent} */ one) => {
      const amount = within(line, from + Math.round((one.clientX - start.x) / 4) * stepOf(line));
      showTyped(line, amount);
      return [{ path: line.path, kind: line.kind, typed: typedAs(line, amount) }];
    } };
  } else if (at.matches("[data-handle], [data-pin]")) { dragged = { ...start, ...handleDrag(at, event) }; }
  else if (at.matches("[data-bridge]")) { dragged = { ...start, ...bridgeDrag(at) }; }
  else { return; }
  event.preventDefault();
  /** @type {any} */ (dragged.element).setPointerCapture?.(event.pointerId);
  dragged.element.focus?.();
});

// In a drawing `touch-action` does not hold for its shapes: without this a finger on a point scrolls the page.
document.addEventListener("touchstart", event => {
  if (dragged && /** @type {Element} */ (event.target).closest("[data-handle], [data-pin], [data-bridge], [data-grip]")) { event.preventDefault(); }
}, { passive: false });

document.addEventListener("pointermove", event => {
  if (!dragged) { return; }
  if (!dragged.moved && Math.hypot(event.clientX - dragged.x, event.clientY - dragged.y) < 3) { return; }
  if (!dragged.moved) { dragged.moved = true; morph(bar, barHtml()); }
  dragged.changes = dragged.move(event);
  if (dragged.changes && !dragged.quiet) { follow(dragged.changes); }
});

document.addEventListener("pointerup", event => {
  if (!dragged) { return; }
  drawn.clear();
  const done = dragged; dragged = null;
  /** @type {any} */ (done.element).releasePointerCapture?.(event.pointerId);
  if (done.moved && done.changes) { edit(done.changes); } else { draw(); }
});
document.addEventListener("pointercancel", () => { dragged = null; drawn.clear(); draw(); });

/** @param {any} line @param {number} amount */
function showTyped(line, amount) {
  const field = /** @type {HTMLInputElement|null} */ (sheet.querySelector(`[data-path="${CSS.escape(key(line.path))}"]`));
  if (field) { field.value = typedAs(line, amount); }
}

/** @param {Element} at @param {PointerEvent} event */
function handleDrag(at, event) {
  const figure = /** @type {HTMLElement} */ (at.closest("[data-hand]")), svg = /** @type {SVGSVGElement} */ (at.closest("svg"));
  const [item, place] = (figure.dataset.hand || "").split(".").map(Number), one = state.look.items[item].drawings[place];
  const from = onSvg(svg, event);
  if (at.matches("[data-pin]")) {
    const edge = one.pins[Number(at.getAttribute("data-pins"))], pin = Number(at.getAttribute("data-pin")), side = Number(at.getAttribute("data-side"));
    return { move: (/** @type {PointerEvent} */ now) => {
      const [u, v] = onSvg(svg, now), next = movedPin(edge, pin, side * (u - one.left), one.bottom - v);
      showPin(svg, one, edge, pin, next);
      return [{ path: edge.path, value: edge.pins.map((/** @type {number[]} */ old, /** @type {number} */ index) => index === pin ? next : old) }];
    } };
  }
  const handle = one.handles[Number(at.getAttribute("data-handle"))], line = lineAt(key(handle.path));
  return { move: (/** @type {PointerEvent} */ now) => {
    const [u, v] = onSvg(svg, now), along = (u - from[0]) * handle.way[0] - (v - from[1]) * handle.way[1];
    const amount = within(line, handle.value + along * handle.per);
    const moved = (amount - handle.value) / handle.per;
    at.setAttribute("cx", String(plain(one.left + handle.at[0] + moved * handle.way[0])));
    at.setAttribute("cy", String(plain(one.bottom - handle.at[1] - moved * handle.way[1])));
    const words = svg.querySelector(`[data-of="${at.getAttribute("data-handle")}"]`);
    if (words) { words.textContent = `${spaced(handle.name)} ${typedAs(line, amount)}`; }
    showTyped(line, amount);
    return [{ path: handle.path, kind: line.kind, typed: typedAs(line, amount) }];
  } };
}

/** @param {SVGSVGElement} svg @param {any} one @param {any} edge @param {number} pin @param {number[]} next */
function showPin(svg, one, edge, pin, next) {
  const number = one.pins.indexOf(edge), [x, y] = placeOf(edge, next);
  for (const circle of svg.querySelectorAll(`[data-pins="${number}"][data-pin="${pin}"]`)) {
    circle.setAttribute("cx", String(plain(one.left + Number(circle.getAttribute("data-side")) * x)));
    circle.setAttribute("cy", String(plain(one.bottom - y)));
    if (circle.nextElementSibling?.classList.contains("l-measure")) { circle.nextElementSibling.textContent = pinWords(edge, next, state.look.unit); }
  }
}

/** @param {Element} at */
function bridgeDrag(at) {
  const svg = /** @type {SVGSVGElement} */ (at.closest("svg")), board = state.plan.boards[Number(svg.dataset.layout)], bridge = board.bridges[Number(at.getAttribute("data-bridge"))];
  return { quiet: true, move: (/** @type {PointerEvent} */ now) => {
    const [u, v] = nearestOn(outlinesOf(svg), onSvg(svg, now));
    at.setAttribute("cx", String(plain(u))); at.setAttribute("cy", String(plain(v)));
    return bridgesMoved(board, bridge, [u - board.left, board.bottom - v]);
  } };
}

/** The outlines drawn below an overlay. @param {SVGSVGElement} svg @returns {SVGGeometryElement[]} */
function outlinesOf(svg) {
  return /** @type {SVGGeometryElement[]} */ ([...(svg.previousElementSibling?.querySelectorAll("g.outside-cut path") || [])]);
}

/** The tabs of a part with one bridge at another place; the others stay. @param {any} board @param {any} bridge @param {number[]} place @returns {Change[]} */
function bridgesMoved(board, bridge, place) {
  const part = board.parts[bridge.number - 1], item = state.look.items.findIndex((/** @type {any} */ one) => one.name === part.item);
  const own = board.bridges.filter((/** @type {any} */ one) => one.number === bridge.number).map((/** @type {any} */ one) => one === bridge ? inPart(part, place) : one.own);
  const unit = state.look.unit, points = own.map((/** @type {number[]} */ at) => at.map(mm => unit === "mm" ? plain(Math.round(mm * 10) / 10) : `${plain(Math.round(mm * 10) / 10)} mm`));
  return [{ path: ["make", item, "tabs", part.part], value: points }];
}

document.addEventListener("keydown", event => {
  const at = /** @type {Element} */ (event.target), way = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
  const typing = at.matches("input, textarea, select");
  if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z" && !typing && state && state.job !== null) { event.preventDefault(); doing(event.shiftKey ? "redo" : "undo"); return; }
  if (at.matches("[data-keep]") && (event.key === " " || event.key === "Enter")) { event.preventDefault(); toggleKept(at); return; }
  if (event.key === "Escape") { touched.delete(at); dragged = null; drawn.clear(); drawing.clear(); draw(); return; }
  if (!way || !state || state.read_only || typing) { return; }
  if (at.matches("[data-grip]")) {
    const line = lineAt(at.getAttribute("data-grip") || ""), amount = within(line, line.amount + (way[0] + way[1]) * stepOf(line));
    event.preventDefault();
    edit([{ path: line.path, kind: line.kind, typed: typedAs(line, amount) }]);
  } else if (at.matches("[data-handle], [data-pin]")) {
    const figure = /** @type {HTMLElement} */ (at.closest("[data-hand]")), [item, place] = (figure.dataset.hand || "").split(".").map(Number), one = state.look.items[item].drawings[place];
    event.preventDefault();
    if (at.matches("[data-pin]")) {
      const edge = one.pins[Number(at.getAttribute("data-pins"))], pin = Number(at.getAttribute("data-pin")), old = placeOf(edge, edge.pins[pin]);
      const next = movedPin(edge, pin, old[0] + way[0] * edge.half / 50, old[1] + way[1] * edge.height / 50);
      edit([{ path: edge.path, value: edge.pins.map((/** @type {number[]} */ kept, /** @type {number} */ index) => index === pin ? next : kept) }]);
    } else {
      const handle = one.handles[Number(at.getAttribute("data-handle"))], line = lineAt(key(handle.path));
      edit([{ path: handle.path, kind: line.kind, typed: typedAs(line, within(line, handle.value + (way[0] + way[1]) * stepOf(line))) }]);
    }
  } else if (at.matches("[data-bridge]")) {
    event.preventDefault();
    const svg = /** @type {SVGSVGElement} */ (at.closest("svg")), board = state.plan.boards[Number(svg.dataset.layout)], bridge = board.bridges[Number(at.getAttribute("data-bridge"))];
    const [u, v] = nearestOn(outlinesOf(svg), [board.left + bridge.at[0] + 3 * way[0], board.bottom - bridge.at[1] - 3 * way[1]]);
    edit(bridgesMoved(board, bridge, [u - board.left, board.bottom - v]));
  }
});

listen();
