#!/usr/bin/env python3
"""The WebAssembly module stands alone: it imports a memory, shared or not, and nothing else."""
import json
import os
import re
import subprocess
from pathlib import Path

LOOK = """
const bytes = require('fs').readFileSync(process.argv[1]);
const module = new WebAssembly.Module(bytes);
const memory = new WebAssembly.Memory({ initial: 128, maximum: 16384, shared: true });
const instance = new WebAssembly.Instance(module, { env: { memory } });
if (instance.exports._initialize) instance.exports._initialize();
console.log(JSON.stringify({
  imports: WebAssembly.Module.imports(module).map((it) => it.module + '.' + it.name),
  exports: WebAssembly.Module.exports(module).map((it) => it.name),
}));
"""


def claims() -> list[tuple[bool, str, str]]:
    path = os.environ.get("WASM", "")
    if not Path(path).is_file():
        return [(False, "the module was built", f"no file at WASM={path!r}")]
    done = subprocess.run(["node", "-e", LOOK, path], capture_output=True, text=True, check=False)
    if done.returncode:
        return [(False, "the module can be instantiated with a memory", done.stderr)]
    seen = json.loads(done.stdout)
    text = "".join(header.read_text(encoding="utf-8")
                   for header in sorted((Path(os.environ["SRC"]) / "src/wasm").glob("*.h")))
    declared = set(re.findall(r"\b(tw_wasm_\w+)\s*\(", re.sub(r"/\*.*?\*/", "", text, flags=re.S)))
    lacking = sorted(declared - set(seen["exports"]))
    return [(True, "the module can be instantiated with a memory", ""),
            (seen["imports"] == ["env.memory"], "it imports nothing else", str(seen["imports"])),
            (bool(declared) and not lacking, "it exports what the headers of src/wasm declare", str(lacking))]


def main() -> None:
    results = claims()
    print(f"1..{len(results)}")
    for number, (good, claim, said) in enumerate(results, 1):
        print(f"{'ok' if good else 'not ok'} {number} - {claim}")
        if not good:
            print("".join(f"# {line}\n" for line in said.splitlines()), end="")
    raise SystemExit(0 if all(good for good, *_ in results) else 1)


if __name__ == "__main__":
    main()
