// This device as the bench's microphone and loudspeaker.

import { HUNG, NO_SOUND, TAKEN, socketAddress } from "/static/link.js";

const HEARD_HZ = 16000;
const LEAD_S = 0.02; // between taking a sound and its first sample: enough for the audio thread
const MOST_BUFFERED = 64 * 1024; // two seconds of sound that the network is behind
const AGAIN_MS = [0, 200, 500, 1000, 2000];
// The recogniser has learned from sound as it is; a browser's repairs cut the beginnings of words.
const AS_IT_IS = { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 };

export class Sound {
  constructor({ changed }) {
    this.changed = changed;
    this.on = false; // wanted here
    this.trouble = "";
    this.tries = 0;
    document.addEventListener("visibilitychange", () => this.resume());
  }

  /** Take microphone and loudspeaker to this device; `take`: from another page, too. */
  async start(take) {
    this.trouble = "";
    try {
      await this.listen();
    } catch (fault) {
      this.trouble = sentence(fault);
      this.release();
      this.changed();
      return;
    }
    this.on = true;
    this.tries = 0;
    this.connect(take);
    this.changed();
  }

  /** Give microphone and loudspeaker back to the machine that computes. */
  stop() {
    this.on = false;
    if (this.socket?.readyState === WebSocket.OPEN) this.socket.send(JSON.stringify({ give_back: true }));
    this.close();
    this.release();
    this.changed();
  }

  /** Connect again at once: the bench is back. */
  again() {
    if (this.on && this.socket?.readyState !== WebSocket.OPEN) this.connect(false);
  }

  whose(sounds) {
    if (sounds === "here" && this.on && this.answered) {
      // another page gave it back to the machine
      this.on = false;
      this.close();
      this.release();
    }
    this.answered = sounds === "mine";
  }

  /** What the button says. */
  word(sounds) {
    if (this.trouble) return this.trouble;
    if (this.on) return this.socket?.readyState === WebSocket.OPEN ? "Microphone off" : "Connecting…";
    return { page: "Take the microphone", mine: "Microphone on again" }[sounds] || "Microphone here";
  }

  async listen() {
    if (!navigator.mediaDevices?.getUserMedia) throw new DOMException("", "SecurityError");
    this.stream = await navigator.mediaDevices.getUserMedia({ audio: AS_IT_IS });
    const track = this.stream.getAudioTracks()[0];
    this.name = track.label || "the page's microphone";
    track.onended = () => this.on && this.failed("The microphone went away.");
    try {
      this.ears = new AudioContext({ sampleRate: HEARD_HZ, latencyHint: "interactive" });
      this.source = this.ears.createMediaStreamSource(this.stream);
    } catch {
      // a browser that can't change the rate of a microphone: the bench does
      this.ears = new AudioContext({ latencyHint: "interactive" });
      this.source = this.ears.createMediaStreamSource(this.stream);
    }
    await this.ears.audioWorklet.addModule("/static/ears.js");
    this.pieces = new AudioWorkletNode(this.ears, "ears", { numberOfInputs: 1, numberOfOutputs: 1 });
    this.pieces.port.onmessage = (event) => this.send(event.data);
    this.source.connect(this.pieces).connect(this.ears.destination); // silence: it only keeps it at work
    this.mouth = new AudioContext({ latencyHint: "interactive" });
    await Promise.all([this.ears.resume(), this.mouth.resume()]);
  }

  connect(take) {
    clearTimeout(this.timer);
    this.close();
    this.number = 0;
    this.playing = null;
    const socket = (this.socket = new WebSocket(socketAddress("/bench/sound")));
    socket.binaryType = "arraybuffer";
    socket.onopen = () => {
      this.tries = 0;
      const rates = { heard_hz: this.ears.sampleRate, played_hz: this.mouth.sampleRate };
      socket.send(JSON.stringify({ ...rates, name: this.name, take }));
      this.changed();
    };
    socket.onmessage = (event) => socket === this.socket && this.told(event.data);
    socket.onclose = (event) => socket === this.socket && this.closed(event.code);
  }

