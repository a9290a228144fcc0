import type { LocatedNode } from "./yaml-tree.js";

/** A located node as the plain value that the schema reads. Maps have no prototype, so no key means more than itself. */
export function plainValue(node: LocatedNode): unknown {
  switch (node.kind) {
    case "scalar":
      return node.value;
    case "list":
      return node.items.map(plainValue);
    case "map": {
      const plain = Object.create(null) as Record<string, unknown>;
      for (const [key, { value }] of node.entries) plain[key] = plainValue(value);
      return plain;
    }
  }
}
