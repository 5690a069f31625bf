#!/usr/bin/env bash
# Install what is missing on Debian 12.
#
# usage: setup.sh build|run|check
#   build   what building and running the program needs
#   run     and the page (WebAssembly compiler, node and what web/package-lock.json names, font)
#   check   and what the tests need (cmocka, oracles, fuzzing, browser)
#
# As root, or where sudo asks for no password, the packages are installed; otherwise the exact line
# to run as root is printed and the exit code is 1.
set -euo pipefail
cd "$(dirname "$0")/.."
level=${1:-build}

missing=()
# need PACKAGE COMMAND...: the package is missing when the command fails.
need() {
  local package=$1
  shift
  "$@" >/dev/null 2>&1 || missing+=("$package")
}
has() { command -v "$1"; }
header() { [ -e "/usr/include/$1" ] || [ -e "/usr/include/$(uname -m)-linux-gnu/$1" ]; }

look() {
  missing=()
  need gcc has gcc
  need libc6-dev header stdio.h
  need make has make
  need meson has meson
  need ninja-build has ninja
  need pkg-config has pkg-config
  need python3 has python3
  need libsqlite3-dev header sqlite3.h
  need libmicrohttpd-dev header microhttpd.h
  need libjansson-dev header jansson.h
  need libsodium-dev header sodium.h
  need libcurl4-gnutls-dev header curl/curl.h
  if [ "$level" != build ]; then
    need clang-14 has clang-14
    need lld-14 has wasm-ld-14
    need wasi-libc header wasm32-wasi/math.h
    need libclang-rt-14-dev-wasm32 test -e /usr/lib/llvm-14/lib/clang/14.0.6/lib/wasi/libclang_rt.builtins-wasm32.a
    need nodejs has node
    need npm has npm
    need fonts-sil-andika test -e /usr/share/fonts/truetype/andika/Andika-Regular.ttf
    need python3-fonttools test -d /usr/lib/python3/dist-packages/fontTools
    need python3-brotli ls /usr/lib/python3/dist-packages/brotli.py
  fi
  if [ "$level" = check ]; then
    need binutils has nm
    need git has git
    need chromium has chromium
    need libnss3-tools has certutil
    need openssl has openssl
    need libclang-rt-14-dev test -e "/usr/lib/llvm-14/lib/clang/14.0.6/lib/linux/libclang_rt.fuzzer-$(uname -m).a"
    need libcmocka-dev header cmocka.h
    need libgnutls28-dev header gnutls/gnutls.h
    need libgsl-dev header gsl/gsl_cdf.h
    need libudunits2-dev header udunits2.h
  fi
}

# What the page is made with, from npm as the lock file names it.
packages() {
  [ "$level" = build ] && return 0
  cmp -s web/package-lock.json web/node_modules/.locked && return 0
  echo "setup: npm ci in web/"
  (cd web && npm ci --ignore-scripts --no-audit --no-fund --loglevel=error) && cp web/package-lock.json web/node_modules/.locked
}

look
if [ ${#missing[@]} -eq 0 ]; then
  packages
  exit
fi
line="apt-get install -y --no-install-recommends ${missing[*]}"
if [ "$(id -u)" = 0 ]; then
  as_root=()
elif command -v sudo >/dev/null && sudo -n true 2>/dev/null; then
  as_root=(sudo)
else
  printf 'Packages are missing. Run this as root, then try again:\n\n  apt-get update && %s\n\n' "$line" >&2
  exit 1
fi
echo "setup: installing ${missing[*]}"
export DEBIAN_FRONTEND=noninteractive
log=$(mktemp)
trap 'rm -f "$log"' EXIT
if ! { "${as_root[@]}" apt-get update && "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive $line; } >"$log" 2>&1; then
  tail -n 20 "$log" >&2
  echo "setup: that did not work: $line" >&2
  exit 1
fi
look
if [ ${#missing[@]} -ne 0 ]; then
  echo "setup: still missing after installing: ${missing[*]}" >&2
  exit 1
fi
packages
