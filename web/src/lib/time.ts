// Times as entries have them: the clock on the wall with its offset.

const two = (n: number) => String(n).padStart(2, "0");

/** An instant as the wall clock of this device shows it: 2026-03-24T10:40:00+01:00. */
export function stamp(instant: Date): string {
  const offset = -instant.getTimezoneOffset();
  const wall = new Date(instant.getTime() + offset * 60_000).toISOString().slice(0, 19);
  const away = Math.abs(offset);
  return `${wall}${offset < 0 ? "-" : "+"}${two(Math.floor(away / 60))}:${two(away % 60)}`;
}

/** 10:40, as it stands in the entry. */
export const clock = (time: string) => time.slice(11, 16);

/** 24 Mar, in the language of the page. */
export function day(time: string, language: string, weekday = false): string {
  const date = new Date(`${time.slice(0, 10)}T12:00:00Z`);
  return date.toLocaleDateString(language === "en" ? "en-GB" : language, { timeZone: "UTC", day: "numeric", month: "short", ...(weekday ? { weekday: "short" } : {}) });
}

/** Mon, in the language of the page. */
export const weekday = (time: string, language: string) => new Date(`${time.slice(0, 10)}T12:00:00Z`).toLocaleDateString(language, { timeZone: "UTC", weekday: "short" });

/** Milliseconds since 1970 of a written time. */
export const instant = (time: string) => Date.parse(time);

/** The beginning of the minute, so that asking twice asks the same. */
export const minute = (ms: number) => Math.floor(ms / 60_000) * 60_000;
