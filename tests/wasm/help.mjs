// A hand that helps with the folds of another instance, on its memory (core.mjs).
import { workerData } from "node:worker_threads";

const { module, memory, hand } = workerData;
const core = new WebAssembly.Instance(module, { env: { memory } }).exports;
core.__stack_pointer.value = core.tw_wasm_stack(hand);
core.tw_wasm_help(hand);
