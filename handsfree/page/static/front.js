// The front page. Whatever a plan, a name or a journal says goes into the page as text.

const at = (id) => document.getElementById(id);
const VIEWS = ["work", "new", "past", "machine", "settings"];
const HINTS = {
  words: "a few words",
  count: "a whole number from 1 to 99",
  labels: "words with commas between",
};
const STYLES = { terse: "terse: the number and what to do", normal: "normal", full: "full: with position and unit" };
const WHO = "handsfree who", SOUND = "handsfree sound", DRAFT = "handsfree new engine";
let state = { plans: [], templates: [] };

/** Make an element: its name, what it holds (text or elements), its properties. */
function make(name, holds = [], properties = {}) {
  const node = document.createElement(name);
  node.append(...[holds].flat());
  for (const [key, value] of Object.entries(properties)) {
    if (key.startsWith("aria-") || key === "for") node.setAttribute(key, value);
    else node[key] = value;
  }
  return node;
}

// ---- asking

async function answered(request) {
  let answer;
  try {
    answer = await request;
  } catch {
    throw new Error("handsfree doesn't answer. Is it still running?");
  }
  if (answer.status === 403) {
    location.assign("/enter");
    throw new Error("This page needs a new pass: it stands where handsfree was started.");
  }
  let told;
  try {
    told = await answer.json();
  } catch {
    throw new Error("handsfree gave an answer that can't be read; load the page again.");
  }
  if (!answer.ok) throw new Error(told.error || "That didn't work.");
  return told;
}

function look(path, query = {}) {
  return answered(fetch(`/front/${path}?${new URLSearchParams(query)}`));
}

function tell(path, form) {
  const body = JSON.stringify(form);
  return answered(fetch(`/front/${path}`, { method: "POST", headers: { "Content-Type": "application/json" }, body }));
}

/** Do what a button asks for, once at a time; a fault is shown as its sentence. */
async function busy(button, work, fault = at("fault")) {
  fault.textContent = "";
  if (button) button.disabled = true;
  try {
    return await work();
  } catch (why) {
    fault.textContent = why.message;
    fault.scrollIntoView({ block: "nearest" });
    return undefined;
  } finally {
    if (button) button.disabled = false;
  }
}

function pressed(id, work) {
  at(id).addEventListener("click", () => busy(at(id), work));
}

// ---- views

