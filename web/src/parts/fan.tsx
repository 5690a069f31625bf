// The forecast drawn: time runs down the margin, mg/L across. What lies between what is left of doses and the median is the generator's
// own; that gap is the proof. Every number is the core's; the table beside it has them all.
import { useLayoutEffect, useRef, useState } from "preact/hooks";
import { substances, type Answer } from "tables";
import { clock, instant, weekday } from "../lib/time";
import { called, figure, say, spoken } from "../lib/say";
import { another } from "../lib/units";
import { amountShown } from "./amount";
import { entryOf } from "../entries";

/** People who come, as the question has them. */
export interface Guests { count: number; hour: number }

interface Drawn {
  answer: Answer;
  /** The duty that is set now, %. */
  dutyNow: number;
  guests: Guests;
  /** Until when nothing means anything after the dose of the plan; "" when it has none. */
  rest: string;
  /** What the plan pours now, in words; "" nothing. */
  pours: string;
  setDuty: (percent: number) => void;
  setHour: (hour: number) => void;
}

const LEAST_PX_AN_HOUR: Record<number, number> = { 24: 10, 48: 5.5, 168: 2.6, 336: 1.6 };
const BESIDE = 480; // px of a screen that head, sentence, keys and words take: the rest is the drawing's
const LANE = 48; // px of the lane in which the duty runs

/** Width of an element and how much larger than usual its letters are. */
function useMeasure() {
  const ref = useRef<HTMLElement>(null);
  const [size, setSize] = useState({ width: 374, margin: 72, letter: 1, room: 400 });
  useLayoutEffect(() => {
    const node = ref.current!;
    const measure = () => setSize({ width: node.clientWidth, margin: parseFloat(getComputedStyle(node).scrollMarginLeft), letter: parseFloat(getComputedStyle(document.documentElement).fontSize) / 16, room: innerHeight - BESIDE });
    const observer = new ResizeObserver(measure);
    observer.observe(node);
    measure();
    return () => observer.disconnect();
  }, []);
  return [ref, size] as const;
}

