// The page's words. English is in the program; another language is a pack, which the core and the page read alike
// (src/units/language.h): "/log-all" is a sentence of the page, "=soda ash" a name of a table, all else is the core's own.
import { texts, type Said, type Sentence } from "tables";

declare const LANGUAGES: string[];

let language = "en";
const pack = new Map<string, string>();

export const languages = ["en", ...LANGUAGES];
export const spoken = () => language;

/** The bytes of a language; none for English, and where it cannot be had. */
export async function packOf(wanted: string): Promise<Uint8Array> {
  if (!LANGUAGES.includes(wanted)) return new Uint8Array(0);
  try {
    const response = await fetch(`/app/${wanted}.language`);
    return new Uint8Array(response.ok ? await response.arrayBuffer() : []);
  } catch {
    return new Uint8Array(0);
  }
}

export async function speak(wanted: string): Promise<void> {
  const [form, tag = "", ...rest] = new TextDecoder().decode(await packOf(wanted)).split("\0");
  if (form !== "tubwright language 1") return; // as the core does
  for (let i = 0; i + 1 < rest.length; i += 2) pack.set(rest[i]!, rest[i + 1]!);
  language = tag;
}

/** A sentence of the core. Where it names words that are typed at a terminal, the page has its own. */
export function hear({ id, text }: Said): string {
  const own = `card-${id}`;
  return has(own) ? say(own) : text;
}

export const has = (id: string): id is Sentence => id in texts;

/** A sentence with its arguments in place; of one thing (n: 1) where there is a sentence of one. */
export function say(id: Sentence, args: Record<string, string | number> = {}): string {
  const one = `${id}-one`;
  if (args.n === 1 && has(one)) return say(one, { ...args, n: "1" });
  const text = pack.get(`/${id}`) ?? texts[id];
  return text.replace(/\{([a-z_]+)\}/g, (_, name: string) => String(args[name] ?? ""));
}

/** What a name of an English table is called. */
export const called = (english: string) => pack.get(`=${english}`) ?? english;

/** A number as the language writes it. */
export const figure = (value: number | string) => String(value).replace(".", pack.get("form-decimal") ?? ".");

/** With a capital, as a heading begins. */
export const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);

/** Stage names are capitals at the terminal in English; here the act alone is. */
export const sentenceCase = (text: string) => (text === text.toUpperCase() ? text.charAt(0) + text.slice(1).toLowerCase().replace("ph", "pH") : text);
