#!/usr/bin/env python3
"""A language beside English: complete, its arguments those of English, and nothing English left in its answers and in what the terminal says beside them.

Two stories are told, and every view asked in both languages. Ids, numbers, keys, times and digests are the same bytes; each
sentence is its own language's row with names of its own language in it; no label of the text is English; the module that the
page runs gives the same bytes as the terminal.
"""
from __future__ import annotations

import csv
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from functools import lru_cache
from pathlib import Path

SRC = Path(os.environ["SRC"]).resolve()
sys.path[:0] = [str(SRC / "tests" / room) for room in ("support", "web", "wasm")]
sys.path.insert(0, str(SRC / "tools/gen"))
from claims import Claims  # noqa: E402
from languages import lacking  # noqa: E402
from module import answers  # noqa: E402
from test_views import NOW, STORY  # noqa: E402
from texts import rows  # noqa: E402

LANGUAGE = "de"
VIEWS = ["now", "why", "water", "logbook", "bathing", "sheet", "plan", "worth", "ahead", "forecast", "tub"]
ROOMS = ["answer", "dose", "procedure"]
# Beside the start-up of the page's pictures: what a tub in care says, stops, waits, odd entries, an act that was put off.
MORE = [
    ("2026-03-24T08:02:00+01:00", "tub new Pond volume=900L use=private"),
    ("2026-03-24T08:03:00+01:00", "-t Pond log reply bromine=no biguanide=no silver=no copper=no monopersulfate=no ozone=no seen cloudy"),
    ("2026-03-24T08:04:00+01:00", "-t Pond log couldn't no-time"),
    ("2026-03-24T08:10:00+01:00", "tub new Cedar volume=1000L start=care"),
    ("2026-03-24T08:11:00+01:00", "-t Cedar log filled 1000 L of supply ph=7.4 ta=80 ch=120 salt=2000 fc=4 cc=0.2 temp=38 by drops duty=40% bathers 4 for 30 min"),
    ("2026-03-24T08:12:00+01:00", "-t Cedar log stock 2 kg dry acid part filter cleaned volume 1010 L by meter generator=on cover=open"),
    ("2026-03-24T12:30:00+01:00", "-t Cedar log added 20 g dry acid"),
    ("2026-03-24T12:31:00+01:00", "-t Cedar log fc=9.5 ph=6.6 by strips lot=B"),
    ("2026-03-24T08:30:00+01:00", "tub new Rock volume=1200L"),
    ("2026-03-24T08:31:00+01:00", "-t Rock log seen trip"),
]
ASKED = [*((view, tub) for tub in ("Barn", "Cedar") for view in VIEWS), *((view, tub) for tub in ("Garden", "Pond", "Rock") for view in ("now", "why", "bathing", "logbook")), ("now", "Deck"), ("forecast", "Deck"), ("now", "Loft"),
         ("tubs", "")]
ARGUMENT = re.compile(r"\{([a-z_]+):([a-z0-9]+)\}")


ENGLISH = {key: text for room in ROOMS for key, text in rows(room, "en").items()}
THEIRS = {key: text for room in ROOMS for key, text in rows(room, LANGUAGE).items()}
TERMS = rows("terms", LANGUAGE)
# What must not be seen of a table: English names that are called otherwise.
ENGLISH_NAMES = {name for name, text in TERMS.items() if text != name} - set(TERMS.values())
SENTENCE = "|".join(re.escape(text) for text in sorted(THEIRS.values(), key=len, reverse=True) if not ARGUMENT.search(text))


class Book:
    def __init__(self, folder: str) -> None:
        self.env = {**os.environ, "HOME": folder, "XDG_DATA_HOME": folder, "TZ": "Europe/Berlin", "TUBWRIGHT_RANDOM": "languages"}

    def run(self, *words: str, at: str = NOW) -> bytes:
        done = subprocess.run([os.environ["TUBWRIGHT"], "--at", at, *words], env=self.env, capture_output=True, check=False)
        if done.returncode not in (0, 4):
            raise SystemExit(f"{words}: {done.returncode} {done.stderr.decode()}")
        return done.stdout


@lru_cache(maxsize=None)
def pattern(text: str) -> re.Pattern[str]:
    """A sentence whose arguments may be anything, but that a sentence inside it is one of the language."""
    parts, last = [], 0
    for found in ARGUMENT.finditer(text):
        parts += [re.escape(text[last:found.start()]), f"({SENTENCE if found[2] == 'words' else '.*?'})"]
        last = found.end()
    return re.compile("".join(parts) + re.escape(text[last:]) + r"\Z")


