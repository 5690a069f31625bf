// What the page knows: entries as they arrive, answers as they are worked out. Views look at it through hooks.
import { useEffect, useReducer, useRef, useState } from "preact/hooks";
import type { Answer } from "tables";
import type { Book, Told } from "./book/book";
import type { Met } from "./book/meet";
import { open, State, type Row } from "./book/shelf";
import type { Answers } from "./core/answers";
import { compile, type Field } from "./core/module";
import { remote, type Remote } from "./lib/remote";
import { spoken } from "./lib/say";
import { minute, stamp } from "./lib/time";

/** An entry as its line says it, and where it stands. */
export interface Entry {
  fields: Record<string, string>;
  row: Row;
}

export interface Tub {
  id: string;
  name: string;
}

declare const BOOK_WORKER: string;
declare const ANSWERS_WORKER: string;
declare const WASM: string;
declare const PROGRAM: string;

let book: Remote<Book>;
let answers: Remote<Answers>;
const shelf = open();

export const known = {
  ready: false,
  /** Why the logbook of this device cannot be used. */
  trouble: "",
  entries: [] as Entry[],
  /** How the last meeting with the server went; null: there was none yet. */
  met: null as Met | null,
  sending: false,
  /** Counts changes, so that answers know whether they are old. */
  version: 0,
};

const listeners = new Set<() => void>();
function changed(): void {
  for (const listener of listeners) listener();
}

/** Draw again when something changes. */
export function useKnown(): typeof known {
  const [, draw] = useReducer((n: number) => n + 1, 0);
  useEffect(() => {
    const listener = () => draw(0);
    listeners.add(listener);
    return () => void listeners.delete(listener);
  }, []);
  return known;
}

const PORTION = 2000;
let writer = ""; // of this device
let reached = 0; // the highest number of a row that is here
let early = false; // rows were told of before the page was ready

function addRows(told: Row[]): void {
  const rows = told.filter(({ seq }) => seq! > reached);
  if (rows.length === 0) return;
  reached = rows.at(-1)!.seq!;
  for (const row of rows) {
    const fields = JSON.parse(row.line);
    known.entries.push({ fields, row });
    counts.set(fields.tub, (counts.get(fields.tub) ?? 0) + 1);
  }
  known.version++;
  if (known.ready) void answers.lines(rows.map(({ line }) => line));
  changed();
}

function hear(message: unknown): void {
  const told = message as Told;
  if (told.told === "lines" && known.ready) addRows(told.rows);
  else if (told.told === "lines") early = true;
  if (told.told === "met") {
    known.met = told.met;
    known.sending = false;
    changed();
  }
  if (told.told === "states") {
    const bySeq = new Map(told.rows.map((row) => [row.seq, row]));
    for (const entry of known.entries) entry.row = bySeq.get(entry.row.seq) ?? entry.row;
    changed();
  }
}

/** The core is compiled once, while the workers begin; meanwhile the cards of before stand there. */
export async function begin(): Promise<void> {
  try {
    const module = compile(WASM);
    book = remote<Book>(new Worker(BOOK_WORKER, { type: "module" }), hear);
    answers = remote<Answers>(new Worker(ANSWERS_WORKER, { type: "module" }));
    const opened = module.then((compiled) => Promise.all([book.open(compiled, spoken()), answers.open(compiled, spoken())]));
    opened.catch(() => {}); // awaited below
    await recall();
    // A large logbook comes in portions, so that the page can be touched meanwhile. What is told of is stored.
    const more = async () => (await shelf).rows(reached, PORTION);
    for (let rows = await more(); rows.length > 0; rows = await more()) addRows(rows);
    [writer] = await opened;
    for (; early; addRows(await more())) early = false;
    for (let i = 0; i < known.entries.length; i += PORTION) void answers.lines(known.entries.slice(i, i + PORTION).map(({ row }) => row.line));
    known.ready = true;
    changed();
    void meetServer();
  } catch (fault) {
    known.trouble = (fault as Error).message;
    changed();
  }
}

/** Try to meet the server now, and again when the network comes back or the page is looked at. */
export async function meetServer(): Promise<void> {
  lastTry = Date.now();
  known.sending = true;
  changed();
  try {
    await book.meet();
  } finally {
    known.sending = false;
    changed();
  }
}
self.addEventListener?.("online", () => known.ready && void meetServer());
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && known.ready && void meetServer());
// Entries of others are told as they arrive; this is for a server that went away and came back, and for a stream that died unnoticed.
const UNHEARD_MS = 5 * 60_000;
let lastTry = 0;
setInterval(() => known.ready && document.visibilityState === "visible" && (known.met?.how !== "met" || waiting() > 0 || Date.now() - lastTry > UNHEARD_MS) && void meetServer(), 30_000);