  closed(code) {
    this.hush();
    if (!this.on) return;
    if (code === TAKEN) this.failed("Another page took the microphone.");
    else if (code === NO_SOUND) this.failed("The bench wants no microphone.");
    else {
      const wait = code === HUNG ? 200 : AGAIN_MS[Math.min(this.tries, AGAIN_MS.length - 1)];
      this.tries += 1;
      this.timer = setTimeout(() => this.on && this.connect(false), wait);
    }
    this.changed();
  }

  close() {
    this.hush();
    if (!this.socket) return;
    this.socket.onclose = null;
    this.socket.close();
    this.socket = null;
  }

  failed(why) {
    this.on = false;
    this.trouble = why;
    this.close();
    this.release();
    this.changed();
    setTimeout(() => {
      this.trouble = "";
      this.changed();
    }, 5000);
  }

  release() {
    for (const track of this.stream?.getTracks() || []) {
      track.onended = null;
      track.stop();
    }
    for (const context of [this.ears, this.mouth]) if (context && context.state !== "closed") context.close();
    this.stream = this.ears = this.mouth = null;
  }

  resume() {
    for (const context of [this.ears, this.mouth]) {
      if (context?.state === "suspended" || context?.state === "interrupted") context.resume();
    }
  }

  // ---- ears

  send(samples) {
    const socket = this.socket;
    if (socket?.readyState !== WebSocket.OPEN) return;
    const number = this.number;
    this.number += 1; // even if it is left out: the bench sees the gap, and asks again
    if (socket.bufferedAmount > MOST_BUFFERED) return;
    const message = new Uint8Array(4 + samples.byteLength);
    new DataView(message.buffer).setUint32(0, number, true);
    message.set(new Uint8Array(samples), 4);
    socket.send(message);
  }

  // ---- mouth

  told(data) {
    const bytes = new Uint8Array(data);
    const end = bytes.indexOf(10);
    const header = JSON.parse(new TextDecoder().decode(bytes.subarray(0, end)));
    const payload = data.slice(end + 1);
    if ("play" in header) this.play(header.play, payload, header.more);
    else if (this.playing && header.more === this.playing.number) this.add(payload, false);
    else if (header.stop) this.hush();
  }

  play(number, payload, more) {
    this.hush();
    this.playing = { number, until: this.mouth.currentTime + LEAD_S, sources: new Set(), more: true };
    this.answer({ began: number, in_s: LEAD_S + this.late() });
    this.add(payload, more);
  }

  add(payload, more) {
    const playing = this.playing;
    const samples = new Int16Array(payload.slice(0, payload.byteLength - (payload.byteLength % 2)));
    playing.more = more;
    if (samples.length) {
      const buffer = this.mouth.createBuffer(1, samples.length, this.mouth.sampleRate);
      const channel = buffer.getChannelData(0);
      for (let n = 0; n < samples.length; n += 1) channel[n] = samples[n] / 32768;
      const source = this.mouth.createBufferSource();
      source.buffer = buffer;
      source.connect(this.mouth.destination);
      const begin = Math.max(playing.until, this.mouth.currentTime + 0.005);
      playing.until = begin + buffer.duration;
      playing.sources.add(source);
      source.onended = () => {
        playing.sources.delete(source);
        this.over(playing);
      };
      source.start(begin);
    }
    this.over(playing);
  }

  /** Report the end of an answer, once its last sound is over. */
  over(playing) {
    if (playing !== this.playing || playing.more || playing.sources.size) return;
    this.playing = null;
    this.answer({ ended: playing.number, whole: true, in_s: this.late() });
  }

  hush() {
    const playing = this.playing;
    if (!playing) return;
    this.playing = null;
    for (const source of playing.sources) {
      source.onended = null;
      source.stop();
    }
    this.answer({ ended: playing.number, whole: false, in_s: this.late() });
  }

  late() {
    return this.mouth?.outputLatency || this.mouth?.baseLatency || 0;
  }

  answer(form) {
    if (this.socket?.readyState === WebSocket.OPEN) this.socket.send(JSON.stringify(form));
  }
}

function sentence(fault) {
  switch (fault.name) {
    case "NotAllowedError": return "No microphone: allow it in the browser.";
    case "NotFoundError": return "No microphone on this device.";
    case "SecurityError": return "No microphone: open this page by https.";
    default: return "The microphone can't be used.";
  }
}
