// The entries of this device, by tub. A line is read when somebody looks at it: of a large round most tubs never are.
import { State, type Row } from "./book/shelf";

/** An entry as its line says it, and where it stands. */
export class Entry {
  #fields: Record<string, string> | undefined;
  constructor(public row: Row) {}
  get fields(): Record<string, string> {
    return (this.#fields ??= JSON.parse(this.row.line) as Record<string, string>);
  }
}

export interface Tub {
  id: string;
  name: string;
}

const all: Entry[] = [];

/** The entries of a tub in the order of their arrival; by id those that were looked for, up to a number of them. */
interface Shelf { list: Entry[]; byId: Map<string, Entry>; upTo: number }
const byTub = new Map<string, Shelf>();
const makers: Entry[] = []; // of tubs

/** What a line has after these signs, up to a quotation mark. Within a text that is escaped: `"tub":"` is found as a field or not at all. */
function after(line: string, signs: string): string {
  const at = line.indexOf(signs) + signs.length;
  return at < signs.length ? "" : line.slice(at, line.indexOf('"', at));
}

export function addEntries(rows: Row[]): void {
  for (const row of rows) {
    const entry = new Entry(row);
    const tub = after(row.line, '"tub":"');
    const shelf: Shelf = byTub.get(tub) ?? { list: [], byId: new Map(), upTo: 0 };
    all.push(entry);
    shelf.list.push(entry);
    byTub.set(tub, shelf);
    if (row.line.includes('"kind":"tub"')) makers.push(entry);
  }
}

/** Rows as they stand now. */
export function restate(rows: Row[]): void {
  const bySeq = new Map(rows.map((row) => [row.seq, row]));
  for (const entry of all) entry.row = bySeq.get(entry.row.seq) ?? entry.row;
}

export const entriesOf = (tub: string): readonly Entry[] => byTub.get(tub)?.list ?? [];

/** How many a tub has; none ever goes. */
export const count = (tub: string) => entriesOf(tub).length;

export function entryOf(tub: string, id: string): Entry | undefined {
  const shelf = byTub.get(tub);
  for (; shelf && shelf.upTo < shelf.list.length; shelf.upTo++) {
    const entry = shelf.list[shelf.upTo]!;
    if (!shelf.byId.has(entry.fields.id!)) shelf.byId.set(entry.fields.id!, entry);
  }
  return shelf?.byId.get(id);
}

/** Entries of a tub that count: not taken back. */
export function standing(tub: string, kind?: string): Entry[] {
  const voided = new Set(entriesOf(tub).filter(({ fields }) => fields.kind === "void").map(({ fields }) => fields.target));
  return entriesOf(tub).filter(({ fields }) => (!kind || fields.kind === kind) && !voided.has(fields.id!));
}

/** Tubs in the order of their first entry, by their last name. */
export function tubsOfEntries(): Tub[] {
  const found = new Map<string, Tub & { at: string }>();
  for (const { fields } of makers) {
    const tub = found.get(fields.tub!);
    if (!tub || fields.at! >= tub.at) found.set(fields.tub!, { id: fields.tub!, name: fields.name!, at: fields.at! });
  }
  return [...found.values()];
}

/** When the newest entry of a tub was made: a question is not asked for before it. */
export function newest(tub: string): number {
  let latest = 0;
  const now = Date.now();
  for (const { fields } of entriesOf(tub)) {
    const at = Math.max(Date.parse(fields.at!), Date.parse(fields.entered!));
    if (at <= now && at > latest) latest = at;
  }
  return latest;
}

export const waiting = () => all.reduce((n, { row }) => n + Number(row.state === State.Here && row.refused === undefined), 0);

/** Entries that the server refuses, and nobody has decided about. */
export const refusedOf = (tub?: string): Entry[] => (tub ? byTub.get(tub)?.list ?? [] : all).filter(({ row }) => row.refused && !row.refused.kept);

/** How many stay on this device alone because somebody decided so. */
export const keptHere = () => all.reduce((n, { row }) => n + Number(row.refused?.kept ?? false), 0);

/** How many there are. */
export const entryCount = () => all.length;

/** All entries as a file of lines. */
export const exportLines = () => all.map(({ row }) => row.line + "\n").join("");