// ---- entries ------------------------------------------------------------------------------------------------

/** Tubs in the order of their first entry, by their last name; until the logbook is open those whose cards were kept. */
export function tubs(): Tub[] {
  if (!known.ready) return [...cards].map(([id, { answer }]) => ({ id, name: answer.tub ?? "" }));
  const found = new Map<string, Tub & { at: string }>();
  for (const { fields } of known.entries) {
    if (fields.kind !== "tub") continue;
    const tub = found.get(fields.tub!);
    if (!tub || fields.at! >= tub.at) found.set(fields.tub!, { id: fields.tub!, name: fields.name!, at: fields.at! });
  }
  return [...found.values()];
}

/** Entries of a tub that count: not taken back. */
export function standing(tub: string, kind?: string): Entry[] {
  const voided = new Set(known.entries.filter(({ fields }) => fields.kind === "void" && fields.tub === tub).map(({ fields }) => fields.target));
  return known.entries.filter(({ fields }) => fields.tub === tub && (!kind || fields.kind === kind) && !voided.has(fields.id!));
}

export const waiting = () => known.entries.filter(({ row }) => row.state === State.Here && row.refused === undefined).length;

/** What somebody writes, without id, tub and times. */
export interface Fact {
  kind: string;
  fields: Field[];
}

/** What was written, and what the core asks back about it. */
export interface Written { entries: Entry[]; asked: Promise<Answer> }

/** Facts of one moment as entries that are checked and not written yet. */
export interface Drafts { tub: string; entered: string; lines: string[] }

/** Throws a Fault with the field that is refused. */
export async function draft(tub: string, facts: Fact[], at = new Date()): Promise<Drafts> {
  const entered = stamp(new Date());
  const [by, role] = await Promise.all([fact<string>("by"), fact<string>("role")]);
  const person: Field[] = [...(by ? [["by", by] as Field] : []), ...(role ? [["role", role] as Field] : [])];
  return { tub, entered, lines: await book.drafts(facts.map(({ kind, fields }) => [["kind", kind], ["tub", tub], ["at", stamp(at)], ["entered", entered], ...person, ...fields])) };
}

const MOST_AHEAD = 8192; // entries of a logbook for which it is worth it

/** The card that will follow is worked out while a hand is still on its way. It is shown when just these are written. */
export async function foresee({ tub, entered, lines }: Drafts): Promise<void> {
  if (known.ready && counts.has(tub) && known.entries.length <= MOST_AHEAD) await answers.ahead(tub, writer, lines, `now at=${entered} as=json tub=${tub}`);
}

/** Write drafts: all or none. `asking`: somebody shows what is asked back. */
export async function writeDrafts({ tub, entered, lines }: Drafts, asking = false): Promise<Written> {
  const asked = asking && counts.has(tub)
    ? answers.ask(tub, [`check at=${entered} as=json tub=${tub}`, ...lines].join("\n"), false).then(({ text }) => JSON.parse(text) as Answer) : Promise.resolve({});
  asked.catch(() => {}); // whoever shows it says so
  known.sending = true;
  const rows = await book.write(lines);
  return { entries: rows.map((row) => ({ fields: JSON.parse(row.line), row })), asked };
}

/** Both at once. */
export const write = async (tub: string, facts: Fact[], at = new Date(), asking = false) => writeDrafts(await draft(tub, facts, at), asking);

export const newId = () => book.id();
export const bring = (lines: string[]) => book.bring(lines);
export const seal = () => book.seal();

// ---- small facts of this device ---------------------------------------------------------------------------------

export const fact = async <T>(name: string) => (await shelf).get<T>("facts", name);
export const setFact = async (name: string, value: unknown) => void (await (await shelf).put("facts", value, name));

/** A fact of this device as state; `loaded` is false until it was looked up. */
export function useFact<T>(name: string, otherwise: T): [T, (value: T) => void, boolean] {
  const [value, setValue] = useState(otherwise);
  const [loaded, setLoaded] = useState(false);
  useEffect(() => {
    let here = true;
    setLoaded(false);
    void fact<T>(name).then((stored) => {
      if (!here) return;
      setValue(stored ?? otherwise);
      setLoaded(true);
    });
    return () => void (here = false);
  }, [name]);
  return [value, (next: T) => (setValue(next), void setFact(name, next)), loaded];
}

