// What a server does not do, in the page's language: by the name of the problem (RFC 9457, data/problems.csv), not by the server's title.
import { has, say } from "./say";

export class Problem extends Error {
  /** `kind`: its name; "" where the answer was no problem object. */
  constructor(readonly kind: string, readonly status: number) {
    super(`${kind} ${status}`);
  }
}

const URN = "urn:tubwright:problem:";

/** What an answer that is none says. */
export async function problemOf(response: Response): Promise<Problem> {
  const { type = "" } = (await response.json().catch(() => ({}))) as { type?: string };
  return new Problem(type.startsWith(URN) ? type.slice(URN.length) : "", response.status);
}

/** In a sentence: its own where the page can say more than whose matter it is. */
export function problemSaid({ kind, status }: Pick<Problem, "kind" | "status">): string {
  const own = `problem-${kind}`;
  if (has(own)) return say(own);
  return say(status < 500 ? "problem-of-page" : "problem-of-server", { code: [status, kind].filter(Boolean).join(", ") });
}
