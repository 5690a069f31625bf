// What the page knows: entries as they arrive, answers as they are worked out. Views look at it through hooks.
import { useEffect, useLayoutEffect, useReducer, useRef, useState } from "preact/hooks";
import type { Answer } from "tables";
import type { Book, Told } from "./book/book";
import type { Met } from "./book/meet";
import { open, type Row } from "./book/shelf";
import type { Answers } from "./core/answers";
import { compile, type Field } from "./core/module";
import { inTurn, Rank } from "./core/queue";
import { addEntries, count, Entry, entryCount, newest, restate, tubsOfEntries, waiting, type Tub } from "./entries";
import { remote, type Remote } from "./lib/remote";
import { spoken } from "./lib/say";
import { units } from "./lib/units";
import { minute, stamp } from "./lib/time";

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
  /** How the last meeting with the server went; null: there was none yet. */
  met: null as Met | null,
  sending: false,
  /** Counts changes, so that answers know whether they are old. */
  version: 0,
};

const listeners = new Set<() => void>();
let due = false;

/** What changed at once is drawn once, behind what made it change. */
function changed(): void {
  if (due) return;
  due = true;
  setTimeout(() => {
    if (!due) return;
    due = false;
    for (const listener of listeners) listener();
  });
}

/** The whole page is being drawn with all that is known by now: nothing is due. */
export const drawn = (): void => void (due = false);

/** Draw again when something changes. */
export function useKnown(): typeof known {
  const [, draw] = useReducer((n: number) => n + 1, 0);
  useLayoutEffect(() => { // with the first drawing: what changes right behind it is not missed
    const listener = () => draw(0);
    listeners.add(listener);
    return () => void listeners.delete(listener);
  }, []);
  return known;
}

const PORTION = 1000;
let writer = ""; // of this device
let reached = 0; // the highest number of a row that is here
let early = false; // rows were told of before the page was ready

function addRows(told: Row[]): void {
  const rows = told.filter(({ seq }) => seq! > reached);
  if (rows.length === 0) return;
  reached = rows.at(-1)!.seq!;
  addEntries(rows);
  known.version++;
  if (!known.ready) return;
  untold.push(...rows);
  setTimeout(informed); // waking a worker may cost this page its turn of the processor: they are drawn first
  changed();
}

let untold: Row[] = []; // to the worker that answers

/** The worker that answers, which has been told of all rows. */
function informed(): Remote<Answers> {
  if (untold.length > 0) void answers.lines(untold);
  untold = [];
  return answers;
}

/** Rows that are stored now; those before them are here, or will be read. */
function stored(rows: Row[]): void {
  if (known.ready) addRows(rows);
  else early = true;
}

function hear(message: unknown): void {
  const told = message as Told;
  if (told.told === "lines") stored(told.rows);
  if (told.told === "met") {
    known.met = told.met;
    known.sending = false;
    changed();
    void compare(told.met);
  }
  if (told.told === "states") {
    restate(told.rows);
    changed();
  }
}

/** When both have one seal, both have the same entries. */
async function compare(met: Met): Promise<void> {
  const upTo = reached;
  if (met.how !== "met" || (await informed().seal()) !== met.seal) return;
  await book.sealed(upTo);
  met.sealed = true;
  changed();
}

/** The core is compiled once, while the workers begin; meanwhile the cards of before stand there, where `recall` found some. */
export async function begin(): Promise<void> {
  try {
    const module = compile(WASM);
    book = remote<Book>(new Worker(BOOK_WORKER, { type: "module" }), hear);
    answers = remote<Answers>(new Worker(ANSWERS_WORKER, { type: "module" }));
    const opened = module.then((compiled) => {
      answers.open(compiled, spoken()).catch(fail); // nobody waits for it but the questions
      return book.open(compiled, spoken());
    });
    opened.catch(() => {}); // awaited below
    // A large logbook comes in portions, so that the page can be touched meanwhile. From the book's opening on it tells of rows; those before are read here.
    const read = async () => {
      for (let rows = await (await shelf).rows(reached, PORTION); rows.length > 0; rows = await (await shelf).rows(reached, PORTION)) addRows(rows);
    };
    await read();
    writer = await opened;
    do {
      early = false;
      await read();
    } while (early);
    void answers.lines(); // it reads them by itself
    known.ready = true;
    changed();
    void meetServer();
  } catch (fault) {
    fail(fault);
  }
}

