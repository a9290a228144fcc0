import { isLoopbackAddress } from "../page/allowed-host.js";
import { quoted } from "./config-faults.js";
import type { CheckContext } from "./config-view.js";

/** Whoever reaches the page from another machine must say who he is. */
export function checkPage(context: CheckContext): void {
  const { view } = context;
  const path = ["page", "address"];
  const address = view.text(path);
  if (address === undefined || isLoopbackAddress(address) || view.has(["page", "tokenFile"])) return;
  context.fault(path, {
    what: `is ${quoted(address)}, where every machine of the network reaches the page, and there is no tokenFile`,
    allowed: "an address other than the loopback together with tokenFile, or 127.0.0.1",
    todo: "write a token of at least 32 characters into a file (openssl rand -base64 32) and name it in page.tokenFile",
  });
}
