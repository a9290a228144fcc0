import { instantInZone } from "../cli/instant-text.js";
import type { EndOfVessel } from "./vessel-ends.js";

/** Where a charge stands against its end; null while no pressure near it was read. */
export function endFields(
  end: EndOfVessel | undefined,
  { timeZone }: { readonly timeZone: string },
): Readonly<Record<string, unknown>> {
  const hold = end?.hold;
  return {
    closeBelowGauge_bar:
      end?.closeBelowGauge_bar === undefined ? null : Number(end.closeBelowGauge_bar.toFixed(2)),
    since: hold === undefined ? null : instantInZone(hold.since_epochMs, timeZone),
    from: hold?.from ?? null,
    valvesHeldClosed: end?.reason !== undefined,
    valvesLeftAlone: end?.isLeftAlone ?? false,
  };
}
