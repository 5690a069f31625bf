#!/usr/bin/env python3
"""What `make install` puts in place can be used: the program runs, and C programs find the library
through pkg-config and link: one with the public header alone, one with the chemistry."""
import os
import subprocess
import tempfile
from pathlib import Path

BUILD = Path(os.environ["BUILD"])
USER = """#include <stdio.h>
#include <tubwright/tubwright.h>

int main(void)
{
    printf("%zu\\n", tw_core_bytes(100, 10000) > 100 ? (size_t)1 : (size_t)0);
    return 0;
}
"""
CHEMIST = """#include <stdio.h>
#include "dose/apply.h"
#include "dose/substance.h"
#include "water/inverse.h"

int main(void)
{
    tw_constants at;
    tw_water water;
    tw_speciation sp;
    const tw_tests tests = {.temp_k = 311.15, .ph = 7.5, .alk_mol_per_kg = 1.6e-3, .calcium_mol_per_kg = 1e-3,
                            .salt_mol_per_kg = 0.034};
    if (tw_water_constants_at(tests.temp_k, &at) != TW_OK || tw_water_from_tests(&at, &tests, &water, &sp) != TW_OK)
        return 1;
    water = tw_dose_apply(water, 1130.0, &tw_dose_substances[TW_SUBSTANCE_HYDROCHLORIC_ACID_31_45], 13.0);
    if (tw_water_speciate(&at, &water, &sp) != TW_OK)
        return 1;
    printf("%d\\n", sp.ph > 7.0 && sp.ph < 7.4);
    return 0;
}
"""


def run(*command: str, **more) -> subprocess.CompletedProcess:
    return subprocess.run(command, capture_output=True, text=True, check=False, **more)


def claims(folder: Path) -> list[tuple[bool, str, str]]:
    put = run("meson", "install", "-C", str(BUILD), "--no-rebuild", "--destdir", str(folder / "dest"))
    results = [(put.returncode == 0, "meson installs under DESTDIR", put.stderr)]
    root = folder / "dest"
    pkgconfig = next(root.rglob("tubwright.pc"), None)
    program = next((path for path in root.rglob("bin/tubwright")), None)
    results.append((pkgconfig is not None and program is not None, "a program and a pkg-config file are there",
                    "\n".join(str(path) for path in root.rglob("*"))))
    if pkgconfig is None or program is None:
        return results
    shown = run(str(program), "--version")
    results.append((shown.returncode == 0, "the installed program runs", shown.stderr))
    env = {**os.environ, "PKG_CONFIG_LIBDIR": str(pkgconfig.parent), "PKG_CONFIG_SYSROOT_DIR": str(root)}
    flags = run("pkg-config", "--cflags", "--libs", "--static", "tubwright", env=env)
    for name, text, claim in (("user", USER, "the public header alone"), ("chemist", CHEMIST, "the chemistry")):
        source = folder / f"{name}.c"
        source.write_text(text, encoding="utf-8")
        built = run("gcc", "-std=c17", "-Wall", "-Werror", "-pedantic", str(source), "-o", str(folder / name),
                    *flags.stdout.split())
        results.append((built.returncode == 0, f"a program builds with {claim}", flags.stdout + flags.stderr + built.stderr))
        if built.returncode == 0:
            results.append((run(str(folder / name)).stdout == "1\n", "and it runs", ""))
    return results


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        results = claims(Path(folder))
    print(f"1..{len(results)}")
    for number, (good, claim, said) in enumerate(results, 1):
        print(f"{'ok' if good else 'not ok'} {number} - {claim}")
        if not good:
            print("".join(f"# {line}\n" for line in said.splitlines()), end="")
    raise SystemExit(0 if all(good for good, *_ in results) else 1)


if __name__ == "__main__":
    main()
