import { writeFileSync } from "node:fs";
import { interlockPage } from "../lib/control/interlock-page.js";

// Run from the folder of the project: node dist/daemon/write-interlock-page.js
writeFileSync("deploy/docs/interlock.md", interlockPage());