function showView(moved) {
  const name = VIEWS.includes(location.hash.slice(1)) ? location.hash.slice(1) : "work";
  for (const view of VIEWS) at(view).hidden = view !== name;
  for (const link of document.querySelectorAll("nav a")) {
    if (link.hash === `#${name}`) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
  at("fault").textContent = "";
  if (moved) at(`${name}-head`).focus();
  if (name === "past") busy(null, search);
  if (name === "settings") busy(null, showSettings);
  if (name === "work") busy(null, showState);
}
addEventListener("hashchange", () => showView(true));
addEventListener("pageshow", (event) => event.persisted && busy(null, showState));

// ---- work

async function showState() {
  state = await look("state");
  at("folder").textContent = state.folder;
  at("why").textContent = state.why;
  at("version").textContent = state.version;
  at("now").hidden = state.at_work === null;
  at("now-plan").textContent = state.at_work || "a trial, of which nothing is kept";
  if (state.fault && state.at_work === null) at("fault").textContent = state.fault;
  at("no-plans").hidden = state.plans.length > 0;
  at("ways").hidden = state.plans.length === 0;
  at("plans").replaceChildren(...state.plans.map(planCard));
  if (!at("templates").firstChild) showTemplates();
}

function planCard(plan) {
  const card = make("li", [make("h3", plan.name)]);
  if (plan.fault) {
    card.append(make("p", plan.fault, { className: "fault" }));
    return card;
  }
  card.append(make("p", `${plan.engine}: ${plan.checks.join(", ")}`));
  const standing = plan.journal ? `${plan.standing}${plan.finished ? ", finished" : ""}` : "not begun";
  card.append(make("p", `${standing} (${plan.file}${plan.journal ? `, ${plan.journal}` : ""})`, { className: "soft" }));
  const row = make("p", [], { className: "row" });
  const first = make("button", plan.journal ? "Go on" : "Begin", { type: "button", className: "act" });
  first.setAttribute("aria-label", `${first.textContent}: ${plan.name}`);
  first.addEventListener("click", () => busy(first, () => begin(card, { plan: plan.file })));
  row.append(first);
  if (plan.journal) {
    const fresh = make("button", "Another session", { type: "button" });
    fresh.setAttribute("aria-label", `Another session, with a journal of its own: ${plan.name}`);
    fresh.addEventListener("click", () => busy(fresh, () => begin(card, { plan: plan.file, fresh: true })));
    row.append(fresh);
  }
  const printed = make("button", "Print the card", { type: "button" });
  printed.setAttribute("aria-label", `Print the card: ${plan.name}`);
  printed.addEventListener("click", () => busy(printed, async () => print((await look("card", { plan: plan.file })).card)));
  row.append(printed);
  card.append(row);
  return card;
}

async function begin(card, order) {
  localStorage.setItem(WHO, at("who").value);
  localStorage.setItem(SOUND, at("sound").value);
  try {
    location.assign((await tell("begin", { ...order, who: at("who").value, sound: at("sound").value })).go);
  } catch (why) {
    if (card && why.message.includes("--changed-plan")) offerChanged(card, order);
    throw why;
  }
}

/** The plan was edited since its journal was begun: ask how to go on. */
function offerChanged(card, order) {
  if (card.querySelector(".changed")) return;
  const row = make("p", [make("span", "The plan was edited since. Go on, and")], { className: "row changed" });
  for (const [way, text] of [["keep", "keep its verdicts"], ["judge", "judge what stands anew"]]) {
    const button = make("button", text, { type: "button" });
    button.addEventListener("click", () => busy(button, () => begin(null, { ...order, changed_plan: way })));
    row.append(button);
  }
  card.append(row);
  row.querySelector("button").focus();
}

function print(card) {
  at("card").textContent = card;
  window.print();
}

pressed("end", async () => {
  await tell("end", {});
  for (let tries = 0; tries < 40; tries += 1) {
    await showState();
    if (state.at_work === null) return;
    await new Promise((done) => setTimeout(done, 250));
  }
});

// ---- a new engine

let chosen = [], asked = [], made = null;

function showTemplates() {
  at("templates").replaceChildren(
    ...state.templates.map(({ name, about }) => {
      const tick = make("input", [], { type: "checkbox", value: name });
      tick.addEventListener("change", () => {
        chosen = chosen.filter((each) => each !== name);
        if (tick.checked) chosen.push(name);
        busy(null, showQuestions, at("plan-fault"));
      });
      return make("label", [tick, make("span", [make("b", name), `: ${about}`])]);
    }),
  );
  const kept = JSON.parse(sessionStorage.getItem(DRAFT) || "null");
  if (!kept) return;
  chosen = kept.chosen.filter((name) => state.templates.some((each) => each.name === name));
  for (const tick of at("templates").querySelectorAll("input")) tick.checked = chosen.includes(tick.value);
  busy(null, () => showQuestions(kept.answers), at("plan-fault"));
}

function answers() {
  const found = {};
  for (const field of at("questions").querySelectorAll("[name]")) found[field.name] = field.value;
  return found;
}

function keepDraft() {
  sessionStorage.setItem(DRAFT, JSON.stringify({ chosen, answers: answers() }));
  showAsked();
}

/** Ask what the chosen checks need; what was typed before stays. */
async function showQuestions(typed = answers()) {
  at("order").textContent = chosen.length > 1 ? `Order of work: ${chosen.join(", ")}` : "";
  asked = chosen.length ? await look("questions", { checks: chosen.join(",") }) : [];
  at("questions").replaceChildren(...asked.map((question) => questionField(question, typed[question.key] ?? "")));
  at("contradictions").replaceChildren();
  at("make").textContent = "Make the plan";
  keepDraft();
}

function questionField(question, typed) {
  const id = `q-${question.key}`, described = { "aria-describedby": `${id}-hint ${id}-fault` };
  let field;
  if (question.choices.length) {
    const usual = question.defaults[""] ?? "";
    const choices = question.optional || !usual ? ["", ...question.choices] : question.choices;
    field = make("select", choices.map((choice) => make("option", choice || "(none)", { value: choice })), described);
    field.value = choices.includes(typed) && typed ? typed : usual;
  } else {
    field = make("input", [], { ...described, autocomplete: "off", maxLength: 400, value: typed });
  }
  field.id = id;
  field.name = question.key;
  field.addEventListener("input", () => {
    setFault(question.key, "");
    keepDraft();
  });
  return make("p", [
    make("label", question.ask, { for: id }),
    field,
    make("small", "", { id: `${id}-hint` }),
    make("span", "", { id: `${id}-fault`, className: "fault" }),
  ]);
}

/** Show what has to be answered, given the answers so far, and what an empty answer means. */
function showAsked() {
  const given = answers(), unit = given.unit || "thou";
  for (const question of asked) {
    const field = at(`q-${question.key}`);
    const needed = !question.unasked
      && (!question.where_empty.length || question.where_empty.some((key) => !(given[key] || "").trim()));
    field.parentElement.hidden = !needed;
    const usual = question.defaults[unit] ?? question.defaults[""];
    const form = question.choices.length ? "" : question.kind === "length"
      ? `a figure with its unit, such as ${question.needs_unit ? "4.005 in or 86 mm" : unit === "mm" ? "0.45 mm" : "18 thou"}`
      : HINTS[question.kind];
    const empty = usual && !question.choices.length ? `empty: ${usual}` : question.optional ? "may stay empty" : "";
    at(`${field.id}-hint`).textContent = [form, empty].filter(Boolean).join("; ");
  }
}

function setFault(key, fault) {
  const field = at(`q-${key}`);
  if (!field) return;
  at(`q-${key}-fault`).textContent = fault;
  if (fault) field.setAttribute("aria-invalid", "true");
  else field.removeAttribute("aria-invalid");
}

at("plan-form").addEventListener("submit", (event) => {
  event.preventDefault();
  busy(at("make"), makePlan, at("plan-fault"));
});

async function makePlan() {
  const anyway = at("contradictions").childElementCount > 0;
  const told = await tell("plan", { checks: chosen, answers: answers(), anyway });
  for (const question of asked) setFault(question.key, (told.faults || {})[question.key] || "");
  at("contradictions").replaceChildren(...(told.contradicts || []).map((text) => make("li", text)));
  at("make").textContent = told.contradicts ? "Make it all the same" : "Make the plan";
  if (told.faults) {
    const first = asked.find((question) => told.faults[question.key]);
    const count = Object.keys(told.faults).length;
    at("plan-fault").textContent = count > 1 ? `${count} answers won't do yet; see beside them.` : "";
    if (first) at(`q-${first.key}`).focus();
    return;
  }
  if (told.contradicts) {
    at("plan-fault").textContent = "The answers contradict each other. Mend them, or make the plan all the same.";
    return;
  }
  made = told;
  sessionStorage.removeItem(DRAFT);
  at("made-head").textContent = `The plan is in ${told.file}`;
  at("remarks").replaceChildren(...told.remarks.map((text) => make("li", text)));
  const heads = ["check", "position", "aim", "that is", "limits", "how"];
  fill(at("targets"), heads, await look("targets", { plan: told.file }));
  at("plan-form").hidden = true;
  at("made").hidden = false;
  at("made-head").focus();
}

function fill(table, heads, rows) {
  const head = make("tr", heads.map((text) => make("th", text, { scope: "col" })));
  const lines = rows.map((row) => make("tr", row.map((cell) => make("td", cell))));
  table.replaceChildren(make("thead", head), make("tbody", lines));
}

pressed("begin-made", () => begin(null, { plan: made.file }));
pressed("print-made", async () => print((await look("card", { plan: made.file })).card));
pressed("another", async () => {
  at("plan-form").hidden = false;
  at("made").hidden = true;
  await showQuestions();
  at("new-head").focus();
});

// ---- past sessions

async function search() {
  const sought = { engine: "by-engine", place: "by-place", who: "by-who", text: "by-text" };
  const query = Object.fromEntries(Object.entries(sought).map(([key, id]) => [key, at(id).value]));
  const told = await look("sessions", query);
  const more = told.more ? ` Shown are the newest; ${told.more} more fit.` : "";
  const count = told.sessions.length + told.more;
  at("found").textContent = `${count} session${count === 1 ? "" : "s"}.${more}`;
  at("unreadable").replaceChildren(...told.unreadable.map((text) => make("li", `not read: ${text}`)));
  at("sessions").replaceChildren(
    ...told.sessions.map((one) => {
      const button = make("button", "Look at it", { type: "button" });
      button.setAttribute("aria-label", `Look at ${one.file}`);
      button.addEventListener("click", () => busy(button, () => showSession(one.file)));
      const about = `${one.began}${one.who ? `, ${one.who}` : ""}, ${one.finished ? "finished" : "open"}: ${one.standing}`;
      return make("li", [
        make("h3", one.plan),
        make("p", about),
        make("p", `${one.engine} (${one.file})`, { className: "soft" }),
        make("p", button, { className: "row" }),
      ]);
    }),
  );
}

at("search").addEventListener("submit", (event) => {
  event.preventDefault();
  busy(event.submitter, search);
});

const FILES = { pdf: "Sheet (PDF)", xlsx: "Spreadsheet", csv: "CSV", json: "JSON" };
let open = "";

async function showSession(journal) {
  const told = await look("session", { journal });
  open = journal;
  at("one").hidden = false;
  at("one-head").textContent = `${told.summary.plan}, ${told.summary.began}`;
  at("one-standing").textContent = told.summary.standing;
  at("verified").replaceChildren();
  at("files").replaceChildren(
    ...told.forms.map((form) => {
      const button = make("button", FILES[form], { type: "button" });
      button.addEventListener("click", () => busy(button, () => save({ journal, form }, `${journal.replace(/\.[^.]*$/, "")}.${form}`)));
      return button;
    }),
  );
  at("drawn").replaceChildren(...told.pictures.map((one) => figure(journal, one)));
  fill(at("rows"), ["check", "position", "target", "reading", "verdict", "tries"], told.rows);
  fill(
    at("log"),
    ["no.", "at", "where", "entry", "became", "heard or keyed", "sound"],
    told.log.map((one) => [
      String(one.number), one.at, one.place, one.text, one.fate === "stands" ? "" : one.fate, one.words,
      one.sound ? hearButton(journal, one.number) : "",
    ]),
  );
  at("one-head").focus();
}

function figure(journal, { number, about }) {
  const address = (ink) => `/front/picture?${new URLSearchParams({ journal, number, ink })}`;
  const dark = make("source", [], { media: "(prefers-color-scheme: dark)", srcset: address("dark") });
  return make("figure", make("picture", [dark, make("img", [], { src: address("light"), alt: about })]), { tabIndex: 0 });
}

/** Save a file of a journal; a fault is shown instead of saved. */
async function save(query, name) {
  const answer = await fetch(`/front/file?${new URLSearchParams(query)}`);
  if (!answer.ok) throw new Error((await answer.json()).error);
  const link = make("a", "", { href: URL.createObjectURL(await answer.blob()), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

let player = null;
function hearButton(journal, number) {
  const button = make("button", "Hear", { type: "button" });
  button.setAttribute("aria-label", `Hear entry ${number}`);
  button.addEventListener("click", () =>
    busy(button, async () => {
      const answer = await fetch(`/front/sound?${new URLSearchParams({ journal, number })}`);
      if (!answer.ok) throw new Error((await answer.json()).error);
      player ||= new AudioContext();
      const source = player.createBufferSource();
      source.buffer = await player.decodeAudioData(await answer.arrayBuffer());
      source.connect(player.destination);
      source.start();
    }),
  );
  return button;
}

pressed("verify", async () => {
  const told = await look("verify", { journal: open });
  at("verified").replaceChildren(
    make("p", make("b", told.holds ? "Yes." : "No."), told.holds ? {} : { className: "fault" }),
    ...told.lines.map((text) => make("p", text)),
  );
});

// ---- this machine

pressed("trial", () => begin(null, { trial: true }));
pressed("probe", async () => {
  const rows = await look("probes");
  fill(at("probes"), ["", "what", "found", "remedy"], rows.map(([name, ok, found, remedy]) => [ok ? "ok" : "no", name, found, remedy]));
});

// ---- settings

async function showSettings() {
  paintSettings(await look("settings"));
}

function paintSettings(kept) {
  at("rate").value = kept.rate ?? "";
  at("rate-hint").textContent =
    `Words a minute, from ${kept.slowest} to ${kept.fastest}. Empty: 165, in terse answers 180.`;
  at("volume").value = kept.volume ?? "";
  const usual = make("option", "as the program does it: normal", { value: "" });
  at("answers").replaceChildren(usual, ...kept.styles.map((style) => make("option", STYLES[style] || style, { value: style })));
  at("answers").value = kept.answers ?? "";
  at("told").textContent = kept.told ? `Heard today: ${kept.told}.` : "None was heard today, so all will be told.";
  at("tell").checked = false;
}

function number(text) {
  return text.trim() === "" ? null : Number(text.replace(",", "."));
}

at("settings-form").addEventListener("submit", (event) => {
  event.preventDefault();
  busy(event.submitter, async () => {
    at("kept").textContent = "";
    const form = { rate: number(at("rate").value), volume: number(at("volume").value) };
    // what is no number has to be refused, not taken for empty: JSON has no NaN
    for (const [key, value] of Object.entries(form)) if (Number.isNaN(value)) form[key] = at(key).value;
    const told = await tell("settings", { ...form, answers: at("answers").value || null, tell: at("tell").checked });
    for (const key of ["rate", "volume", "answers"]) {
      at(`${key}-fault`).textContent = (told.faults || {})[key] || "";
      if (told.faults?.[key]) at(key).setAttribute("aria-invalid", "true");
      else at(key).removeAttribute("aria-invalid");
    }
    if (told.faults) {
      at(Object.keys(told.faults)[0]).focus();
      return;
    }
    paintSettings(told);
    at("kept").textContent = "Kept.";
  });
});

sessionStorage.setItem("handsfree front", "here");
at("who").value = localStorage.getItem(WHO) || "";
at("sound").value = localStorage.getItem(SOUND) || "here";
busy(null, showState).then(() => showView(false));