// ---- answers ----------------------------------------------------------------------------------------------------

export interface Asked {
  answer: Answer | null;
  /** A newer one is being worked out; what is shown is of before. */
  working: boolean;
  fault: string;
}

const lastAnswers = new Map<string, Answer>();

/** A card as it was worked out: by which program, in which language, of how many of the tub's entries (none ever goes). */
interface Kept { answer: Answer; program: string; language: string; entries: number }

const cards = new Map<string, Kept>();
const counts = new Map<string, number>();

/** The cards of before, of all tubs: what the page opens with. */
async function recall(): Promise<void> {
  for (const kept of await (await shelf).all<Kept>("facts", "card:")) if (kept.program === PROGRAM && kept.language === spoken()) cards.set(kept.answer.tub_id!, kept);
  if (cards.size > 0) changed();
}

function keep(tub: string, answer: Answer): void {
  const kept: Kept = { answer, program: PROGRAM, language: spoken(), entries: counts.get(tub) ?? 0 };
  cards.set(tub, kept);
  void setFact(`card:${tub}`, kept);
}

/** The card of a tub while it is of all the tub's entries and what it says may still be done. */
function current(tub: string): Answer | null {
  const kept = cards.get(tub);
  const good = kept && known.ready && kept.entries === counts.get(tub) && Date.parse(kept.answer.act?.good_until ?? kept.answer.at!) > Date.now();
  return good ? kept.answer : null;
}

/** The moment that questions are asked for: the beginning of the minute, or when an entry came since. */
export function useClock(): Date {
  const [now, setNow] = useState(Date.now());
  useEffect(() => {
    const timer = setInterval(() => setNow(Date.now()), 1000);
    return () => clearInterval(timer);
  }, []);
  return new Date(now);
}

const YOUNG_MS = 5 * 60_000; // in the round a current card is young enough so long
let line: Promise<unknown> = Promise.resolve(); // of the round's questions

/** An answer, worked out again when entries arrive or the minute turns. A card that was kept stands there at once: while it is current it only gets
 * younger; else it says that it waits for the new one. Without words nothing is asked. `round`: one of many; they are asked one after the other,
 * so that another view's question comes in between, and not while they are young. */
export function useAnswer(tub: string, words: string, round = false): Asked {
  useKnown();
  const now = useClock();
  const key = `${tub} ${words}`;
  const card = words === "now" && tub !== "";
  const before = () => (card ? cards.get(tub)?.answer : lastAnswers.get(key)) ?? null;
  const at = minute(now.getTime());
  const asked = useRef("");
  const [state, setState] = useState<Asked>({ answer: before(), working: true, fault: "" });
  const wanted = `${key} ${known.version} ${at}`;
  useEffect(() => {
    if (!known.ready || !words) return;
    asked.current = wanted;
    setState({ answer: before(), working: !(card && current(tub)), fault: "" });
    if (round && Date.now() - Date.parse(current(tub)?.at ?? "1970-01-01") < YOUNG_MS) return;
    const time = stamp(new Date(Math.max(at, newest(tub))));
    const [word, ...options] = words.split(" ");
    const entries = counts.get(tub);
    const ask = () => answers.ask(tub, `${word} at=${time} as=json${tub ? ` tub=${tub}` : ""}${options.map((option) => ` ${option}`).join("")}`, card);
    const told = round ? line.then(() => (asked.current === wanted ? ask() : null)) : ask();
    if (round) line = told.catch(() => {});
    told.then(
      (said) => {
        if (!said) return;
        const { text } = said;
        const answer = JSON.parse(text) as Answer;
        if (!card) lastAnswers.set(key, answer);
        else if (entries === counts.get(tub)) keep(tub, answer);
        if (asked.current === wanted) setState({ answer, working: false, fault: "" });
      },
      (fault) => asked.current === wanted && setState({ answer: null, working: false, fault: (fault as Error).message }),
    );
    return () => void (asked.current = "");
  }, [wanted, known.ready]);
  return known.ready ? state : { ...state, answer: before() };
}

/** When the newest entry of a tub was made: a question is not asked for before it. */
function newest(tub: string): number {
  let latest = 0;
  const now = Date.now();
  for (const { fields } of known.entries)
    if (!tub || fields.tub === tub) {
      const at = Math.max(Date.parse(fields.at!), Date.parse(fields.entered!));
      if (at <= now && at > latest) latest = at;
    }
  return latest;
}

/** All entries as a file of lines. */
export const exportLines = () => known.entries.map(({ row }) => row.line + "\n").join("");
