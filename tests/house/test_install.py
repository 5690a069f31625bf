#!/usr/bin/env python3
"""What `make install` puts in place can be used: the program runs, and C programs find the library
through pkg-config and link: one with the public header alone, and the one that README shows, built by the
very command that README shows, which prints what README says."""
import os
import re
import subprocess
import tempfile
from pathlib import Path

BUILD = Path(os.environ["BUILD"])
README = Path(os.environ["SRC"]) / "README.md"
USER = """#include <stdio.h>
#include <tubwright/tubwright.h>

int main(void)
{
    printf("%zu\\n", tw_core_bytes(100, 10000) > 100 ? (size_t)1 : (size_t)0);
    return 0;
}
"""
STRICT = ("-std=c17", "-Wall", "-Werror", "-pedantic")


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
    source = folder / "user.c"
    source.write_text(USER, encoding="utf-8")
    flags = run("pkg-config", "--cflags", "--libs", "--static", "tubwright", env=env)
    built = run("gcc", *STRICT, str(source), "-o", str(folder / "user"), *flags.stdout.split())
    results.append((built.returncode == 0 and run(str(folder / "user")).stdout == "1\n",
                    "a program builds with the public header alone and runs", flags.stdout + flags.stderr + built.stderr))
    return results + of_readme(folder, env)


def of_readme(folder: Path, env: dict[str, str]) -> list[tuple[bool, str, str]]:
    """The C program of README, as it stands, by the command under it, against the line under that."""
    text = README.read_text(encoding="utf-8")
    shown = re.search(r"^## From C\n.*?^```c\n(.*?)^```\n\n    make install && (cc .*?) && \./a\.out\n    (.*?)\n", text, re.M | re.S)
    if not shown:
        return [(False, "README shows a C program, how to build it, and what it prints", text[:2000])]
    program, command, printed = shown.groups()
    place = text[:shown.start(1)].count("\n")
    results = [(place < 20 and program.count("\n") <= 20, "README's C program is short and stands at its top", f"line {place}")]
    (folder / "x.c").write_text(program, encoding="utf-8")
    strict = command.replace("cc ", f"cc {' '.join(STRICT)} ", 1)
    built = run("sh", "-c", strict, env=env, cwd=folder)
    ran = run("./a.out", cwd=folder) if built.returncode == 0 else built
    return [*results, (ran.stdout == printed + "\n", "README's C program builds as README says and prints what README says",
                       f"{strict}\n{ran.stdout}{ran.stderr}")]


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
