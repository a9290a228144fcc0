import { readFileSync } from "node:fs";

/** Beside the source, or one folder higher beside what is compiled. */
const packageFile = new URL(
  import.meta.url.endsWith(".ts") ? "../../package.json" : "../../../package.json",
  import.meta.url,
);

export function packageVersion(): string {
  const parsed: unknown = JSON.parse(readFileSync(packageFile, "utf8"));
  const version =
    typeof parsed === "object" && parsed !== null && "version" in parsed ? parsed.version : undefined;
  return typeof version === "string" ? version : "unknown";
}