function fail(fault: unknown): void {
  known.trouble = (fault as Error).message;
  changed();
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

/** The tubs; until the logbook is open those whose cards were kept. */
export const tubs = (): Tub[] => (known.ready ? tubsOfEntries() : [...cards].map(([id, { answer }]) => ({ id, name: answer.tub ?? "" })));

/** What somebody writes, without id, tub and times. */
export interface Fact {
  kind: string;
  fields: Field[];
}

/** What was written, and what the core asks back about it. */
export interface Written { entries: Entry[]; asked: Promise<Answer | null> }

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

/** What the core asks back about drafts; asked before they are written. */
async function askBack({ tub, entered, lines }: Drafts): Promise<Answer | null> {
  if (count(tub) === 0) return null;
  return JSON.parse(await informed().ask(tub, [`check at=${entered} as=json${inUnits()} tub=${tub}`, ...lines].join("\n"), false)) as Answer;
}

/** While somebody reads a strip: what will work out the card comes meanwhile. */
export const expect = (): void => void (known.ready && entryCount() <= MOST_AHEAD && answers.ready().catch(() => {})); // whoever asks hears of it

/** While a hand is still on its way: what is asked back, which is returned, and the card that will follow; that is shown when just these are written.
 * `wanted`: until it has begun. */
export function foresee(drafts: Drafts, wanted: () => boolean): Promise<Answer | null> {
  const { tub, entered, lines } = drafts;
  const asked = askBack(drafts);
  if (known.ready && count(tub) > 0 && entryCount() <= MOST_AHEAD) inTurn(Rank.Ahead, () => informed().ahead(tub, writer, lines, `now at=${entered} as=json${inUnits()} tub=${tub}`), wanted).catch(() => {});
  return asked;
}

/** Write drafts: all or none. `asked`: what is asked back, where that is known; else it is asked for whoever shows it. */
export async function writeDrafts(drafts: Drafts, asking = false, asked?: Promise<Answer | null>): Promise<Written> {
  const back = asked ?? (asking ? askBack(drafts) : Promise.resolve(null));
  back.catch(() => {}); // whoever shows it says so
  known.sending = true;
  const rows = await book.write(drafts.lines);
  stored(rows);
  return { entries: rows.slice(-drafts.lines.length).map((row) => new Entry(row)), asked: back };
}

/** Both at once. */
export const write = async (tub: string, facts: Fact[], at = new Date(), asking = false) => writeDrafts(await draft(tub, facts, at), asking);

/** What becomes of entries that the server does not take. */
export const decide = (entries: Entry[], kept: boolean) => book.decide(entries.map(({ row }) => row.seq!), kept);

export const newId = () => book.id();
export const bring = (lines: string[]) => book.bring(lines);
export const seal = () => informed().seal();

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

/** The units of a question. */
const inUnits = () => (units() ? ` units=${units()}` : "");

/** Language and units in which sentences were said. */
const manner = () => [spoken(), units()].filter(Boolean).join(" ");

/** A card as it was worked out: by which program, in which language and units, of how many of the tub's entries (none ever goes). */
interface Kept { answer: Answer; program: string; language: string; entries: number }

const cards = new Map<string, Kept>();

/** The cards of before, of all tubs: what the page opens with. They are read while `dressed` is awaited, which says in which language. */
export async function recall(dressed: Promise<void>): Promise<void> {
  const all = shelf.then(({ all }) => all<Kept>("facts", "card:")).catch(() => []); // without storage `begin` says so
  await dressed;
  for (const kept of await all) if (kept.program === PROGRAM && kept.language === manner()) cards.set(kept.answer.tub_id!, kept);
}

/** The cards of all tubs as they were worked out last. */
export const keptCards = (): Answer[] => [...cards.values()].map(({ answer }) => answer);

function keep(tub: string, answer: Answer): void {
  const kept: Kept = { answer, program: PROGRAM, language: manner(), entries: count(tub) };
  cards.set(tub, kept);
  void setFact(`card:${tub}`, kept);
}

/** The card of a tub while it is of all the tub's entries and what it says may still be done. */
function current(tub: string): Answer | null {
  const kept = cards.get(tub);
  const good = kept && known.ready && kept.entries === count(tub) && Date.parse(kept.answer.act?.good_until ?? kept.answer.at!) > Date.now();
  return good ? kept.answer : null;
}

/** The clock: the beginning of the minute, or of the second for what counts them. Whoever looks at it is drawn again when it turns. */
export function useClock(seconds = false): Date {
  const turned = () => (seconds ? Date.now() : minute(Date.now()));
  const [now, setNow] = useState(turned);
  useEffect(() => {
    const timer = setInterval(() => setNow(turned()), 1000);
    return () => clearInterval(timer);
  }, []);
  return new Date(now);
}

const YOUNG_MS = 5 * 60_000; // in the round a current card is young enough so long

/** An answer, worked out again when entries of the tub arrive or the minute turns. A card that was kept stands there at once: while it is current it only
 * gets younger; else it says that it waits for the new one. Without words nothing is asked. `round`: one of many, which wait for all other questions, and
 * are not asked while they are young. */
export function useAnswer(tub: string, words: string, round = false): Asked {
  useKnown();
  const at = useClock().getTime(); // questions are asked for it, or for when an entry came since
  const key = `${tub} ${words}`;
  const card = words === "now" && tub !== "";
  const before = () => (card ? cards.get(tub)?.answer : lastAnswers.get(key)) ?? null;
  const asked = useRef("");
  const [state, setState] = useState<Asked>({ answer: before(), working: true, fault: "" });
  const wanted = `${key} ${count(tub)} ${at}`;
  useEffect(() => {
    if (!known.ready || !words) return;
    asked.current = wanted;
    setState({ answer: before(), working: !(card && current(tub)), fault: "" });
    if (round && Date.now() - Date.parse(current(tub)?.at ?? "1970-01-01") < YOUNG_MS) return;
    const time = stamp(new Date(Math.max(at, newest(tub))));
    const [word, ...options] = words.split(" ");
    const entries = count(tub);
    const question = [word, `at=${time}`, `as=json${inUnits()}`, `tub=${tub}`, ...options].join(" ");
    inTurn(round ? Rank.Round : card ? Rank.Card : Rank.View, () => informed().ask(tub, question, card), () => asked.current === wanted).then(
      (text) => {
        if (text === null) return;
        const answer = JSON.parse(text) as Answer;
        if (!card) lastAnswers.set(key, answer);
        else if (entries === count(tub)) keep(tub, answer);
        if (asked.current === wanted) setState({ answer, working: false, fault: "" });
      },
      (fault) => asked.current === wanted && setState({ answer: null, working: false, fault: (fault as Error).message }),
    );
    return () => void (asked.current = "");
  }, [wanted, known.ready]);
  return known.ready ? state : { ...state, answer: before() };
}
