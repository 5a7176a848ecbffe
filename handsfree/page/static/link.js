// The connection to the bench: heals itself, loses no key and sends none twice.

const CLIENT = "handsfree client";
const KEYS = "handsfree keys"; // numbers and keys that the bench hasn't acknowledged, kept over a reload
const QUIET_MS = 7000; // the bench says something every two seconds
const AGAIN_MS = [0, 100, 300, 1000, 2000];

export const FULL = 4001, OVER = 4002, TAKEN = 4003, NO_SOUND = 4004, BAD = 4005, HUNG = 4006;

/** This tab's name: told to the bench, so that it knows a key that comes for the second time. */
export function client() {
  let name = sessionStorage.getItem(CLIENT);
  if (!name) {
    name = [...crypto.getRandomValues(new Uint8Array(12))].map((b) => b.toString(16).padStart(2, "0")).join("");
    sessionStorage.setItem(CLIENT, name);
  }
  return name;
}

/** The address of one of the bench's sockets. */
export function socketAddress(path) {
  const scheme = location.protocol === "https:" ? "wss:" : "ws:";
  return `${scheme}//${location.host}${path}?client=${client()}`;
}

/** The keys that are under way, each message with its number. */
export class Outbox {
  constructor(shelf = sessionStorage) {
    this.shelf = shelf;
    const kept = JSON.parse(shelf.getItem(KEYS) || "null") || {};
    this.instance = kept.instance || "";
    this.last = kept.last || 0;
    this.waiting = kept.waiting || [];
  }

  add(keys) {
    this.last += 1;
    const message = { id: this.last, keys };
    this.waiting.push(message);
    this.keep();
    return message;
  }

  acknowledged(number) {
    const before = this.waiting.length;
    this.waiting = this.waiting.filter((message) => message.id > number);
    if (this.waiting.length !== before) this.keep();
  }

  /** Take the bench's name; what went to an earlier one may not have been done, and is dropped. */
  meet(instance) {
    const dropped = this.instance && this.instance !== instance ? this.waiting : [];
    if (this.instance !== instance) {
      this.waiting = this.waiting.filter((message) => !dropped.includes(message));
      this.instance = instance;
      this.keep();
    }
    return dropped;
  }

  keep() {
    this.shelf.setItem(KEYS, JSON.stringify({ instance: this.instance, last: this.last, waiting: this.waiting }));
  }
}

/**
 * Follows the bench. `took` gets each message, `state` whether the connection is there ("open", "lost",
 * "over", "full", "out"), `dropped` keys that an earlier bench may not have done.
 */
export class Link {
  constructor({ took, state, dropped }) {
    this.took = took;
    this.state = state;
    this.dropped = dropped;
    this.outbox = new Outbox();
    this.tries = 0;
    this.open();
    addEventListener("online", () => this.soon());
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && this.soon());
  }

  press(...keys) {
    const message = this.outbox.add(keys);
    if (this.met) this.socket.send(JSON.stringify(message));
  }

  open() {
    clearTimeout(this.timer);
    this.met = false;
    const socket = (this.socket = new WebSocket(socketAddress("/bench/link")));
    socket.onmessage = (event) => socket === this.socket && this.take(JSON.parse(event.data));
    socket.onclose = (event) => socket === this.socket && this.closed(event.code);
    this.listenFor(socket);
  }

  take(message) {
    this.listenFor(this.socket);
    if (message.instance) {
      this.tries = 0;
      const dropped = this.outbox.meet(message.instance);
      if (dropped.length) this.dropped(dropped);
      this.outbox.acknowledged(message.ack || 0);
      for (const each of this.outbox.waiting) this.socket.send(JSON.stringify(each));
      this.met = true;
      this.state("open");
    }
    if (message.ack) this.outbox.acknowledged(message.ack);
    this.took(message);
  }

  /** A connection that says nothing for so long is dead, whatever the browser thinks. */
  listenFor(socket) {
    clearTimeout(this.quiet);
    this.quiet = setTimeout(() => {
      if (socket !== this.socket) return;
      socket.onclose = null;
      socket.close();
      this.closed(0);
    }, QUIET_MS);
  }

  async closed(code) {
    clearTimeout(this.quiet);
    this.met = false;
    const wait = AGAIN_MS[Math.min(this.tries, AGAIN_MS.length - 1)];
    this.tries += 1;
    this.timer = setTimeout(() => this.open(), code === OVER || code === FULL ? 2000 : wait);
    this.state(code === OVER ? "over" : code === FULL ? "full" : "lost");
    if (this.tries > 2 && (await passNeeded())) this.state("out");
  }

  soon() {
    if (!this.met) this.open();
  }
}

/** Whether the bench is there and wants a pass: it was started anew. */
async function passNeeded() {
  try {
    return (await fetch("/bench", { method: "HEAD", cache: "no-store", redirect: "manual" })).status === 403;
  } catch {
    return false;
  }
}
