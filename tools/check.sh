#!/usr/bin/env bash
# make check: install what is missing, build, run every test, count. The last line is
# "N passed, N failed"; a build that fails counts as one failure, so does a run without tests.
#   SAN=1  the same tests with AddressSanitizer and UndefinedBehaviorSanitizer
#   OUT    the build folder (default build)
set -uo pipefail
cd "$(dirname "$0")/.."
out=${OUT:-build}
unset MAKEFLAGS MFLAGS MAKELEVEL
logs=()
# What .ci/run adds up over both runs: folders, and builds that failed.
mkdir -p "$out"
: >"$out/checked${SAN:+-san}.txt"

stop() {
  echo "$1" >&2
  echo "failed:$1" >"$out/checked${SAN:+-san}.txt"
  echo "0 passed, 1 failed"
  exit 1
}

# run_tests FOLDER [meson options]: all tests of one build folder.
run_tests() {
  local folder=$1
  shift
  rm -f "$folder/meson-logs/testlog.json"
  logs+=("$folder")
  flock "$out/.lock" meson test -C "$folder" --no-rebuild --print-errorlogs "$@"
}

build() { make --no-print-directory OUT="$out" "$@" all; }

began=$SECONDS
bash tools/setup.sh check || stop "check: packages are missing"
build || stop "check: the build failed"
status=0
if [ -n "${SAN:-}" ]; then
  build SAN=1 || stop "check: the build with sanitizers failed"
  echo "check: built after $((SECONDS - began)) s"
  run_tests "$out/gcc-san" --timeout-multiplier 4 --no-suite house --no-suite same || status=1
else
  build CC=clang-14 TESTS=disabled || logs+=("failed:the build by clang")
  build CC=clang-14 FUZZ=1 || logs+=("failed:the build of the fuzzers")
  echo "check: built after $((SECONDS - began)) s"
  run_tests "$out/gcc" --timeout-multiplier 2 || status=1
  if grep -q '^fuzz|' "$out/clang-14-fuzz/found.txt"; then
    run_tests "$out/clang-14-fuzz" || status=1
  fi
fi
printf '%s\n' "${logs[@]}" >"$out/checked${SAN:+-san}.txt"
python3 tools/tally.py "${logs[@]}" || status=1
exit $status
