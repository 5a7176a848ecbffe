// In the audio thread: joins the sound of the microphone to pieces of 32 ms, as whole numbers of 16 bits.

class Ears extends AudioWorkletProcessor {
  constructor() {
    super();
    this.size = Math.round(sampleRate * 0.032);
    this.piece = new Int16Array(this.size);
    this.filled = 0;
  }

  process([input]) {
    const sound = input[0];
    if (!sound) return true; // no microphone is connected yet
    for (let n = 0; n < sound.length; n += 1) {
      this.piece[this.filled] = Math.max(-32768, Math.min(32767, Math.round(sound[n] * 32768)));
      this.filled += 1;
      if (this.filled === this.size) {
        this.port.postMessage(this.piece.buffer, [this.piece.buffer]);
        this.piece = new Int16Array(this.size);
        this.filled = 0;
      }
    }
    return true;
  }
}

registerProcessor("ears", Ears);
