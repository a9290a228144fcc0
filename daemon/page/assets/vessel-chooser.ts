import type { SitePicture, VesselPicture } from "../page-contract.js";
import { el, put } from "./dom.js";
import { listField } from "./fields.js";

/** What a view shows of one vessel. */
export interface VesselDesk {
  readonly update: (vessel: VesselPicture, site: SitePicture) => void;
  readonly end: () => void;
}

/** A view of one vessel out of several: the chooser, where there is a choice, and a desk that is begun anew with each vessel. */
export function vesselChooser(
  words: { readonly vessel: string; readonly noVessel: string },
  choice: { readonly read: () => string | undefined; readonly change: (vesselId: string) => void },
  createDesk: (content: HTMLElement, vesselId: string) => VesselDesk,
): {
  readonly elements: readonly HTMLElement[];
  readonly update: (vessels: readonly VesselPicture[], site: SitePicture) => void;
  readonly end: () => void;
} {
  const chooser = el("div");
  const content = el("div", { class: "stack" });
  let known = "";
  let desk: VesselDesk | undefined;
  return { elements: [chooser, content], update, end: () => desk?.end() };

  function update(vessels: readonly VesselPicture[], site: SitePicture): void {
    const ids = vessels.map(({ vesselId }) => vesselId);
    const chosen = vessels.find(({ vesselId }) => vesselId === choice.read()) ?? vessels[0];
    const essence = JSON.stringify([ids, chosen?.vesselId]);
    if (essence !== known) {
      known = essence;
      desk?.end();
      desk = undefined;
      put(
        chooser,
        ids.length < 2
          ? undefined
          : listField(
              words.vessel,
              ids.map((id) => [id, id] as const),
              chosen?.vesselId,
              (vesselId) => {
                choice.change(vesselId);
                update(vessels, site);
              },
            ),
      );
      if (chosen === undefined) put(content, el("p", {}, words.noVessel));
      else desk = createDesk(content, chosen.vesselId);
    }
    if (chosen !== undefined) desk?.update(chosen, site);
  }
}
