// One sign for every interval: square brackets at its ends, a dot at its middle, on the line of a band.
import type { Spread } from "tables";
import { figure, say } from "../lib/say";

export const shown = (value: number | null | undefined, decimals: number) => (value == null ? say("not-known") : figure(value.toFixed(decimals)));

interface Band { low?: number | null; high?: number | null }

/** An interval against its band, drawn; the words beside it are the caller's. */
export function Bracket({ value, band, decimals, from, until }: { value: Spread; band?: Band; decimals: number; from: number; until: number }) {
  const width = 320;
  const x = (v: number) => 8 + ((Math.min(Math.max(v, from), until) - from) / (until - from || 1)) * (width - 16);
  const { median } = value;
  // What is known to a hair is still drawn as a bracket, not as a blot.
  const half = median != null && value.low != null && value.high != null ? Math.max(0, (9 - (x(value.high) - x(value.low))) / 2) : 0;
  const [left, right] = [x(value.low ?? 0) - half, x(value.high ?? 0) + half];
  const edges = [band?.low, band?.high].filter((edge): edge is number => edge != null && edge >= from && edge <= until);
  return (
    <svg class="chart" viewBox={`0 0 ${width} 46`} aria-hidden="true">
      {edges.map((edge) => (
        <g>
          <line x1={x(edge)} x2={x(edge)} y1="2" y2="30" stroke="var(--edge)" stroke-width="1.5" />
          <text x={x(edge)} y="44" text-anchor="middle" style={{ fontSize: ".75rem" }}>{figure(edge.toFixed(decimals))}</text>
        </g>
      ))}
      {median != null && (
        <g fill="none" stroke="var(--ink)" stroke-width="2">
          <path d={`M${left + 3} 8H${left}V24H${left + 3}M${right - 3} 8H${right}V24H${right - 3}`} />
          <line x1={left} x2={right} y1="16" y2="16" stroke-width="1" />
          <circle cx={x(median)} cy="16" r="3" fill="var(--ink)" stroke="none" />
        </g>
      )}
    </svg>
  );
}
