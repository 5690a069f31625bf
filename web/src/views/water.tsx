// What is known of the water: each quantity with its interval, against its band where there is one.
import { useState } from "preact/hooks";
import type { Answer, Said, Sentence, Spread } from "tables";
import { to } from "../lib/route";
import { figure, say } from "../lib/say";
import { Bracket, shown } from "../parts/bracket";
import { Body, Page, Row, tubName, weightOf } from "../parts/page";
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
  const bands = new Map<string, Band>((answer?.bands ?? []).map((band) => [band.band_of!, { low: band.band_low ?? null, high: band.band_high ?? null, share: band.in_band ?? null }]));
  return (
    <Page title={tubName(tub)} under={say("under-water")} view="water" tub={tub} weight={weightOf(answer?.weight)}>
      <Body aria-busy={working}>
        {fault && <Row><p class="fault" role="alert">{fault}</p></Row>}
        {!answer && !fault && <Row><p class="working" role="status">{say("working-first")}</p></Row>}
        {answer && <Row><button class="touch" aria-pressed={table} onClick={() => setTable(!table)}>{table ? say("as-drawing") : say("as-table")}</button></Row>}
        {water && !table && LINES.map((line) => <Quantity line={line} value={water[line.key] as Spread | null | undefined} band={bands.get(line.key)} />)}
        {water && table && <Table lines={[...LINES, ...OF_THE_TUB]} water={water} bands={bands} />}
        {water && !table && (
          <Row><h2>{say("of-the-tub")}</h2>
            <ul class="plain-list">{OF_THE_TUB.map((line) => {
              const value = water[line.key] as Spread | null | undefined;
              return value && <li>{say(`quantity-${line.key}` as Sentence)} <b>{shown(value.median, line.decimals)} {line.unit}</b> <span class="small">{interval(value, line.decimals)}</span></li>;
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

const interval = (value: Spread, decimals: number) => (value.low == null ? "" : say("a-to-b", { a: shown(value.low, decimals), b: shown(value.high, decimals) }));

function place(band?: Band): string {
  if (!band || band.share == null) return "";
  const percent = Math.round(band.share * 100);
  return percent >= 95 ? say("in-band") : say("in-band-with", { n: percent });
}

function Quantity({ line, value, band }: { line: Line; value: Spread | null | undefined; band?: Band }) {
  const name = say(`quantity-${line.key}` as Sentence);
  const unknown = !value || value.median == null;
  const out = band?.share != null && band.share < 0.95;
  const spoken = unknown ? say("not-known") : say("spoken-interval", { median: shown(value.median, line.decimals), low: shown(value.low, line.decimals), high: shown(value.high, line.decimals) });
  return (
    <Row>
      <div role="group" aria-label={`${name}: ${spoken} ${place(band)}`} style={{ borderBottom: "1px solid var(--hair)", paddingBottom: "6px" }}>
        <p style={{ display: "flex", justifyContent: "space-between", gap: "8px", alignItems: "baseline" }} aria-hidden="true">
          <span>{out ? <b>{name}</b> : name}</span>
          <span style={{ fontSize: "1.375rem" }}>{unknown ? "?" : <b>{shown(value.median, line.decimals)}</b>} <span class="small">{unknown ? say("not-known") : `${interval(value, line.decimals)} ${line.unit}`}</span></span>
        </p>
        {!unknown && <Bracket value={value} band={band} decimals={line.decimals > 1 ? 1 : line.decimals} from={line.from} until={Math.max(line.until, (value.high ?? 0) * 1.1)} />}
        {band && <p class="small" aria-hidden="true">{out ? <b>{place(band)}</b> : place(band)}</p>}
      </div>
    </Row>
  );
}

function Table({ lines, water, bands }: { lines: Line[]; water: Answer; bands: Map<string, Band> }) {
  return (
    <Row><div class="scroll"><table>
      <caption class="hidden">{say("under-water")}</caption>
      <thead><tr><th scope="col">{say("quantity")}</th><th scope="col">{say("middle")}</th><th scope="col">90 %</th><th scope="col">{say("band")}</th></tr></thead>
      <tbody>{lines.map((line) => {
        const value = water[line.key] as Spread | null | undefined;
        const band = bands.get(line.key);
        return <tr><th scope="row">{say(`quantity-${line.key}` as Sentence)}{line.unit && `, ${line.unit}`}</th><td>{shown(value?.median, line.decimals)}</td>
          <td>{value ? interval(value, line.decimals) : ""}</td><td>{band ? `${figure(band.low ?? "")} – ${figure(band.high ?? "")}` : ""}</td></tr>;
      })}</tbody>
    </table></div></Row>
  );
}

function Said({ lead, list, joined }: { lead: string; list?: Said[]; joined?: boolean }) {
  if (!list || list.length === 0) return null;
  return <Row><p><b class="lead">{lead}</b> {joined && list.map(({ text }) => text).join(", ")}</p>{!joined && <ul class="plain-list">{list.map(({ text }) => <li>{text}</li>)}</ul>}</Row>;
}
