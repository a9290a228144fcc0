import { type KeyPath, quoted } from "./config-faults.js";
import type { LocatedNode } from "./yaml-tree.js";

/** A value as it is quoted in a fault. What stands under a secret key is never quoted. */
export function describeNode(path: KeyPath, node: LocatedNode): string {
  switch (node.kind) {
    case "map":
      return "a group of keys";
    case "list":
      return "a list";
    case "scalar":
      if (node.value === null) return "empty";
      if (isSecret(path, node)) return `a ${typeof node.value === "string" ? "text" : typeof node.value}`;
      return typeof node.value === "string" ? `the text ${quoted(node.value)}` : String(node.value);
  }
}

function isSecret(path: KeyPath, node: LocatedNode): boolean {
  const underSecretKey = path.some((step) => typeof step === "string" && /password|secret|token/i.test(step));
  // An address may carry a user and a password before the "@".
  const holdsUserInfo =
    node.kind === "scalar" && typeof node.value === "string" && /\/\/.*@/.test(node.value);
  return underSecretKey || holdsUserInfo;
}
