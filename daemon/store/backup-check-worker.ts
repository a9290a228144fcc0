/** Seals one copy of the database and says what is wrong with it, or undefined. */
import { parentPort, workerData } from "node:worker_threads";
import { sealCopy } from "./migrate.js";

parentPort?.postMessage(sealCopy(workerData as string));
