/** Checks one copy of the database and says what is wrong with it, or undefined. */
import { parentPort, workerData } from "node:worker_threads";
import { damageOfCopy } from "./migrate.js";

parentPort?.postMessage(damageOfCopy(workerData as string));
