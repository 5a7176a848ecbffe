// The bench's page: paints what the bench sends, and passes keys on.

import { Link } from "/static/link.js";
import { makePad } from "/static/pad.js";
import { Sound } from "/static/sound.js";

const WIPE = "Num Lock", ENTER = "Enter";
const WORDS = { ".": "open", "<": "short", "=": "good", ">": "over", "?": "unsure", "~": "noted" };
const EARS = {
  starting: "…", listening: "( )", "hearing you": "((●))", thinking: "…",
  "not listening": "◀", "standing by": "zz", "no microphone": "✕", "keys alone": "–",
};
const SHOWN_WORDS = new Set(["GOOD", "AGAIN", "FILE"]); // amounts that are words

const at = (id) => document.getElementById(id);
const view = {};
let places = [], across = [], down = [], cells = [];
let sounds = "none";

/** Put text where it differs: nothing that a plan, a name or a recogniser says can become markup. */
function put(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

function show(node, shown) {
  if (node.hidden === shown) node.hidden = !shown;
}

// ---- what the bench sends

function took(message) {
  const changed = message.view || {};
  Object.assign(view, changed);
  if (message.axes) layGrid(message.axes);
  if (message.places) places = message.places;
  for (const cell of message.cells || []) paintCell(...cell);
  if (message.sound) {
    sounds = message.sound;
    sound.whose(sounds);
    paintSound();
  }
  if (message.view) paint(changed);
  put(at("begun"), view.begun || "");
}

function paint(changed) {
  const has = (...names) => names.some((name) => name in changed);
  if (has("title", "check")) put(at("title"), `${view.title}: ${view.check}`);
  if (has("clock")) put(at("clock"), view.clock);
  if (has("ears")) {
    at("ears").dataset.ears = view.ears;
    put(at("ears-sign"), EARS[view.ears] || "");
    put(at("ears-word"), view.ears);
  }
  if (has("meter", "floor")) {
    at("meter").style.setProperty("--level", view.meter / 12);
    at("meter").style.setProperty("--floor", view.floor / 12);
    at("meter").setAttribute("aria-valuenow", view.meter);
  }
  if (has("place", "target")) {
    put(at("place"), view.place);
    put(at("target"), view.target);
  }
  if (has("amount", "caption", "mark", "of", "reading")) paintFigures();
  if (has("heard")) put(at("heard"), view.heard);
  if (has("answer")) {
    put(at("answer"), view.answer);
    put(at("said"), view.answer);
  }
  if (has("done", "total", "estimate")) {
    at("bar").max = view.total || 1;
    at("bar").value = view.done;
    put(at("done"), `${view.done} of ${view.total} done${view.estimate ? `, ${view.estimate}` : ""}`);
  }
  if (has("trouble")) paintLines(at("troubles"), "p", view.trouble.map((each) => `! ${each}`));
  if (has("question", "notice")) paintMiddle();
}

function paintFigures() {
  const alone = SHOWN_WORDS.has(view.amount); // a word that says all: its sign stands with it
  const amount = alone ? `${view.mark} ${view.amount}` : view.amount || "–";
  const caption = view.caption.replace(/ (by|shim)$/, "").toUpperCase();
  const word = alone ? "" : caption || (view.mark === "." ? "" : WORDS[view.mark].toUpperCase());
  document.body.dataset.mark = WORDS[view.mark];
  at("figures").classList.toggle("alone", !word);
  put(at("amount"), amount);
  put(at("sign"), alone || view.mark === "." ? "" : view.mark);
  put(at("word"), word);
  at("figures").style.setProperty("--amount", wide(amount));
  at("figures").style.setProperty("--word", wide(`${word}>`) + 0.5);
  put(at("of"), view.reading ? view.of : "");
  put(at("reading"), view.reading);
}

/** How wide a text is, in heights of its type: those of a wide, bold face, so that any other fits too. */
function wide(text) {
  const widths = [...text].map((letter) => (/[.,:' ]/.test(letter) ? 0.4 : /[0-9]/.test(letter) ? 0.71 : 0.87));
  return widths.reduce((sum, each) => sum + each, 0);
}

function paintMiddle() {
  const asked = view.question.length > 0, told = view.notice.length > 0;
  show(at("question"), asked && !told);
  show(at("notice"), told);
  show(at("figures"), !asked && !told);
  paintLines(at("asked"), "span", view.question);
  at("question").style.setProperty("--asked", Math.max(...view.question.map(wide), 1));
  at("question").style.setProperty("--lines", Math.max(view.question.length, 1));
  paintLines(at("notices"), "li", view.notice);
}

function paintLines(node, kind, lines) {
  node.replaceChildren(
    ...lines.map((text) => {
      const line = document.createElement(kind);
      line.textContent = text;
      return line;
    }),
  );
}

// ---- the grid

function layGrid(axes) {
  ({ across, down } = axes);
  const head = document.createElement("tr");
  head.append(document.createElement("td"), ...across.map((label) => heading(label, "col")));
  const rows = down.map((label, row) => {
    const line = document.createElement("tr");
    line.append(heading(label, "row"));
    cells[row] = across.map((_, column) => {
      const cell = document.createElement("td");
      line.append(cell);
      return cell;
    });
    return line;
  });
  at("grid").style.setProperty("--columns", across.length);
  at("grid").replaceChildren(head, ...rows);
}

function heading(text, scope) {
  const cell = document.createElement("th");
  cell.scope = scope;
  cell.textContent = text;
  return cell;
}

function paintCell(row, column, mark, value, inHand) {
  const cell = cells[row][column];
  if (mark === null) {
    cell.replaceChildren();
    return;
  }
  let button = cell.firstChild;
  if (!button) {
    button = document.createElement("button");
    button.type = "button";
    button.append(document.createElement("span"), document.createElement("b"));
    button.dataset.row = row;
    button.dataset.column = column;
    cell.append(button);
  }
  button.dataset.mark = WORDS[mark];
  put(button.firstChild, value);
  put(button.lastChild, mark === "." ? "·" : mark);
  const name = `${across[column]} ${down.length > 1 || down[0] !== view.check ? down[row] : ""}`.trim();
  button.setAttribute("aria-label", `${name}: ${value} ${WORDS[mark]}${inHand ? ", in hand" : ""}`);
  if (inHand) {
    button.setAttribute("aria-current", "true");
    button.scrollIntoView({ block: "nearest", inline: "nearest" });
  } else {
    button.removeAttribute("aria-current");
  }
}

at("grid").addEventListener("click", (event) => {
  const button = event.target.closest("button");
  const keys = button && (places[button.dataset.row] || [])[button.dataset.column];
  if (keys) link.press(WIPE, ...keys, ENTER);
});

// ---- keys

/** Ask before something is done that a sleeve could have touched. */
function confirm(text, then) {
  put(at("confirm-text"), text);
  at("confirm-yes").onclick = () => {
    at("confirm").close();
    then();
  };
  at("confirm").showModal();
  at("confirm-no").focus();
}
at("confirm-no").addEventListener("click", () => at("confirm").close());

at("home").hidden = !sessionStorage.getItem("handsfree front"); // set there: not every bench has one

at("undo").addEventListener("click", () => {
  const what = view.reading ? `${view.of}, ${view.reading}` : "the last entry";
  confirm(`Take back ${what}?`, () => link.press(WIPE, "/", ENTER));
});
at("noticed").addEventListener("click", () => link.press("other"));
for (const button of document.querySelectorAll("#question [data-key]")) {
  button.addEventListener("click", () => link.press(WIPE, button.dataset.key, ENTER));
}

const TYPED = {
  Enter: ENTER, NumpadEnter: ENTER, Backspace: "Backspace", Delete: "Backspace", Escape: WIPE, ",": ".",
};
addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || at("confirm").open) return;
  const onButton = event.target.closest?.("button, a, summary");
  if (onButton && (event.key === " " || (event.key === "Enter" && event.code !== "NumpadEnter"))) return;
  const key = "0123456789./*-+".includes(event.key) ? event.key : TYPED[event.key];
  if (!key || event.repeat) return;
  event.preventDefault();
  link.press(key);
});
// what was touched keeps no focus: Enter on a keyboard would press it again
addEventListener("click", (event) => event.detail > 0 && event.target.closest("button")?.blur());

const pad = makePad(at("keys"), (key) => link.press(key));
function openPad(open) {
  show(at("pad"), open);
  document.body.classList.toggle("with-pad", open);
  at("show-pad").setAttribute("aria-expanded", String(open));
  localStorage.setItem("handsfree pad", open ? "open" : "");
}
at("show-pad").addEventListener("click", () => openPad(at("pad").hidden));
openPad(localStorage.getItem("handsfree pad") === "open");

// ---- the connection

function cut(text) {
  put(at("cut"), text);
  show(at("cut"), Boolean(text));
  document.body.classList.toggle("lost", Boolean(text));
}

const SENTENCES = {
  open: "",
  lost: "No connection to the bench. What is shown may be old; trying again. Keys are kept and sent then.",
  over: "No session is running at the bench now. This page goes on with the next one.",
  full: "Too many browsers show this bench. Close one of them.",
};
const sound = new Sound({ changed: () => paintSound() });
const link = new Link({
  took,
  state(state) {
    if (state === "out") location.replace("/enter");
    else cut(SENTENCES[state]);
    pad.enabled(state === "open" || state === "lost");
    if (state === "open") sound.again();
  },
  dropped() {
    confirm("The bench was started anew while keys were under way. Look whether your last entry is there. Seen?", () => {});
  },
});

// ---- the sound

function paintSound() {
  const button = at("sound");
  show(button, sounds !== "none");
  put(button, sound.word(sounds));
  button.setAttribute("aria-pressed", String(sound.on));
  put(at("troubles").firstChild || document.createElement("p"), at("troubles").firstChild?.textContent || "");
  document.body.dataset.sound = sound.on ? "on" : "off";
}

at("sound").addEventListener("click", () => {
  if (sound.on) sound.stop();
  else if (sounds === "page") confirm("Another page is the microphone now. Take over?", () => sound.start(true));
  else sound.start(false);
});

// ---- the screen stays on, and the shell is kept

let awake = null;
async function stayAwake() {
  if (document.visibilityState !== "visible" || !navigator.wakeLock || (awake && !awake.released)) return;
  try {
    awake = await navigator.wakeLock.request("screen");
  } catch {
    awake = null; // a battery that runs low refuses it
  }
}
document.addEventListener("visibilitychange", stayAwake);
stayAwake();
if ("serviceWorker" in navigator) navigator.serviceWorker.register("/service.js").catch(() => {});