/** "30 mL hypochlorite", as it was typed, or in the units of this device. */
function poured(tub: string, id: string): string {
  const fields = entryOf(tub, id)?.fields;
  if (!fields) return "";
  const listed = substances[fields.substance ?? ""]?.plain;
  const name = (listed && called(listed).replace(/ \(.*/, "")) ?? entryOf(tub, fields.substance ?? "")?.fields.name ?? fields.substance;
  if (another(fields.amount_unit ?? "")) return `${amountShown(Number(fields.amount), fields.amount_unit!)} ${name}`;
  return [figure(fields.amount ?? ""), fields.amount_unit ?? (fields.measured === "scoop" ? say("scoops") : ""), name].filter(Boolean).join(" ");
}

export function Fan({ answer, dutyNow, guests, rest, pours, setDuty, setHour }: Drawn) {
  const [ref, { width, margin, letter, room }] = useMeasure();
  const hours = answer.hours!;
  const start = instant(hours[0]!.entry_at!);
  const length = (instant(hours[hours.length - 1]!.entry_at!) - start) / 3600_000;
  const lately = (answer.lately ?? []).filter((row) => instant(row.lately_at!) > start - 12 * 3600_000);
  const past = lately.length > 0 ? (start - instant(lately[0]!.lately_at!)) / 3600_000 : 0;
  const head = 30 * letter;
  const pxAnHour = Math.max((room - head - (past > 0 ? 72 : 0)) / length, LEAST_PX_AN_HOUR[Math.round(length)] ?? 240 / length) * letter;
  // What lies close before now is drawn wider, so that its words have room.
  const pxBefore = past > 0 ? Math.max(pxAnHour, (56 * letter) / past) : 0;
  const before = past * pxBefore + (past > 0 ? 16 * letter : 0);
  const y = (time: string) => head + before + ((instant(time) - start) / 3600_000) * (instant(time) < start ? pxBefore : pxAnHour);
  const now = head + before;
  const height = y(hours[hours.length - 1]!.entry_at!) + 24 * letter;
  const [left, right] = [margin + 14, width - 16 - LANE - 12];
  const most = Math.max(1, answer.fc_ceiling ?? 0, answer.fc_floor ?? 0, ...hours.map((row) => Math.max(row.fc!.high ?? 0, row.fc_same ?? 0)), ...lately.map((row) => row.read_as?.high ?? row.read_as?.median ?? 0));
  const top = Math.ceil(most + 0.25);
  const x = (mgl: number | null | undefined) => left + (Math.min(mgl ?? 0, top) / top) * (right - left);
  const lane = (percent: number) => width - 16 - LANE + (percent / 100) * LANE;
  type Pick = (row: Answer) => number | null | undefined;
  const path = (pick: Pick) => hours.map((row, i) => `${i ? "L" : "M"}${x(pick(row)).toFixed(1)} ${y(row.entry_at!).toFixed(1)}`).join("");
  const between = (low: Pick, high: Pick) => `${path(low)}${[...hours].reverse().map((row) => `L${x(high(row)).toFixed(1)} ${y(row.entry_at!).toFixed(1)}`).join("")}Z`;
  const at = (hour: number) => hours.find((row) => (instant(row.entry_at!) - start) / 3600_000 >= hour - 0.01);
  const proofs = proofsOf(answer, at, hours[hours.length - 1]!);
  const steps = hours.reduce((line, row, i) => `${line}${i ? `V${y(row.entry_at!)}` : ""}H${lane(row.duty ?? 0)}`, `M${lane(dutyNow)} ${past > 0 ? head : now}V${now}`) + `V${height - 24 * letter}`;
  const midnights = hours.filter((row, i) => i > 0 && row.entry_at!.slice(0, 10) !== hours[i - 1]!.entry_at!.slice(0, 10)).map((row) => `${row.entry_at!.slice(0, 10)}T00:00:00${row.entry_at!.slice(19)}`);
  const guestsAt = guests.count > 0 ? at(guests.hour)?.entry_at : undefined;
  const taken: number[] = [now];
  const free = (wanted: number) => taken.every((there) => Math.abs(there - wanted) >= 15 * letter) && taken.push(wanted) > 0;
  const label = (time: string, bold = false) => free(y(time)) && <text x={margin - 15} y={y(time) + 5} text-anchor="end" class={bold ? "bold" : "second"}>{clock(time)}</text>;
  const read = pastOf(lately, hours[0]!).map(([mgl, time], i) => `${i ? "L" : "M"}${x(mgl).toFixed(1)} ${y(time).toFixed(1)}`).join("");
  const dosed = lately.filter((row) => row.drawn_as === "dose");
  const dutyDrag = useDrag((event, box) => setDuty(Math.round(Math.min(1, Math.max(0, (event.clientX - box.left - (width - 16 - LANE)) / LANE)) * 20) * 5));
  const guestDrag = useDrag((event, box) => setHour(Math.min(length - 1, Math.max(0, Math.round((event.clientY - box.top - now) / pxAnHour)))));
  return (
    <figure ref={ref} class="fan">
      <svg class="chart" width={width} height={height} viewBox={`0 0 ${width} ${height}`} role="img" aria-label={[answer.sentence?.text, answer.same_said?.text, answer.held_sentence?.text, say("fan-spoken")].filter(Boolean).join(" ")}>
        <defs><pattern id="hatch" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line x1="0" x2="0" y1="0" y2="5" stroke="var(--edge)" stroke-width="3" /></pattern></defs>
        {midnights.map((time) => <g><line x1="0" x2={width - 16} y1={y(time)} y2={y(time)} stroke="var(--hair)" /><text x={margin - 15} y={y(time) + 18 * letter} text-anchor="end" class="second">{`${weekday(time, spoken())} ${+time.slice(8, 10)}`}{free(y(time) + 13 * letter) && ""}</text></g>)}
        <path d={between((r) => r.fc!.low, (r) => r.fc!.high)} fill="var(--fan90)" />
        <path d={between((r) => r.fc_q25, (r) => r.fc_q75)} fill="var(--fan50)" />
        <line x1={x(0)} x2={x(0)} y1={head - 6} y2={height} stroke="var(--hair)" />
        <text x={x(0)} y={head - 12} text-anchor="middle">0</text>
        {[answer.fc_floor, answer.fc_ceiling].map((edge) => edge != null && <g><line x1={x(edge)} x2={x(edge)} y1={head - 6} y2={height} stroke="var(--edge)" stroke-width="1.5" /><text x={x(edge)} y={head - 12} text-anchor="middle" class="bold">{figure(edge)}</text></g>)}
        <text x={x(answer.fc_ceiling ?? answer.fc_floor ?? 0) + 12 * letter} y={head - 12} class="second">mg/L</text>
        <line x1={lane(0)} x2={lane(0)} y1={head - 6} y2={height} stroke="var(--hair)" />
        <text x={width - 16} y={head - 12} text-anchor="end" class="second">{say("duty")}</text>
        {answer.same_said && <path class="stroke" d={path((r) => r.fc_same)} stroke="var(--edge)" stroke-width="2" stroke-dasharray="1 5" stroke-linecap="round" />}
        <path class="stroke" d={read} stroke="var(--second)" stroke-width="1.5" />
        <path class="stroke" d={path((r) => r.fc_remnant?.median)} stroke="var(--ink)" stroke-width="1.8" stroke-dasharray="7 5" />
        <path class="stroke" d={path((r) => r.fc!.median)} stroke="var(--ink)" stroke-width="2.5" />
        <path class="stroke" d={steps} stroke="var(--ink)" stroke-width="2.5" />
        <line x1="0" x2={width} y1={now} y2={now} stroke="var(--ink)" stroke-width="2" />
        <rect x={margin - 13} y={now - 3} width="20" height="6" fill="var(--ink)" />
        <text x={margin - 15} y={now - 7} text-anchor="end" class="bold">{say("now")}</text>
        {dosed.map((row) => row.rest_until && <rect x={margin - 12} width="9" y={y(row.lately_at!)} height={Math.max(3, y(row.rest_until) - y(row.lately_at!))} fill="url(#hatch)" stroke="var(--edge)" />)}
        {rest && <rect x={margin - 12} width="9" y={now + 3} height={Math.max(3, y(rest) - now)} fill="url(#hatch)" stroke="var(--edge)" />}
        {dosed.map((row) => <g><line x1={margin - 13} x2={margin + 8} y1={y(row.lately_at!)} y2={y(row.lately_at!)} stroke="var(--ink)" stroke-width="3" />{label(row.lately_at!)}<text class="halo" x={left + 8} y={y(row.lately_at!) + 5}>{poured(answer.tub_id!, row.entry!)}</text></g>)}
        {lately.map((row) => row.drawn_as === "reading" && row.read_as && <Reading row={row} x={x} y={y(row.lately_at!)} />)}
        {lately.map((row) => row.drawn_as === "bathers" && <rect class="box" x={margin - 13} y={y(row.lately_at!) - 7} width="11" height="14" />)}
        {pours && <text class="halo" x={left + 8} y={now + 18 * letter}>{pours}</text>}
        {answer.same_said && <text class="halo second" x={Math.min(x(at(length / 4)?.fc_same) + 6, right - 40)} y={y(at(length / 4)!.entry_at!)}>{say("as-it-is")}</text>}
        {proofs.map(({ row, word, bold }) => <Gap row={row} word={word} bold={bold} x={x} y={y(row.entry_at!)} label={label(row.entry_at!, true)} right={right} margin={margin} />)}
        {(hours[0]!.fc_remnant?.median ?? 0) > 0.3 && <text class="halo second" x={Math.min(x(at(length * 0.55)?.fc_remnant?.median) + 6, right - 90 * letter)} y={y(at(length * 0.55)!.entry_at!)}>{say("left-of-doses")}</text>}
        {duties(hours).map((row) => <text class="halo bold" text-anchor="end" x={lane(row.duty ?? 0) - 6} y={y(row.entry_at!) + 18 * letter}>{row.duty}</text>)}
        {guestsAt && <g class="drag" {...guestDrag}>{label(guestsAt)}<rect class="box" x={margin - 13} y={y(guestsAt) - 8} width="11" height="16" /><text class="halo" x={left + 8} y={y(guestsAt) + 5}>{say("guests-for", { n: guests.count, h: 1 })}</text><rect x={0} y={y(guestsAt) - 24} width={margin + 10} height="48" fill="transparent" /></g>}
        <rect class="drag side" {...dutyDrag} x={width - 16 - LANE - 10} y={now} width={LANE + 26} height={height - now} fill="transparent" />
      </svg>
      <figcaption class="row"><span class="hour" /><span class="text small">{say("fan-legend")}</span></figcaption>
    </figure>
  );
}

/** From reading to reading, and from the last to what is known now: a straight line, for between them nothing was read. A dose stands as a step at its hour. */
function pastOf(lately: Answer[], now: Answer): [number, string][] {
  const line: [number, string][] = [];
  let dosed = ""; // at what hour, since the last reading
  for (const row of [...lately, now]) {
    const mgl = row === now ? now.fc!.median : row.drawn_as === "reading" ? row.read_as?.median : undefined;
    if (row.drawn_as === "dose") dosed ||= row.lately_at!;
    if (mgl == null) continue;
    if (dosed && line.length > 0) line.push([line.at(-1)![0], dosed], [mgl, dosed]);
    line.push([mgl, row === now ? now.entry_at! : row.lately_at!]);
    dosed = "";
  }
  return line.length > 1 ? line : [];
}

/** Hours at which the duty of the plan begins anew. */
const duties = (hours: Answer[]) => hours.filter((row, i) => i === 0 || row.duty !== hours[i - 1]!.duty);

interface Proof { row: Answer; word: string; bold: boolean }

/** Where the gap is the proof: when the generator alone is over the floor, when little is left of doses; else how it stands at the end. */
function proofsOf({ held, fc_floor: floor }: Answer, at: (hour: number) => Answer | undefined, end: Answer): Proof[] {
  const alone = held?.hours_to_hold?.high ?? 0;
  const little = held?.remnant_hours ?? 0;
  const found: Proof[] = [];
  if (held?.is_held) found.push({ row: at(0)!, word: say("held-mark"), bold: true });
  else if (alone > 0 && at(alone)) found.push({ row: at(alone)!, word: say("alone-mark", { floor: figure(floor ?? "") }), bold: true });
  if (little > 0 && at(little) && little !== alone) found.push({ row: at(little)!, word: say("little-mark"), bold: false });
  return found.length > 0 ? found : [{ row: end, word: "", bold: false }];
}

function Reading({ row, x, y }: { row: Answer; x: (mgl: number | null | undefined) => number; y: number }) {
  const { low, median, high } = row.read_as!;
  return (
    <g class="stroke" stroke="var(--ink)" stroke-width="2">
      {low != null && high != null && <path d={`M${x(low) + 4} ${y - 8}H${x(low)}V${y + 8}H${x(low) + 4}M${x(high) - 4} ${y - 8}H${x(high)}V${y + 8}H${x(high) - 4}M${x(low)} ${y}H${x(high)}`} />}
      {median != null && <circle cx={x(median)} cy={y} r="3.5" fill="var(--ink)" />}
    </g>
  );
}

/** The gap between what is left of doses and the median, bracketed and numbered: the generator's part. */
function Gap({ row, word, bold, x, y, label, right, margin }: Proof & { x: (mgl: number | null | undefined) => number; y: number; label: preact.ComponentChildren; right: number; margin: number }) {
  const [from, to] = [x(row.fc_remnant?.median), x(row.fc!.median)];
  return (
    <g>
      {word && <line x1={margin - 10} x2={right} y1={y} y2={y} stroke="var(--ink)" stroke-width="1" />}
      {label}
      <path class="stroke" d={`M${from + 5} ${y - 7}H${from}V${y + 7}H${from + 5}M${to - 5} ${y - 7}H${to}V${y + 7}H${to - 5}M${from} ${y}H${to}`} stroke="var(--ink)" stroke-width="2.5" />
      <text class="halo bold" x={(from + to) / 2} y={y - 9} text-anchor="middle">{figure(row.fc_made?.median?.toFixed(1) ?? "")}</text>
      {word && <text class={`halo ${bold ? "bold" : ""}`} x={right} y={y - 5} text-anchor="end">{word}</text>}
    </g>
  );
}

/** Dragging, beside the keys that do the same. */
function useDrag(move: (event: PointerEvent, box: DOMRect) => void) {
  const going = useRef(false);
  const see = (event: PointerEvent) => {
    const svg = (event.currentTarget as SVGElement).ownerSVGElement!;
    if (going.current) move(event, svg.getBoundingClientRect());
  };
  return {
    onPointerDown: (event: PointerEvent) => {
      going.current = true;
      (event.currentTarget as Element).setPointerCapture(event.pointerId);
      see(event);
    },
    onPointerMove: see,
    onPointerUp: () => void (going.current = false),
    onPointerCancel: () => void (going.current = false),
  };
}
