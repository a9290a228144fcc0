import { Worker } from "node:worker_threads";
import type { FromStoreWorker, StoreWorkerData, ToStoreWorker } from "./store-messages.js";

// Node runs the compiled thread; where this file itself is run from its source, as tests do, that lies in dist/.
const workerUrl = import.meta.url.endsWith(".ts")
  ? new URL("../../dist/daemon/store/store-worker.js", import.meta.url)
  : new URL("./store-worker.js", import.meta.url);

export interface StoreThreadListener {
  onMessage(message: FromStoreWorker): void;
  /** The thread ended without having been asked to. The next message sent starts another. */
  onDeath(reason: string): void;
}

/** Starts the storage thread, and starts it again when it is needed after its death. */
export class StoreThreadLink {
  readonly #workerData: StoreWorkerData;
  readonly #listener: StoreThreadListener;
  #worker: Worker | undefined;
  #closing = false;

  constructor(data: StoreWorkerData, listener: StoreThreadListener) {
    this.#workerData = data;
    this.#listener = listener;
  }

  /** False when there is no thread to hear it; only "open" starts one. */
  send(message: ToStoreWorker): boolean {
    if (message.kind === "open") this.#worker ??= this.#begin();
    this.#worker?.postMessage(message);
    return this.#worker !== undefined;
  }

  /** Resolves when the thread has closed the database and ended. */
  close(): Promise<void> {
    this.#closing = true;
    const worker = this.#worker;
    if (worker === undefined) return Promise.resolve();
    return new Promise((resolve) => {
      worker.once("exit", () => resolve());
      worker.postMessage({ kind: "close" } satisfies ToStoreWorker);
    });
  }

  /** Ends a thread that did not end by itself, without waiting for the system call in which it may hang. */
  abandon(): void {
    this.#closing = true;
    this.#worker?.unref();
    void this.#worker?.terminate();
    this.#worker = undefined;
  }

  #begin(): Worker {
    // Options meant for the program's own start (loaders, inspection) are not for the thread.
    const worker = new Worker(workerUrl, { workerData: this.#workerData, execArgv: [] });
    let reason = "without a reason";
    worker.on("message", (message: FromStoreWorker) => {
      if (worker === this.#worker) this.#listener.onMessage(message);
    });
    worker.on("messageerror", (error) => {
      reason = error.message;
    });
    worker.on("error", (error) => {
      reason = error.message;
    });
    worker.on("exit", (code) => {
      if (worker !== this.#worker) return;
      this.#worker = undefined;
      if (!this.#closing) this.#listener.onDeath(`${reason}, code ${code}`);
    });
    return worker;
  }
}
