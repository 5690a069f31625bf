// What is known of the water: each quantity with its interval, against its band where there is one.
import { useState } from "preact/hooks";
import type { Answer, Said, Sentence, Spread } from "tables";
import { to } from "../lib/route";
import { figure, say, spoken } from "../lib/say";
import { measured } from "../lib/units";
import { clock, day, instant, weekday } from "../lib/time";
import { Bracket, shown, spreadIn } from "../parts/bracket";
import { Body, Page, Row, tubName, weightOf } from "../parts/page";
import { standing } from "../entries";
import { useAnswer } from "../state";

interface Line { key: keyof Answer; decimals: number; unit: string; from: number; until: number }

const LINES: Line[] = [
  { key: "free_chlorine", decimals: 1, unit: "mg/L", from: 0, until: 10 },
  { key: "ph", decimals: 2, unit: "", from: 6.6, until: 8.4 },
  { key: "total_alkalinity", decimals: 0, unit: "mg/L", from: 0, until: 200 },
  { key: "calcium_hardness", decimals: 0, unit: "mg/L", from: 0, until: 300 },
  { key: "salt", decimals: 0, unit: "mg/L", from: 0, until: 3500 },
  { key: "cyanuric_acid", decimals: 0, unit: "mg/L", from: 0, until: 60 },
  { key: "combined_chlorine", decimals: 1, unit: "mg/L", from: 0, until: 1 },
  { key: "phosphate", decimals: 2, unit: "mg/L", from: 0, until: 1 },
  { key: "saturation_index_heater", decimals: 1, unit: "", from: -1.5, until: 1.5 },
];

const OF_THE_TUB: Line[] = [
  { key: "volume", decimals: 0, unit: "L", from: 0, until: 0 }, { key: "temperature", decimals: 1, unit: "°C", from: 0, until: 0 },
  { key: "loss", decimals: 1, unit: "% / h", from: 0, until: 0 }, { key: "output", decimals: 3, unit: "g/h", from: 0, until: 0 },
  { key: "demand", decimals: 1, unit: "mg/L", from: 0, until: 0 }, { key: "made", decimals: 1, unit: "mg/L", from: 0, until: 0 },
  { key: "remnant", decimals: 1, unit: "mg/L", from: 0, until: 0 },
];

interface Band { low: number | null; high: number | null; share: number | null }

export function Water({ tub }: { tub: string }) {
  const { answer, working, fault } = useAnswer(tub, "water");
  const [table, setTable] = useState(false);
  const water = answer?.water;
  const bands = new Map<string, Band>((answer?.bands ?? []).map((band) => [band.band_of!, { low: band.band_low ?? null, high: band.band_high ?? null, share: band.band_share ?? null }]));
  return (
    <Page title={tubName(tub)} under={say("under-water")} view="water" tub={tub} weight={weightOf(answer?.weight)}>
      <Body aria-busy={working} style={{ paddingTop: 0 }}>
        {fault && <Row><p class="fault" role="alert">{fault}</p></Row>}
        {!answer && !fault && <Row><p class="working" role="status">{say("working-first")}</p></Row>}
        {water && !table && LINES.map((line) => <Quantity line={line} value={water[line.key] as Spread | null | undefined} band={bands.get(line.key)} read={lastRead(tub, line.key, answer.at!)} />)}
        {water && table && <Table lines={[...LINES, ...OF_THE_TUB]} water={water} bands={bands} />}
        {answer && <Row><button class="touch at-right" aria-pressed={table} onClick={() => setTable(!table)}>{table ? say("as-drawing") : say("as-table")}</button></Row>}
        {water && !table && (
          <Row><h2>{say("of-the-tub")}</h2>
            <ul class="plain-list">{OF_THE_TUB.map((line) => {
              const [value, { decimals, unit }] = inUnits(water, line);
              return value && <li>{say(`quantity-${line.key}` as Sentence)} <b>{shown(value.median, decimals)} {unit}</b> <span class="small">{interval(value, decimals)}</span></li>;
            })}</ul>
          </Row>
        )}
        <Said lead={say("volume-by")} list={answer?.volumes?.map(({ volume_said }) => volume_said!)} />
        <Said lead={say("reads-off")} list={answer?.reads_off} />
        <Said lead={say("cannot-both")} list={answer?.contradictions?.flatMap((row) => [row.said, ...(row.explanations ?? []), row.settle].filter((said): said is Said => !!said))} />
        <Said lead={say("may-be")} list={answer?.unwritten?.map(({ unwritten_said }) => unwritten_said!)} />
        <Said lead={say("assumed")} list={answer?.assumed} joined />
        <Said lead={say("before")} list={answer?.before} />
        {answer && <Row><p class="small">{say("rests-on", { n: answer.readings ?? 0 })} <a class="touch" href={to(tub, "worth")}>{say("which-test")}</a></p></Row>}
      </Body>
    </Page>
  );
}

