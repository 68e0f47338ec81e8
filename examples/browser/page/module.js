// The wasm module: requests and answers as JSON in its memory, see src/door.rs.

class Pool {
  constructor(instance) {
    this.exports = instance.exports;
  }

  static async from(bytes) {
    const { instance } = await WebAssembly.instantiate(bytes, {});
    return new Pool(instance);
  }

  // Places are unsigned, and the memory is another object after it has grown.
  read(length) {
    const { memory, output } = this.exports;
    return new TextDecoder().decode(new Uint8Array(memory.buffer, output() >>> 0, length >>> 0));
  }

  guarded(work) {
    try {
      return work();
    } catch (trap) {
      // A panic of Rust is a trap here; what it said stands in the module.
      throw new Error(`the module stopped: ${this.read(this.exports.panicked()) || trap}`);
    }
  }

  ask(request) {
    const answer = this.guarded(() => {
      const bytes = new TextEncoder().encode(JSON.stringify(request));
      const at = this.exports.input(bytes.length) >>> 0;
      new Uint8Array(this.exports.memory.buffer, at, bytes.length).set(bytes);
      return JSON.parse(this.read(this.exports.call()));
    });
    if (answer.error !== undefined) throw new Refused(answer.error);
    return answer.ok;
  }

  ticks(count) {
    return this.guarded(() => this.exports.ticks(count) >>> 0);
  }
}

// What was asked for is wrong; the pool is as it was.
class Refused extends Error {}
