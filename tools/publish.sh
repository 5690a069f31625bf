#!/usr/bin/env bash
# Copies of what the plain build made, under the names that others use: OUT/tubwright,
# OUT/libtubwright_core.a, OUT/tubwright.wasm. A file that has not changed keeps its time.
set -euo pipefail
out=$1
for name in tubwright libtubwright_core.a tubwright.wasm; do
  if [ -f "$out/gcc/$name" ] && ! cmp -s "$out/gcc/$name" "$out/$name"; then
    cp "$out/gcc/$name" "$out/.$name.new"
    mv "$out/.$name.new" "$out/$name"
  fi
done
