// Runs beside the sound card: gathers samples of the first channel into blocks, and passes them on untouched.
const BLOCK = 2048;

class Blocks extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Float32Array(BLOCK);
    this.filled = 0;
  }

  process([input]) {
    const samples = input[0];
    if (!samples) return true;
    for (let at = 0; at < samples.length; ) {
      const taken = Math.min(samples.length - at, BLOCK - this.filled);
      this.block.set(samples.subarray(at, at + taken), this.filled);
      at += taken;
      this.filled += taken;
      if (this.filled < BLOCK) continue;
      this.port.postMessage(this.block, [this.block.buffer]);
      this.block = new Float32Array(BLOCK);
      this.filled = 0;
    }
    return true;
  }
}

registerProcessor("blocks", Blocks);
