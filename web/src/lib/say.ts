// The page's own sentences. What the core says comes as text already.
import { texts, type Said, type Sentence } from "tables";

let language = "en";

export const languages = Object.keys(texts);
export const spoken = () => language;
export function speak(wanted: string): void {
  language = texts[wanted] ? wanted : "en";
}

/** A sentence of the core. Where it names words that are typed at a terminal, the page has its own. */
export function hear({ id, text }: Said): string {
  const own = `card-${id}` as Sentence;
  return texts[language]?.[own] ?? text;
}

export const has = (id: string): id is Sentence => id in texts.en!;

/** A sentence with its arguments in place. */
export function say(id: Sentence, args: Record<string, string | number> = {}): string {
  const text = texts[language]?.[id] ?? texts.en![id];
  return text.replace(/\{([a-z_]+)\}/g, (_, name: string) => String(args[name] ?? ""));
}
