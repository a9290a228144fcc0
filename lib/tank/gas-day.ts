import type { DosingWindow } from "../schedule/dosing-windows.js";
import type { FallOffer } from "./evening-fall.js";
import type { LeadOffer } from "./learnt-outlook.js";

/** How the next morning comes on, by the schedule and by what was learnt. */
export type MorningAhead =
  | {
      readonly kind: "known";
      readonly opens_epochMs: number;
      readonly lightsOn_epochMs: number;
      /** When the lower edge of the wanted band is reached. */
      readonly reached_epochMs: number;
      readonly reachedLow80_epochMs: number;
      /** Undefined where it may never be. */
      readonly reachedHigh80_epochMs: number | undefined;
      readonly lowEdge_mgPerL: number;
      /** When gas would have to open for the band to be reached at lights on. */
      readonly wantedOpening_epochMs: number;
      /** Gas opens close enough to that. */
      readonly isInTime: boolean;
    }
  | {
      readonly kind: "not known";
      readonly because: string;
      readonly opens_epochMs: number | undefined;
      readonly lightsOn_epochMs: number | undefined;
    };

/** When the gas of the day has left the water again. */
export type EveningAhead =
  | {
      readonly kind: "known";
      readonly closes_epochMs: number;
      readonly dark_epochMs: number;
      readonly below_epochMs: number;
      readonly belowLow80_epochMs: number;
      readonly belowHigh80_epochMs: number | undefined;
      readonly lowEdge_mgPerL: number;
      /** It is there before the dark begins. */
      readonly isBelowBeforeDark: boolean;
    }
  | {
      readonly kind: "not known";
      readonly because: string;
      readonly closes_epochMs: number | undefined;
    };

export interface GasDay {
  readonly morning: MorningAhead;
  readonly evening: EveningAhead;
}

export interface GasDayRequest {
  readonly now_epochMs: number;
  /** When the tank's valve may be open, and when its lights are on: sorted, over the days around now. */
  readonly windows: readonly DosingWindow[];
  readonly lights: readonly DosingWindow[];
  readonly lead: LeadOffer;
  readonly fall: FallOffer;
}

const minute_ms = 60_000;
const hour_ms = 60 * minute_ms;
/** What is learnt of mornings is of a tank that the night has emptied. Judgement. */
const emptied_ms = 6 * hour_ms;
/** A lead is stated in steps of so much, and moves in twice as much. */
const inTime_ms = 10 * minute_ms;

/** The day of gas that lies ahead, as a keeper asks for it: on when, so that the band stands at lights on; and gone by when. */
export function gasDay(request: GasDayRequest): GasDay {
  return { morning: morningAhead(request), evening: eveningAhead(request) };
}

function morningAhead({ now_epochMs, windows, lights, lead }: GasDayRequest): MorningAhead {
  const coming = lights.flatMap(({ opens_epochMs: lightsOn_epochMs }) => {
    const place = windows.findIndex((window) => holds(window, lightsOn_epochMs));
    const window = windows[place];
    if (lightsOn_epochMs <= now_epochMs || window === undefined) return [];
    const pause_ms = window.opens_epochMs - (windows[place - 1]?.closes_epochMs ?? Number.NEGATIVE_INFINITY);
    return [{ lightsOn_epochMs, opens_epochMs: window.opens_epochMs, pause_ms }];
  });
  const next = coming.find(({ pause_ms }) => pause_ms >= emptied_ms);
  if (next === undefined) {
    return {
      kind: "not known",
      because:
        coming.length === 0
          ? "no light with gas is planned in the next days"
          : "gas opens after short pauses only, and what is learnt is of mornings after a night",
      opens_epochMs: coming[0]?.opens_epochMs,
      lightsOn_epochMs: coming[0]?.lightsOn_epochMs,
    };
  }
  const { opens_epochMs, lightsOn_epochMs } = next;
  if (lead.kind === "not known") {
    return { kind: "not known", because: lead.because, opens_epochMs, lightsOn_epochMs };
  }
  if (lead.kind === "out of reach") {
    return {
      kind: "not known",
      because: "with this flow the CO2 does not come up to the band before the lights",
      opens_epochMs,
      lightsOn_epochMs,
    };
  }
  const after = (lead_min: number): number => opens_epochMs + lead_min * minute_ms;
  const wantedOpening_epochMs = lightsOn_epochMs - lead.lead_min * minute_ms;
  return {
    kind: "known",
    opens_epochMs,
    lightsOn_epochMs,
    reached_epochMs: after(lead.lead_min),
    reachedLow80_epochMs: after(lead.leadLow80_min),
    reachedHigh80_epochMs: lead.leadHigh80_min === undefined ? undefined : after(lead.leadHigh80_min),
    lowEdge_mgPerL: lead.target_mgPerL,
    wantedOpening_epochMs,
    isInTime: Math.abs(opens_epochMs - wantedOpening_epochMs) <= inTime_ms,
  };
}

/** The evening that is under way, as long as it falls; else the next one. */
function eveningAhead(request: GasDayRequest): EveningAhead {
  const { now_epochMs, windows } = request;
  const next = windows.findIndex(({ closes_epochMs }) => closes_epochMs > now_epochMs);
  const last = (next < 0 ? windows.length : next) - 1;
  const isClosed = next < 0 || (windows[next]?.opens_epochMs ?? 0) > now_epochMs;
  const underWay = isClosed && last >= 0 ? eveningAfter(last, request) : undefined;
  if (underWay?.kind === "known" && underWay.below_epochMs > now_epochMs) return underWay;
  return next < 0
    ? { kind: "not known", because: "no gas is planned in the next days", closes_epochMs: undefined }
    : eveningAfter(next, request);
}

function eveningAfter(place: number, { windows, lights, fall }: GasDayRequest): EveningAhead {
  const closes_epochMs = windows[place]?.closes_epochMs ?? 0;
  if (fall.kind === "not known") return { kind: "not known", because: fall.because, closes_epochMs };
  if (fall.kind === "stays") {
    return {
      kind: "not known",
      because: "in the dark the CO2 comes to rest above the lower edge of the band",
      closes_epochMs,
    };
  }
  const lightsOff_epochMs = lights.find((light) => holds(light, closes_epochMs))?.closes_epochMs;
  const dark_epochMs = Math.max(closes_epochMs, lightsOff_epochMs ?? closes_epochMs);
  const after = (hours: number): number => dark_epochMs + hours * hour_ms;
  const below_epochMs = after(fall.after_h);
  const again_epochMs = windows[place + 1]?.opens_epochMs;
  if (again_epochMs !== undefined && below_epochMs >= again_epochMs) {
    return { kind: "not known", because: "gas opens again before it is below the band", closes_epochMs };
  }
  return {
    kind: "known",
    closes_epochMs,
    dark_epochMs,
    below_epochMs,
    belowLow80_epochMs: after(fall.afterLow80_h),
    belowHigh80_epochMs: fall.afterHigh80_h === undefined ? undefined : after(fall.afterHigh80_h),
    lowEdge_mgPerL: fall.lowEdge_mgPerL,
    isBelowBeforeDark: fall.after_h === 0,
  };
}

function holds({ opens_epochMs, closes_epochMs }: DosingWindow, at_epochMs: number): boolean {
  return opens_epochMs <= at_epochMs && at_epochMs < closes_epochMs;
}