def look(said: dict[str, str]) -> str:
    """What is wrong with a sentence of an answer; empty: nothing."""
    row = THEIRS[said["id"]]
    found = pattern(row).match(said["text"])
    if not found:
        return f"{said['id']}: {said['text']!r} is not {row!r}"
    kinds = [kind for _, kind in ARGUMENT.findall(row)]
    for kind, value in zip(kinds, found.groups(), strict=True):
        if kind == "term" and value in ENGLISH_NAMES:
            return f"{said['id']}: {value!r} is English"
        if kind not in ("text", "term", "words") and re.search(r"\d\.\d", value):
            return f"{said['id']}: {value!r} has a point"
    return ""


def walk(english: object, theirs: object, where: str, wrong: list[str], counts: dict[str, int]) -> None:
    """Both answers side by side: sentences are looked at, all else is equal."""
    if isinstance(english, dict) and isinstance(theirs, dict):
        if english.keys() != theirs.keys():
            wrong.append(f"{where}: keys {sorted(english.keys() ^ theirs.keys())}")
        elif english.keys() == {"id", "text"}:
            if english["id"] != theirs["id"]:
                wrong.append(f"{where}: {english['id']} is {theirs['id']}")
            else:
                counts[english["id"]] = counts.get(english["id"], 0) + 1
                wrong += filter(None, [look(theirs)])
        else:
            for key in english:
                walk(english[key], theirs[key], f"{where}.{key}", wrong, counts)
    elif isinstance(english, list) and isinstance(theirs, list) and len(english) == len(theirs):
        for i, (a, b) in enumerate(zip(english, theirs)):
            walk(a, b, f"{where}[{i}]", wrong, counts)
    elif english != theirs:
        wrong.append(f"{where}: {english!r} is {theirs!r}")


def english_labels(text: str) -> list[str]:
    """Lines of a text answer that begin with a label that is called otherwise."""
    with (SRC / "data/answer.csv").open(encoding="utf-8", newline="") as file:
        labels = {row["label"].strip() for row in csv.DictReader(file)} & {name.strip() for name in ENGLISH_NAMES}
    return [line for line in text.splitlines() for label in labels if re.match(rf"\s*{re.escape(label)}(\s|$)", line)]


# What an entry is refused for, with the sentence of the refusal.
BAD = [("ph=99", "ist zu hoch; erlaubt sind 0 bis 14"), ("ta=abc by drops", "ist keine einfache Zahl; erlaubt sind 0 bis 2000 mg/L"), ("bathers 400 for 20 min", "erlaubt sind ganze Zahlen 1 bis 50"),
       ("temp=140", "erlaubt sind -5 bis 60 °C"), ("volume 3 gal by clock", "hat mehr als eine Bedeutung"), ("added 3 L no-such-thing", "ist nicht bekannt; erlaubt sind")]


def refused_entries(claims: Claims, book: Book) -> None:
    for words, wanted in BAD:
        done = subprocess.run([os.environ["TUBWRIGHT"], "--at", NOW, "-t", "Barn", "--language", LANGUAGE, "log", *words.split()], env=book.env, capture_output=True, text=True, check=False)
        claims.add(done.returncode == 3 and wanted in done.stderr, f"log {words}: refused in the language", done.stderr)


def terminal_words(claims: Claims, book: Book) -> None:
    """Help, prompts and problems: all that tables say has a text, each text is of something that is said, and none of it is English any more."""
    def column(name: str, *columns: str) -> set[str]:
        with (SRC / f"data/{name}.csv").open(encoding="utf-8", newline="") as file:
            return {row[column] for row in csv.DictReader(file) for column in columns}

    tables = column("commands", "summary", "about") | column("command_options", "meaning") | column("exit_codes", "meaning") | column("log_words", "meaning")
    with (SRC / f"data/text/terminal.{LANGUAGE}.csv").open(encoding="utf-8", newline="") as file:
        texts = {row["english"]: row["text"] for row in csv.DictReader(file)}
    code = "".join(path.read_text(encoding="utf-8") for path in sorted((SRC / "src/cli").glob("*.c")))
    lacks, idle = tables - texts.keys(), [text for text in texts.keys() - tables if f'"{text}"' not in code]
    claims.add(not lacks and not idle, f"help, prompts and problems: {len(texts)} texts, none lacks, none is idle", "\n".join([*lacks, *idle]))

    def told(*words: str, typed: str = "", **env: str) -> str:
        done = subprocess.run([os.environ["TUBWRIGHT"], *words], env={**book.env, **env}, input=typed, capture_output=True, text=True, check=False)
        return " ".join((done.stdout + done.stderr).split())

    commands = sorted(column("commands", "name"))
    german, english = ([told("--help", **env), told("log", "--words", **env), *(told("help", name, **env) for name in commands)] for env in ({"TUBWRIGHT_LANGUAGE": LANGUAGE}, {}))
    left = {text for text in tables if texts[text] != text and any(f" {text}" in page for page in german)}
    said = [text for text in tables if any(text in page for page in english)]
    claims.add(not left and len(said) == len(tables), f"the help of {len(commands)} commands says {len(said)} things, none in English", "\n".join(left))
    claims.add(all(texts[text] in " ".join(german) for text in tables), "each in the language's own words", "\n".join(text for text in tables if texts[text] not in " ".join(german)))
    problem, asked = told("--language", LANGUAGE, "no-such-command"), told("-l", f"{book.env['HOME']}/fresh.db", "--language", LANGUAGE, "prompt", typed="Barn\n900 L\nhelp\nq\n")
    claims.add("diesen Befehl gibt es nicht" in problem and "Siehe tubwright --help" in problem, "a problem and what to do about it", problem)
    claims.add(all(words in asked for words in ("Wie heißt das Becken?", "Ungefähr wie viel Wasser", "was gemessen wurde")), "the prompt asks and helps", asked)


