// The year of bench-year as WebAssembly: everything anew, then one entry more.
//
// usage: node wasm.mjs MODULE LINES   (the lines that "bench-year lines" writes: the last one is the entry more; before
// each of the two questions stands the time to ask at: "# 2026-...")
import { readFileSync } from "node:fs";
import { load } from "../tests/wasm/core.mjs";

const [, , path, file] = process.argv;
const core = load(path);
const ask = (name, at) => {
  const from = process.cpuUsage();
  const { status, bytes } = core.ask(`now at=${at} as=json`);
  const took = process.cpuUsage(from);
  if (status || bytes.length < 100) throw new Error(`${name}: status ${status}`);
  console.log(`${name} ${((took.user + took.system) / 1e3).toFixed(1)}`);
};
let name = "wasm_year_refold";
core.reset();
for (const line of readFileSync(file, "utf8").split("\n")) {
  if (line.startsWith("# ")) {
    ask(name, line.slice(2));
    name = "wasm_entry_update";
  } else if (line) {
    const { status, fault } = core.add(line);
    if (status) throw new Error(fault);
  }
}