/** What is known of a quantity in the units of this device, with decimals and unit. */
function inUnits(water: Answer, { key, decimals, unit }: Line): [Spread | null | undefined, Pick<Line, "decimals" | "unit">] {
  const value = water[key] as Spread | null | undefined;
  const middle = measured(value?.median ?? 0, unit, decimals);
  return [spreadIn(value, unit), middle];
}

const interval = (value: Spread, decimals: number) => (value.low == null ? "" : say("a-to-b", { a: shown(value.low, decimals), b: shown(value.high, decimals) }));

/** Where the possible waters lie: nearly all in the band, nearly none, or a share of them. */
function place(value: Spread | null | undefined, band?: Band): string {
  if (!band || band.share == null || value?.median == null) return "";
  if (band.share >= 0.95) return say("in-band");
  if (band.share < 0.05) return band.low != null && value.median < band.low ? say("under-band") : say("over-band");
  return say("in-band-with", { n: Math.round(band.share * 100) });
}

/** What is read for a quantity; what is worked out from several has none. */
const READ_AS: Record<string, string[]> = {
  free_chlorine: ["free-chlorine"], combined_chlorine: ["total-chlorine"], ph: ["ph"], total_alkalinity: ["total-alkalinity"], calcium_hardness: ["calcium-hardness", "total-hardness"],
  salt: ["salt", "conductivity", "chloride"], cyanuric_acid: ["cyanuric-acid"], phosphate: ["phosphate"],
};

/** The hour of the last reading of the tub's own water, for the margin: the day too when it was another one. */
function lastRead(tub: string, key: string, now: string): string {
  const wanted = READ_AS[key];
  if (!wanted) return "";
  const at = standing(tub, "reading").filter(({ fields }) => wanted.includes(fields.analyte!) && !fields.source && fields.at! <= now).map(({ fields }) => fields.at!).sort((a, b) => instant(a) - instant(b)).pop();
  return !at ? say("never") : at.slice(0, 10) === now.slice(0, 10) ? clock(at) : instant(now) - instant(at) < WEEK_MS ? `${weekday(at, spoken())} ${clock(at)}` : day(at, spoken());
}

const WEEK_MS = 6 * 24 * 3600_000;

/** Name and bracket at the left; at the right the value, its interval, where it stands. */
function Quantity({ line, value, band, read }: { line: Line; value: Spread | null | undefined; band?: Band; read: string }) {
  const name = say(`quantity-${line.key}` as Sentence);
  const unknown = !value || value.median == null;
  const out = band?.share != null && band.share < 0.95;
  const spokenOf = unknown ? say("not-known") : say("spoken-interval", { median: shown(value.median, line.decimals), low: shown(value.low, line.decimals), high: shown(value.high, line.decimals) });
  return (
    <div class="row line quantity">
      <div class="hour">{read}</div>
      <div class="text" role="group" aria-label={`${name}: ${spokenOf} ${line.unit} ${place(value, band)}`}>
        <div aria-hidden="true">
          <p>{out ? <b>{name}</b> : name}</p>
          <Bracket value={unknown ? null : value} band={band} decimals={line.decimals > 1 ? 1 : line.decimals} from={line.from} until={line.until} />
        </div>
        <p class="stands" aria-hidden="true">
          <b class="figure">{unknown ? "?" : shown(value.median, line.decimals)}</b>
          <span>{unknown ? <b>{say("not-known")}</b> : `${interval(value, line.decimals)} ${line.unit}`}</span>
          {band && !unknown && <span>{out ? <b>{place(value, band)}</b> : place(value, band)}</span>}
        </p>
      </div>
    </div>
  );
}

function Table({ lines, water, bands }: { lines: Line[]; water: Answer; bands: Map<string, Band> }) {
  return (
    <Row><div class="scroll"><table>
      <caption class="hidden">{say("under-water")}</caption>
      <thead><tr><th scope="col">{say("quantity")}</th><th scope="col">{say("middle")}</th><th scope="col">90 %</th><th scope="col">{say("band")}</th></tr></thead>
      <tbody>{lines.map((line) => {
        const [value, { decimals, unit }] = inUnits(water, line);
        const band = bands.get(line.key);
        return <tr><th scope="row">{say(`quantity-${line.key}` as Sentence)}{unit && `, ${unit}`}</th><td>{shown(value?.median, decimals)}</td>
          <td>{value ? interval(value, decimals) : ""}</td><td>{band ? `${figure(band.low ?? "")} – ${figure(band.high ?? "")}` : ""}</td></tr>;
      })}</tbody>
    </table></div></Row>
  );
}

function Said({ lead, list, joined }: { lead: string; list?: Said[]; joined?: boolean }) {
  if (!list || list.length === 0) return null;
  return <Row><p><b class="lead">{lead}</b> {joined && list.map(({ text }) => text).join(", ")}</p>{!joined && <ul class="plain-list">{list.map(({ text }) => <li>{text}</li>)}</ul>}</Row>;
}