def refusals(claims: Claims) -> None:
    """Everything has a text, and the generator refuses by name what is not as it must be."""
    lacks = lacking(SRC / "data", LANGUAGE)
    claims.add(not lacks, f"{LANGUAGE}: nothing lacks a text", "\n".join(lacks))
    changes = [("a row is no English one", "dose", lambda text: text.replace("caution-acid-gas", "caution-gas"), "caution-gas"),
               ("an argument is gone", "procedure", lambda text: text.replace("{now:0} auf etwa {after:0} mg/L. Der", "{now:0}. Der", 1), "why-acid-step"),
               ("a type is another", "answer", lambda text: text.replace("Volumen {volume:amount}", "Volumen {volume:l}", 1), "entry-volume"),
               ("a term is too many", "terms", lambda text: text + "no such name,kein solcher Name\n", "no such name")]
    for claim, room, change, named in changes:
        with tempfile.TemporaryDirectory() as folder:
            data = Path(folder) / "data"
            shutil.copytree(SRC / "data", data)
            path = data / f"text/{room}.{LANGUAGE}.csv"
            before = path.read_text(encoding="utf-8")
            path.write_text(change(before), encoding="utf-8")
            done = subprocess.run([sys.executable, "-c", "import sys; sys.path.insert(0, sys.argv[1]); from pathlib import Path; import languages; languages.generate(Path(sys.argv[2]), Path(sys.argv[3]))",
                                   str(SRC / "tools/gen"), str(data), folder], capture_output=True, text=True, check=False)
            claims.add(path.read_text(encoding="utf-8") != before and done.returncode != 0 and named in done.stderr, f"{claim}: refused by name", done.stderr)


def main() -> None:
    claims = Claims()
    with tempfile.TemporaryDirectory() as folder:
        book = Book(folder)
        for at, words in STORY + MORE:
            book.run("--yes", *words.split(), at=at)
        counts: dict[str, int] = {}
        theirs_json, theirs_text = {}, {}
        for view, tub in ASKED:
            words = ["tub"] if view == "tubs" else ["tub", tub] if view == "tub" else [view, "-t", tub]
            english = json.loads(book.run(*words, "--json"))
            theirs_json[view, tub] = book.run(*words, "--json", "--language", LANGUAGE)
            theirs_text[view, tub] = book.run(*words, "--language", LANGUAGE)
            wrong: list[str] = []
            walk(english, json.loads(theirs_json[view, tub]), view, wrong, counts)
            claims.add(not wrong, f"{view} {tub}: numbers, ids, digests are English's, sentences the language's own", "\n".join(wrong[:5]))
        text = b"".join(theirs_text.values()).decode()
        left = english_labels(text)
        claims.add(not left, f"no label of {len(text.splitlines())} lines of text is English", "\n".join(left[:5]))
        claims.add(len(counts) >= 120, f"{len(counts)} different sentences were said", "")
        wide = [line for line in text.splitlines() if len(line) > 60]
        claims.add(not wide, "no line is wider than 60 columns", "\n".join(wide[:5]))
        refused_entries(claims, book)
        terminal_words(claims, book)
        if Path(os.environ.get("WASM", "")).is_file():
            lines = Path(folder) / "lines.jsonl"
            lines.write_bytes(book.run("export"))
            pack = Path(os.environ["BUILD"]) / f"src/gen/{LANGUAGE}.language"
            shown = [key for key in ASKED if key[1] == "Barn"]
            questions = [f"{view} at={NOW} as={form} tub={tub}" for view, tub in shown for form in ("json", "text")]
            native = [one for key in shown for one in (theirs_json[key], theirs_text[key])]
            same = [one == other for one, other in zip(native, answers(lines, questions, pack), strict=True)]
            claims.add(all(same), f"the module gives the terminal's bytes, {len(same)} times", "\n".join(q for q, good in zip(questions, same) if not good))
    refusals(claims)
    done = subprocess.run([os.environ["TUBWRIGHT"], "now", "--language", "xx"], capture_output=True, text=True, check=False)
    claims.add(done.returncode == 2 and "en, de" in done.stderr, "a language that is not there is refused, and those that are get named", done.stderr)
    claims.report()


if __name__ == "__main__":
    main()
