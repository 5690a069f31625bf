// Worker: a hand that helps a core with its folds, on its memory (src/wasm/wasm.h).
import type { Exports } from "./module";

self.onmessage = async ({ data: { module, memory, hand } }: MessageEvent<{ module: WebAssembly.Module; memory: WebAssembly.Memory; hand: number }>) => {
  const core = (await WebAssembly.instantiate(module, { env: { memory } })).exports as unknown as Exports;
  core.__stack_pointer.value = core.tw_wasm_stack(hand);
  self.postMessage("here");
  core.tw_wasm_help(hand); // never comes back
};
