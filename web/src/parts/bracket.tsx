// One sign for every interval: square brackets at its ends, a dot at its middle, on the line of a band.
import type { Spread } from "tables";
import { figure, say } from "../lib/say";
import { measured } from "../lib/units";

export const shown = (value: number | null | undefined, decimals: number) => (value == null ? say("not-known") : figure(value.toFixed(decimals)));

/** The three of a spread in the units of this device. */
export function spreadIn(value: Spread | null | undefined, unit: string): Spread | null | undefined {
  const one = (end: number | null) => (end == null ? null : measured(end, unit, 0).value);
  return value && { median: one(value.median), low: one(value.low), high: one(value.high) };
}

interface Band { low?: number | null; high?: number | null }

const WIDTH = 176;
const LEAST_APART = 34; // px between two figures; closer ones are written as one

/** An interval against its band, drawn; the words beside it are the caller's. Without a value the band alone. `from`, `until`: what is drawn where there is no band of two ends. */
export function Bracket({ value, band, decimals, from, until }: { value: Spread | null; band?: Band; decimals: number; from: number; until: number }) {
  const [low, high] = [value?.low ?? value?.median, value?.high ?? value?.median];
  const both = band?.low != null && band.high != null;
  // A band of two ends takes the middle third, so that its neighbourhood is seen; what lies farther out widens the line.
  const around = both ? band.high! - band.low! : 0;
  const begin = Math.min(both ? band.low! - around : from, low ?? Infinity);
  const end = Math.max(both ? band.high! + around : until, high ?? -Infinity);
  const x = (v: number) => 8 + ((v - begin) / (end - begin || 1)) * (WIDTH - 16);
  const edges = [band?.low, band?.high].filter((edge): edge is number => edge != null && edge >= begin && edge <= end);
  const words = (edge: number) => figure(+edge.toFixed(decimals));
  const close = edges.length === 2 && x(edges[1]!) - x(edges[0]!) < LEAST_APART;
  const labels = close ? [{ at: (x(edges[0]!) + x(edges[1]!)) / 2, text: say("a-to-b", { a: words(edges[0]!), b: words(edges[1]!) }) }] : edges.map((edge) => ({ at: x(edge), text: words(edge) }));
  // What is known to a hair is still drawn as a bracket, not as a blot.
  const half = low != null && high != null ? Math.max(0, (9 - (x(high) - x(low))) / 2) : 0;
  const [left, right] = [x(low ?? 0) - half, x(high ?? 0) + half];
  return (
    <svg class="chart" viewBox={`0 0 ${WIDTH} 44`} aria-hidden="true" style={{ maxWidth: "15rem" }}>
      <line x1="0" x2={WIDTH} y1="16" y2="16" stroke="var(--hair)" />
      {edges.map((edge) => <line x1={x(edge)} x2={x(edge)} y1="3" y2="29" stroke="var(--edge)" stroke-width="1.5" />)}
      {labels.map(({ at, text }) => <text x={Math.min(Math.max(at, 24), WIDTH - 24)} y="42" text-anchor="middle" style={{ fontSize: ".75rem" }}>{text}</text>)}
      {value?.median != null && (
        <g fill="none" stroke="var(--ink)" stroke-width="2">
          <path d={`M${left + 3} 8H${left}V24H${left + 3}M${right - 3} 8H${right}V24H${right - 3}`} />
          <line x1={left} x2={right} y1="16" y2="16" stroke-width="1" />
          <circle cx={x(value.median)} cy="16" r="3.5" fill="var(--ink)" stroke="none" />
        </g>
      )}
    </svg>
  );
}
